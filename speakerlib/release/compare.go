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
}

// Judge says how a prediction is judged.
type Judge struct {
	Smoothing float64    // n of the 1/n-octave power average; 0: 12
	Guard     float64    // what the uncertainties of model and measurement explain of the shape, dB either way (report.GuardBand)
	GuardOver freq.Curve // the same over frequency, dB, on the grid of the responses; the zero Curve: Guard everywhere
	Bands     []float64  // edges of the bands of the table, Hz, ascending; nil: octaves around 1 kHz
	Window    float64    // the largest delay that is looked for, s; 0: 1 ms
}

// Comparison is how a measurement differs from its prediction.
type Comparison struct {
	Pair      Pair
	Level     float64    // measured less predicted: mean over the band by log frequency, dB
	Delay     float64    // by how much it is measured later, s
	Inverted  bool       // whether it is measured with the other polarity
	Coherence float64    // of the two, delay and polarity taken out: 1 is one phase wherever both are heard
	Shape     freq.Curve // measured less predicted with the level taken out, smoothed, dB
	Turn      freq.Curve // phase of measured over predicted, delay and polarity taken out, within ±π, rad
	Bands     []Band
	Beyond    []Span // where the shape is beyond the guard band
}

// Band is the error of the shape in a band.
type Band struct {
	From  float64 `col:"from" unit:"Hz" fmt:"%.0f"`
	To    float64 `col:"to" unit:"Hz" fmt:"%.0f"`
	Mean  float64 `col:"mean" unit:"dB" fmt:"%.2f"` // by log frequency
	RMS   float64 `col:"rms" unit:"dB" fmt:"%.2f"`
	Worst float64 `col:"worst" unit:"dB" fmt:"%.2f"` // of the largest magnitude
	At    float64 `col:"at" unit:"Hz" fmt:"%.0f"`
}

// Span is a stretch of frequencies beyond a bound.
type Span struct {
	From  float64 `col:"from" unit:"Hz" fmt:"%.0f"`
	To    float64 `col:"to" unit:"Hz" fmt:"%.0f"`
	Worst float64 `col:"worst" unit:"dB" fmt:"%.2f"` // the value farthest beyond
	At    float64 `col:"at" unit:"Hz" fmt:"%.0f"`
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
// together.
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
		c, err := j.compare(Pair{Name: "ways measured together", Predicted: apart, Measured: whole.Measured, From: whole.From, To: whole.To})
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
			if !(v >= 0) {
				return j, fmt.Errorf("release: guard band is %g dB at %g Hz, want ≥ 0", v, c.Grid().At(i))
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

// guard returns the guard band at point i of a grid.
func (j Judge) guard(i int) float64 {
	if j.GuardOver.Grid() != nil {
		return j.GuardOver.At(i)
	}
	return j.Guard
}

func (j Judge) compare(p Pair) (Comparison, error) {
	if p.Name == "" {
		return Comparison{}, fmt.Errorf("release: a way has no name")
	}
	if p.Predicted.Grid() == nil || p.Measured.Grid() == nil {
		return Comparison{}, fmt.Errorf("release: %q lacks the predicted or the measured response", p.Name)
	}
	g := p.Measured.Grid()
	if j.GuardOver.Grid() != nil && !j.GuardOver.Grid().Equal(g) {
		return Comparison{}, fmt.Errorf("release: guard band is on %v, %q on %v, want one grid", j.GuardOver.Grid(), p.Name, g)
	}
	m, err := crossover.MatchVoicing(p.Measured, p.Predicted, crossover.Mask{
		From: p.From, To: p.To, LevelFrom: p.From, LevelTo: p.To, Smoothing: j.Smoothing, Allowed: 1,
	})
	if err != nil {
		return Comparison{}, fmt.Errorf("release: %q: %w", p.Name, err)
	}
	a, err := crossover.Align(p.Predicted, p.Measured, p.From, p.To, j.Window)
	if err != nil {
		return Comparison{}, fmt.Errorf("release: %q: %w", p.Name, err)
	}
	c := Comparison{Pair: p, Level: m.Level, Shape: m.Deviation.As("shape of " + p.Name), Delay: -a.Delay, Inverted: a.Inverted, Coherence: a.Coherence}
	if c.Turn, err = c.turn(); err != nil {
		return Comparison{}, err
	}
	i0, i1 := g.Between(p.From, p.To)
	for i := i0; i < i1; i++ {
		if math.IsNaN(c.Shape.At(i)) || math.IsInf(c.Shape.At(i), 0) {
			return Comparison{}, fmt.Errorf("release: %q: predicted or measured is silent at %g Hz, within the band of %g to %g Hz", p.Name, g.At(i), p.From, p.To)
		}
	}
	c.Beyond = beyond(c.Shape, i0, i1, j.guard)
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

// beyond lists the stretches of points i0 … i1−1 at which the magnitude is above a
// bound.
func beyond(c freq.Curve, i0, i1 int, bound func(i int) float64) (out []Span) {
	g, open := c.Grid(), false
	for i := i0; i < i1; i++ {
		v := c.At(i)
		if math.Abs(v) <= bound(i) {
			open = false
			continue
		}
		if !open {
			out = append(out, Span{From: g.At(i)})
			open = true
		}
		s := &out[len(out)-1]
		s.To = g.At(i)
		if math.Abs(v) >= math.Abs(s.Worst) {
			s.Worst, s.At = v, g.At(i)
		}
	}
	return out
}

// edges returns the edges of the bands within from … to, both included.
func (j Judge) edges(from, to float64) []float64 {
	all := j.Bands
	if all == nil {
		for k := -6; k <= 5; k++ {
			all = append(all, 1000*math.Exp2(float64(k)-0.5))
		}
	}
	out := []float64{from}
	for _, f := range all {
		if f > from && f < to {
			out = append(out, f)
		}
	}
	return append(out, to)
}

// bands returns the errors between edges; a band without a point is left out.
func bands(c freq.Curve, edges []float64) (out []Band) {
	g := c.Grid()
	for k := range len(edges) - 1 {
		i, j := g.Between(edges[k], edges[k+1])
		if k+2 < len(edges) && j > i && g.At(j-1) == edges[k+1] {
			j-- // belongs to the next
		}
		if i == j {
			continue
		}
		b := Band{From: edges[k], To: edges[k+1]}
		var weight, mean, square float64
		for ; i < j; i++ {
			v, w := c.At(i), share(g, i)
			weight, mean, square = weight+w, mean+w*v, square+w*v*v
			if math.Abs(v) >= math.Abs(b.Worst) {
				b.Worst, b.At = v, g.At(i)
			}
		}
		b.Mean, b.RMS = mean/weight, math.Sqrt(square/weight)
		out = append(out, b)
	}
	return out
}

// share is what a point stands for in ln f.
func share(g *freq.Grid, i int) float64 {
	if g.Len() == 1 {
		return 1
	}
	lo, hi := max(0, i-1), min(g.Len()-1, i+1)
	return math.Log(g.At(hi)/g.At(lo)) / float64(hi-lo)
}
