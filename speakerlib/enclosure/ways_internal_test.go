package enclosure

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/twoport"
)

// Every part of a box is reciprocal, AD − BC = 1: what a source on one side makes on the
// other is what it makes turned round (Rayleigh, Theory of Sound, § 294; from memory). And
// what goes into a chamber is what stays, leaks and leaves.
func TestPartsAreReciprocal(t *testing.T) {
	m := air.Room()
	vent := Vent{Diameter: 0.05, Length: 0.2, Inner: Free, Outer: Flanged, Count: 2}
	ports := map[string]Port{
		"vent": vent, "pipe": Pipe{Of: vent},
		"slot":     Pipe{Of: Slot{Width: 0.2, Height: 0.015, Length: 0.3, Inner: Free, Outer: Flanged, Count: 1, Along: true}},
		"flare":    Pipe{Of: Flare{Diameter: 0.06, Length: 0.2, InnerFlare: 0.02, OuterFlare: 0.03, Inner: Free, Outer: Flanged, Count: 1}},
		"radiator": Radiator{Mmp: 0.05, Cmp: 1e-3, Rmp: 1, Sp: 0.0136, Count: 1},
		"hole":     Pipe{Of: Vent{Diameter: 0.1, Inner: Flanged, Outer: Flanged, Count: 1}},
	}
	reciprocal := func(t *rapid.T, what string, two twoport.Matrix) {
		scale := 1 + cmplx.Abs(two.A*two.D) + cmplx.Abs(two.B*two.C)
		if d := two.Det(); cmplx.Abs(d-1) > 1e-12*scale {
			t.Errorf("%s has AD − BC = %v", what, d)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		hz := rapid.Float64Range(5, 5000).Draw(t, "Hz")
		for name, p := range ports {
			for _, outside := range []bool{false, true} {
				reciprocal(t, name, p.way(m, outside).matrix(hz))
			}
		}
		l := rapid.Float64Range(0, 1).Draw(t, "length")
		c := Chamber{Vb: 0.03, Losses: Losses{QL: 8, QA: 40}, Reference: 45, Fill: Fill{Isothermal: 0.4, Resistivity: rapid.Float64Range(0, 3000).Draw(t, "σ"), Depth: 0.1},
			Column: Column{Length: l, Driver: l * rapid.Float64Range(0, 1).Draw(t, "driver"), Port: l * rapid.Float64Range(0, 1).Draw(t, "port")}}
		r := c.room(m)
		reciprocal(t, "chamber", r.matrix(hz))
		_, u, stored, leaked := r.walk(hz, 1+2i, 1e-4)
		if sum := 1e-4 + stored + leaked; cmplx.Abs(u-sum) > 1e-12*cmplx.Abs(u) {
			t.Errorf("%v goes in, %v stays, leaks and leaves", u, sum)
		}
		s := side{room: r, way: ports["pipe"].way(m, true)}
		if a := s.at(hz, 100); cmplx.Abs(a.out+a.stored-1) > 1e-10*(1+cmplx.Abs(a.out)) {
			t.Errorf("%v goes out and %v stays of 1", a.out, a.stored)
		}
	})
}

// The steps of a flare are as good as four hundred thin discs of it, up to its first
// pipe resonance and beyond: the elements that carry the mass, and those of the air in it,
// within 2 % of each one's largest.
func TestFlareStepsAreFineEnough(t *testing.T) {
	m := air.Room()
	f := Flare{Diameter: 0.06, Length: 0.2, InnerFlare: 0.03, OuterFlare: 0.03, Count: 1}
	w := Pipe{Of: f}.way(m, false)
	fine := &pipe{air: m, stiffness: m.Stiffness()}
	const n = 200
	add := func(length, radius float64) {
		fine.slices = append(fine.slices, slice{duct{width: radius}, length, math.Pi * radius * radius})
	}
	flared := func(k int) float64 {
		x := (float64(k) + 0.5) / n * 0.03
		return 0.03 + 0.03 - math.Sqrt(0.03*0.03-x*x)
	}
	for k := n - 1; k >= 0; k-- {
		add(0.03/n, flared(k))
	}
	add(0.14, 0.03)
	for k := range n {
		add(0.03/n, flared(k))
	}
	fine.inner, fine.outer = f.ends(m)
	var coarse, exact, most [4]complex128
	worst := 0.0
	for hz := 50.0; hz < 1000; hz += 50 {
		a, b := w.matrix(hz), fine.matrix(hz)
		coarse, exact = [4]complex128{a.A, a.B, a.C, a.D}, [4]complex128{b.A, b.B, b.C, b.D}
		for k := range exact {
			if cmplx.Abs(exact[k]) > cmplx.Abs(most[k]) {
				most[k] = exact[k]
			}
			worst = math.Max(worst, cmplx.Abs(coarse[k]-exact[k])/cmplx.Abs(most[k]))
		}
	}
	if worst > 0.02 {
		t.Errorf("steps are off by %.3g", worst)
	}
}
