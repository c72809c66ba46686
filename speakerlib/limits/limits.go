// Package limits tells how loud a loudspeaker plays, and what stops it.
//
// A [Bound] is one thing that must not be exceeded: the excursion of a cone, the
// speed of the air in a vent, volts and amperes of an amplifier, the heat of a
// coil. Each is linear in the input, so that it turns into the largest input at
// every frequency. The lowest of them is the ceiling, and the bound that gives it
// is the cause. [Way] has the bounds of a driver in its box behind its chain, cold
// or with a hot coil; a [Play] puts a programme through them, and [StateTable] sets
// ceilings of several states side by side.
//
// All of it is for small-signal parameters. Near a bound a real driver is no longer
// linear, and heat changes more than the resistance of its coil: the figures are
// estimates until measured. Levels like those found here can damage hearing, and
// what limits a driver by heat can set fire to it.
package limits

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Ceiling is the highest level at every frequency, and its cause.
type Ceiling struct {
	Level  freq.Curve   // dB SPL rms, in the space and at the distance of the output
	Input  freq.Curve   // the input that gives it, V peak
	Each   []freq.Curve // the level that each bound would allow alone, in the order of the bounds
	Cause  []int        // index into the bounds, a frequency each
	output freq.Response
	bounds []Bound
	per    [][]float64 // |PerVolt|, a bound each
}

// NewCeiling finds the highest level that the output reaches within all bounds.
// The output is in pascal per volt at the input; with x_k = |PerVolt_k| the input
// is û = min_k Peak_k/x_k and the level 20·log10(|output|·û/√2 / 20 µPa).
func NewCeiling(output freq.Response, bounds []Bound) (*Ceiling, error) {
	if q := output.Basis().Quantity; q != freq.Pressure {
		return nil, fmt.Errorf("limits: output %q is a %v, want a sound pressure per volt", output.Label(), q)
	}
	if b := output.Basis(); b.Per != freq.PerInput && b.Per != freq.PerTerminals {
		return nil, fmt.Errorf("limits: output %q is %v, want it per volt", output.Label(), b)
	}
	if len(bounds) == 0 {
		return nil, fmt.Errorf("limits: no bound, want at least 1 (nothing would stop the level)")
	}
	basis := output.Basis()
	basis.Per = freq.Absolute // a ceiling is a level, no longer per volt
	g := output.Grid()
	c := &Ceiling{output: output, bounds: bounds, Cause: make([]int, g.Len())}
	input := make([]float64, g.Len())
	for i := range input {
		input[i] = math.Inf(1)
	}
	for k, b := range bounds {
		if !(b.Peak > 0) || math.IsInf(b.Peak, 0) {
			return nil, fmt.Errorf("limits: peak of %v is %g %s, want a finite value > 0", b, b.Peak, b.Cause.Unit())
		}
		r, err := freq.Evaluate(b.PerVolt, g, b.String(), freq.Basis{})
		if err != nil {
			return nil, fmt.Errorf("limits: %v: %w", b, err)
		}
		x, alone := make([]float64, g.Len()), make([]float64, g.Len())
		for i := range x {
			x[i] = cmplx.Abs(r.At(i))
			u := b.Peak / x[i]
			alone[i] = level.SPL(cmplx.Abs(output.At(i)) * u / math.Sqrt2)
			if u < input[i] {
				input[i], c.Cause[i] = u, k
			}
		}
		c.per = append(c.per, x)
		curve, err := freq.NewCurve(g, alone, b.String(), "dB", basis)
		if err != nil {
			return nil, fmt.Errorf("limits: %v: %w", b, err)
		}
		c.Each = append(c.Each, curve)
	}
	lev := make([]float64, g.Len())
	for i, u := range input {
		if math.IsInf(u, 1) {
			return nil, fmt.Errorf("limits: nothing binds at %g Hz: every bounded quantity is 0 there", g.At(i))
		}
		lev[i] = level.SPL(cmplx.Abs(output.At(i)) * u / math.Sqrt2)
	}
	var err error
	if c.Input, err = freq.NewCurve(g, input, "largest input", "V", freq.Basis{}); err != nil {
		return nil, err
	}
	c.Level, err = freq.NewCurve(g, lev, "ceiling", "dB", basis)
	return c, err
}

// Segment is a stretch of the ceiling with one cause.
type Segment struct {
	From, To float64 // hertz, of the first and the last point
	Bound    Bound
}

// Segments returns the stretches of the ceiling, in ascending frequency.
func (c *Ceiling) Segments() []Segment {
	g := c.output.Grid()
	var s []Segment
	for i, k := range c.Cause {
		if i > 0 && k == c.Cause[i-1] {
			s[len(s)-1].To = g.At(i)
			continue
		}
		s = append(s, Segment{From: g.At(i), To: g.At(i), Bound: c.bounds[k]})
	}
	return s
}

// Plateau is the highest level of the flat part of a response that an input of
// one voltage, at any frequency of a range, can be given.
type Plateau struct {
	Level float64 // dB SPL rms of the mean over the plateau's band
	Input float64 // V peak
	At    float64 // the frequency that stops it, Hz
	Bound Bound   // what stops it there
}

// Plateau finds the largest input, the same at all frequencies within lo … hi,
// that violates no bound there, and the level that it gives on the plateau: the
// mean of the output's level over from … to (weighted by log frequency). This is
// how loud a loudspeaker can be turned up for sines of any frequency in the
// range. A range that goes beyond the grid is refused: nothing is known of its
// bounds there.
func (c *Ceiling) Plateau(lo, hi, from, to float64) (Plateau, error) {
	p, err := c.plateau(c.Input.Values(), lo, hi, from, to)
	if err != nil {
		return Plateau{}, err
	}
	p.Bound = c.bounds[c.Cause[c.output.Grid().Nearest(p.At)]]
	return p, nil
}

// plateau finds the plateau of the largest inputs at every frequency, but not what
// binds there.
func (c *Ceiling) plateau(input []float64, lo, hi, from, to float64) (Plateau, error) {
	g := c.output.Grid()
	if n := g.Len(); n < 2 || lo < g.First()*(1-1e-9) || hi > g.Last()*g.Last()/g.At(n-2) {
		return Plateau{}, fmt.Errorf("limits: plateau for sines of %g to %g Hz, and bounds known on %v: want all of the range", lo, hi, g)
	}
	i, j := g.Between(lo, hi)
	if i == j {
		return Plateau{}, fmt.Errorf("limits: plateau for sines of %g to %g Hz, and bounds known on %v: want a point in the range", lo, hi, g)
	}
	least := i
	for k := i; k < j; k++ {
		if input[k] < input[least] {
			least = k
		}
	}
	mean, err := c.output.DB(level.Reference).Mean(from, to)
	if err != nil {
		return Plateau{}, fmt.Errorf("limits: band of the plateau: %w", err)
	}
	return Plateau{Level: mean + level.DB(input[least]/math.Sqrt2), Input: input[least], At: g.At(least)}, nil
}

// InputFor returns the input, V peak, that gives a level (dB SPL rms) on the
// plateau, the mean over from … to hertz.
func (c *Ceiling) InputFor(spl, from, to float64) (float64, error) {
	if math.IsNaN(spl) || math.IsInf(spl, 0) {
		return 0, fmt.Errorf("limits: level is %g dB, want a finite one", spl)
	}
	mean, err := c.output.DB(level.Reference).Mean(from, to)
	if err != nil {
		return 0, fmt.Errorf("limits: band of the plateau: %w", err)
	}
	u := math.Sqrt2 * level.Ratio(spl-mean)
	if math.IsInf(u, 0) {
		return 0, fmt.Errorf("limits: %g dB from a mean of %g dB at 1 V takes an input of %g V, want a finite one", spl, mean, u)
	}
	return u, nil
}

// Usage returns the peak of each bounded quantity over frequency for an input of
// one voltage, V peak, in the order of the bounds: the excursion, the air speed,
// the volts that a level costs.
func (c *Ceiling) Usage(input float64) ([]freq.Curve, error) {
	if !(input >= 0) || math.IsInf(input, 0) {
		return nil, fmt.Errorf("limits: input is %g V peak, want a finite value ≥ 0", input)
	}
	u := make([]float64, c.output.Len())
	for i := range u {
		u[i] = input
	}
	return c.usage(u)
}

// Demand is what a response of a stated level costs, whatever filter makes it.
type Demand struct {
	Input freq.Curve   // the input, V peak
	Each  []freq.Curve // the peak of each bounded quantity, in the order of the bounds
	bound []Bound
}

// Demand finds what it takes to follow a target: with T the target's response, 1
// on its plateau, the input is û = √2·p·|T|/|output|, where p is the rms pressure
// of the level spl in dB. The answer does not depend on how the filter in front
// is realised, only on driver, box and target.
func (c *Ceiling) Demand(target freq.Transfer, spl float64) (*Demand, error) {
	if math.IsNaN(spl) || math.IsInf(spl, 0) {
		return nil, fmt.Errorf("limits: level is %g dB, want a finite one", spl)
	}
	g := c.output.Grid()
	t, err := freq.Evaluate(target, g, "target", freq.Basis{})
	if err != nil {
		return nil, fmt.Errorf("limits: %w", err)
	}
	u := make([]float64, g.Len())
	for i := range u {
		u[i] = math.Sqrt2 * level.Pascal(spl) * cmplx.Abs(t.At(i)) / cmplx.Abs(c.output.At(i))
		if math.IsInf(u[i], 0) {
			return nil, fmt.Errorf("limits: %g dB at %g Hz takes an input of %g V, want a finite one", spl, g.At(i), u[i])
		}
	}
	d := &Demand{bound: c.bounds}
	if d.Input, err = freq.NewCurve(g, u, "input", "V", freq.Basis{}); err != nil {
		return nil, err
	}
	d.Each, err = c.usage(u)
	return d, err
}

// Use is how far one bound is used at the frequency where it is used most.
type Use struct {
	Bound Bound
	Most  float64 // peak, in the unit of the bound
	At    float64 // Hz
}

// Share returns the part of the bound that is used; above 1 it is exceeded.
func (u Use) Share() float64 { return u.Most / u.Bound.Peak }

// Worst returns the use of every bound within lo … hi hertz, in the order of the
// bounds.
func (d *Demand) Worst(lo, hi float64) ([]Use, error) {
	var out []Use
	for k, curve := range d.Each {
		most, err := curve.Max(lo, hi)
		if err != nil {
			return nil, fmt.Errorf("limits: %w", err)
		}
		out = append(out, Use{Bound: d.bound[k], Most: most.Value, At: most.Hz})
	}
	return out, nil
}

func (c *Ceiling) usage(input []float64) ([]freq.Curve, error) {
	var out []freq.Curve
	for k, b := range c.bounds {
		v := make([]float64, len(input))
		for i, x := range c.per[k] {
			v[i] = x * input[i]
		}
		curve, err := freq.NewCurve(c.output.Grid(), v, b.String(), b.Cause.Unit(), freq.Basis{})
		if err != nil {
			return nil, err
		}
		out = append(out, curve)
	}
	return out, nil
}

// Bounds returns the bounds of the ceiling.
func (c *Ceiling) Bounds() []Bound { return append([]Bound(nil), c.bounds...) }
