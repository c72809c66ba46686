package freq

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/interp"
	"gonum.org/v1/gonum/mathext"

	"example.org/loudspeaker/speakerlib/level"
)

// Tails states how a magnitude goes on outside the grid on which it is known: its
// slopes in decibels per octave of rising frequency. A closed box falls towards
// low frequencies by Below = 12, a vented one by 24, a driver falls towards high
// ones by Above = −12 or more.
type Tails struct {
	Below float64 // from 0 to the first frequency, dB per octave
	Above float64 // from the last frequency on, dB per octave
}

// steepest is the steepest slope of a tail that is believed: a filter of order 50.
const steepest = 300

// mostMinimum is the most points of a response whose minimum phase is computed,
// since the time grows with their square.
const mostMinimum = 1 << 13

// MinimumPhase returns the response of minimum phase that has the magnitude of r
// on its grid and goes on outside it along the tails, with the label and basis of
// r. Its phase is the relation of H. W. Bode (Network Analysis and Feedback
// Amplifier Design, 1945, chapter 14; from memory), with u = ln f:
//
//	φ(f₀) = (1/π) ∫ d(ln|r|)/du · ln coth |(u − u₀)/2| du
//
// in radians and e^{+jωt}, so that a rise of 6.02 dB per octave turns by +90°. It
// is that of positive polarity.
//
// ln|r| is taken as the cubic spline over ln f through the points (with the slopes
// of the parabolas through the last three points at the ends), the tails as straight
// lines; of that the integral is closed, by Legendre's chi functions. What is off is
// then the spline (at 48 points an octave less than 0.01° with resonances of Q = 10,
// 0.2° with one of Q = 20, 1e-5° with Q = 2) and the tails: a slope below that is wrong by 6 dB per octave turns the phase by
// 18.8° one octave above the first frequency, 4.6° three octaves above and 1.1°
// five above; the same holds mirrored for the slope above. At the first and last
// frequency themselves it is 45°: what lies there is a statement about the tail.
//
// Noise of the level passes as it is, a neper as a radian: 0.1 dB rms turn by 0.6°
// rms on an even grid. Points much closer together than their neighbours make noise
// ring between them.
//
// It refuses fewer than 4 or more than 8192 points, a response that is zero
// somewhere, and slopes beyond ±300 dB per octave. The time grows with the square
// of the points: about 1 ms for 481 of a [LogGrid], 80 ms for 1024 of another.
func (r Response) MinimumPhase(t Tails) (Response, error) {
	n := r.Len()
	neper := make([]float64, n)
	for i, v := range r.values {
		if v == 0 {
			return Response{}, fmt.Errorf("freq: minimum phase of %q, which is 0 at %g Hz: want a magnitude > 0", r.label, r.grid.hz[i])
		}
		neper[i] = math.Log(cmplx.Abs(v))
	}
	phase, err := bode(r.grid, neper, t)
	if err != nil {
		return Response{}, fmt.Errorf("%w (for %q)", err, r.label)
	}
	v := make([]complex128, n)
	for i := range v {
		v[i] = cmplx.Rect(cmplx.Abs(r.values[i]), phase[i])
	}
	return NewResponse(r.grid, v, r.label, r.basis)
}

// MinimumPhase returns the response of minimum phase whose level re ref, in the
// unit of the quantity, is the curve: for a file that holds levels alone. The
// curve must be in dB and finite; see [Response.MinimumPhase] for the rest.
func (c Curve) MinimumPhase(ref float64, t Tails) (Response, error) {
	if c.unit != "dB" {
		return Response{}, fmt.Errorf("freq: minimum phase of the curve %q in %q, want a level in \"dB\"", c.label, c.unit)
	}
	if !(ref > 0) || math.IsInf(ref, 0) {
		return Response{}, fmt.Errorf("freq: level reference is %g, want finite > 0", ref)
	}
	v := make([]complex128, c.Len())
	for i, db := range c.values {
		v[i] = complex(ref*level.Ratio(db), 0)
	}
	r, err := NewResponse(c.grid, v, c.label, c.basis)
	if err != nil {
		return Response{}, err
	}
	return r.MinimumPhase(t)
}

// Excess returns what r has beyond its minimum phase, r divided by
// [Response.MinimumPhase]: an all-pass of magnitude 1, dimensionless. Its
// [Response.Phase] is the excess phase (a whole turn is open; inverted polarity is
// half a turn) and its [Response.GroupDelay] the excess group delay, which of a
// pure delay is the delay at all frequencies (R. C. Heyser, "Loudspeaker phase
// characteristics and time delay distortion", J. Audio Eng. Soc. 17, 1969, parts 1
// and 2; from memory).
//
// It refuses a response whose excess phase turns by more than 0.9π from point to
// point, since which way it turned is then not known: take the time of flight out
// first.
func (r Response) Excess(t Tails) (Response, error) {
	m, err := r.MinimumPhase(t)
	if err != nil {
		return Response{}, err
	}
	v := make([]complex128, r.Len())
	for i := range v {
		q := r.values[i] / m.values[i]
		v[i] = q / complex(cmplx.Abs(q), 0)
		if i == 0 {
			continue
		}
		if step := cmplx.Phase(v[i] * cmplx.Conj(v[i-1])); math.Abs(step) > 0.9*math.Pi {
			return Response{}, fmt.Errorf("freq: excess phase of %q turns by %.0f° from %g to %g Hz, want less than 162°: take the time of flight out first, or use a finer grid", r.label, step*180/math.Pi, r.grid.hz[i-1], r.grid.hz[i])
		}
	}
	return NewResponse(r.grid, v, r.label, Basis{})
}

// bode returns the minimum phase in radians of a magnitude in nepers.
//
// The spline has jumps of its third derivative at its knots, and up to its first
// where the tails begin. With K₁ the integral of ln coth |s/2| from 0 to s, and
// K₂ and K₃ those of K₁ and K₂, partial integration leaves
//
//	π·φ(u₀) = Σ over the knots k of −ΔA′·K₁ + ΔA″·K₂ − ΔA‴·K₃, at u_k − u₀,
//
// and (π²/4)·(slope below + slope above).
func bode(g *Grid, neper []float64, t Tails) ([]float64, error) {
	n := len(neper)
	if n < 4 || n > mostMinimum {
		return nil, fmt.Errorf("freq: minimum phase from %d points, want 4 to %d", n, mostMinimum)
	}
	if !(math.Abs(t.Below) <= steepest) || !(math.Abs(t.Above) <= steepest) {
		return nil, fmt.Errorf("freq: tails of %g dB per octave below and %g above, want within ±%d", t.Below, t.Above, steepest)
	}
	u := make([]float64, n)
	for i, hz := range g.hz {
		u[i] = math.Log(hz)
		if i > 0 && u[i] <= u[i-1] {
			return nil, fmt.Errorf("freq: minimum phase of points at %g and %g Hz, want frequencies whose logarithms differ", g.hz[i-1], hz)
		}
	}
	first, second, third := splineJumps(u, neper, t)

	phase := make([]float64, n)
	// K₃ is odd: each pair of points asks for it once.
	apart := func(i, k int) float64 { return bodeKernel(3, u[k]-u[i]) }
	if g.perOctave > 0 {
		table := make([]float64, n)
		for d := range table {
			table[d] = bodeKernel(3, float64(d)*math.Ln2/float64(g.perOctave))
		}
		apart = func(i, k int) float64 { return table[k-i] }
	}
	for i := range phase {
		for k := i + 1; k < n; k++ {
			k3 := apart(i, k)
			phase[i] -= third[k] * k3
			phase[k] += third[i] * k3
		}
	}
	tails := math.Pi * math.Pi / 4 * (t.Below + t.Above) / octaveDB
	for i := range phase {
		a, b := u[0]-u[i], u[n-1]-u[i]
		phase[i] += tails - first[0]*bodeKernel(1, a) - first[1]*bodeKernel(1, b) +
			second[0]*bodeKernel(2, a) + second[1]*bodeKernel(2, b)
		phase[i] /= math.Pi
	}
	return phase, nil
}

// octaveDB is the slope of f¹ in decibels per octave, 6.02.
var octaveDB = level.DB(2)

// splineJumps returns by how much the derivatives of the spline through the points
// with straight tails jump: the first and second one at both ends, the third one
// at every knot.
func splineJumps(u, a []float64, t Tails) (first, second [2]float64, third []float64) {
	n := len(u)
	start, end := parabolaSlope(u[:3], a[:3], 0), parabolaSlope(u[n-3:], a[n-3:], 2)
	// The spline of gonum has no slope at its ends: a parabola takes it out and is
	// put back.
	bend := (end - start) / (2 * (u[n-1] - u[0]))
	rest := make([]float64, n)
	for i := range rest {
		x := u[i] - u[0]
		rest[i] = a[i] - (start+bend*x)*x
	}
	var spline interp.ClampedCubic
	if err := spline.Fit(u, rest); err != nil {
		panic("freq: spline over strictly increasing points: " + err.Error())
	}
	slope := make([]float64, n)
	for i := range slope {
		slope[i] = spline.PredictDerivative(u[i]) + start + 2*bend*(u[i]-u[0])
	}
	third = make([]float64, n)
	for k := 0; k+1 < n; k++ {
		h := u[k+1] - u[k]
		mean := (a[k+1] - a[k]) / h
		c3 := 6 * (slope[k] + slope[k+1] - 2*mean) / (h * h)
		c2 := 2 * (3*mean - 2*slope[k] - slope[k+1]) / h
		third[k] += c3
		third[k+1] -= c3
		if k == 0 {
			second[0] = c2
		}
		if k == n-2 {
			second[1] = -(c2 + c3*h)
		}
	}
	first[0] = slope[0] - t.Below/octaveDB
	first[1] = t.Above/octaveDB - slope[n-1]
	return first, second, third
}

// parabolaSlope returns the slope at point k of the parabola through three points.
func parabolaSlope(x, y []float64, k int) float64 {
	d0, d1 := (y[1]-y[0])/(x[1]-x[0]), (y[2]-y[1])/(x[2]-x[1])
	bend := (d1 - d0) / (x[2] - x[0])
	return d0 + bend*(2*x[k]-x[0]-x[1])
}

// Terms of the series below: the remainders are less than 1e-17 where they meet.
const (
	kernelNear  = 1.1
	kernelTerms = 18
)

// bodeSeries holds, for the kernels K₁, K₂ and K₃, the coefficients near 0 and far
// from it. Near it they are those of
//
//	ln coth(s/2) = ln(2/s) + Σ c_m·s^{2m},  c_m = (−1)^{m+1}·2·(2^{2m−1}−1)·ζ(2m)/(m·(2π)^{2m}),
//
// integrated (that of ln tanh with Bernoulli numbers: M. Abramowitz and I. Stegun,
// Handbook of Mathematical Functions, 1964, chapter 4.5 and eq. 23.2.16; from
// memory). Far from it they are 2/n², 2/n³ and 2/n⁴ over odd n.
var bodeSeries = func() (c struct{ near, far [3][kernelTerms]float64 }) {
	sign := 1.0
	for i := range kernelTerms {
		m, n := float64(2*(i+1)), float64(2*i+1)
		near, far := sign*4*(math.Exp2(m-1)-1)*mathext.Zeta(m, 1)/(m*math.Pow(tau, m)), 2/n
		for k := range c.near {
			near /= m + 1 + float64(k)
			far /= n
			c.near[k][i], c.far[k][i] = near, far
		}
		sign = -sign
	}
	return c
}()

// bodeKernel returns K₁, K₂ or K₃, the repeated integrals from 0 of ln coth |s/2|.
// Beyond kernelNear they are, with the chi function χ_k(x) = Σ x^n/n^k over odd n,
//
//	K₁ = π²/4 − 2·χ₂(e^{−s})
//	K₂ = (π²/4)·s − 2·χ₃(1) + 2·χ₃(e^{−s})
//	K₃ = (π²/8)·s² − 2·χ₃(1)·s + 2·χ₄(1) − 2·χ₄(e^{−s})
//
// with χ₃(1) = (7/8)·ζ(3) and χ₄(1) = π⁴/96. K₁ and K₃ are odd, K₂ is even.
func bodeKernel(order int, s float64) float64 {
	const (
		quarter = math.Pi * math.Pi / 4
		chi3    = 7.0 / 4 * 1.2020569031595942853997381615114 // twice, by Apéry's constant
		chi4    = quarter * quarter / 3                       // twice
	)
	if s < 0 {
		v := bodeKernel(order, -s)
		if order == 2 {
			return v
		}
		return -v
	}
	if s == 0 {
		return 0
	}
	if s < kernelNear {
		x := s * s
		var sum float64
		terms := kernelTerms
		if s < 0.3 { // terms fall by (s/π)²
			terms = 9
		}
		for i := terms - 1; i >= 0; i-- {
			sum = (sum + bodeSeries.near[order-1][i]) * x
		}
		l := math.Ln2 - math.Log(s)
		switch order {
		case 1:
			return s * (l + 1 + sum)
		case 2:
			return x * ((l+3.0/2)/2 + sum)
		}
		return s * x * ((l+11.0/6)/6 + sum)
	}
	e := math.Exp(-s)
	var chi float64
	for i := min(kernelTerms, int(20/s)+1) - 1; i >= 0; i-- {
		chi = chi*e*e + bodeSeries.far[order-1][i]
	}
	chi *= e
	switch order {
	case 1:
		return quarter - chi
	case 2:
		return quarter*s - chi3 + chi
	}
	return (quarter/2*s-chi3)*s + chi4 - chi
}
