package tradeoff

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/limits"
)

// Woofer is one of the drivers that may be taken.
type Woofer struct {
	Name      string
	Driver    driver.Params
	Body      float64 // volume that it takes from the cabinet, m³, beside Book.Driver
	Excursion float64 // linear, m peak
}

// Range is what a free quantity may be: From, To and what divides the way between
// them into equal steps. Without steps it is fixed at From.
type Range struct {
	From, To float64
	Steps    int
}

// at returns the value at step k of those halved depth times.
func (r Range) at(k, depth int) float64 {
	if r.Steps == 0 {
		return r.From
	}
	n := r.Steps << depth
	if k == n {
		return r.To
	}
	return r.From + (r.To-r.From)*float64(k)/float64(n)
}

func (r Range) validate(what, unit string) error {
	if r.Steps < 0 || r.Steps > 1<<16 {
		return fmt.Errorf("tradeoff: %s has %d steps, want 0 to %d", what, r.Steps, 1<<16)
	}
	if !positive(r.From) || r.Steps > 0 && !(r.To > r.From && !math.IsInf(r.To, 0)) {
		return fmt.Errorf("tradeoff: %s from %g to %g %s in %d steps, want finite, 0 < from < to", what, r.From, r.To, unit, r.Steps)
	}
	return nil
}

// DelayLimit is the most group delay that is wanted at a frequency.
type DelayLimit struct {
	At   float64 // Hz
	Most float64 // s; +Inf: told only
}

// Study is what may be chosen and what must hold. Levels are rms of the plateau in
// half space at 1 m, one loudspeaker.
type Study struct {
	Woofers []Woofer
	Book    enclosure.Book // Gross is that of the range
	Gross   Range          // of the cabinet, m³
	Closed  bool           // try closed boxes
	Tunings Range          // of vented boxes, Hz; the zero Range: none
	Vent    enclosure.Vent // its length is found

	VentedLosses enclosure.Losses // at the tuning
	ClosedLosses enclosure.Losses // at the resonance of the closed box; QP is 0
	Source       float64          // resistance between amplifier and driver, Ω
	Air          air.Medium

	Shapes    []analog.Prototype // of the acoustic high-pass; its order at least that of the box
	Extension Range              // where the target is Drop down, Hz, within the band in which bounds count
	Drop      float64            // dB below the plateau, > 0

	Level     float64          // that the costs are told for, dB SPL
	Crest     float64          // of the programme that heats, peak over rms, dB; its peaks are as high as the sine's
	VentAir   float64          // allowed, m/s peak; 0: not bounded
	Amplifier limits.Amplifier // allowed; what is 0 is not bounded, and the output resistance goes into Source
	Pipe      float64          // that the first resonance of the vent must not be below, Hz; 0: not bounded
	Delays    []DelayLimit     // the first one is told in the table; none: group delay does not count

	Grid       *freq.Grid
	SearchFrom float64 // the band in which bounds count and the programme lies, Hz
	SearchTo   float64

	Objectives []Objective // at least one: what the front is about
	Refine     int         // how often steps are halved around the front, 0 to 6
}

// maxCandidates is the most that a grid may have: some 1.5 GB of points.
const maxCandidates = 1 << 22

// maxFront is the most points of a front that a search looks around: beyond it rounds take
// minutes each, because each point is compared with all of the front.
const maxFront = 1 << 14

// validate reports what is wrong with the study.
func (s *Study) validate() error {
	if len(s.Woofers) == 0 || len(s.Shapes) == 0 || len(s.Objectives) == 0 {
		return fmt.Errorf("tradeoff: %d woofers, %d shapes and %d objectives, want 1 of each at least", len(s.Woofers), len(s.Shapes), len(s.Objectives))
	}
	for _, w := range s.Woofers {
		if err := w.Driver.Validate(); err != nil {
			return fmt.Errorf("tradeoff: woofer %q: %w", w.Name, err)
		}
		if !positive(w.Excursion) || !(w.Body >= 0) {
			return fmt.Errorf("tradeoff: woofer %q has an excursion of %g m and a body of %g m³, want > 0 and ≥ 0", w.Name, w.Excursion, w.Body)
		}
	}
	if err := s.Gross.validate("gross volume", "m³"); err != nil {
		return err
	}
	if err := s.Extension.validate("extension", "Hz"); err != nil {
		return err
	}
	if s.Tunings != (Range{}) {
		if err := s.Tunings.validate("tuning", "Hz"); err != nil {
			return err
		}
	} else if !s.Closed {
		return fmt.Errorf("tradeoff: neither tunings nor closed boxes, want one at least")
	}
	n := float64(len(s.Woofers)) * float64(s.Gross.Steps+1) * float64(s.Tunings.Steps+2) * float64(len(s.Shapes)) * float64(s.Extension.Steps+1)
	if n > maxCandidates {
		return fmt.Errorf("tradeoff: grid has up to %.0f candidates, want %d at most: wider steps, and Refine", n, maxCandidates)
	}
	for _, o := range s.Objectives {
		if o < 0 || o >= objectives {
			return fmt.Errorf("tradeoff: objective %d is not known", int(o))
		}
	}
	if s.Refine < 0 || s.Refine > 6 {
		return fmt.Errorf("tradeoff: steps are to be halved %d times, want 0 to 6", s.Refine)
	}
	if !(s.Drop > 0 && s.Drop <= 60) {
		return fmt.Errorf("tradeoff: drop at the extension is %g dB, want > 0 to 60", s.Drop)
	}
	if !(s.Level > 0 && s.Level <= 200) || !(s.Crest >= 0 && s.Crest <= 60) {
		return fmt.Errorf("tradeoff: level is %g dB and crest %g dB, want > 0 to 200 and 0 to 60", s.Level, s.Crest)
	}
	for _, v := range []float64{s.VentAir, s.Pipe, s.Amplifier.PeakVolts, s.Amplifier.PeakAmperes} {
		if !(v >= 0) || math.IsInf(v, 0) {
			return fmt.Errorf("tradeoff: a bound is %g, want a finite value > 0, or 0 for none", v)
		}
	}
	if s.Amplifier.OutputResistance != 0 {
		return fmt.Errorf("tradeoff: amplifier has an output resistance of %g ohm, want it in Source", s.Amplifier.OutputResistance)
	}
	for _, d := range s.Delays {
		if !positive(d.At) || !(d.Most > 0) {
			return fmt.Errorf("tradeoff: group delay of %g s at %g Hz, want both > 0", d.Most, d.At)
		}
	}
	if s.Grid == nil {
		return fmt.Errorf("tradeoff: study has no grid")
	}
	if i, j := s.Grid.Between(s.SearchFrom, s.SearchTo); j-i < 2 {
		return fmt.Errorf("tradeoff: %d frequencies within %g to %g Hz, want 2 at least", max(j-i, 0), s.SearchFrom, s.SearchTo)
	}
	if n := s.Grid.Len(); s.SearchFrom < s.Grid.First()*(1-1e-9) || s.SearchTo > s.Grid.Last()*s.Grid.Last()/s.Grid.At(n-2) {
		return fmt.Errorf("tradeoff: bounds count from %g to %g Hz, and the grid is %v: want all of the band on it", s.SearchFrom, s.SearchTo, s.Grid)
	}
	if top := s.Extension.at(s.Extension.Steps, 0); s.Extension.From < s.SearchFrom || top > s.SearchTo {
		return fmt.Errorf("tradeoff: extension from %g to %g Hz, want it within %g to %g Hz, where bounds count", s.Extension.From, top, s.SearchFrom, s.SearchTo)
	}
	if slices.Contains(s.Objectives, Delay) && len(s.Delays) == 0 {
		return fmt.Errorf("tradeoff: group delay is an objective and no frequency is stated for it, want one in Delays")
	}
	return s.validateBoxes()
}

// validateBoxes reports what no candidate of a kind could be built with, and would else
// only be told as so many that were not.
func (s *Study) validateBoxes() error {
	const any = 1.0 // m³, m, Hz
	if s.Closed {
		if err := (enclosure.Closed{Vb: any, Losses: s.ClosedLosses, Reference: any}).Validate(s.Air); err != nil {
			return fmt.Errorf("tradeoff: closed boxes: %w", err)
		}
	}
	if s.Tunings != (Range{}) {
		v := s.Vent
		v.Length = any
		if err := (enclosure.Vented{Vb: any, Vent: v, Losses: s.VentedLosses}).Validate(s.Air); err != nil {
			return fmt.Errorf("tradeoff: vented boxes: %w", err)
		}
	}
	return nil
}

// validate reports a woofer that is not there and a tuning that is none.
func (r Recipe) validate(s *Study) error {
	if r.Woofer < 0 || r.Woofer >= len(s.Woofers) {
		return fmt.Errorf("tradeoff: recipe has woofer %d of %d", r.Woofer, len(s.Woofers))
	}
	if r.Tuning != 0 && !positive(r.Tuning) {
		return fmt.Errorf("tradeoff: recipe has a tuning of %g Hz, want a finite value > 0, or 0 for a closed box", r.Tuning)
	}
	return nil
}

func positive(v float64) bool { return v > 0 && !math.IsInf(v, 0) }
