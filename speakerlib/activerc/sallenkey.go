package activerc

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/analog"
)

// sallenKey binds the low-pass and the high-pass of R. P. Sallen and E. L. Key, "A practical
// method of designing RC active filters", IRE Trans. Circuit Theory CT-2 (1955); equations
// from memory, checked by nodal analysis. With K = 1 + RB/RA, or 1 without both,
//
//	low-pass:  K/(s²·R1R2C1C2 + s·(R1C2 + R2C2 + (1−K)·R1C1) + 1)
//	high-pass: K·s²R1R2C1C2/(s²·R1R2C1C2 + s·(R1C1 + R1C2 + (1−K)·R2C2) + 1)
//
// In the low-pass R1 and R2 lead from the input to the amplifier and C1 from between them to
// the output; in the high-pass R and C have changed places. At unity gain R1 and R2 of the
// low-pass, and C1 and C2 of the high-pass, could be exchanged with an ideal amplifier; with a
// real one f0 moves by −½·(R1C1 + R1C2 + R2C2)/(R1R2C1C2·ω_t) of itself, so that the lesser R1
// and C2 are taken.
func sallenKey(s analog.Section) (*layout, error) {
	k := kindOf(s)
	gain := s.N0 / s.D0
	if k == highpass {
		gain = s.N2
	}
	if k != lowpass && k != highpass {
		return nil, fmt.Errorf("activerc: numerator is %.4g·s² + %.4g·s + %.4g, want that of a low-pass or high-pass for %v", s.N2, s.N1, s.N0, SallenKey)
	}
	if gain < 1-sameGain {
		return nil, fmt.Errorf("activerc: gain is %.4g, want at least 1 for %v", gain, SallenKey)
	}
	unity := gain < 1+sameGain
	l := &layout{slots: slots("C1", "C2", "R1", "R2")}
	if !unity {
		l.slots = slots("C1", "C2", "R1", "R2", "RA", "RB")
	}
	amplification := func(v []float64) float64 {
		if unity {
			return 1
		}
		return 1 + v[5]/v[4]
	}
	l.ideal = func(v []float64) ratio {
		c1, c2, r1, r2, g := v[0], v[1], v[2], v[3], amplification(v)
		p := r1 * r2 * c1 * c2
		if k == lowpass {
			return ratio{n: [4]float64{g}, d: [4]float64{1, (r1+r2)*c2 + (1-g)*r1*c1, p}}
		}
		return ratio{n: [4]float64{0, 0, g * p}, d: [4]float64{1, r1*(c1+c2) + (1-g)*r2*c2, p}}
	}
	l.enumerate = func(b bin, try func(v []float64)) {
		dividers := [][2]float64{{}}
		if !unity {
			dividers = b.dividers(gain-1, 6)
		}
		for _, c1 := range b.c {
			for _, c2 := range b.c {
				p := 1 / (s.D0 * c1 * c2)
				if unity && k == highpass && c2 > c1 {
					break
				}
				for _, r1 := range b.r {
					for _, r2 := range near(b.r, p/r1, 2) {
						if unity && k == lowpass && r1 > r2 {
							continue
						}
						for _, d := range dividers {
							if unity {
								try(b.list(c1, c2, r1, r2))
							} else {
								try(b.list(c1, c2, r1, r2, d[0], d[1]))
							}
						}
					}
				}
			}
		}
	}
	l.build = func(v []float64) ([]Part, []Opamp) {
		var p []Part
		if k == lowpass {
			p = []Part{
				resistor("R1", Input, "a", v[2]), resistor("R2", "a", "p", v[3]),
				capacitor("C1", "a", "out", v[0]), capacitor("C2", "p", Ground, v[1]),
			}
		} else {
			p = []Part{
				capacitor("C1", Input, "a", v[0]), capacitor("C2", "a", "p", v[1]),
				resistor("R1", "a", "out", v[2]), resistor("R2", "p", Ground, v[3]),
			}
		}
		minus := Node("out")
		if !unity {
			minus = "m"
			p = append(p, resistor("RA", "m", Ground, v[4]), resistor("RB", "m", "out", v[5]))
		}
		return p, []Opamp{{Name: "U1", Plus: "p", Minus: minus, Out: "out"}}
	}
	return l, nil
}
