package activerc

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
)

// stateVariable binds the circuit of W. J. Kerwin, L. P. Huelsman and R. W. Newcomb,
// "State-variable synthesis for insensitive integrated circuit transfer functions", IEEE J.
// Solid-State Circuits SC-2 (1967), fed at the inverting input (equations from memory,
// checked by nodal analysis). With τ1 = R3·C, τ2 = R4·C, K = R/R1 and β = R8/(R7 + R8)
//
//	D = s²·τ1τ2 + s·(2 + K)·β·τ2 + 1
//	HP = −K·s²τ1τ2/D,  BP = +K·sτ2/D,  LP = −K/D
//
// What has one of these numerators takes it from there. Any other, with K = 1, is a sum by a
// fourth amplifier: HP and LP over RH and RL, BP over RA to the same node if N1 < 0, and over
// the divider RA, RB to its other input if N1 > 0:
//
//	N = (RF/RH)·s²τ1τ2 + g·sτ2 + RF/RL,  g = (1 + RF/(RH‖RL))·RB/(RA + RB) or −RF/RA
func stateVariable(s analog.Section) (*layout, error) {
	if kindOf(s) != general {
		return stateVariablePure(s), nil
	}
	if s.N0 < 0 || s.N2 < 0 {
		return nil, fmt.Errorf("activerc: numerator is %.4g·s² + %.4g·s + %.4g with zeros on both sides of 0, want s² and the constant of one sign for %v",
			s.N2, s.N1, s.N0, StateVariable)
	}
	return stateVariableSum(s), nil
}

func stateDenominator(c, r3, r4, r7, r8, k float64) [4]float64 {
	t1, t2 := r3*c, r4*c
	return [4]float64{1, (2 + k) * r8 / (r7 + r8) * t2, t1 * t2}
}

// stateEnumerate tries loops with the ω0 and Q of the section, K as given.
func stateEnumerate(s analog.Section, k float64, b bin, try func(c, r3, r4, r7, r8 float64)) {
	var ends []float64
	for _, r := range []float64{2e3, 5e3, 10e3, 20e3} {
		ends = append(ends, b.r[nearest(b.r, r)])
	}
	for _, c := range b.c {
		for _, r4 := range b.r {
			r := 1 / (s.D0 * c * c * r4)
			if r > 8*r4 || r < r4/8 {
				continue
			}
			beta := s.D1 / s.D0 / ((2 + k) * r4 * c)
			if beta >= 1 {
				continue
			}
			for _, r3 := range near(b.r, r, 2) {
				for _, r8 := range ends {
					for _, r7 := range near(b.r, r8*(1-beta)/beta, 2) {
						try(c, r3, r4, r7, r8)
					}
				}
			}
		}
	}
}

// stateParts are those of the loop, with outputs h, b and l.
func stateParts(c, r3, r4, r7, r8, r, r1 float64) ([]Part, []Opamp) {
	return []Part{
			resistor("R1", Input, "m", r1), resistor("R5", "l", "m", r), resistor("R6", "h", "m", r),
			resistor("R7", "b", "p", r7), resistor("R8", "p", Ground, r8),
			resistor("R3", "h", "i", r3), capacitor("C1", "i", "b", c),
			resistor("R4", "b", "j", r4), capacitor("C2", "j", "l", c),
		}, []Opamp{
			{Name: "U1", Plus: "p", Minus: "m", Out: "h"},
			{Name: "U2", Plus: Ground, Minus: "i", Out: "b"},
			{Name: "U3", Plus: Ground, Minus: "j", Out: "l"},
		}
}

func stateVariablePure(s analog.Section) *layout {
	k := kindOf(s)
	l := &layout{slots: slots("C1", "R3", "R4", "R7", "R8", "R1", "R5"), inverts: k != bandpass}
	l.ideal = func(v []float64) ratio {
		gain := v[6] / v[5]
		d := stateDenominator(v[0], v[1], v[2], v[3], v[4], gain)
		r := ratio{d: d}
		switch k {
		case lowpass:
			r.n[0] = -gain
		case bandpass:
			r.n[1] = gain * v[2] * v[0]
		default:
			r.n[2] = -gain * d[2]
		}
		return r
	}
	l.enumerate = func(b bin, try func(v []float64)) {
		r := b.base()
		gains := []float64{s.N0 / s.D0, 1, s.N2}
		if k == bandpass {
			// The gain at ω0 is K/((2 + K)·β) and β sets the Q, so that K follows from both for
			// equal integrators: (2 + K)·β = 1/Q.
			_, q := resonance(s.D2, s.D1, s.D0)
			gains[bandpass] = s.N1 / s.D1 / q
		}
		some := 3
		if k == bandpass {
			some = 15 // unequal integrators make up for another K
		}
		for _, r1 := range near(b.r, r/gains[k], some) {
			stateEnumerate(s, r/r1, b, func(c, r3, r4, r7, r8 float64) { try(b.list(c, r3, r4, r7, r8, r1, r)) })
		}
	}
	l.build = func(v []float64) ([]Part, []Opamp) {
		p, u := stateParts(v[0], v[1], v[2], v[3], v[4], v[6], v[5])
		// the output is that of the last amplifier, called out
		last := [...]Node{lowpass: "l", bandpass: "b", highpass: "h"}[k]
		return renamed(p, u, last)
	}
	return l
}

// renamed calls a node out, and puts the amplifier that drives it last.
func renamed(p []Part, u []Opamp, n Node) ([]Part, []Opamp) {
	to := func(m *Node) {
		if *m == n {
			*m = "out"
		}
	}
	for i := range p {
		to(&p[i].A)
		to(&p[i].B)
	}
	for i := range u {
		to(&u[i].Plus)
		to(&u[i].Minus)
		to(&u[i].Out)
	}
	return p, u
}

func stateVariableSum(s analog.Section) *layout {
	names := []string{"C1", "R3", "R4", "R7", "R8", "R5", "RF"}
	h, lo, ra, rb := -1, -1, -1, -1
	place := func(at *int, name string) {
		*at = len(names)
		names = append(names, name)
	}
	if s.N2 != 0 {
		place(&h, "RH")
	}
	if s.N0 != 0 {
		place(&lo, "RL")
	}
	if s.N1 != 0 {
		place(&ra, "RA")
	}
	if s.N1 > 0 {
		place(&rb, "RB")
	}
	over := func(v []float64, i int) float64 { // RF over the resistor, 0 if it is not there
		if i < 0 {
			return 0
		}
		return v[6] / v[i]
	}
	l := &layout{slots: slots(names...)}
	l.ideal = func(v []float64) ratio {
		d := stateDenominator(v[0], v[1], v[2], v[3], v[4], 1)
		g := -over(v, ra)
		if s.N1 > 0 {
			g = (1 + over(v, h) + over(v, lo)) * v[rb] / (v[ra] + v[rb])
		}
		return ratio{n: [4]float64{over(v, lo), g * v[2] * v[0], over(v, h) * d[2]}, d: d}
	}
	l.enumerate = func(b bin, try func(v []float64)) {
		loop := newFinder(ratioOf(analog.Section{N0: s.D0, D2: s.D2, D1: s.D1, D0: s.D0}), 24, 0, nil)
		high, low := s.N2, s.N0/s.D0
		stateEnumerate(s, 1, b, func(c, r3, r4, r7, r8 float64) {
			if s.N1 > 0 && s.N1/(s.D0*r4*c) >= 1+high+low {
				return // more of the band-pass than the sum can take
			}
			loop.consider(ratio{n: [4]float64{1}, d: stateDenominator(c, r3, r4, r7, r8, 1)}, b.list(c, r3, r4, r7, r8))
		})
		v := make([]float64, len(names))
		for _, f := range loop.found {
			copy(v, f.values)
			v[5] = b.base()
			g := math.Abs(s.N1) / (s.D0 * v[2] * v[0])
			for _, rf := range b.r {
				if rf < 5e3 || rf > 50e3 {
					continue
				}
				v[6] = rf
				rh, rl := []float64{0}, []float64{0}
				if h >= 0 {
					rh = near(b.r, rf/high, 2)
				}
				if lo >= 0 {
					rl = near(b.r, rf/low, 2)
				}
				for _, x := range rh {
					for _, y := range rl {
						if h >= 0 {
							v[h] = x
						}
						if lo >= 0 {
							v[lo] = y
						}
						switch {
						case s.N1 == 0:
							try(v)
						case s.N1 < 0:
							for _, a := range near(b.r, rf/g, 2) {
								v[ra] = a
								try(v)
							}
						default:
							share := g / (1 + over(v, h) + over(v, lo))
							v[rb] = b.base()
							for _, a := range near(b.r, v[rb]*(1-share)/share, 2) {
								v[ra] = a
								try(v)
							}
						}
					}
				}
			}
		}
	}
	l.build = func(v []float64) ([]Part, []Opamp) {
		p, u := stateParts(v[0], v[1], v[2], v[3], v[4], v[5], v[5])
		p = append(p, resistor("RF", "n", "out", v[6]))
		if h >= 0 {
			p = append(p, resistor("RH", "h", "n", v[h]))
		}
		if lo >= 0 {
			p = append(p, resistor("RL", "l", "n", v[lo]))
		}
		plus := Ground
		switch {
		case s.N1 > 0:
			plus = "q"
			p = append(p, resistor("RA", "b", "q", v[ra]), resistor("RB", "q", Ground, v[rb]))
		case s.N1 < 0:
			p = append(p, resistor("RA", "b", "n", v[ra]))
		}
		return p, append(u, Opamp{Name: "U4", Plus: plus, Minus: "n", Out: "out"})
	}
	return l
}
