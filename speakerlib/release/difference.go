package release

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// heard is how far below its own highest level a way counts, dB: a difference in the
// skirt is heard by nobody.
const heard = 40

// Difference is what changes from one release to another.
type Difference struct {
	Ways []WayDifference
	Sum  freq.Curve // of the acoustic sum, after less before, dB
	// Worst is the value of the largest magnitude in the band, where either sum is
	// within 40 dB of its highest level.
	Worst, WorstAt float64 // dB, Hz
}

// WayDifference is what changes in a way.
type WayDifference struct {
	Name     string     `col:"way"`
	Level    freq.Curve // after less before, dB
	Worst    float64    `col:"worst" unit:"dB" fmt:"%.2f"` // as in Difference
	WorstAt  float64    `col:"at" unit:"Hz" fmt:"%.0f"`
	Delay    float64    `col:"delay" unit:"µs" fmt:"%.1f"` // after less before, s; that of the sections is in the response
	Inverted bool       `col:"polarity changed"`
}

// Differ compares two releases, as the chains of their ways, over from … to hertz.
// acoustic are the responses of the ways, in the order of the first release, at one
// position and of one time zero: sections of one way that undo each other's phase in
// the other show in the sum only.
func Differ(was, is crossover.Active, acoustic []freq.Response, from, to float64) (*Difference, error) {
	for _, a := range []crossover.Active{was, is} {
		if err := a.Validate(); err != nil {
			return nil, err
		}
	}
	if len(was.Ways) != len(is.Ways) {
		return nil, fmt.Errorf("release: %d ways before and %d after, want as many: it is another loudspeaker", len(was.Ways), len(is.Ways))
	}
	if len(acoustic) != len(was.Ways) {
		return nil, fmt.Errorf("release: %d acoustic responses for %d ways, want one each", len(acoustic), len(was.Ways))
	}
	var before, after freq.Response
	out := &Difference{}
	for i, w := range was.Ways {
		v, err := is.Way(w.Name)
		if err != nil {
			return nil, err
		}
		g := acoustic[i].Grid()
		if g == nil {
			return nil, fmt.Errorf("release: way %q has no acoustic response", w.Name)
		}
		a, err := freq.Evaluate(w, g, w.Name, freq.Basis{})
		if err != nil {
			return nil, err
		}
		b, err := freq.Evaluate(v, g, w.Name, freq.Basis{})
		if err != nil {
			return nil, err
		}
		d := WayDifference{Name: w.Name, Delay: v.Delay - w.Delay, Inverted: v.Inverted != w.Inverted}
		if d.Level, d.Worst, d.WorstAt, err = change(a, b, from, to); err != nil {
			return nil, err
		}
		out.Ways = append(out.Ways, d)
		x, err := acoustic[i].Mul(a)
		if err != nil {
			return nil, err
		}
		y, err := acoustic[i].Mul(b)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			before, after = x.As("sum"), y.As("sum")
			continue
		}
		if before, err = before.Add(x); err != nil {
			return nil, err
		}
		if after, err = after.Add(y); err != nil {
			return nil, err
		}
	}
	var err error
	out.Sum, out.Worst, out.WorstAt, err = change(before, after, from, to)
	return out, err
}

// change returns the level of b less that of a, and its worst in the band.
func change(a, b freq.Response, from, to float64) (c freq.Curve, worst, at float64, err error) {
	g := a.Grid()
	i, j := g.Between(from, to)
	if i == j {
		return c, 0, 0, fmt.Errorf("release: %q has no point from %g to %g Hz (%v)", a.Label(), from, to, g)
	}
	var top float64
	for k := i; k < j; k++ {
		top = max(top, cmplx.Abs(a.At(k)), cmplx.Abs(b.At(k)))
	}
	if top == 0 {
		return c, 0, 0, fmt.Errorf("release: %q is silent from %g to %g Hz, before and after: want something to compare", a.Label(), from, to)
	}
	floor := top * level.Ratio(-heard)
	v := make([]float64, g.Len())
	for k := range v {
		x, y := cmplx.Abs(a.At(k)), cmplx.Abs(b.At(k))
		if x == 0 && y == 0 {
			continue
		}
		v[k] = level.DB(y / x)
		if k >= i && k < j && max(x, y) >= floor && math.Abs(v[k]) > math.Abs(worst) {
			worst, at = v[k], g.At(k)
		}
	}
	c, err = freq.NewCurve(g, v, "change of "+a.Label(), "dB", freq.Basis{})
	return c, worst, at, err
}
