package network

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
)

// Ladder returns the parts of the lossless ladder that gives a resistive load the response
// of a prototype when it is fed from a source without resistance: the textbook network of one
// way. From the input on there are alternately a part in series and one across (low-pass: coil
// first; high-pass: capacitor first), as many as the order. The parts are called name1, name2,
// …; input, ground and the node of the load are as given, the nodes between are called after the
// parts. The load itself is not among them.
//
// With D(s) = M + N, the even and odd parts of the denominator, the ladder seen from the load
// with its input shorted is y₂₂ = M/N, and the values are those of its continued fraction
// (Cauer; E. A. Guillemin, Synthesis of Passive Networks, 1957; from memory), for 1 Ω and
// 1 rad/s. The low-pass has L = l·R/ω₀ and C = c/(R·ω₀), the high-pass C = 1/(l·R·ω₀) and
// L = R/(c·ω₀). So Butterworth of second order has L = √2·R/ω₀ and C = 1/(√2·R·ω₀), and
// Linkwitz–Riley of second order L = 2R/ω₀ and C = 1/(2R·ω₀). Exact to rounding.
//
// No driver is a resistor: [Flatten] makes one look like it. band is [analog.Lowpass] or
// [analog.Highpass]. Prototypes with zeros have no such ladder; what one without them loses
// at direct current (Chebyshev of even order) the ladder does not: its pass band is higher
// by as much.
func Ladder(band analog.Band, p analog.Prototype, r float64, name string, input, load NodeID) ([]Part, error) {
	if err := positive("the load", "resistance", r, "Ω"); err != nil {
		return nil, err
	}
	var hz float64
	high := false
	switch b := band.(type) {
	case analog.Lowpass:
		hz = b.Fc
	case analog.Highpass:
		hz, high = b.Fc, true
	default:
		return nil, fmt.Errorf("network: ladder for %v, want a low-pass or a high-pass", band)
	}
	if err := positive(name, "corner frequency", hz, "Hz"); err != nil {
		return nil, err
	}
	if p == nil {
		return nil, fmt.Errorf("network: ladder has no prototype, want one")
	}
	if q, ok := p.(analog.ZeroedPrototype); ok {
		zeros, err := q.Zeros()
		if err != nil {
			return nil, err
		}
		if len(zeros) > 0 {
			return nil, fmt.Errorf("network: ladder for %v, which has zeros; want poles only", p)
		}
	}
	poles, err := p.Poles()
	if err != nil {
		return nil, err
	}
	if len(poles) == 0 {
		return nil, fmt.Errorf("network: ladder for %v, which has no poles; want at least 1", p)
	}
	values, err := cauer(denominator(poles))
	if err != nil {
		return nil, err
	}
	w := 2 * math.Pi * hz
	parts := make([]Part, len(values))
	from := input
	for i, v := range values {
		label := fmt.Sprintf("%s%d", name, i+1)
		a, b := from, Ground
		if i%2 == 0 { // in series
			b = NodeID(label)
			if i+2 >= len(values) {
				b = load
			}
			from = b
		}
		switch {
		case i%2 == 0 && !high:
			parts[i] = Inductor{Name: label, A: a, B: b, L: v * r / w}
		case i%2 == 0:
			parts[i] = Capacitor{Name: label, A: a, B: b, C: 1 / (v * r * w)}
		case !high:
			parts[i] = Capacitor{Name: label, A: a, B: b, C: v / (r * w)}
		default:
			parts[i] = Inductor{Name: label, A: a, B: b, L: r / (v * w)}
		}
	}
	return parts, nil
}

// denominator returns the coefficients of Π (1 − s/p), of ascending powers.
func denominator(poles []complex128) []float64 {
	c := []complex128{1}
	for _, p := range poles {
		next := make([]complex128, len(c)+1)
		for i, v := range c {
			next[i] += v
			next[i+1] -= v / p
		}
		c = next
	}
	d := make([]float64, len(c))
	for i, v := range c {
		d[i] = real(v)
	}
	return d
}

// cauer returns the elements of the ladder of a denominator, from the source on.
func cauer(d []float64) ([]float64, error) {
	n := len(d) - 1
	// top has the powers n, n−2, …, and bottom n−1, n−3, …
	var top, bottom []float64
	for k := n; k >= 0; k -= 2 {
		top = append(top, d[k])
	}
	for k := n - 1; k >= 0; k -= 2 {
		bottom = append(bottom, d[k])
	}
	values := make([]float64, n)
	for i := n - 1; i >= 0; i-- { // from the load
		q := top[0] / bottom[0]
		if !(q > 0) || math.IsInf(q, 0) {
			return nil, fmt.Errorf("network: element %d of the ladder is %g, want a positive one: the poles are not all in the left half plane", i+1, q)
		}
		values[i] = q
		rest := make([]float64, 0, len(top))
		for k := 1; k < len(top); k++ {
			v := top[k]
			if k < len(bottom) {
				v -= q * bottom[k]
			}
			rest = append(rest, v)
		}
		top, bottom = bottom, rest
	}
	return values, nil
}

// Resonator is what of a driver's impedance is above its Re: the mechanical resonance as the
// electrical parallel circuit of R, L and C.
type Resonator struct{ R, L, C float64 }

// Flatten returns the parts that, across a driver of the impedance
//
//	Z = Re + jω·Le + 1/(1/R + 1/(jωL) + jωC)
//
// between a and b, make the pair a resistance Re at all frequencies: Re in series with the dual
// of the rest, Re²/(Z − Re), that is with C = Le/Re² in parallel to the series circuit of
// R′ = Re²/R, L′ = C·Re² and C′ = L/Re². Exact for this Z; real coils are not an inductance, so
// that the value of Le is a compromise over the band that matters. Without a resonator (nil)
// it is the cell of Re and Le/Re² alone (O. J. Zobel, Bell Syst. Tech. J. 2, 1923; from
// memory). Without Le it is the resonant branch alone; one of both must be there.
//
// The resistance of the coil is what its wire may have: what is missing to it is a resistor more
// in that branch. The cell dissipates what its resistor gets above the band: ask [Solution.Stress].
func Flatten(re, le float64, motional *Resonator, name string, a, b NodeID) ([]Part, error) {
	if err := positive(name, "Re", re, "Ω"); err != nil {
		return nil, err
	}
	if err := notNegative(name, "Le", le, "H"); err != nil {
		return nil, err
	}
	if le == 0 && motional == nil {
		return nil, fmt.Errorf("network: %q has to flatten neither an inductance nor a resonance, want one or both", name)
	}
	inner := NodeID(name + "R")
	parts := []Part{Resistor{Name: name + "R", A: a, B: inner, R: re}}
	if le > 0 {
		parts = append(parts, Capacitor{Name: name + "C", A: inner, B: b, C: le / (re * re)})
	}
	if motional == nil {
		return parts, nil
	}
	for _, v := range []struct {
		what string
		v    float64
		unit string
	}{{"resistance", motional.R, "Ω"}, {"inductance", motional.L, "H"}, {"capacitance", motional.C, "F"}} {
		if err := positive("the resonance", v.what, v.v, v.unit); err != nil {
			return nil, err
		}
	}
	coil := NodeID(name + "RL")
	return append(parts,
		Inductor{Name: name + "RL", A: inner, B: coil, L: motional.C * re * re, R: re * re / motional.R},
		Capacitor{Name: name + "RC", A: coil, B: b, C: motional.L / (re * re)},
	), nil
}

// Pad is an L-pad: a resistor in series, and one across the load.
type Pad struct{ Series, Shunt float64 } // Ω

// PadFor returns the pad that gives a load of r ohm the share ratio of the voltage before it,
// 0 < ratio < 1, and has itself r ohm at its input:
//
//	Series = r·(1 − k),  Shunt = r·k/(1 − k)
//
// (closed form of the divider). With a driver, r is its impedance where it plays; the more the
// pad takes, the less that matters.
func PadFor(r, ratio float64) (Pad, error) {
	if err := positive("the load", "resistance", r, "Ω"); err != nil {
		return Pad{}, err
	}
	if !(ratio > 0 && ratio < 1) {
		return Pad{}, fmt.Errorf("network: pad to %g of the voltage, want a ratio between 0 and 1", ratio)
	}
	return Pad{Series: r * (1 - ratio), Shunt: r * ratio / (1 - ratio)}, nil
}

// Parts returns the two resistors, called name1 and name2, from a node to the one of the load.
func (p Pad) Parts(name string, from, load NodeID) []Part {
	return []Part{
		Resistor{Name: name + "1", A: from, B: load, R: p.Series},
		Resistor{Name: name + "2", A: load, B: Ground, R: p.Shunt},
	}
}
