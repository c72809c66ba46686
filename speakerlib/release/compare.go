package release

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
)

// Pair is what was predicted of a way, or of the whole, and what was measured of the
// prototype: at one position, of one basis, on one grid, all measurements with
// one time zero.
type Pair struct {
	Name      string
	Predicted freq.Response
	Measured  freq.Response
	From, To  float64 // the band in which it counts, Hz
	// Low is the bass, where it is known from another place than the rest: near fields
	// below the gate of the far field. Nil: it is not.
	Low *Low
}

// Low is a low end that was predicted and measured on a basis of its own, such as half
// space or the near field, up to an octave above Below at least. Its levels are none of
// the rest; its difference of measured and predicted is joined to that of the rest at
// Below, such that both have one mean over the octave above it (freq.Join).
type Low struct {
	Predicted freq.Response
	Measured  freq.Response
	Below     float64 // Hz
}

// Judge says how a prediction is judged.
type Judge struct {
	Smoothing float64    // n of the 1/n-octave power average; 0: 12
	Guard     float64    // what the uncertainties of model and measurement explain of the shape, dB either way (report.GuardBand)
	GuardOver freq.Curve // the same over frequency, dB, linear over log f between its points; the zero Curve: Guard everywhere
	Bands     []float64  // edges of the bands of the table, Hz, ascending; nil: octaves around 1 kHz
	Window    float64    // the largest delay that is looked for, s; 0: 1 ms
}

// Comparison is how a measurement differs from its prediction.
type Comparison struct {
	Pair      Pair
	Level     float64    // measured less predicted: mean over the band by log frequency, dB
	LowLevel  float64    // by how much the difference of the low end was moved to join it, dB
	Delay     float64    // by how much it is measured later, s
	Inverted  bool       // whether it is measured with the other polarity
	Coherence float64    // of the two, delay and polarity taken out: 1 is one phase wherever both are heard; far below, delay and polarity say nothing
	Shape     freq.Curve // measured less predicted with the level taken out, smoothed, dB
	Turn      freq.Curve // phase of measured over predicted, delay and polarity taken out, within ±π, rad
	Bands     []Band
	Beyond    []Span // where the shape is beyond the guard band
}

// Prediction is how good a prediction was.
type Prediction struct {
	Ways []Comparison
	Sum  Comparison
	// Together compares the sum of the ways as measured apart ("predicted") with both
	// measured together: whether the set of measurements hangs together at all. Nil if
	// they were not measured together.
	Together *Comparison
	judge    Judge
}

// Lag returns by how much way i is measured later than way 0, beyond what was
// predicted, in seconds: the part of the delays that matters to the sum. What the phase
// of a hump or a slope adds is in it; [Fit] takes that out first.
func (p *Prediction) Lag(i int) float64 { return p.Ways[i].Delay - p.Ways[0].Delay }

// Compare compares prediction and prototype. The whole may leave out what is the sum
// of the ways: its Predicted always may, its Measured where the ways were not measured
// together. Of the low end it takes that of the one way that has one.
//
// Each response is averaged in power over a fraction of an octave and the difference
// of the levels is taken; its mean over the band is the level, the rest the shape
// ([crossover.MatchVoicing]). Delay and polarity are those with which the two add
// best ([crossover.Align]).
func Compare(ways []Pair, whole Pair, j Judge) (*Prediction, error) {
	if len(ways) == 0 {
		return nil, fmt.Errorf("release: no way to compare, want at least 1")
	}
	j, err := j.checked()
	if err != nil {
		return nil, err
	}
	out := &Prediction{judge: j}
	for i, w := range ways {
		for _, v := range ways[:i] {
			if v.Name == w.Name {
				return nil, fmt.Errorf("release: two ways are called %q, want names that differ", w.Name)
			}
		}
		c, err := j.compare(w)
		if err != nil {
			return nil, err
		}
		out.Ways = append(out.Ways, c)
	}
	if whole.Low != nil {
		return nil, fmt.Errorf("release: the whole has a low end, want it of a way")
	}
	for _, w := range ways {
		if w.Low != nil && whole.Low != nil {
			return nil, fmt.Errorf("release: low end of %q beside another, want it of one way only", w.Name)
		}
		if w.Low != nil {
			whole.Low = w.Low
		}
	}
	apart, err := sum(ways, func(p Pair) freq.Response { return p.Measured })
	if err != nil {
		return nil, err
	}
	if whole.Predicted.Grid() == nil {
		if whole.Predicted, err = sum(ways, func(p Pair) freq.Response { return p.Predicted }); err != nil {
			return nil, err
		}
	}
	if whole.Measured.Grid() == nil {
		whole.Measured = apart
	} else {
		c, err := j.compare(Pair{Name: "ways measured together", Predicted: apart, Measured: whole.Measured, From: whole.from(), To: whole.To})
		if err != nil {
			return nil, err
		}
		out.Together = &c
	}
	out.Sum, err = j.compare(whole)
	return out, err
}

func sum(ways []Pair, of func(Pair) freq.Response) (freq.Response, error) {
	s := of(ways[0])
	for _, w := range ways[1:] {
		var err error
		if s, err = s.Add(of(w)); err != nil {
			return s, fmt.Errorf("release: sum of the ways: %w", err)
		}
	}
	return s.As("sum of the ways"), nil
}

func (j Judge) checked() (Judge, error) {
	if j.Smoothing == 0 {
		j.Smoothing = 12
	}
	if j.Window == 0 {
		j.Window = 1e-3
	}
	c := j.GuardOver
	if c.Grid() == nil && !(j.Guard > 0) || j.Guard < 0 || math.IsInf(j.Guard, 0) || math.IsNaN(j.Guard) {
		return j, fmt.Errorf("release: guard band of %g dB, want a finite value > 0: without one every error is beyond it", j.Guard)
	}
	if c.Grid() != nil {
		if c.Unit() != "dB" {
			return j, fmt.Errorf("release: guard band is in %q, want dB", c.Unit())
		}
		for i, v := range c.Values() {
			if !(v >= 0) || math.IsInf(v, 0) {
				return j, fmt.Errorf("release: guard band is %g dB at %g Hz, want a finite value ≥ 0", v, c.Grid().At(i))
			}
		}
	}
	for i, f := range j.Bands {
		if !(f > 0) || math.IsInf(f, 0) || i > 0 && f <= j.Bands[i-1] {
			return j, fmt.Errorf("release: edge %d of the bands is %g Hz, want finite values > 0 in ascending order", i+1, f)
		}
	}
	if len(j.Bands) == 1 {
		return j, fmt.Errorf("release: bands with one edge, want at least 2")
	}
	return j, nil
}

// guard returns the guard band at the points of a grid from i0 to i1.
func (j Judge) guard(g *freq.Grid, i0, i1 int) ([]float64, error) {
	out := make([]float64, i1-i0)
	for k := range out {
		out[k] = j.Guard
		if j.GuardOver.Grid() != nil {
			var err error
			if out[k], err = j.GuardOver.Interpolate(g.At(i0 + k)); err != nil {
				return nil, fmt.Errorf("release: guard band: %w", err)
			}
		}
	}
	return out, nil
}

// from returns where the responses at the listening position begin to count.
func (p Pair) from() float64 {
	if p.Low != nil {
		return max(p.From, p.Low.Below)
	}
	return p.From
}

// difference returns the smoothed level of measured less that of predicted.
func (j Judge) difference(name string, measured, predicted freq.Response, from, to float64) (freq.Curve, error) {
	m, err := crossover.MatchVoicing(measured, predicted, crossover.Mask{From: from, To: to, LevelFrom: from, LevelTo: to, Smoothing: j.Smoothing, Allowed: 1})
	if err != nil {
		return freq.Curve{}, fmt.Errorf("release: %q: %w", name, err)
	}
	return m.Deviation.Plus(m.Level), nil
}

func (j Judge) compare(p Pair) (Comparison, error) {
	if p.Name == "" {
		return Comparison{}, fmt.Errorf("release: a way has no name")
	}
	if p.Predicted.Grid() == nil || p.Measured.Grid() == nil {
		return Comparison{}, fmt.Errorf("release: %q lacks the predicted or the measured response", p.Name)
	}
	d, err := j.difference(p.Name, p.Measured, p.Predicted, p.from(), p.To)
	if err != nil {
		return Comparison{}, err
	}
	c := Comparison{Pair: p}
	if l := p.Low; l != nil {
		if l.Predicted.Grid() == nil || l.Measured.Grid() == nil {
			return Comparison{}, fmt.Errorf("release: low end of %q lacks the predicted or the measured response", p.Name)
		}
		if !(l.Below > p.From) || !(2*l.Below <= p.To) {
			return Comparison{}, fmt.Errorf("release: low end of %q up to %g Hz, want it above %g Hz and an octave below %g Hz", p.Name, l.Below, p.From, p.To)
		}
		low, err := j.difference("low end of "+p.Name, l.Measured, l.Predicted, p.From, 2*l.Below)
		if err != nil {
			return Comparison{}, err
		}
		a, err := d.Mean(l.Below, 2*l.Below)
		if err != nil {
			return Comparison{}, fmt.Errorf("release: %q: %w", p.Name, err)
		}
		b, err := low.Mean(l.Below, 2*l.Below)
		if err != nil {
			return Comparison{}, fmt.Errorf("release: low end of %q: %w", p.Name, err)
		}
		c.LowLevel = a - b
		if d, err = freq.Join(low.Plus(c.LowLevel), d, l.Below); err != nil {
			return Comparison{}, fmt.Errorf("release: %q: %w", p.Name, err)
		}
	}
	g := d.Grid()
	i0, i1 := g.Between(p.From, p.To)
	for i := i0; i < i1; i++ {
		if math.IsNaN(d.At(i)) || math.IsInf(d.At(i), 0) {
			return Comparison{}, fmt.Errorf("release: %q: predicted or measured is silent at %g Hz, within the band of %g to %g Hz", p.Name, g.At(i), p.From, p.To)
		}
	}
	if c.Level, err = d.Mean(p.From, p.To); err != nil {
		return Comparison{}, fmt.Errorf("release: %q: %w", p.Name, err)
	}
	c.Shape = d.Plus(-c.Level).As("shape of " + p.Name)
	a, err := crossover.Align(p.Predicted, p.Measured, p.from(), p.To, j.Window)
	if err != nil {
		return Comparison{}, fmt.Errorf("release: %q: %w", p.Name, err)
	}
	if math.Abs(a.Delay) > j.Window*(1-1e-9) {
		return Comparison{}, fmt.Errorf("release: %q is measured later or earlier than predicted by all of the window of ±%.4g ms, where the best delay is not found: want one time zero, or a wider window", p.Name, 1e3*j.Window)
	}
	c.Delay, c.Inverted, c.Coherence = -a.Delay, a.Inverted, a.Coherence
	if c.Turn, err = c.turn(); err != nil {
		return Comparison{}, err
	}
	guard, err := j.guard(g, i0, i1)
	if err != nil {
		return Comparison{}, err
	}
	c.Beyond = beyond(c.Shape, i0, guard)
	c.Bands = bands(c.Shape, j.edges(p.From, p.To))
	return c, nil
}

// turn is the phase of measured over predicted.
func (c Comparison) turn() (freq.Curve, error) {
	g := c.Pair.Measured.Grid()
	w := g.Omega()
	v := make([]float64, g.Len())
	for i := range v {
		m, p := c.Pair.Measured.At(i), c.Pair.Predicted.At(i)
		z := m * complex(real(p), -imag(p))
		if c.Inverted {
			z = -z
		}
		// z·e^{+jωτ}, by its angle; 0 where one of them is silent.
		if z != 0 {
			v[i] = math.Remainder(math.Atan2(imag(z), real(z))+w[i]*c.Delay, 2*math.Pi)
		}
	}
	return freq.NewCurve(g, v, "phase of "+c.Pair.Name, "rad", freq.Basis{})
}
