package signalpath_test

import (
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/network"
	"example.org/loudspeaker/speakerlib/signalpath"
	"example.org/loudspeaker/speakerlib/twoport"
)

// The exact line of R, L and C per metre (characteristic impedance √(Z/Y), propagation √(Z·Y))
// against the cable's halves of its capacitance: 40 m, invented, so that the difference shows. The
// series impedance is off by (γl)²/6, so at 20 kHz by 3e-4 of what it takes from 8 Ω, and at 200
// kHz a hundred times as much.
func TestCableIsALineOfFirstOrder(t *testing.T) {
	const length, r, l, c = 40.0, 0.02, 0.6e-6, 100e-12
	p := plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 1, Output: network.Source{R: 0.1}})
	p.Elements = append(p.Elements[1:], signalpath.Cable{Name: "cable", Length: length, Resistance: r, Inductance: l, Capacitance: c})
	g := must(freq.LogGrid(1000, 200000, 3))(t)
	h := must(must(p.On(g))(t).Response("h"))(t)
	for i, w := range g.Omega() {
		z, y := complex(r, w*l), complex(0, w*c)
		line := twoport.Cascade(twoport.Series(0.1), twoport.Line(cmplx.Sqrt(z/y), cmplx.Sqrt(z*y)*length))
		exact := 8 / (8*line.A + line.B)
		gl := z * y * length * length
		bound := cmplx.Abs(gl) / 6 * cmplx.Abs(z) * length / 8
		d := cmplx.Abs(h.At(i)-exact) / cmplx.Abs(exact)
		if d > 1.5*bound {
			t.Errorf("at %.0f Hz off by %.2g, want at most %.2g", g.At(i), d, 1.5*bound)
		}
		if i == g.Len()-1 && d < 0.3*bound {
			t.Errorf("at %.0f Hz off by %.2g, far less than the bound of %.2g says", g.At(i), d, bound)
		}
	}
}

// A pad of two resistors by the divider, seen from an output of 1 Ω: 20 Ω in the way, 8 and 8 Ω
// across.
func TestPad(t *testing.T) {
	p := plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 1, Output: network.Source{R: 1}})
	p.Elements = append(p.Elements[1:], signalpath.Resistor{Name: "series", R: 20}, signalpath.Resistor{Name: "across", R: 8, Across: true})
	s := must(p.On(must(freq.NewGrid([]float64{1000}))(t)))(t)
	if got := must(s.Response("h"))(t).At(0); cmplx.Abs(got-4.0/25) > 1e-15 {
		t.Errorf("gain is %v, want 4/25", got)
	}
	if got := must(s.OutputImpedance("z"))(t).At(0); cmplx.Abs(got-21.0*8/29) > 1e-14 {
		t.Errorf("output impedance is %v, want 21 Ω beside 8 Ω", got)
	}
	if got := must(s.Element("amplifier"))(t).At(0); cmplx.Abs(got-24.0/25) > 1e-15 {
		t.Errorf("amplifier gives %v of its open voltage, want 24/25", got)
	}
}
