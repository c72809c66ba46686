package activerc

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
)

// bridgedT binds the relocation of a resonance with one amplifier (S. Linkwitz; the design
// equations from memory, checked by nodal analysis). Each arm of the inverting amplifier is a
// T of two equal resistors with a capacitor to ground, bridged by R2 and C2 in series:
//
//	−(R3/R1)·(1 + s·(2R1C2 + R2C2) + s²·R1²C1C2)/(1 + s·(2R3C2 + R2C2) + s²·R3²C3C2)
//	        ·(1 + s·R3C3/2)/(1 + s·R1C1/2)
//
// of which the last factor is 1 when R1·C1 = R3·C3. It has unity gain at high frequencies, and
// with (f₀, Q₀) moved to (f₁, Q₁) it exists for
//
//	k = (f₀/f₁ − Q₀/Q₁)/(Q₀/Q₁ − f₁/f₀) ≥ 0,  R2 = 2k·R1
func bridgedT(s analog.Section) (*layout, error) {
	if err := bridgeable(s); err != nil {
		return nil, err
	}
	l := &layout{slots: slots("C1", "C2", "C3", "R1", "R2", "R3"), inverts: true}
	l.ideal = func(v []float64) ratio {
		c1, c2, c3, r1, r2, r3 := v[0], v[1], v[2], v[3], v[4], v[5]
		k := r3 / r1
		a1, a2, u := (2*r1+r2)*c2, r1*r1*c1*c2, r3*c3/2
		b1, b2, w := (2*r3+r2)*c2, r3*r3*c3*c2, r1*c1/2
		return ratio{
			n: [4]float64{-k, -k * (a1 + u), -k * (a2 + a1*u), -k * a2 * u},
			d: [4]float64{1, b1 + w, b2 + b1*w, b2 * w},
		}
	}
	l.enumerate = func(b bin, try func(v []float64)) {
		for _, c2 := range b.c {
			for _, c1 := range b.c {
				t := 1 / (s.N0 * c1 * c2) // R1²
				for _, r1 := range near(b.r, math.Sqrt(t), 4) {
					for _, r2 := range near(b.r, s.N1/(s.N0*c2)-2*r1, 4) {
						for _, r3 := range near(b.r, r1*s.N0/s.D0, 4) {
							for _, c3 := range near(b.c, 1/(s.D0*r3*r3*c2), 3) {
								try(b.list(c1, c2, c3, r1, r2, r3))
							}
						}
					}
				}
			}
		}
	}
	l.build = func(v []float64) ([]Part, []Opamp) {
		c1, c2, c3, r1, r2, r3 := v[0], v[1], v[2], v[3], v[4], v[5]
		return []Part{
			resistor("R1", Input, "a", r1), resistor("R2", "a", "m", r1), capacitor("C1", "a", Ground, c1),
			resistor("R3", Input, "b", r2), capacitor("C2", "b", "m", c2),
			resistor("R4", "m", "d", r3), resistor("R5", "d", "out", r3), capacitor("C3", "d", Ground, c3),
			resistor("R6", "m", "e", r2), capacitor("C4", "e", "out", c2),
		}, []Opamp{{Name: "U1", Plus: Ground, Minus: "m", Out: "out"}}
	}
	return l, nil
}

// bridgeable reports a section of second order that the bridged T cannot be.
func bridgeable(s analog.Section) error {
	if s.N1 <= 0 || s.N0 <= 0 || math.Abs(s.N2-1) > sameGain {
		return fmt.Errorf("activerc: numerator is %.4g·s² + %.4g·s + %.4g, want one of minimum phase and unity gain far above for %v", s.N2, s.N1, s.N0, BridgedT)
	}
	f0, q0 := resonance(1, s.N1, s.N0)
	f1, q1 := resonance(1, s.D1, s.D0)
	if k := (f0/f1 - q0/q1) / (q0/q1 - f1/f0); !(k >= 0) || math.IsInf(k, 0) {
		return fmt.Errorf("activerc: k of the relocation from %.4g Hz, Q %.4g to %.4g Hz, Q %.4g is %.4g, want a finite one ≥ 0 for %v",
			f0, q0, f1, q1, k, BridgedT)
	}
	return nil
}
