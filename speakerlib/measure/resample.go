package measure

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
)

// turnLimit is how far the phase may turn from point to point, the flight time
// taken out, before it is no longer clear which way it turned.
const turnLimit = 0.9 * math.Pi

// Resample returns the response on another grid: the only interpolation of
// measured data in the library; [Extend] goes on beyond it.
//
// Of r·e^{jωτ} the logarithm ln|r| + jφ, the phase unwrapped, is interpolated
// over ln f by piecewise cubics, and e^{−jωτ} is put back; τ is the mean group
// delay weighted by power, so that a time of flight costs no accuracy. The slope
// at a point is that of the parabola through it and its neighbours: quadratics
// are kept exactly, an error of a point stays within two intervals, and
// magnitude and phase stay together. Points of both grids keep their values.
//
// It refuses to extrapolate (by more than a part in 10⁹), a response that is
// zero somewhere, and points so far apart that the phase turns by more than 0.9π
// between them beyond what the flight explains. Of an impedance or a response
// with noise all points count: it does not smooth.
func Resample(r freq.Response, g *freq.Grid) (freq.Response, error) {
	from := r.Grid()
	if g == nil {
		return freq.Response{}, fmt.Errorf("measure: resampling %q on no grid", r.Label())
	}
	if from.Equal(g) {
		return r, nil
	}
	const slack = 1e-9
	if g.First() < from.First()*(1-slack) || g.Last() > from.Last()*(1+slack) {
		return freq.Response{}, fmt.Errorf("measure: resampling %q, which is known on %v, on %v: want a range within (extrapolation is refused)", r.Label(), from, g)
	}
	if r.Len() == 1 {
		return freq.NewResponse(g, r.Values(), r.Label(), r.Basis())
	}
	n := r.Len()
	delay := meanDelay(r)
	x, a, p := make([]float64, n), make([]float64, n), make([]float64, n)
	var before complex128
	for i := range x {
		v := r.At(i)
		if v == 0 {
			return freq.Response{}, fmt.Errorf("measure: resampling %q, which is 0 at %g Hz: want a response that has a phase everywhere", r.Label(), from.At(i))
		}
		x[i] = math.Log(from.At(i))
		a[i] = math.Log(cmplx.Abs(v))
		turned := v * cmplx.Rect(1, from.Omega()[i]*delay)
		if i == 0 {
			p[i] = cmplx.Phase(turned)
		} else {
			step := cmplx.Phase(turned * cmplx.Conj(before))
			if math.Abs(step) > turnLimit {
				return freq.Response{}, fmt.Errorf("measure: resampling %q: the phase turns by %.2f rad from %g to %g Hz, want at most %.2f between points: measure finer", r.Label(), step, from.At(i-1), from.At(i), turnLimit)
			}
			p[i] = p[i-1] + step
		}
		before = turned
	}
	da, dp := slopes(x, a), slopes(x, p)
	values := make([]complex128, g.Len())
	k := 0
	for i := range values {
		f := g.At(i)
		for k+2 < n && from.At(k+1) <= f {
			k++
		}
		if f == from.At(k) {
			values[i] = r.At(k)
			continue
		}
		if f == from.At(k+1) {
			values[i] = r.At(k + 1)
			continue
		}
		h := x[k+1] - x[k]
		t := (math.Log(f) - x[k]) / h
		amp := hermite(t, a[k], a[k+1], h*da[k], h*da[k+1])
		phase := hermite(t, p[k], p[k+1], h*dp[k], h*dp[k+1])
		values[i] = cmplx.Rect(math.Exp(amp), phase-g.Omega()[i]*delay)
	}
	return freq.NewResponse(g, values, r.Label(), r.Basis())
}

// meanDelay returns the time that takes the most turning out of the phase: the mean
// of the angles of r(k+1)·r*(k) over the step in frequency, each weighted by its
// power. It is found from two starts, and the delay counts that leaves the smaller
// largest turn: no delay, and what the steps tell from the finest, which wrap last, to the
// widest. (On a logarithmic grid the finest are the lowest frequencies, where a high-pass
// has a group delay of its own, and it is lost on the way up.)
func meanDelay(r freq.Response) float64 {
	w := r.Grid().Omega()
	finest, widest := math.Inf(1), 0.0
	for i := 1; i < r.Len(); i++ {
		finest, widest = min(finest, w[i]-w[i-1]), max(widest, w[i]-w[i-1])
	}
	var tracked float64
	for step := finest; step <= widest; step *= 2 {
		tracked = refinedDelay(r, tracked, step*(1-1e-9), 2*step)
	}
	best, least := 0.0, math.Inf(1)
	for _, start := range []float64{0, tracked} {
		delay := start
		for range 3 {
			delay = refinedDelay(r, delay, 0, math.Inf(1))
		}
		var turn float64
		for i := 1; i < r.Len(); i++ {
			turn = max(turn, math.Abs(cmplx.Phase(r.At(i)*cmplx.Conj(r.At(i-1))*cmplx.Rect(1, (w[i]-w[i-1])*delay))))
		}
		if turn < least {
			best, least = delay, turn
		}
	}
	return best
}

// refinedDelay improves a delay by the steps from narrow to wide, within which none is
// taken to wrap; without such steps or power it stays as it is.
func refinedDelay(r freq.Response, delay, narrow, wide float64) float64 {
	w := r.Grid().Omega()
	var num, den float64
	for i := 1; i < r.Len(); i++ {
		step := w[i] - w[i-1]
		if step < narrow || step >= wide {
			continue
		}
		c := r.At(i) * cmplx.Conj(r.At(i-1))
		power := cmplx.Abs(c)
		num += power * step * cmplx.Phase(c*cmplx.Rect(1, step*delay))
		den += power * step * step
	}
	if d := delay - num/den; den > 0 && !math.IsNaN(d) && !math.IsInf(d, 0) {
		return d
	}
	return delay
}

// slopes returns the derivatives of the parabolas through each point and its
// neighbours.
func slopes(x, y []float64) []float64 {
	n := len(x)
	d := make([]float64, n)
	if n == 2 {
		d[0] = (y[1] - y[0]) / (x[1] - x[0])
		d[1] = d[0]
		return d
	}
	for i := range d {
		k := min(max(i, 1), n-2)
		h0, h1 := x[k]-x[k-1], x[k+1]-x[k]
		s0, s1 := (y[k]-y[k-1])/h0, (y[k+1]-y[k])/h1
		switch {
		case i == 0:
			d[i] = s0 - (s1-s0)*h0/(h0+h1)
		case i == n-1:
			d[i] = s1 + (s1-s0)*h1/(h0+h1)
		default:
			d[i] = (s0*h1 + s1*h0) / (h0 + h1)
		}
	}
	return d
}

// hermite is the cubic on 0 … 1 with given values and slopes at the ends.
func hermite(t, y0, y1, d0, d1 float64) float64 {
	u := 1 - t
	return u*u*((1+2*t)*y0+t*d0) + t*t*((3-2*t)*y1-u*d1)
}
