package activerc

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
)

func at(s analog.Section, hz float64) complex128 { return ratioOf(s).at(2 * math.Pi * hz) }

func oneFrequency(t testing.TB, hz ...float64) *freq.Grid {
	t.Helper()
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// The formulas that textbooks print for each circuit (from memory), against nodal analysis of
// the circuit: ω0, Q and gain from its values.
func TestTextbookFormulas(t *testing.T) {
	const r, c = 10e3, 10e-9
	f0 := 1 / (2 * math.Pi * r * c)
	q := 1.7
	k := 3 - 1/q
	for _, x := range []struct {
		name string
		st   *Stage
		want analog.Section
		sign float64
	}{
		// equal components: ω0 = 1/RC, Q = 1/(3 − K)
		{"Sallen–Key low-pass, equal components", placed(t, Lowpass(f0, q, k), SallenKey, Amplifier{}, c, c, r, r, 10e3, (k-1)*10e3), Lowpass(f0, q, k), 1},
		{"Sallen–Key high-pass, equal components", placed(t, Highpass(f0, q, k), SallenKey, Amplifier{}, c, c, r, r, 10e3, (k-1)*10e3), Highpass(f0, q, k), 1},
		// unity gain, equal resistors: Q = ½·√(C1/C2), ω0 = 1/(R·√(C1C2))
		{"Sallen–Key low-pass, unity gain", placed(t, Lowpass(f0, 2, 1), SallenKey, Amplifier{}, 4*c, c/4, r, r), Lowpass(f0, 2, 1), 1},
		// unity gain, equal capacitors: Q = ½·√(R2/R1)
		{"Sallen–Key high-pass, unity gain", placed(t, Highpass(f0, 2, 1), SallenKey, Amplifier{}, c, c, r/4, 4*r), Highpass(f0, 2, 1), 1},
		// gain −R2/R1, ω0 = 1/√(R2R3C1C2), Q = √(C1/C2)/(√(R2R3)/R1 + √(R3/R2) + √(R2/R3))
		{"multiple feedback low-pass", placed(t, Lowpass(f0, 1, 1), MultipleFeedback, Amplifier{}, 9*c, c/9, r, r, r), Lowpass(f0, 3, 1), -1},
		// equal capacitors: gain −1, Q = ⅓·√(R2/R1)
		{"multiple feedback high-pass", placed(t, Highpass(f0, 1, 1), MultipleFeedback, Amplifier{}, c, c, c, r/6, 6*r), Highpass(f0, 2, 1), -1},
		// equal capacitors C: R1 = Q/(K·ω0·C), R2 = Q/((2Q² − K)·ω0·C), R3 = 2Q/(ω0·C)
		{"multiple feedback band-pass", placed(t, Bandpass(f0, 3, 2), MultipleFeedback, Amplifier{}, c, c, r*3/2, r*3/16, 6*r), Bandpass(f0, 3, 2), -1},
		// all resistors of the sum equal: Q = (1 + R7/R8)/3
		{"state variable low-pass", placed(t, Lowpass(f0, 5, 1), StateVariable, Amplifier{}, c, r, r, 14e3, 1e3, 10e3, 10e3), Lowpass(f0, 5, 1), -1},
		{"state variable high-pass", placed(t, Highpass(f0, 5, 1), StateVariable, Amplifier{}, c, r, r, 14e3, 1e3, 10e3, 10e3), Highpass(f0, 5, 1), -1},
		{"state variable band-pass", placed(t, Bandpass(f0, 5, 5), StateVariable, Amplifier{}, c, r, r, 14e3, 1e3, 10e3, 10e3), Bandpass(f0, 5, 5), 1},
		// 2R in for the direct signal and R for a band-pass of gain 1: 1 − 2·BP is an all-pass
		{"all-pass of a band-pass", placed(t, Allpass(f0, 3), BandpassSum, Amplifier{}, c, c, 3*r, r*3/17, 6*r, 20e3, 20e3, 10e3), Allpass(f0, 3), -1},
		{"first-order all-pass", placed(t, FirstAllpass(f0), FirstOrder, Amplifier{}, c, r, 10e3), FirstAllpass(f0), 1},
		{"inverting shelf", placed(t, FirstShelf(2*f0, f0, 1), FirstOrder, Amplifier{}, c, c, r/2, r), FirstShelf(2*f0, f0, 1), -1},
	} {
		g := oneFrequency(t, f0/50, f0/3, f0, 2.2*f0, 60*f0)
		for i, h := range x.st.ResponseTo(nil, g) {
			want := at(x.want, g.At(i)) * complex(x.sign, 0)
			if off := cmplx.Abs(h - want); off > 1e-9*cmplx.Abs(want)+1e-12 {
				t.Errorf("%s at %.4g Hz is %v, want %v", x.name, g.At(i), h, want)
			}
		}
		if x.st.Inverted() != (x.sign < 0) {
			t.Errorf("%s: inverted is %v, want %v", x.name, x.st.Inverted(), x.sign < 0)
		}
	}
}

// The bridged T by the design equations of S. Linkwitz (from memory): C2 is given, and
// C1 = C2·(2Q0(1+k))², R1 = 1/(ω0·C2·2Q0(1+k)), R2 = 2k·R1, C3 = C1·(f1/f0)², R3 = R1·(f0/f1)².
func TestBridgedTByItsDesignEquations(t *testing.T) {
	const f0, q0, f1, q1, c2 = 55.0, 1.21, 22.0, 0.6, 100e-9
	k := (f0/f1 - q0/q1) / (q0/q1 - f1/f0)
	m := 2 * q0 * (1 + k)
	r1 := 1 / (2 * math.Pi * f0 * c2 * m)
	c1 := c2 * m * m
	s := Relocate(f0, q0, f1, q1)
	st := placed(t, s, BridgedT, Amplifier{}, c1, c2, c1*(f1/f0)*(f1/f0), r1, 2*k*r1, r1*(f0/f1)*(f0/f1))
	g := oneFrequency(t, 1, 10, 22, 40, 55, 90, 300, 20e3)
	for i, h := range st.ResponseTo(nil, g) {
		if want := -at(s, g.At(i)); cmplx.Abs(h-want) > 1e-9*cmplx.Abs(want) {
			t.Errorf("at %g Hz it is %v, want %v", g.At(i), h, want)
		}
	}
}

// With a third pole that does not quite cancel, the pair of the section is still found: of the
// product of (1 + b1·s + b2·s²), the closed form of the feedback arm, and another factor.
func TestResonanceOfTheBridgedT(t *testing.T) {
	const c1, c2, c3, r1, r2, r3 = 270e-9, 47e-9, 100e-9, 22.6e3, 5.49e3, 60.4e3
	st := placed(t, Relocate(62, 1.1, 36, 0.707), BridgedT, Amplifier{GBW: 1e9}, c1, c2, c3, r1, r2, r3)
	ideal, real, err := st.Resonance()
	if err != nil {
		t.Fatal(err)
	}
	b1, b2 := (2*r3+r2)*c2, r3*r3*c3*c2
	f0, q := 1/(2*math.Pi*math.Sqrt(b2)), math.Sqrt(b2)/b1
	for _, r := range []Resonance{ideal, real} {
		if math.Abs(r.F0/f0-1) > 1e-5 || math.Abs(r.Q/q-1) > 1e-5 {
			t.Errorf("resonance is %+v, want %.7g Hz, Q %.7g", r, f0, q)
		}
	}
}

// With A = ω_t/s the unity-gain Sallen–Key low-pass has the poles of
//
//	(1 + s·(R1C1 + R1C2 + R2C2) + s²·R1R2C1C2)·(1 + s/ω_t) − s·R1C1 = 0
//
// (by hand from the two nodal equations): a slow amplifier lowers ω0 and raises Q.
func TestPolesOfASlowSallenKey(t *testing.T) {
	const r1, r2, c1, c2, gbw = 3.3e3, 4.7e3, 22e-9, 2.2e-9, 300e3
	st := placed(t, Lowpass(1e3, 1, 1), SallenKey, Amplifier{GBW: gbw}, c1, c2, r1, r2)
	p, err := st.circuit.Poles()
	if err != nil {
		t.Fatal(err)
	}
	if len(p) != 3 {
		t.Fatalf("poles are %v, want 3", p)
	}
	wt := 2 * math.Pi * gbw
	if cmplx.Abs(p[0]) > cmplx.Abs(p[1])*(1+1e-9) || cmplx.Abs(p[1]) > cmplx.Abs(p[2]) || imag(p[0]) > 0 {
		t.Errorf("poles are %v, want them by magnitude, the lower half-plane first", p)
	}
	for _, s := range p {
		a := 1 + s*(r1*c1+r1*c2+r2*c2) + s*s*r1*r2*c1*c2
		f := a*(1+s/complex(wt, 0)) - s*r1*c1
		df := (r1*c1+r1*c2+r2*c2+2*s*r1*r2*c1*c2)*(1+s/complex(wt, 0)) + a/complex(wt, 0) - r1*c1
		if off := cmplx.Abs(f / df / s); off > 1e-9 {
			t.Errorf("pole %v is %.2g away from a root of the cubic", s, off)
		}
	}
}

// An integrator of finite gain-bandwidth lags by f0/GBW more than it should, and the summing
// amplifier, of noise gain 3, by 3·f0/GBW: round the loop 5·f0/GBW, which is what 1/Q loses
// (by hand, to first order in f0/GBW and in 1/Q).
func TestSlowStateVariableEnhancesQ(t *testing.T) {
	const r, c, q = 10e3, 10e-9, 10.0
	f0 := 1 / (2 * math.Pi * r * c)
	gbw := 4000 * f0
	st := placed(t, Lowpass(f0, q, 1), StateVariable, Amplifier{GBW: gbw}, c, r, r, 29e3, 1e3, 10e3, 10e3)
	ideal, real, err := st.Resonance()
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(ideal.Q-q) > 1e-9 {
		t.Errorf("Q with ideal amplifiers is %.6g, want %g", ideal.Q, q)
	}
	if lost := (1/q - 1/real.Q) * gbw / f0; math.Abs(lost-5) > 0.05 {
		t.Errorf("Q becomes %.5g: 1/Q loses %.4g·f0/GBW, want 5 within 1 %%", real.Q, lost)
	}
	// at 5·Q·f0 = GBW nothing is left of 1/Q, and below it oscillates
	st = placed(t, Lowpass(f0, q, 1), StateVariable, Amplifier{GBW: 30 * f0}, c, r, r, 29e3, 1e3, 10e3, 10e3)
	err = st.circuit.Stable()
	if err == nil {
		t.Fatal("state variable of Q 10 with a GBW of 30·f0 is stable, want an error")
	}
	// the error says where, in hertz: somewhat below f0
	var re, im float64
	if _, e := fmt.Sscanf(err.Error(), "activerc: circuit is unstable: it has a pole at %g ± j%g Hz", &re, &im); e != nil || re < 0 || im < 0.7*f0 || im > f0 {
		t.Errorf("error is %q, want a pole right of 0 somewhat below %.4g Hz", err, f0)
	}
}

// Far above everything, where C1 and C2 are shorts and the amplifier has no gain left, a
// Sallen–Key low-pass with an output resistance passes (Ro‖R2)/(R1 + Ro‖R2) (by hand), one with
// multiple feedback nothing: C1 is a short to ground.
func TestSallenKeyLeaks(t *testing.T) {
	const ro, r = 70.0, 4.87e3
	a := Amplifier{GBW: 2e6, Output: ro}
	g := oneFrequency(t, 20e9)
	sk := placed(t, Lowpass(2200, 0.71, 1), SallenKey, a, 22e-9, 10e-9, r, r).ResponseTo(nil, g)[0]
	p := ro * r / (ro + r)
	if want := p / (r + p); cmplx.Abs(sk-complex(want, 0)) > 1e-3*want {
		t.Errorf("Sallen–Key passes %v, want %.5g", sk, want)
	}
	mf := placed(t, Lowpass(2200, 0.71, 1), MultipleFeedback, a, 22e-9, 4.7e-9, r, r, r).ResponseTo(nil, g)[0]
	if cmplx.Abs(mf) > 1e-6 {
		t.Errorf("multiple feedback passes %v, want nothing", mf)
	}
}

// Exchanged inputs leave the ideal response as it is; the poles show them.
func TestExchangedInputsAreUnstable(t *testing.T) {
	st := placed(t, Lowpass(1e3, 1, 1), SallenKey, Amplifier{GBW: 1e6}, 22e-9, 10e-9, 10e3, 10e3)
	u := st.circuit.Opamps()
	if err := st.circuit.Stable(); err != nil {
		t.Error(err)
	}
	u[0].Plus, u[0].Minus = u[0].Minus, u[0].Plus
	c, err := NewCircuit("out", u, st.circuit.Parts()...)
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Stable(); err == nil {
		t.Error("exchanged inputs are stable, want an error")
	}
}
