package directivity

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/search"
)

// turnLimit is how far the difference of phase between neighbours may turn from one
// frequency to the next before it is no longer clear which way.
const turnLimit = 0.9 * math.Pi

func logPhase(near []Point, k int, degrees float64) ([]complex128, error) {
	n := near[0].Response.Len()
	x := make([]float64, len(near))
	for j, p := range near {
		x[j] = p.Direction.Degrees
	}
	amp, phase := make([]float64, len(near)), make([]float64, len(near))
	turn := make([]float64, len(near)) // phase of j re j−1, followed over frequency
	v := make([]complex128, n)
	for i := range v {
		for j, p := range near {
			z := p.Response.At(i)
			if z == 0 {
				return nil, fmt.Errorf("%v is 0 at %g Hz, which has no logarithm: want the method Complex", p.Direction, p.Response.Grid().At(i))
			}
			amp[j] = math.Log(cmplx.Abs(z))
			if j == 0 {
				phase[j] = cmplx.Phase(z)
				continue
			}
			step := cmplx.Phase(z*cmplx.Conj(near[j-1].Response.At(i))*cmplx.Rect(1, -turn[j])) + 0
			if i > 0 && math.Abs(step) > turnLimit {
				return nil, fmt.Errorf("the phase of %v re %v turns by %.2f rad from %g to %g Hz, want at most %.2f: measure finer, or take the method Complex", p.Direction, near[j-1].Direction, step, p.Response.Grid().At(i-1), p.Response.Grid().At(i), turnLimit)
			}
			turn[j] += step
			phase[j] = phase[j-1] + turn[j]
		}
		v[i] = cmplx.Rect(math.Exp(cubic(x, amp, k, degrees)), cubic(x, phase, k, degrees))
	}
	return v, nil
}

// cartesian interpolates real and imaginary part, each response first brought forward by how
// late it is, and put back by how late the angle is.
func cartesian(near []Point, late []float64, k int, degrees float64) []complex128 {
	x := make([]float64, len(near))
	for j, p := range near {
		x[j] = p.Direction.Degrees
	}
	delay := cubic(x, late, k, degrees)
	omega := near[0].Response.Grid().Omega()
	re, im := make([]float64, len(near)), make([]float64, len(near))
	v := make([]complex128, len(omega))
	for i, w := range omega {
		for j, p := range near {
			z := p.Response.At(i)
			if late[j] != 0 {
				z *= cmplx.Rect(1, w*late[j])
			}
			re[j], im[j] = real(z), imag(z)
		}
		v[i] = complex(cubic(x, re, k, degrees), cubic(x, im, k, degrees))
		if delay != 0 {
			v[i] *= cmplx.Rect(1, -w*delay)
		}
	}
	return v
}

// slowest is a speed of sound below that of any air, m/s: it bounds what delay there can be.
const slowest = 300

// delay returns by how much point k is later than point k−1, in seconds: where their
// correlation is largest, with either sign, within the time that sound takes for the way of the microphone from
// one to the other.
func (r *ring) delay(k int) float64 {
	r.once[k].Do(func() { r.late[k] = lateness(r.points[k-1].Response, r.points[k].Response, r.gap(k-1)) })
	return r.late[k]
}

func lateness(early, late freq.Response, gap float64) float64 {
	g := early.Grid()
	cross := make([]complex128, g.Len())
	for i := range cross {
		width := g.At(min(i+1, g.Len()-1)) - g.At(max(i-1, 0))
		cross[i] = late.At(i) * cmplx.Conj(early.At(i)) * complex(width, 0)
	}
	if g.Len() == 1 {
		return 0
	}
	at := func(t float64) float64 {
		var sum float64
		for i, w := range g.Omega() {
			sin, cos := math.Sincos(w * t)
			sum += real(cross[i])*cos - imag(cross[i])*sin
		}
		return math.Abs(sum)
	}
	window := early.Basis().Distance * gap * math.Pi / 180 / slowest
	step := 1 / (16 * g.Last())
	best, value := 0.0, at(0)
	for t := step; t <= window; t += step {
		for _, t := range [...]float64{t, -t} {
			if v := at(t); v > value {
				best, value = t, v
			}
		}
	}
	best, _ = search.Golden(at, best-step, best+step, 1e-6*step)
	return best
}

func linearPower(a, b Point, degrees float64) []complex128 {
	t := (degrees - a.Direction.Degrees) / (b.Direction.Degrees - a.Direction.Degrees)
	p, q := power(a.Response), power(b.Response)
	v := make([]complex128, len(p))
	for i := range v {
		v[i] = complex(math.Sqrt((1-t)*p[i]+t*q[i]), 0)
	}
	return v
}

// cubic returns the value at X of the cubic between x[k] and x[k+1] whose slopes are those
// of the parabolas through each and its neighbours: quadratics are kept.
func cubic(x, y []float64, k int, at float64) float64 {
	h := x[k+1] - x[k]
	middle := (y[k+1] - y[k]) / h
	left, right := middle, middle
	if k > 0 {
		g := x[k] - x[k-1]
		left = (middle*g + (y[k]-y[k-1])/g*h) / (g + h)
	}
	if k+2 < len(x) {
		g := x[k+2] - x[k+1]
		right = (middle*g + (y[k+2]-y[k+1])/g*h) / (g + h)
	}
	// One neighbour missing: the parabola through the three that there are.
	if k == 0 && k+2 < len(x) {
		left = 2*middle - right
	} else if k > 0 && k+2 == len(x) {
		right = 2*middle - left
	}
	t := (at - x[k]) / h
	return y[k] + h*t*(middle+(1-t)*((1-t)*(left-middle)-t*(right-middle)))
}
