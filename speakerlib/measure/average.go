package measure

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Mean is the average of several responses, with their spread.
type Mean struct {
	Count    int
	Response freq.Response // mean of the complex values
	RMS      freq.Curve    // √ of the mean of |r|², in the unit of the quantity
	// Level and Phase are the standard deviations of one response, √(Σd²/(n−1)): of
	// the levels about their own mean, in dB, and of the phases about that of
	// Response, in rad. That of a mean of independent ones is less by √n.
	Level, Phase freq.Curve
}

// Average averages responses on one grid and one basis, at least 2. The complex
// mean means something only for repetitions with one time zero, where it takes
// noise out (the RMS does not); for several positions or samples look at the RMS:
// where the magnitude of Response is less than it, the phases differ. The phases
// are compared within ±π, so that a spread of more than about 1 rad is a lower bound.
func Average(label string, responses ...freq.Response) (Mean, error) {
	n := len(responses)
	if n < 2 {
		return Mean{}, fmt.Errorf("measure: average %q of %d responses, want at least 2", label, n)
	}
	first := responses[0]
	g := first.Grid()
	if g == nil {
		return Mean{}, fmt.Errorf("measure: average %q of a response without values", label)
	}
	for _, r := range responses[1:] {
		if r.Grid() == nil || !r.Grid().Equal(g) {
			return Mean{}, fmt.Errorf("measure: average %q: %q is on %v and %q on %v, want the same frequencies", label, r.Label(), r.Grid(), first.Label(), g)
		}
		if r.Basis() != first.Basis() {
			return Mean{}, fmt.Errorf("measure: average %q: %q is %v and %q %v, want the same basis", label, r.Label(), r.Basis(), first.Label(), first.Basis())
		}
	}
	mean, rms := make([]complex128, g.Len()), make([]float64, g.Len())
	levels, phases := make([]float64, g.Len()), make([]float64, g.Len())
	for i := range mean {
		var top, db float64
		for _, r := range responses {
			a := cmplx.Abs(r.At(i))
			if a == 0 {
				return Mean{}, fmt.Errorf("measure: average %q: %q is 0 at %g Hz, want responses with a level", label, r.Label(), g.At(i))
			}
			top = max(top, a)
			db += level.DB(a) / float64(n)
		}
		for _, r := range responses {
			v := r.At(i) / complex(top, 0) // squares of small and large values stay in range
			mean[i] += v / complex(float64(n), 0)
			rms[i] += norm(v) / float64(n)
		}
		for _, r := range responses {
			d := level.DB(cmplx.Abs(r.At(i))) - db
			levels[i] += d * d / float64(n-1)
			p := cmplx.Phase(r.At(i) / complex(top, 0) * cmplx.Conj(mean[i]))
			phases[i] += p * p / float64(n-1)
		}
		mean[i] *= complex(top, 0)
		rms[i], levels[i], phases[i] = math.Sqrt(rms[i])*top, math.Sqrt(levels[i]), math.Sqrt(phases[i])
	}
	m := Mean{Count: n}
	var err error
	if m.Response, err = freq.NewResponse(g, mean, label, first.Basis()); err != nil {
		return Mean{}, err
	}
	for _, c := range []struct {
		to     *freq.Curve
		values []float64
		unit   string
		what   string
	}{
		{&m.RMS, rms, first.Basis().Quantity.Unit(), ", rms"},
		{&m.Level, levels, "dB", ", spread of level"},
		{&m.Phase, phases, "rad", ", spread of phase"},
	} {
		if *c.to, err = freq.NewCurve(g, c.values, label+c.what, c.unit, first.Basis()); err != nil {
			return Mean{}, err
		}
	}
	return m, nil
}
