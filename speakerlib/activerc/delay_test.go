package activerc_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/activerc"
	"example.org/loudspeaker/speakerlib/analog"
)

// The maximally flat delay is the Padé approximant of e^{−sτ} (closed forms of orders 1 … 3):
//
//	n = 1: (1 − x/2)/…,  n = 2: (1 − x/2 + x²/12)/…,  n = 3: (1 − x/2 + x²/10 − x³/120)/…,  x = sτ
func TestDelayIsThePadeApproximant(t *testing.T) {
	const tau = 140e-6
	for n, c := range map[int][4]float64{1: {1, 0.5}, 2: {1, 0.5, 1. / 12}, 3: {1, 0.5, 0.1, 1. / 120}} {
		s, err := activerc.Delay(tau, n, activerc.MaximallyFlat)
		if err != nil {
			t.Fatal(err)
		}
		for _, hz := range []float64{50, 900, 4e3, 15e3} {
			x := complex(0, 2*math.Pi*hz*tau)
			den := complex(c[0], 0) + x*(complex(c[1], 0)+x*(complex(c[2], 0)+x*complex(c[3], 0)))
			want := cmplx.Conj(den) / den
			got := complex(1, 0)
			for _, one := range s {
				got *= response(one, hz)
			}
			if cmplx.Abs(got-want) > 1e-9 {
				t.Errorf("order %d at %g Hz is %v, want %v", n, hz, got, want)
			}
		}
	}
}

// At direct current the delay is what was asked for, of every order and both kinds, and the
// first-order kind falls as 1/(1 + (f/f0)²).
func TestDelayAtDirectCurrent(t *testing.T) {
	const tau = 1e-3
	for n := 1; n <= analog.MaxOrder; n++ {
		for _, k := range []activerc.DelayKind{activerc.MaximallyFlat, activerc.Equal} {
			s, err := activerc.Delay(tau, n, k)
			if err != nil {
				t.Fatal(err)
			}
			if d := activerc.GroupDelay(s, 0); math.Abs(d/tau-1) > 1e-9 {
				t.Errorf("order %d, %v: delay is %g s, want %g", n, k, d, tau)
			}
		}
	}
	s, err := activerc.Delay(tau, 4, activerc.Equal)
	if err != nil {
		t.Fatal(err)
	}
	f0 := 8 / tau / (2 * math.Pi)
	if d := activerc.GroupDelay(s, f0); math.Abs(d/(tau/2)-1) > 1e-9 {
		t.Errorf("delay at f0 is %g s, want half of %g", d, tau)
	}
}

// Second-order sections come by ascending Q, and the one of first order last.
func TestDelayIsInOrder(t *testing.T) {
	for n := 1; n <= 9; n++ {
		s, err := activerc.Delay(1e-3, n, activerc.MaximallyFlat)
		if err != nil {
			t.Fatal(err)
		}
		last := 0.0
		for i, one := range s {
			if one.D2 == 0 {
				if i != len(s)-1 || n%2 == 0 {
					t.Errorf("order %d: section %d is of first order, want the last of an odd order", n, i)
				}
				continue
			}
			q := math.Sqrt(one.D0) / one.D1
			if q <= last {
				t.Errorf("order %d: Q of section %d is %.4g after %.4g, want a higher one", n, i, q, last)
			}
			last = q
		}
	}
}

// The lowest order that is flat enough: one less is not.
func TestDelayForTakesTheLowestOrder(t *testing.T) {
	const tau, edge, off = 300e-6, 2500.0, 3e-6
	r, err := activerc.DelayFor(tau, edge, off, activerc.MaximallyFlat)
	if err != nil {
		t.Fatal(err)
	}
	worst := func(n int) float64 {
		s, err := activerc.Delay(tau, n, activerc.MaximallyFlat)
		if err != nil {
			t.Fatal(err)
		}
		most := 0.0
		for hz := 1.0; hz <= edge; hz++ {
			most = max(most, math.Abs(activerc.GroupDelay(s, hz)-tau))
		}
		return most
	}
	if got := worst(r.Order); got > off || math.Abs(got/r.Off-1) > 0.01 {
		t.Errorf("order %d is off by %g s and says %g, want at most %g", r.Order, got, r.Off, off)
	}
	if got := worst(r.Order - 1); got <= off {
		t.Errorf("order %d would do with %g s, but %d was chosen", r.Order-1, got, r.Order)
	}
	if r.Stages != len(r.Sections) || r.Stages != (r.Order+1)/2 {
		t.Errorf("order %d has %d stages, want %d", r.Order, r.Stages, (r.Order+1)/2)
	}
	// an all-pass of second order takes two amplifiers, one of first order one
	if want := r.Order/2*2 + r.Order%2; r.Amplifiers != want {
		t.Errorf("order %d has %d amplifiers, want %d", r.Order, r.Amplifiers, want)
	}
	equal, err := activerc.DelayFor(tau, 800, 10e-6, activerc.Equal)
	if err != nil {
		t.Fatal(err)
	}
	flat, err := activerc.DelayFor(tau, 800, 10e-6, activerc.MaximallyFlat)
	if err != nil {
		t.Fatal(err)
	}
	if flat.Order >= equal.Order || equal.Amplifiers != equal.Order {
		t.Errorf("equal sections need order %d with %d amplifiers and the flat delay %d, want fewer for the flat one", equal.Order, equal.Amplifiers, flat.Order)
	}
	if _, err := activerc.DelayFor(3e-3, 20e3, 1e-6, activerc.MaximallyFlat); err == nil {
		t.Error("3 ms up to 20 kHz with 24 poles passes, want an error")
	}
}

// Built, the delay keeps what it promises: within the error of the values.
func TestDelayBuilt(t *testing.T) {
	const tau = 120e-6
	r, err := activerc.DelayFor(tau, 4000, 2e-6, activerc.MaximallyFlat)
	if err != nil {
		t.Fatal(err)
	}
	c, err := activerc.RealiseAll(r.Sections, activerc.Amplifier{GBW: 10e6, DCGain: 1e5}, activerc.Options{})
	if err != nil {
		t.Fatal(err)
	}
	left := c.DelayError(grid(t, 50, 4000, 12), tau, "left over")
	for i := range left.Len() {
		// every stage of a relative error e is late by about e of its share
		if math.Abs(left.At(i)) > r.Off+0.01*tau {
			t.Errorf("at %g Hz the delay is off by %g s, want at most %g", left.Grid().At(i), left.At(i), r.Off+0.01*tau)
		}
	}
}

func TestDelayRefusals(t *testing.T) {
	for name, f := range map[string]func() error{
		"negative delay": func() error { _, err := activerc.Delay(-1, 2, activerc.Equal); return err },
		"infinite delay": func() error { _, err := activerc.Delay(math.Inf(1), 2, activerc.Equal); return err },
		"order 0":        func() error { _, err := activerc.Delay(1e-3, 0, activerc.MaximallyFlat); return err },
		"order 25":       func() error { _, err := activerc.Delay(1e-3, 25, activerc.MaximallyFlat); return err },
		"kind":           func() error { _, err := activerc.Delay(1e-3, 2, 7); return err },
		"edge":           func() error { _, err := activerc.DelayFor(1e-3, math.NaN(), 1e-6, activerc.Equal); return err },
	} {
		if f() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

// A delay whose corners have no squares is refused.
func TestDelayOutOfReach(t *testing.T) {
	for _, tau := range []float64{0, -1e-3, 1e-300, 1e300, math.NaN(), math.Inf(1)} {
		for _, k := range []activerc.DelayKind{activerc.MaximallyFlat, activerc.Equal} {
			if s, err := activerc.Delay(tau, 3, k); err == nil {
				t.Errorf("%v of %g s: %+v, want an error", k, tau, s)
			}
		}
	}
}
