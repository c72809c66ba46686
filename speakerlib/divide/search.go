package divide

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/signal"
)

// Slopes are the prototypes of a candidate's two halves; they need not be of one
// order.
type Slopes struct{ Low, High analog.Prototype }

// Seat is a direction of the listening window: both ways there, per volt at their
// terminals, as measured, in the space and at the distance of the ways.
type Seat struct {
	Name         string
	Lower, Upper freq.Response
	Counts       float64 // in the power average, > 0
}

// Tweeter is what a search needs to know of the upper way's driver. Its transfers are
// per volt at its terminals.
type Tweeter struct {
	Cone    freq.Transfer // displacement, m/V
	Current freq.Transfer // A/V
	Coil    limits.Coil   // cold, with the way of its heat
	Fs      float64       // Hz
}

// TweeterOf returns the tweeter of lumped parameters whose Fs and losses are those
// with its own rear chamber, as sheets of domes have them: the driver in an infinite
// baffle.
func TweeterOf(p driver.Params, m air.Medium, c limits.Coil) (Tweeter, error) {
	motion, err := enclosure.Mounted{Driver: p, Box: enclosure.InfiniteBaffle{}, Air: m}.Motion()
	if err != nil {
		return Tweeter{}, err
	}
	return Tweeter{Cone: motion.Cone, Current: motion.Current, Coil: c, Fs: p.Fs()}, nil
}

// Guard tells the distortion of a way, a ratio, at a frequency and a sound pressure
// level (rms of a sine) at 1 m on its axis: measured, from a bench, or of a large-signal model.
// From the distance of the ways' measurement to 1 m it is brought as 1/r.
type Guard func(way string, hz, spl float64) float64

// Search is a question: where, how steeply and in which topology two ways are best
// divided.
type Search struct {
	Lower, Upper crossover.Vertical // over elevations, without chains
	Air          air.Medium
	Voice        freq.Response // of the sum on the axis at the distance of the ways, per volt at the input: magnitudes only

	Frequencies []float64 // Hz, that are tried
	Slopes      []Slopes
	// Inverted and Delays are what of polarity and delay is tried: one way inverted
	// or not, the ways aligned by a delay or left as the baffle has them. Empty: not
	// inverted; aligned.
	Inverted, Delays []bool
	// Lag is by how much the sound of the lower way is later than that of the upper
	// one, beyond what their minimum phases say, at the place of the measurement, s:
	// what a delay would even out. ExcessLag finds it.
	Lag float64

	Distance float64         // of the listener from the reference point, m, at which lobes are told
	Aligned  crossover.Place // where ideal halves are aligned; the zero Place: on the axis, at the distance of the measurement
	Window   []Seat          // the listening window; empty: the axis
	From, To float64         // the band of ripple and delay, Hz

	Level   float64      // of the voice on the axis, its mean over the band, at the distance of the measurement, dB SPL, rms of a sine
	Shape   signal.Shape // spectrum of the programme that heats, such as signal.Programme{}; nil: heat is not told
	Crest   float64      // of the programme, a ratio ≥ 1; its peaks are as high as the sine's
	Tweeter *Tweeter     // nil: excursion and heat are not told
	Guard   Guard        // nil: distortion is not told
	Beam    *Seat        // at 30° to the side, say; nil: beaming is not told

	// Fit, if not nil, has each candidate fitted by it, with the split and the polarity
	// that Run finds, instead of ideal halves; its ways are those of the search.
	Fit *Task

	Bounds     Bounds
	Objectives []Objective // at least one: what the front is about
	// Refine is how often frequencies half way (over log frequency) to the neighbours
	// of the front, or of the closest point if there is none, are tried too, 0 to 6.
	Refine int
}

// ExcessLag returns by how much later the sound of the lower response arrives than
// that of the upper one, beyond their minimum phases: the difference of their excess
// phases ([freq.Response.Excess]) by the slope of the straight line that fits best over
// lo … hi hertz; its offset is free, so that polarity does not matter. A point counts
// by the lower of both magnitudes, each relative to its largest in the band. Both must
// be of one time zero.
func ExcessLag(lower, upper freq.Response, lowerTails, upperTails freq.Tails, lo, hi float64) (float64, error) {
	g := lower.Grid()
	if !g.Equal(upper.Grid()) {
		return 0, fmt.Errorf("divide: %q is on %v and %q on %v, want the same grid", lower.Label(), g, upper.Label(), upper.Grid())
	}
	l, err := lower.Excess(lowerTails)
	if err != nil {
		return 0, fmt.Errorf("divide: %q: %w", lower.Label(), err)
	}
	u, err := upper.Excess(upperTails)
	if err != nil {
		return 0, fmt.Errorf("divide: %q: %w", upper.Label(), err)
	}
	i, j := g.Between(lo, hi)
	if j-i < 3 {
		return 0, fmt.Errorf("divide: %d points within %g … %g Hz (%v), want at least 3", j-i, lo, hi, g)
	}
	var ratio []complex128
	var weight []float64
	var mostL, mostU float64
	for k := i; k < j; k++ {
		mostL, mostU = max(mostL, cmplx.Abs(lower.At(k))), max(mostU, cmplx.Abs(upper.At(k)))
	}
	for k := i; k < j; k++ {
		ratio = append(ratio, l.At(k)*cmplx.Conj(u.At(k)))
		weight = append(weight, min(cmplx.Abs(lower.At(k))/mostL, cmplx.Abs(upper.At(k))/mostU))
	}
	var phase []float64
	for k, z := range ratio {
		p := cmplx.Phase(z)
		if k > 0 {
			p -= 2 * math.Pi * math.Round((p-phase[k-1])/(2*math.Pi))
		}
		phase = append(phase, p)
	}
	var sw, sx, sy, sxx, sxy float64
	for k, p := range phase {
		w, x := weight[k], g.Omega()[i+k]
		sw += w
		sx += w * x
		sy += w * p
		sxx += w * x * x
		sxy += w * x * p
	}
	return -(sw*sxy - sx*sy) / (sw*sxx - sx*sx), nil
}

// study is a search that was checked, with what all candidates share.
type study struct {
	*Search
	stack     *crossover.Stack
	grid      *freq.Grid
	axis      [2][]complex128 // ways on the axis at the distance of the measurement
	at        [2][]complex128 // ways where they are aligned, the level as at the distance of the measurement
	voice     []float64
	volts     float64 // at the input for Level
	window    []Seat
	programme limits.Programme
	share     float64 // rms of the programme that lies on the grid
	cone      []complex128
}

func (s *Search) prepare() (*study, error) {
	out := &study{Search: s}
	var err error
	if out.stack, err = crossover.NewStack(s.Air, s.Lower, s.Upper); err != nil {
		return nil, err
	}
	if s.Lower.Chain != nil || s.Upper.Chain != nil {
		return nil, fmt.Errorf("divide: ways of a search have chains, want them without")
	}
	g := out.stack.Grid()
	out.grid = g
	if len(s.Frequencies) == 0 || len(s.Slopes) == 0 || len(s.Objectives) == 0 {
		return nil, fmt.Errorf("divide: %d frequencies, %d pairs of slopes and %d objectives, want at least one of each", len(s.Frequencies), len(s.Slopes), len(s.Objectives))
	}
	if !(s.From > 0) || !(s.To > s.From) || g.First() > s.From || g.Last() < s.To {
		return nil, fmt.Errorf("divide: responses cover %v, want all of %g … %g Hz: %.4g Hz are missing below and %.4g Hz above", g, s.From, s.To, max(0, g.First()-s.From), max(0, s.To-g.Last()))
	}
	if f := s.Fit; f != nil && (len(f.Ways) != 2 || f.Ways[0].Name != s.Lower.Name || f.Ways[1].Name != s.Upper.Name) {
		var names []string
		for _, w := range f.Ways {
			names = append(names, w.Name)
		}
		return nil, fmt.Errorf("divide: task that fits has the ways %q, want those of the search, %q and %q", names, s.Lower.Name, s.Upper.Name)
	}
	if s.Refine < 0 || s.Refine > 6 {
		return nil, fmt.Errorf("divide: search is refined %d times, want 0 to 6", s.Refine)
	}
	for _, f := range s.Frequencies {
		if !(f > s.From && f < s.To) {
			return nil, fmt.Errorf("divide: crossover at %g Hz, want it within %g … %g Hz", f, s.From, s.To)
		}
	}
	if math.IsNaN(s.Lag) || math.IsInf(s.Lag, 0) || math.IsNaN(s.Level) || math.IsInf(s.Level, 0) {
		return nil, fmt.Errorf("divide: lag of %g s and level of %g dB, want finite values", s.Lag, s.Level)
	}
	ways, err := out.stack.Ways(crossover.Place{Distance: out.stack.MeasuredAt()})
	if err != nil {
		return nil, err
	}
	terminals := ways[0].Basis()
	input := terminals
	input.Per = freq.PerInput
	if !s.Voice.Grid().Equal(g) || s.Voice.Basis() != input {
		return nil, fmt.Errorf("divide: voice is %v on %v, want %v on %v as the ways", s.Voice.Basis(), s.Voice.Grid(), input, g)
	}
	for k := range out.axis {
		out.axis[k] = ways[k].Values()
	}
	out.at = out.axis
	if s.Aligned != (crossover.Place{}) {
		there, err := out.stack.Ways(s.Aligned)
		if err != nil {
			return nil, err
		}
		far := math.Hypot(s.Aligned.Distance, s.Aligned.Height) / out.stack.MeasuredAt()
		for k := range out.at {
			out.at[k] = there[k].Values()
			for i := range out.at[k] {
				out.at[k][i] *= complex(far, 0)
			}
		}
	}
	for i := range g.Len() {
		v := cmplx.Abs(s.Voice.At(i))
		if v == 0 {
			return nil, fmt.Errorf("divide: voice is silent at %g Hz", g.At(i))
		}
		out.voice = append(out.voice, v)
	}
	mean, err := s.Voice.SPL(1).Mean(s.From, s.To)
	if err != nil {
		return nil, fmt.Errorf("divide: level of the voice: %w", err)
	}
	if out.volts = level.Ratio(s.Level - mean); !(out.volts > 0) || math.IsInf(out.volts, 0) {
		return nil, fmt.Errorf("divide: a voice of %.4g dB at 1 V takes %g V for %g dB, want a level that some voltage gives", mean, out.volts, s.Level)
	}
	out.window = s.Window
	if len(out.window) == 0 {
		out.window = []Seat{{Name: "axis", Lower: ways[0], Upper: ways[1], Counts: 1}}
	}
	for _, w := range append(append([]Seat(nil), out.window...), s.beam()...) {
		if !w.Lower.Grid().Equal(g) || !w.Upper.Grid().Equal(g) || !(w.Counts > 0) || math.IsInf(w.Counts, 0) {
			return nil, fmt.Errorf("divide: seat %q counts %g on %v and %v, want a finite value > 0 on %v", w.Name, w.Counts, w.Lower.Grid(), w.Upper.Grid(), g)
		}
		for _, r := range []freq.Response{w.Lower, w.Upper} {
			if r.Basis() != terminals {
				return nil, fmt.Errorf("divide: %q at seat %q is %v, want %v as the ways on the axis", r.Label(), w.Name, r.Basis(), terminals)
			}
		}
	}
	if err := s.told(); err != nil {
		return nil, err
	}
	return out, out.heatSetup()
}

// told reports bounds and objectives of what is not told.
func (s *Search) told() error {
	for _, n := range []struct {
		what   string
		have   bool
		bounds []float64
		of     []Objective
		want   string
	}{
		{"excursion or floor", s.Tweeter != nil, []float64{s.Bounds.Excursion, s.Bounds.Floor}, []Objective{Excursion}, "a tweeter"},
		{"heat", s.Tweeter != nil && s.Shape != nil, []float64{s.Bounds.Rise}, []Objective{Heat}, "a tweeter and the shape of a programme"},
		{"distortion", s.Guard != nil, []float64{s.Bounds.Distortion}, []Objective{Distortion}, "a guard"},
		{"step of directivity", s.Beam != nil, []float64{s.Bounds.Step}, []Objective{Step}, "a beam"},
		{"number of sections", s.Fit != nil, nil, []Objective{Sections}, "a task that fits"},
	} {
		if n.have {
			continue
		}
		if slices.ContainsFunc(n.bounds, func(v float64) bool { return v != 0 }) || slices.ContainsFunc(n.of, func(o Objective) bool { return slices.Contains(s.Objectives, o) }) {
			return fmt.Errorf("divide: %s is bounded or an objective, which wants %s", n.what, n.want)
		}
	}
	for _, u := range s.Bounds.uses(&Point{}) {
		if !(u.bound >= 0) || math.IsInf(u.bound, 0) {
			return fmt.Errorf("divide: bound of %s is %g, want a finite value, 0 for none", u.name, u.bound)
		}
	}
	return nil
}

func (s *Search) beam() []Seat {
	if s.Beam == nil {
		return nil
	}
	b := *s.Beam
	b.Counts = 1
	return []Seat{b}
}

// heatSetup prepares excursion and heat.
func (s *study) heatSetup() error {
	if s.Tweeter == nil {
		return nil
	}
	cone, err := freq.Evaluate(s.Tweeter.Cone, s.grid, "cone", freq.Basis{})
	if err != nil {
		return fmt.Errorf("divide: tweeter: %w", err)
	}
	s.cone = cone.Values()
	if s.Shape == nil {
		return nil
	}
	if err := s.Tweeter.Coil.Validate(); err != nil {
		return fmt.Errorf("divide: tweeter: %w", err)
	}
	if s.programme, err = limits.NewProgramme(s.Shape, s.Crest, s.grid); err != nil {
		return fmt.Errorf("divide: %w", err)
	}
	// The programme reaches from 20 Hz to 20 kHz; the grid of the ways does not. What
	// lies outside of it does not reach a tweeter behind its high-pass.
	all, err := freq.LogGrid(20, 20e3, 48)
	if err != nil {
		return err
	}
	whole, err := limits.NewProgramme(s.Shape, s.Crest, all)
	if err != nil {
		return fmt.Errorf("divide: %w", err)
	}
	inside := make([]complex128, all.Len())
	i, j := all.Between(s.grid.First(), s.grid.Last())
	for ; i < j; i++ {
		inside[i] = 1
	}
	window, err := freq.NewResponse(all, inside, "grid of the ways", freq.Basis{})
	if err != nil {
		return err
	}
	s.share, err = whole.RMS(window)
	return err
}
