package driver

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Suspension is how a compliance changes with frequency. A passive one has
// Im ≤ 0 at every frequency: the displacement lags behind the force, and the real
// part of its mechanical impedance 1/(jωC) is ≥ 0.
type Suspension interface {
	// Relative returns C(jω)/Cms at hz, dimensionless.
	Relative(hz float64) complex128
}

// TunableSuspension is a suspension that a fit may vary, in the manner of
// [TunableCoil].
type TunableSuspension interface {
	Suspension
	// Parameters returns the number of parameters, and Names their names in the
	// order of θ.
	Parameters() int
	Names() []string
	// ThetaTo writes the suspension's own parameters into dst (nil allocates,
	// another length panics) and returns it.
	ThetaTo(dst []float64) []float64
	// BoundsTo writes the range of θ in which the suspension is valid.
	BoundsTo(lower, upper []float64)
	// With returns the suspension of the same kind with parameters θ.
	With(theta []float64) TunableSuspension
	// RelativeJacobianTo writes C(jω)/Cms of the suspension of the same kind with
	// parameters θ into c and, unless jac is nil, its derivatives by θₖ into
	// jac[i·stride+k]. The suspension's own parameters play no part, but what is
	// not in θ does. It does not allocate.
	RelativeJacobianTo(c, jac []complex128, stride int, theta []float64, g *freq.Grid)
}

// LogCreep is a suspension that goes on yielding with the logarithm of time, so
// that its compliance falls with that of frequency:
//
//	C(jω) = Cms·(1 − λ·log10(jf/f₀))
//	      = Cms·(1 − λ·log10(f/f₀) − j·λ·π/(2·ln 10))
//
// (M. H. Knudsen and J. G. Jensen, "Low-Frequency Loudspeaker Models That Include
// Suspension Creep", J. Audio Eng. Soc. 41, 1993; stated from memory). The
// compliance falls by λ·Cms a decade, and at f₀ its real part is Cms: taking Fs as
// f₀ keeps the meaning of Cms and Fs. The imaginary part is a loss beside that of
// Rms, of quality factor 2·ln 10/(λ·π) = 1.466/λ at f₀: with creep, Rms alone does
// not make Qms; [Params.At] has both.
//
// It is passive at every frequency for λ ≥ 0. It describes compliances measured
// over some three decades around f₀; rubber and soft polymers are found at λ near
// 0.1 (from memory). Beyond f₀·10^(1/λ) its stiffness is negative and it means
// nothing, and at 0 Hz it has no limit: λ is at most 0.5 here, which puts the
// former two decades above f₀ at least, where mass rules.
type LogCreep struct {
	Lambda float64 // loss of compliance a decade, a ratio, 0 to 0.5
	F0     float64 // frequency at which Cms is stated, Hz
}

// maxLambda keeps the compliance positive up to two decades above F0.
const maxLambda = 0.5

// Validate reports a λ that is negative or too large, and a frequency that is
// none.
func (s LogCreep) Validate() error {
	if !(s.Lambda >= 0 && s.Lambda <= maxLambda) {
		return fmt.Errorf("driver: creep of the suspension is %g a decade, want a ratio of 0 to %g", s.Lambda, maxLambda)
	}
	return positive("the frequency F0 of the creep", "Hz", s.F0)
}

// Relative implements [Suspension].
func (s LogCreep) Relative(hz float64) complex128 { return creep(s.Lambda, s.F0, hz) }

func creep(lambda, f0, hz float64) complex128 {
	return complex(1-lambda*math.Log(hz/f0)/math.Ln10, -lambda*math.Pi/(2*math.Ln10))
}

// Parameters implements [TunableSuspension].
func (LogCreep) Parameters() int { return 1 }

// Names implements [TunableSuspension].
func (LogCreep) Names() []string { return []string{"ln Lambda"} }

// ThetaTo implements [TunableSuspension].
func (s LogCreep) ThetaTo(dst []float64) []float64 { return logs(dst, s.Lambda) }

// BoundsTo implements [TunableSuspension].
func (LogCreep) BoundsTo(lower, upper []float64) {
	unbounded(lower, upper, 1)
	upper[0] = math.Log(maxLambda)
}

// With implements [TunableSuspension]. F0 stays.
func (s LogCreep) With(theta []float64) TunableSuspension {
	checkTheta(theta, 1)
	return LogCreep{Lambda: math.Exp(theta[0]), F0: s.F0}
}

// RelativeJacobianTo implements [TunableSuspension]. F0 is the suspension's own.
func (s LogCreep) RelativeJacobianTo(c, jac []complex128, stride int, theta []float64, g *freq.Grid) {
	checkJacobian(c, jac, stride, 1, theta, g)
	lambda := math.Exp(theta[0])
	for i := range c {
		c[i] = creep(lambda, s.F0, g.At(i))
		if jac != nil {
			jac[i*stride] = c[i] - 1
		}
	}
}

// At returns the driver with a constant suspension whose mechanical impedance at
// hz is that of p: with 1/(jωC) = R + 1/(jωC′) it has the compliance C′ = |C|²/Re C
// and the resistance Rms + R, R = −Im C/(ω·|C|²). Without a suspension that
// changes it is p. Its Fs, Qms, Vas, … are those that p shows around hz:
//
//	p.At(p.Fs())
//
// is the driver that an alignment is for. Where the suspension is not passive or
// has no positive compliance there is none, which is an error.
func (p Params) At(hz float64) (Params, error) {
	if !(hz > 0) || math.IsInf(hz, 0) {
		return Params{}, fmt.Errorf("driver: a driver is asked for at %g Hz, want a finite frequency > 0", hz)
	}
	if p.Suspension == nil {
		return p, nil
	}
	c := p.Suspension.Relative(hz)
	if !(real(c) > 0 && imag(c) <= 0) || math.IsInf(real(c), 0) || math.IsInf(imag(c), 0) {
		return Params{}, fmt.Errorf("driver: compliance of the suspension at %g Hz is %g times Cms, want a real part > 0 and an imaginary part ≤ 0", hz, c)
	}
	square := real(c)*real(c) + imag(c)*imag(c)
	p.Rms -= imag(c) / (2 * math.Pi * hz * p.Cms * square)
	p.Cms *= square / real(c)
	p.Suspension = nil
	return p, nil
}
