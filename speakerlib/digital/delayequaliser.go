package digital

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/lsq"
)

// DelayEqualiser is what [EqualiseDelay] found.
type DelayEqualiser struct {
	// Sections are second-order all-passes, the lowest first.
	Sections []Allpass
	// Delay is the group delay in seconds about which that of all together
	// varies: what the equaliser makes the whole late by.
	Delay float64
	// Before and After are the ranges of the group delay within the band, largest
	// less smallest, in seconds.
	Before, After float64
	// Converged says whether the search ended at a minimum.
	Converged bool
}

// EqualiseDelay returns n second-order all-passes that make the group delay of a
// curve, in seconds, as even as they can from lo to hi hertz: the least mean square
// of the sum about its mean, over the points of the curve there. All-passes only
// add delay, and n of them add n periods of area under the curve (∫τ·df = n from
// 0 to half the sample rate): more evenness costs more latency, which is stated, and
// the pre-ringing of what was late stays what it was. Not a global minimum: the
// search starts from all-passes spread evenly over the band.
func EqualiseDelay(delay freq.Curve, lo, hi float64, n int, sampleRate float64) (*DelayEqualiser, error) {
	if delay.Unit() != "s" {
		return nil, fmt.Errorf("digital: group delay to equalise is in %q, want s", delay.Unit())
	}
	if n < 1 || n > 24 {
		return nil, fmt.Errorf("digital: group-delay equaliser of %d all-passes, want 1 to 24", n)
	}
	if err := checkF0("highest equalised", hi, sampleRate); err != nil {
		return nil, err
	}
	g := delay.Grid()
	from, to := g.Between(lo, hi)
	if !(lo > 0 && hi > lo) || to-from < 3*n {
		return nil, fmt.Errorf("digital: group-delay equaliser of %d all-passes over %d points from %g to %g Hz, want at least %d", n, max(to-from, 0), lo, hi, 3*n)
	}
	m := to - from
	have, w, omega := make([]float64, m), make([]float64, m), make([]float64, m)
	unit := 1 / (hi - lo) // seconds: makes residuals near 1
	for i := range m {
		have[i] = delay.At(from+i) / unit
		omega[i] = 2 * math.Pi * g.At(from+i) / sampleRate
		// Each point counts by its width on the frequency axis, on which the
		// area of an all-pass is what it is.
		a, b := g.At(max(from+i-1, from)), g.At(min(from+i+1, to-1))
		w[i] = math.Sqrt((b - a) / (hi - lo))
		if math.IsInf(have[i], 0) {
			return nil, fmt.Errorf("digital: group delay to equalise is %g s at %g Hz, want a finite value", delay.At(from+i), g.At(from+i))
		}
	}
	before := span(have)
	// x: for each all-pass the angle and the radius of its poles; and the delay.
	x := make([]float64, 2*n+1)
	lower, upper := make([]float64, 2*n+1), make([]float64, 2*n+1)
	wlo, whi := 2*math.Pi*lo/sampleRate, 2*math.Pi*hi/sampleRate
	for k := range n {
		x[2*k] = wlo + (whi-wlo)*(float64(k)+0.5)/float64(n)
		// As wide as the all-passes are apart.
		x[2*k+1] = math.Max(0.05, 1-1.2*(whi-wlo)/float64(n))
		lower[2*k], upper[2*k] = 1e-6, math.Pi-1e-6
		lower[2*k+1], upper[2*k+1] = 0.01, 1-1e-6
	}
	lower[2*n], upper[2*n] = math.Inf(-1), math.Inf(1)
	tau := make([]float64, m)
	scale := 1 / (sampleRate * unit)
	sum := func(x []float64) {
		copy(tau, have)
		for k := range n {
			for i := range tau {
				t, _, _ := allpassDelay(omega[i], x[2*k], x[2*k+1])
				tau[i] += scale * t
			}
		}
	}
	sum(x)
	for _, v := range tau {
		x[2*n] += v / float64(m)
	}
	problem := lsq.Problem{
		Residuals: m,
		Func: func(r []float64, jac *mat.Dense, x []float64) {
			for i := range r {
				v := have[i] - x[2*n]
				for k := range n {
					t, dt, dr := allpassDelay(omega[i], x[2*k], x[2*k+1])
					v += scale * t
					jac.Set(i, 2*k, w[i]*scale*dt)
					jac.Set(i, 2*k+1, w[i]*scale*dr)
				}
				r[i] = w[i] * v
				jac.Set(i, 2*n, -w[i])
			}
		},
		Lower: lower, Upper: upper,
	}
	res, err := lsq.Minimize(problem, x, &lsq.Settings{Iterations: 3000, Step: 1e-9})
	if err != nil {
		return nil, err
	}
	sum(res.X)
	out := &DelayEqualiser{Delay: res.X[2*n] * unit, Before: before * unit, After: span(tau) * unit,
		Converged: res.Status != lsq.IterationLimit && res.Status != lsq.Stalled}
	for k := range n {
		out.Sections = append(out.Sections, allpassOf(res.X[2*k], res.X[2*k+1], sampleRate))
	}
	slices.SortFunc(out.Sections, func(a, b Allpass) int { return cmp.Compare(a.F0, b.F0) })
	return out, nil
}

func span(v []float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range v {
		lo, hi = math.Min(lo, x), math.Max(hi, x)
	}
	return hi - lo
}

// allpassDelay returns the group delay in samples at Ω of the all-pass with poles
// r·e^{±jθ}, and its derivatives by θ and r:
//
//	τ = Σ (1 − r²)/(1 + r² − 2r·cos(Ω ∓ θ))
func allpassDelay(omega, theta, r float64) (t, dtheta, dr float64) {
	for _, sign := range [2]float64{-1, 1} {
		sin, cos := math.Sincos(omega + sign*theta)
		d := 1 + r*r - 2*r*cos
		q := (1 - r*r) / d
		t += q
		dtheta -= q / d * 2 * r * sin * sign
		dr += -2*r/d - q/d*(2*r-2*cos)
	}
	return t, dtheta, dr
}

// allpassOf returns the section with poles r·e^{±jθ}, by its denominator at z = 1
// and z = −1:
//
//	tan²(ω0/2) = D(1)/D(−1),  Q = √(D(1)·D(−1))/(2·(1 − r²))
func allpassOf(theta, r, sampleRate float64) Allpass {
	s, c := math.Sincos(theta / 2)
	// 1 ∓ 2r·cos θ + r² without cancellation.
	lo, hi := (1-r)*(1-r)+4*r*s*s, (1-r)*(1-r)+4*r*c*c
	t := math.Sqrt(lo / hi)
	return Allpass{F0: sampleRate / math.Pi * math.Atan(t), Q: math.Sqrt(lo*hi) / (2 * (1 - r) * (1 + r))}
}
