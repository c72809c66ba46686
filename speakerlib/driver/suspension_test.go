package driver_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
)

// C(jω) = Cms·(1 − λ·log10(jω/ω₀)) with the complex logarithm of the standard
// library (Knudsen and Jensen 1993, the formula from memory).
func TestLogCreepIsTheComplexLogarithm(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		s := driver.LogCreep{Lambda: rapid.Float64Range(0, 0.5).Draw(rt, "λ"), F0: span(rt, "f0", 5, 5000)}
		hz := span(rt, "f", 0.1, 100e3)
		want := 1 - complex(s.Lambda, 0)*cmplx.Log10(complex(0, hz/s.F0))
		if got := s.Relative(hz); cmplx.Abs(got-want) > 1e-14*cmplx.Abs(want) {
			rt.Fatalf("%#v at %g Hz: %v, want %v", s, hz, got, want)
		}
	})
}

// A force that steps shows the creep over time: the compliance is the Laplace
// transform s·∫x(t)·e^(−st)dt of the displacement
//
//	x(t) = 1 + λ·(log10(ω₀t) + γ/ln 10)
//
// which grows by λ a decade for ever (γ is Euler's constant: the transform of ln t
// is −(ln s + γ)/s, Abramowitz and Stegun 29.3.98). At s = jω the integral is taken
// along t = −jτ, where it converges, by the trapezoid rule over ln τ.
func TestLogCreepIsLogarithmicInTime(t *testing.T) {
	s := driver.LogCreep{Lambda: 0.12, F0: 40}
	const gamma = 0.57721566490153286
	w0 := 2 * math.Pi * s.F0
	displacement := func(t complex128) complex128 {
		return 1 + complex(s.Lambda, 0)*(cmplx.Log10(complex(w0, 0)*t)+gamma/math.Ln10)
	}
	for _, hz := range []float64{0.5, 40, 2000} {
		w := 2 * math.Pi * hz
		var c complex128
		const step = 0.05
		for v := -45.0; v < 5; v += step {
			tau := math.Exp(v) / w
			// jω·x(−jτ)·e^(−ωτ)·(−j)·dτ with dτ = τ·dv
			c += displacement(complex(0, -tau)) * complex(w*math.Exp(-w*tau)*tau*step, 0)
		}
		if got := s.Relative(hz); cmplx.Abs(got-c) > 1e-9 {
			t.Errorf("compliance at %g Hz is %v, of the creep over time %v", hz, got, c)
		}
	}
}

func TestLogCreepDerivatives(t *testing.T) {
	g := grid(t, 3, 40, 500, 20e3)
	rapid.Check(t, func(rt *rapid.T) {
		s := driver.LogCreep{Lambda: span(rt, "λ", 1e-3, 0.5), F0: span(rt, "f0", 5, 5000)}
		theta := s.ThetaTo(nil)
		var tunable driver.TunableSuspension = s
		if n := tunable.Parameters(); len(theta) != n || len(tunable.Names()) != n {
			rt.Fatalf("%d parameters, %d values, names %v", n, len(theta), tunable.Names())
		}
		c, jac := make([]complex128, 4), make([]complex128, 12)
		driver.LogCreep{Lambda: 0.3, F0: s.F0}.RelativeJacobianTo(c, jac, 3, theta, g)
		const h = 1e-3
		at := func(steps float64) driver.Suspension { return s.With([]float64{theta[0] + steps*h}) }
		for i := range c {
			hz := g.At(i)
			if want := s.Relative(hz); cmplx.Abs(c[i]-want) > 1e-14*cmplx.Abs(want) {
				rt.Fatalf("%#v at %g Hz: %v, want %v", s, hz, c[i], want)
			}
			want := (at(-2).Relative(hz) - 8*at(-1).Relative(hz) + 8*at(1).Relative(hz) - at(2).Relative(hz)) / (12 * h)
			if cmplx.Abs(jac[3*i]-want) > 1e-10*cmplx.Abs(c[i]) {
				rt.Fatalf("%#v: derivative at %g Hz is %v, by differences %v", s, hz, jac[3*i], want)
			}
		}
		lower, upper := make([]float64, 1), make([]float64, 1)
		s.BoundsTo(lower, upper)
		if !math.IsInf(lower[0], -1) || s.With(upper).(driver.LogCreep).Lambda > 0.5*(1+1e-15) {
			rt.Fatalf("bounds are %v … %v", lower, upper)
		}
	})
}

// The driver in the open, in one line of complex arithmetic; its real part never
// falls below Re, far beyond the range of the model too.
func TestImpedanceWithCreep(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := anyParams(rt)
		p.Coil = anyTunableCoil(rt)
		lambda := rapid.Float64Range(0, 0.5).Draw(rt, "λ")
		p.Suspension = driver.LogCreep{Lambda: lambda, F0: p.Fs()}
		hz := span(rt, "f", 1, 100e3)
		g := grid(t, hz)
		s := complex(0, g.Omega()[0])
		c := complex(p.Cms, 0) * (1 - complex(lambda, 0)*cmplx.Log10(s/complex(2*math.Pi*p.Fs(), 0)))
		zc := p.Coil.ImpedanceTo(nil, g)[0]
		want := complex(p.Re, 0) + zc + complex(p.Bl*p.Bl, 0)/(complex(p.Rms, 0)+s*complex(p.Mms, 0)+1/(s*c))
		got := p.ImpedanceTo(nil, g)[0]
		if cmplx.Abs(got-want) > 1e-10*cmplx.Abs(want) {
			rt.Fatalf("%#v at %g Hz: Z is %v, want %v", p, hz, got, want)
		}
		if !(real(got) >= p.Re) {
			rt.Fatalf("%#v at %g Hz: Re Z is %v, want at least Re", p, hz, real(got))
		}
	})
}

// Without creep it is the constant suspension.
func TestNoCreepIsConstant(t *testing.T) {
	p := invented()
	g := grid(t, 5, 41, 300, 20e3)
	want := p.ImpedanceTo(nil, g)
	p.Suspension = driver.LogCreep{F0: 41}
	for i, z := range p.ImpedanceTo(nil, g) {
		if cmplx.Abs(z-want[i]) > 1e-13*cmplx.Abs(want[i]) {
			t.Errorf("Z at %g Hz is %v, want %v", g.At(i), z, want[i])
		}
	}
}

// The constant driver at hz has the impedance of the driver there, and its own
// parameters say so: the loss of the creep has the quality factor that the
// documentation states.
func TestDriverAtAFrequency(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := anyParams(rt)
		p.Suspension = driver.LogCreep{Lambda: rapid.Float64Range(0, 0.5).Draw(rt, "λ"), F0: p.Fs()}
		hz := p.Fs() * span(rt, "f", 0.1, 50)
		q, err := p.At(hz)
		if err != nil {
			rt.Fatal(err)
		}
		if q.Suspension != nil || q.Validate() != nil {
			rt.Fatalf("%#v", q)
		}
		g := grid(t, hz)
		if got, want := q.ImpedanceTo(nil, g)[0], p.ImpedanceTo(nil, g)[0]; cmplx.Abs(got-want) > 1e-10*cmplx.Abs(want) {
			rt.Fatalf("Z at %g Hz is %v, want %v", hz, got, want)
		}
	})
	p := invented()
	lambda := 0.1
	p.Suspension = driver.LogCreep{Lambda: lambda, F0: p.Fs()}
	q, err := p.At(p.Fs())
	if err != nil {
		t.Fatal(err)
	}
	// By hand: 1/(jωC) with C = Cms·(1 − jb) is (b − j)/(ωCms·(1 + b²)).
	b := lambda * 0.6821881769209206 // π/(2·ln 10)
	extra := b / (1 + b*b) * math.Sqrt(p.Mms/p.Cms)
	if want := p.Rms + extra; math.Abs(q.Rms/want-1) > 1e-13 {
		t.Errorf("Rms at Fs is %v, want %v", q.Rms, want)
	}
	if want := p.Cms * (1 + b*b); math.Abs(q.Cms/want-1) > 1e-13 {
		t.Errorf("Cms at Fs is %v, want %v", q.Cms, want)
	}
	if got, want := 1/(1/q.Qms()-p.Rms/math.Sqrt(q.Mms/q.Cms)), 1.466/lambda; math.Abs(got/want-1) > 0.01 {
		t.Errorf("quality factor of the creep is %v, want about %v", got, want)
	}
	if got, want := p.Sheet(air.Room()).Qms, q.Qms(); got != want {
		t.Errorf("Qms of the sheet is %v, want that at Fs, %v", got, want)
	}
}

// Where there is no such driver At says so.
func TestNoDriverAtAFrequency(t *testing.T) {
	p := invented()
	p.Suspension = driver.LogCreep{Lambda: 0.5, F0: 40}
	for hz, want := range map[float64]string{
		4001:       "real part > 0",
		0:          "asked for at 0 Hz",
		math.NaN(): "NaN Hz",
	} {
		if _, err := p.At(hz); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("at %g Hz: error %v, want %q", hz, err, want)
		}
	}
	if _, err := p.At(3999); err != nil {
		t.Error(err)
	}
	p.Suspension = gaining{}
	if _, err := p.At(40); err == nil {
		t.Error("a suspension that gives energy has a driver")
	}
	p.Suspension = nil
	if q, err := p.At(40); err != nil || q != p {
		t.Errorf("constant suspension: %v, %v", q, err)
	}
}

type gaining struct{}

func (gaining) Relative(float64) complex128 { return 1 + 0.1i }

func TestLogCreepValidate(t *testing.T) {
	for want, s := range map[string]driver.LogCreep{
		"creep of the suspension is 0.51": {Lambda: 0.51, F0: 40},
		"creep of the suspension is -0.1": {Lambda: -0.1, F0: 40},
		"creep of the suspension is NaN":  {Lambda: math.NaN(), F0: 40},
		"F0 of the creep is 0 Hz":         {Lambda: 0.1},
		"F0 of the creep is +Inf Hz":      {Lambda: 0.1, F0: math.Inf(1)},
	} {
		p := invented()
		p.Suspension = s
		if err := p.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%#v: error %v, want %q", s, err, want)
		}
	}
}

func TestCreepDoesNotAllocate(t *testing.T) {
	g, err := freq.LogGrid(10, 20e3, 12)
	if err != nil {
		t.Fatal(err)
	}
	dst, jac := make([]complex128, g.Len()), make([]complex128, g.Len())
	p := invented()
	s := driver.LogCreep{Lambda: 0.1, F0: 40}
	p.Suspension = s
	theta := s.ThetaTo(nil)
	if n := testing.AllocsPerRun(20, func() {
		p.ImpedanceTo(dst, g)
		s.RelativeJacobianTo(dst, jac, 1, theta, g)
	}); n != 0 {
		t.Errorf("%g allocations, want 0", n)
	}
}
