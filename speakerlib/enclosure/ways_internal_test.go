package enclosure

import (
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
