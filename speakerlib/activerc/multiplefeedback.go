package activerc

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/analog"
)

// multipleFeedback binds the sections with multiple feedback (K. T. Delyiannis and others;
// equations from memory, checked by nodal analysis), all inverting:
//
//	low-pass:  −(R2/R1)/(s²·R2R3C1C2 + s·C2·(R2 + R3 + R2R3/R1) + 1)
//	high-pass: −s²·R1R2C1C3/(s²·R1R2C2C3 + s·R1·(C1 + C2 + C3) + 1)
//	band-pass: −s·R3C2·R/R1/(s²·R·R3C1C2 + s·R·(C1 + C2) + 1),  R = R1‖R2
//
// The first two have their gain in R2/R1 and C1/C2; the band-pass has at most Q²·(1 + C2/C1), with
// R2 left out. The capacitors of the high-pass load the
// source and the amplifier at high frequencies.
func multipleFeedback(s analog.Section) (*layout, error) {
	switch kindOf(s) {
	case lowpass:
		return multipleFeedbackLow(s), nil
	case highpass:
		return multipleFeedbackHigh(s), nil
	case bandpass:
		return multipleFeedbackBand(s), nil
	}
	return nil, fmt.Errorf("activerc: numerator is %.4g·s² + %.4g·s + %.4g, want that of a low-pass, high-pass or band-pass for %v",
		s.N2, s.N1, s.N0, MultipleFeedback)
}

func multipleFeedbackLow(s analog.Section) *layout {
	gain := s.N0 / s.D0
	return &layout{
		slots: slots("C1", "C2", "R1", "R2", "R3"), inverts: true,
		ideal: func(v []float64) ratio {
			c1, c2, r1, r2, r3 := v[0], v[1], v[2], v[3], v[4]
			return ratio{n: [4]float64{-r2 / r1}, d: [4]float64{1, c2 * (r2 + r3 + r2*r3/r1), r2 * r3 * c1 * c2}}
		},
		enumerate: func(b bin, try func(v []float64)) {
			for _, c1 := range b.c {
				for _, c2 := range b.c {
					p := 1 / (s.D0 * c1 * c2)
					for _, r2 := range b.r {
						for _, r3 := range near(b.r, p/r2, 2) {
							for _, r1 := range near(b.r, r2/gain, 2) {
								try(b.list(c1, c2, r1, r2, r3))
							}
						}
					}
				}
			}
		},
		build: func(v []float64) ([]Part, []Opamp) {
			return []Part{
				resistor("R1", Input, "a", v[2]), resistor("R2", "a", "out", v[3]), resistor("R3", "a", "m", v[4]),
				capacitor("C1", "a", Ground, v[0]), capacitor("C2", "m", "out", v[1]),
			}, []Opamp{{Name: "U1", Plus: Ground, Minus: "m", Out: "out"}}
		},
	}
}

func multipleFeedbackHigh(s analog.Section) *layout {
	gain := s.N2
	return &layout{
		slots: slots("C1", "C2", "C3", "R1", "R2"), inverts: true,
		ideal: func(v []float64) ratio {
			c1, c2, c3, r1, r2 := v[0], v[1], v[2], v[3], v[4]
			return ratio{
				n: [4]float64{0, 0, -r1 * r2 * c1 * c3},
				d: [4]float64{1, r1 * (c1 + c2 + c3), r1 * r2 * c2 * c3},
			}
		},
		enumerate: func(b bin, try func(v []float64)) {
			for _, c2 := range b.c {
				for _, c1 := range near(b.c, gain*c2, 2) {
					for _, c3 := range b.c {
						for _, r1 := range near(b.r, s.D1/(s.D0*(c1+c2+c3)), 6) {
							for _, r2 := range near(b.r, 1/(s.D0*r1*c2*c3), 2) {
								try(b.list(c1, c2, c3, r1, r2))
							}
						}
					}
				}
			}
		},
		build: func(v []float64) ([]Part, []Opamp) {
			return []Part{
				capacitor("C1", Input, "a", v[0]), capacitor("C2", "a", "out", v[1]), capacitor("C3", "a", "m", v[2]),
				resistor("R1", "a", Ground, v[3]), resistor("R2", "m", "out", v[4]),
			}, []Opamp{{Name: "U1", Plus: Ground, Minus: "m", Out: "out"}}
		},
	}
}

// bandIdeal is the denominator of the band-pass and the factor of s in its numerator.
func bandIdeal(c1, c2, r1, r2, r3 float64) (d [4]float64, n float64) {
	r := r1 * r2 / (r1 + r2)
	return [4]float64{1, r * (c1 + c2), r * r3 * c1 * c2}, -r3 * c2 * r / r1
}

// bandEnumerate tries values of the band-pass with a gain near the one wanted; a gain ≤ 0
// leaves it to the Q.
func bandEnumerate(s analog.Section, gain float64, b bin, try func(c1, c2, r1, r2, r3 float64)) {
	for _, c1 := range b.c {
		for _, c2 := range b.c {
			for _, r3 := range near(b.r, (c1+c2)/(s.D1*c1*c2), 6) {
				r := 1 / (s.D0 * c1 * c2 * r3)
				most := r3 * c2 / (r * (c1 + c2))
				k := gain
				if k <= 0 {
					k = min(1, most/2)
				}
				if k >= most {
					continue
				}
				for _, r1 := range near(b.r, r*most/k, 6) {
					if r1 <= r {
						continue
					}
					for _, r2 := range near(b.r, 1/(1/r-1/r1), 2) {
						try(c1, c2, r1, r2, r3)
					}
				}
			}
		}
	}
}

func bandParts(v []float64, out Node) []Part {
	return []Part{
		resistor("R1", Input, "a", v[2]), resistor("R2", "a", Ground, v[3]), resistor("R3", "m", out, v[4]),
		capacitor("C1", "a", out, v[0]), capacitor("C2", "a", "m", v[1]),
	}
}

func multipleFeedbackBand(s analog.Section) *layout {
	return &layout{
		slots: slots("C1", "C2", "R1", "R2", "R3"), inverts: true,
		ideal: func(v []float64) ratio {
			d, n := bandIdeal(v[0], v[1], v[2], v[3], v[4])
			return ratio{n: [4]float64{0, n}, d: d}
		},
		enumerate: func(b bin, try func(v []float64)) {
			bandEnumerate(s, s.N1/s.D1, b, func(c1, c2, r1, r2, r3 float64) { try(b.list(c1, c2, r1, r2, r3)) })
		},
		build: func(v []float64) ([]Part, []Opamp) {
			return bandParts(v, "out"), []Opamp{{Name: "U1", Plus: Ground, Minus: "m", Out: "out"}}
		},
	}
}
