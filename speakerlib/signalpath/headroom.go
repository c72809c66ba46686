package signalpath

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/signal"
)

// Input is what goes into a path: a sine that may have any frequency within a band, and a
// programme.
type Input struct {
	Peak     float64      // of the sine, V or FS: 1 is full scale
	From, To float64      // Hz, the band, within the grid
	Shape    signal.Shape // spectrum of the programme; nil: none
	RMS      float64      // of the programme within the band, V or FS
	Crest    float64      // its peak over its rms
}

// Validate reports a band or a level that cannot be.
func (n Input) Validate() error {
	if err := positive("the input", value{"peak", "", n.Peak}, value{"lowest frequency", "Hz", n.From}); err != nil {
		return err
	}
	if !(n.To > n.From) || math.IsInf(n.To, 0) {
		return fmt.Errorf("signalpath: input from %g to %g Hz, want a band", n.From, n.To)
	}
	if n.Shape == nil {
		if n.RMS != 0 || n.Crest != 0 {
			return fmt.Errorf("signalpath: programme of %g rms with a crest of %g has no shape, want its spectrum, or neither", n.RMS, n.Crest)
		}
		return nil
	}
	if !(n.Crest >= 1) || math.IsInf(n.Crest, 0) {
		return fmt.Errorf("signalpath: crest of the programme is %g, want a finite ratio ≥ 1", n.Crest)
	}
	return positive("the input", value{"rms of the programme", "", n.RMS})
}

// LevelRow is the level at a node of a path.
type LevelRow struct {
	Node          string  `col:"behind"`
	Unit          string  `col:"unit"`                      // FS or V
	Sine          float64 `col:"sine peak" fmt:"%.3g"`      // at its highest within the band
	At            float64 `col:"at" unit:"Hz" fmt:"%.0f"`   // where
	Least         float64 `col:"least" fmt:"%.3g"`          // at its lowest within the band
	ProgrammeRMS  float64 `col:"programme rms" fmt:"%.3g"`  // 0 without a programme
	ProgrammePeak float64 `col:"programme peak" fmt:"%.3g"` // with the crest that it has at the input
}

// HeadroomRow is what an element has left to what it must not exceed.
type HeadroomRow struct {
	Element       string  `col:"element"`
	Cause         Cause   `col:"limit of"`
	Unit          string  `col:"unit"` // FS, V or A
	Limit         float64 `col:"limit" fmt:"%.4g"`
	Sine          float64 `col:"sine peak" fmt:"%.3g"`                    // at its highest within the band
	At            float64 `col:"at" unit:"Hz" fmt:"%.0f"`                 // where
	Headroom      float64 `col:"headroom" unit:"dB" fmt:"%.1f"`           // negative: it clips
	ProgrammeRMS  float64 `col:"programme rms" fmt:"%.3g"`                // 0 without a programme
	ProgrammePeak float64 `col:"programme peak" fmt:"%.3g"`               // with the crest that it has at the input
	Left          float64 `col:"programme headroom" unit:"dB" fmt:"%.1f"` // +Inf without a programme
}

// Levels returns the level of the input behind every element, one row for the input first.
func (s *Solution) Levels(n Input) ([]LevelRow, error) {
	b, err := s.band(n)
	if err != nil {
		return nil, err
	}
	var rows []LevelRow
	add := func(node string, t terminal, of []float64) {
		row := LevelRow{Node: node, Unit: "V", ProgrammeRMS: b.rms(of), Least: math.Inf(1)}
		if t.rate > 0 {
			row.Unit = "FS"
		}
		row.Sine, row.At = b.largest(of)
		for _, v := range of[b.lo:b.hi] {
			row.Least = min(row.Least, v*n.Peak)
		}
		row.ProgrammePeak = row.ProgrammeRMS * n.Crest
		rows = append(rows, row)
	}
	add("input", s.path.Elements[0].in(), s.magnitude(0))
	for k, st := range s.stages {
		add(st.element.Label(), st.element.out(), s.magnitude(k+1))
	}
	return rows, nil
}

// Headroom returns what every element has left, in the order of the path. The sine is at its worst
// within the band. The programme's peak is its rms there times the crest that it has at the input:
// filters change the crest, towards that of noise or beyond; the bound that no signal of the
// sine's peak exceeds is the L1 norm of the impulse response.
func (s *Solution) Headroom(n Input) ([]HeadroomRow, error) {
	b, err := s.band(n)
	if err != nil {
		return nil, err
	}
	var rows []HeadroomRow
	for k, st := range s.stages {
		for _, l := range s.limits(k) {
			of := s.magnitude(k)
			for i, f := range l.of {
				of[i] *= f
			}
			row := HeadroomRow{Element: st.element.Label(), Cause: l.cause, Unit: l.cause.Unit(), Limit: l.peak,
				ProgrammeRMS: b.rms(of)}
			row.Sine, row.At = b.largest(of)
			row.ProgrammePeak = row.ProgrammeRMS * n.Crest
			row.Headroom, row.Left = level.DB(l.peak/row.Sine), level.DB(l.peak/row.ProgrammePeak)
			rows = append(rows, row)
		}
	}
	return rows, nil
}

// ClipsFirst returns the row of the least headroom for the sine: of several the first in the path.
// It panics without rows.
func ClipsFirst(rows []HeadroomRow) HeadroomRow {
	if len(rows) == 0 {
		panic("signalpath: no rows to find what clips first in")
	}
	first := rows[0]
	for _, r := range rows[1:] {
		if r.Headroom < first.Headroom {
			first = r
		}
	}
	return first
}

// HeadroomOver returns the headroom of a sine of some peak at the input over frequency, in dB, for
// one limit of an element.
func (s *Solution) HeadroomOver(element string, c Cause, peak float64) (freq.Curve, error) {
	k, err := s.path.index(element)
	if err != nil {
		return freq.Curve{}, err
	}
	if err := positive("the input", value{"peak", "", peak}); err != nil {
		return freq.Curve{}, err
	}
	for _, l := range s.limits(k) {
		if l.cause != c {
			continue
		}
		h := s.magnitude(k)
		for i, f := range l.of {
			h[i] = level.DB(l.peak / (h[i] * f * peak))
		}
		return freq.NewCurve(s.grid, h, fmt.Sprintf("%s, %v", element, c), "dB", freq.Basis{})
	}
	return freq.Curve{}, fmt.Errorf("signalpath: %q has no limit of %v stated", element, c)
}

// magnitude returns the magnitude at the input of element k, or at the terminals, per unit of the
// input.
func (s *Solution) magnitude(k int) []float64 {
	m := make([]float64, s.grid.Len())
	for i, v := range s.product(k) {
		m[i] = cmplx.Abs(v)
	}
	return m
}

// band is an input on a grid.
type band struct {
	Input
	lo, hi int
	grid   *freq.Grid
	weight []float64 // share of the mean square of the programme, by point; nil: none
}

func (s *Solution) band(n Input) (band, error) {
	b := band{Input: n, grid: s.grid}
	if err := n.Validate(); err != nil {
		return b, err
	}
	g := s.grid
	if n.From < g.First()*(1-1e-9) || n.To > g.Last()*(1+1e-9) {
		return b, fmt.Errorf("signalpath: input from %g to %g Hz, want a band within the grid, %v", n.From, n.To, g)
	}
	b.lo, b.hi = g.Between(n.From*(1-1e-9), n.To*(1+1e-9))
	if b.hi-b.lo < 2 {
		return b, fmt.Errorf("signalpath: %d points of the grid are within %g to %g Hz, want 2 or more", b.hi-b.lo, n.From, n.To)
	}
	if n.Shape == nil {
		return b, nil
	}
	b.weight = make([]float64, b.hi-b.lo)
	var sum float64
	for i := range b.weight {
		a := n.Shape.Amplitude(g.At(b.lo + i))
		below, above := max(b.lo+i-1, b.lo), min(b.lo+i+1, b.hi-1)
		b.weight[i] = a * a * g.At(b.lo+i) * math.Log(g.At(above)/g.At(below)) / 2
		sum += b.weight[i]
	}
	if !(sum > 0) || math.IsInf(sum, 0) {
		return b, fmt.Errorf("signalpath: power of the programme's shape is %g from %g to %g Hz, want a finite value > 0", sum, n.From, n.To)
	}
	for i := range b.weight {
		b.weight[i] /= sum
	}
	return b, nil
}

// largest returns the peak of the sine where a magnitude is largest.
func (b band) largest(of []float64) (peak, hz float64) {
	for i := b.lo; i < b.hi; i++ {
		if v := of[i] * b.Peak; v > peak || hz == 0 {
			peak, hz = v, b.grid.At(i)
		}
	}
	return peak, hz
}

// rms returns that of the programme behind a magnitude.
func (b band) rms(of []float64) float64 {
	var sum float64
	for i, w := range b.weight {
		sum += w * of[b.lo+i] * of[b.lo+i]
	}
	return b.RMS * math.Sqrt(sum)
}
