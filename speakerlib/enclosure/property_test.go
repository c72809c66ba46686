package enclosure_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

func at(t *rapid.T, of freq.Transfer, hz ...float64) []complex128 {
	return of.ResponseTo(nil, grid(t, hz...))
}

// A passive thing takes power at every frequency: Re Z ≥ 0. Here even
// Re Z ≥ Re + source, because everything else is a passive impedance in series.
func TestImpedanceIsPassive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMounted(t)
		z := at(t, motion(t, m).Impedance, within(t, "Hz", 1, 40000))[0]
		if floor := m.Driver.Re + m.Source; real(z) < floor-1e-11*cmplx.Abs(z) {
			t.Errorf("Re Z is %g Ω, want at least %g", real(z), floor)
		}
	})
}

// Far below all resonances the pressure falls by 12 dB an octave in an infinite
// baffle and in a closed box, by 24 dB with a vent (with a leak too, whose flow
// counts). A resistance in the vent leaves 18 dB in the end, and so does the leak
// of a closed box.
func TestSlopesBelowResonance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMounted(t)
		order := 2.0
		switch b := m.Box.(type) {
		case enclosure.Closed:
			if b.Losses.QL > 0 {
				order = 3
			}
		case enclosure.Vented:
			order = 4
			if b.Losses.QP > 0 {
				order = 3
			}
		}
		const hz = 1e-8
		p := at(t, motion(t, m).Pressure, hz, 2*hz)
		if got := math.Log2(cmplx.Abs(p[1]) / cmplx.Abs(p[0])); math.Abs(got-order) > 1e-6 {
			t.Errorf("pressure rises as f^%.4f, want f^%g", got, order)
		}
	})
}

// A box of any kind that grows without bound is an infinite baffle for a driver
// of the same moving mass.
func TestHugeBoxIsInfiniteBaffle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMounted(t)
		hz := within(t, "Hz", 5, 20000)
		m.Box = enclosure.InfiniteBaffle{}
		want := motion(t, m)
		for _, box := range []enclosure.Box{
			enclosure.Closed{Vb: 1e12},
			enclosure.Closed{Vb: 1e12, Losses: enclosure.Losses{QA: 50}, Reference: 50},
			enclosure.Vented{Vb: 1e12, Vent: drawVent(t)},
		} {
			m.Box = box
			got := motion(t, m)
			for k, pair := range [][2]freq.Transfer{{got.Impedance, want.Impedance}, {got.Cone, want.Cone}, {got.Pressure, want.Pressure}} {
				a, b := at(t, pair[0], hz)[0], at(t, pair[1], hz)[0]
				if cmplx.Abs(a-b) > 1e-6*cmplx.Abs(b) {
					t.Errorf("%T, transfer %d at %g Hz: %v, in the infinite baffle %v", box, k, hz, a, b)
				}
			}
		}
	})
}

// A frequency's value does not depend on which others stand in the grid.
func TestGridDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mo := motion(t, drawMounted(t))
		hz := []float64{12, 37, 101, 990, 8000}
		for _, of := range []freq.Transfer{mo.Impedance, mo.Current, mo.Cone, mo.ConeFlow, mo.VentFlow, mo.VentAir, mo.Pressure} {
			all := at(t, of, hz...)
			for _, k := range rapid.Permutation([]int{0, 1, 2, 3, 4}).Draw(t, "order") {
				if alone := at(t, of, hz[k])[0]; alone != all[k] {
					t.Errorf("at %g Hz %v alone, %v among others", hz[k], alone, all[k])
				}
			}
		}
	})
}

// Without losses a vented box splits the net flow U₀, which alone makes the
// pressure, whatever the driver: the vent carries U₀·(fb/f)² and the cone
// U₀·(1 − (fb/f)²), because the air of the box and the mass of the vent see the
// same pressure, U₀/(jωC) and jωM·Uvent. So the cone stands still at fb.
func TestLosslessVentedSplit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMounted(t)
		box := enclosure.Vented{Vb: within(t, "Vb of the box", 1e-3, 0.3), Vent: drawVent(t)}
		m.Box = box
		mo := motion(t, m)
		fb := box.Fb(m.Air)
		r := within(t, "f/fb", 0.1, 10)
		g := []float64{fb * r}
		net := at(t, mo.Pressure, g...)[0] / complex(0, g[0]*m.Air.Density)
		vent, cone := at(t, mo.VentFlow, g...)[0], at(t, mo.ConeFlow, g...)[0]
		x := complex(1/(r*r), 0)
		if tol := 1e-9 * (cmplx.Abs(net) + cmplx.Abs(cone)); cmplx.Abs(vent-net*x) > tol || cmplx.Abs(cone-net*(1-x)) > tol {
			t.Errorf("at %g fb: vent %v and cone %v of %v, want %v and %v", r, vent, cone, net, net*x, net*(1-x))
		}
		if s := at(t, mo.VentAir, g...)[0] * complex(box.Vent.Area(), 0); cmplx.Abs(s-vent) > 1e-12*cmplx.Abs(vent) {
			t.Errorf("vent air times area is %v, want the flow %v", s, vent)
		}
		y := at(t, mo.Cone, fb*0.9, fb, fb*1.1)
		if cmplx.Abs(y[1]) > 1e-9*min(cmplx.Abs(y[0]), cmplx.Abs(y[2])) {
			t.Errorf("cone moves %g m at fb, and %g and %g 10 %% beside it", cmplx.Abs(y[1]), cmplx.Abs(y[0]), cmplx.Abs(y[2]))
		}
	})
}

// The cone's flow is jω·Sd times its displacement, and the current the inverse of
// the impedance.
func TestMotionAgreesWithItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMounted(t)
		mo := motion(t, m)
		hz := within(t, "Hz", 1, 20000)
		x, u := at(t, mo.Cone, hz)[0], at(t, mo.ConeFlow, hz)[0]
		if want := x * complex(0, 2*math.Pi*hz*m.Driver.Sd); cmplx.Abs(u-want) > 1e-12*cmplx.Abs(u) {
			t.Errorf("flow %v, want %v", u, want)
		}
		if one := at(t, mo.Impedance, hz)[0] * at(t, mo.Current, hz)[0]; cmplx.Abs(one-1) > 1e-12 {
			t.Errorf("impedance times current is %v, want 1", one)
		}
	})
}
