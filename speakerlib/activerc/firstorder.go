package activerc

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
)

// firstOrder binds the sections of first order (textbook circuits, checked by nodal analysis):
//
//	low-pass, high-pass:    K/(1 + sR1C1), K·sR1C1/(1 + sR1C1),  K = 1 + RB/RA ≥ 1
//	the same below 1:       −(R2/R1)/(1 + sR2C1), −sR2C1/(1 + sR1C1)
//	all-pass:               (1 − sR1C1)/(1 + sR1C1), its two other resistors RA equal
//	shelf:                  −(R2/R1)·(1 + sR1C1)/(1 + sR2C2)
func firstOrder(s analog.Section) (*layout, error) {
	low, high := s.N0/s.D0, s.N1
	switch {
	case s.N1 == 0 && low > 1-sameGain:
		return buffered(s, low, false), nil
	case s.N0 == 0 && high > 1-sameGain:
		return buffered(s, high, true), nil
	case s.N1 == 0 || s.N0 == 0:
		return attenuating(s), nil
	case s.N1 < 0:
		if math.Abs(high+1) > sameGain || math.Abs(low-1) > sameGain {
			return nil, fmt.Errorf("activerc: section has its zero at +%.4g rad/s with gains of %.4g and %.4g, want an all-pass of gain 1 or a zero left of 0",
				-s.N0/s.N1, low, high)
		}
		return firstAllpass(s), nil
	}
	return shelf(s), nil
}

func buffered(s analog.Section, gain float64, high bool) *layout {
	unity := gain < 1+sameGain
	l := &layout{slots: slots("C1", "R1")}
	if !unity {
		l.slots = slots("C1", "R1", "RA", "RB")
	}
	l.ideal = func(v []float64) ratio {
		k, t := 1.0, v[0]*v[1]
		if !unity {
			k += v[3] / v[2]
		}
		if high {
			return ratio{n: [4]float64{0, k * t}, d: [4]float64{1, t}}
		}
		return ratio{n: [4]float64{k}, d: [4]float64{1, t}}
	}
	l.enumerate = func(b bin, try func(v []float64)) {
		dividers := [][2]float64{{}}
		if !unity {
			dividers = b.dividers(gain-1, 32)
		}
		for _, c := range b.c {
			for _, r := range near(b.r, 1/(s.D0*c), 2) {
				for _, d := range dividers {
					if unity {
						try(b.list(c, r))
					} else {
						try(b.list(c, r, d[0], d[1]))
					}
				}
			}
		}
	}
	l.build = func(v []float64) ([]Part, []Opamp) {
		p := []Part{resistor("R1", Input, "p", v[1]), capacitor("C1", "p", Ground, v[0])}
		if high {
			p = []Part{capacitor("C1", Input, "p", v[0]), resistor("R1", "p", Ground, v[1])}
		}
		minus := Node("out")
		if !unity {
			minus = "m"
			p = append(p, resistor("RA", "m", Ground, v[2]), resistor("RB", "m", "out", v[3]))
		}
		return p, []Opamp{{Name: "U1", Plus: "p", Minus: minus, Out: "out"}}
	}
	return l
}

func attenuating(s analog.Section) *layout {
	high := s.N0 == 0
	l := &layout{slots: slots("C1", "R1", "R2"), inverts: true}
	l.ideal = func(v []float64) ratio {
		c, r1, r2 := v[0], v[1], v[2]
		if high {
			return ratio{n: [4]float64{0, -r2 * c}, d: [4]float64{1, r1 * c}}
		}
		return ratio{n: [4]float64{-r2 / r1}, d: [4]float64{1, r2 * c}}
	}
	l.enumerate = func(b bin, try func(v []float64)) {
		for _, c := range b.c {
			t := 1 / (s.D0 * c)
			if high {
				for _, r1 := range near(b.r, t, 3) {
					for _, r2 := range near(b.r, r1*s.N1, 2) {
						try(b.list(c, r1, r2))
					}
				}
				continue
			}
			for _, r2 := range near(b.r, t, 3) {
				for _, r1 := range near(b.r, r2*s.D0/s.N0, 2) {
					try(b.list(c, r1, r2))
				}
			}
		}
	}
	l.build = func(v []float64) ([]Part, []Opamp) {
		u := []Opamp{{Name: "U1", Plus: Ground, Minus: "m", Out: "out"}}
		if high {
			return []Part{capacitor("C1", Input, "a", v[0]), resistor("R1", "a", "m", v[1]), resistor("R2", "m", "out", v[2])}, u
		}
		return []Part{resistor("R1", Input, "m", v[1]), resistor("R2", "m", "out", v[2]), capacitor("C1", "m", "out", v[0])}, u
	}
	return l
}

func firstAllpass(s analog.Section) *layout {
	return &layout{
		slots: slots("C1", "R1", "RA"),
		ideal: func(v []float64) ratio {
			t := v[0] * v[1]
			return ratio{n: [4]float64{1, -t}, d: [4]float64{1, t}}
		},
		enumerate: func(b bin, try func(v []float64)) {
			for _, c := range b.c {
				for _, r := range near(b.r, 1/(s.D0*c), 2) {
					try(b.list(c, r, b.base()))
				}
			}
		},
		build: func(v []float64) ([]Part, []Opamp) {
			return []Part{
				resistor("R1", Input, "p", v[1]), capacitor("C1", "p", Ground, v[0]),
				resistor("RA", Input, "m", v[2]), resistor("RB", "m", "out", v[2]),
			}, []Opamp{{Name: "U1", Plus: "p", Minus: "m", Out: "out"}}
		},
	}
}

func shelf(s analog.Section) *layout {
	return &layout{
		slots: slots("C1", "C2", "R1", "R2"), inverts: true,
		ideal: func(v []float64) ratio {
			c1, c2, r1, r2 := v[0], v[1], v[2], v[3]
			return ratio{n: [4]float64{-r2 / r1, -r2 * c1}, d: [4]float64{1, r2 * c2}}
		},
		enumerate: func(b bin, try func(v []float64)) {
			for _, c1 := range b.c {
				for _, r1 := range near(b.r, s.N1/(s.N0*c1), 3) {
					for _, c2 := range b.c {
						for _, r2 := range near(b.r, 1/(s.D0*c2), 3) {
							try(b.list(c1, c2, r1, r2))
						}
					}
				}
			}
		},
		build: func(v []float64) ([]Part, []Opamp) {
			return []Part{
				resistor("R1", Input, "m", v[2]), capacitor("C1", Input, "m", v[0]),
				resistor("R2", "m", "out", v[3]), capacitor("C2", "m", "out", v[1]),
			}, []Opamp{{Name: "U1", Plus: Ground, Minus: "m", Out: "out"}}
		},
	}
}
