package activerc

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/analog"
)

// bandpassSum binds what is the same far below and far above, g, and m·g at ω0. With K the gain
// of the inverting band-pass and B its normalised response,
//
//	m < 1: −(RF/RA)·(1 − K·RA/RB·B),  an inverting sum
//	m > 1: (1 + RF/RB)·RD/(RC + RD) + K·RF/RB·B,  a difference
//
// m = 0 is a notch and m = −1 an all-pass (textbook circuits, checked by nodal analysis).
func bandpassSum(s analog.Section) (*layout, error) {
	if !alike(s) {
		return nil, fmt.Errorf("activerc: section has the gains %.4g far below and %.4g far above, want the same for %v", s.N0/s.D0, s.N2, BandpassSum)
	}
	g := s.N2
	m := s.N1 / (s.D1 * g)
	if m == 1 {
		return nil, fmt.Errorf("activerc: section is a gain of %.4g at all frequencies, want one that changes with frequency", g)
	}
	l := &layout{slots: slots("C1", "C2", "R1", "R2", "R3", "RF", "RA", "RB"), inverts: true}
	if m > 1 {
		l = &layout{slots: slots("C1", "C2", "R1", "R2", "R3", "RF", "RB", "RC", "RD")}
	}
	l.ideal = func(v []float64) ratio {
		d, n := bandIdeal(v[0], v[1], v[2], v[3], v[4])
		direct, add := -v[5]/v[6], 0.0
		if m > 1 {
			add = -v[5] / v[6]
			direct = (1 - add) * v[8] / (v[7] + v[8])
		} else {
			add = -v[5] / v[7]
		}
		return ratio{n: [4]float64{direct * d[0], direct*d[1] + add*n, direct * d[2]}, d: d}
	}
	l.enumerate = func(b bin, try func(v []float64)) {
		band := newFinder(ratioOf(analog.Section{N0: s.D0, D2: s.D2, D1: s.D1, D0: s.D0}), 48, 0, nil)
		bandEnumerate(s, 0, b, func(c1, c2, r1, r2, r3 float64) {
			d, _ := bandIdeal(c1, c2, r1, r2, r3)
			band.consider(ratio{n: [4]float64{1}, d: d}, b.list(c1, c2, r1, r2, r3))
		})
		for _, f := range band.found {
			v := f.values
			k := v[4] * v[1] / (v[2] * (v[0] + v[1]))
			if m < 1 {
				for _, d := range b.dividers(g, 4) { // RA, RF
					for _, rb := range near(b.r, k*d[1]/(g*(1-m)), 4) {
						try(b.list(v[0], v[1], v[2], v[3], v[4], d[1], d[0], rb))
					}
				}
				continue
			}
			for _, d := range b.dividers((m-1)*g/k, 12) { // RB, RF
				share := g / (1 + d[1]/d[0])
				if share >= 1 {
					continue
				}
				for _, e := range b.dividers(share/(1-share), 4) { // RC, RD
					try(b.list(v[0], v[1], v[2], v[3], v[4], d[1], d[0], e[0], e[1]))
				}
			}
		}
	}
	l.build = func(v []float64) ([]Part, []Opamp) {
		p := append(bandParts(v, "b"), resistor("RF", "n", "out", v[5]))
		u := []Opamp{{Name: "U1", Plus: Ground, Minus: "m", Out: "b"}}
		if m > 1 {
			return append(p, resistor("RB", "b", "n", v[6]), resistor("RC", Input, "q", v[7]), resistor("RD", "q", Ground, v[8])),
				append(u, Opamp{Name: "U2", Plus: "q", Minus: "n", Out: "out"})
		}
		return append(p, resistor("RA", Input, "n", v[6]), resistor("RB", "b", "n", v[7])),
			append(u, Opamp{Name: "U2", Plus: Ground, Minus: "n", Out: "out"})
	}
	return l, nil
}
