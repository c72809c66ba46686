package signalpath_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/network"
	"example.org/loudspeaker/speakerlib/signalpath"
)

// A zero-order hold is 20·lg(2/π) = −3.9224 dB at half the sample rate (closed form), and half a
// sample late.
func TestHoldOfAConverter(t *testing.T) {
	d := demoDAC()
	d.Hold = true
	g := must(freq.NewGrid([]float64{10, 100, 24000, 48000}))(t)
	s := must(plain("way", d, signalpath.Amplifier{Name: "amplifier", Gain: 1}).On(g))(t)
	h := must(s.Element("converter"))(t)
	if got, want := level.DB(cmplx.Abs(h.At(3))/cmplx.Abs(h.At(0))), level.DB(2/math.Pi); math.Abs(got-want) > 1e-6 {
		t.Errorf("at half the rate %.5f dB, want %.5f", got, want)
	}
	if got, want := cmplx.Phase(h.At(2)), -math.Pi/4; math.Abs(got-want) > 1e-12 {
		t.Errorf("phase at 24 kHz is %g, want %g", got, want)
	}
	if got, want := cmplx.Abs(h.At(0)), 2*math.Sqrt2; math.Abs(got/want-1) > 1e-6 {
		t.Errorf("full scale is %g V peak, want %g", got, want)
	}
	if l := must(s.Latency(100))(t)[0]; l.Samples != 0.5 || math.Abs(l.Latency-0.5/96000) > 1e-18 {
		t.Errorf("latency is %+v", l)
	}
	if _, err := plain("way", d, signalpath.Amplifier{Name: "amplifier", Gain: 1}).On(must(freq.NewGrid([]float64{50000}))(t)); err == nil || !strings.Contains(err.Error(), "48000 Hz") {
		t.Errorf("beyond half the rate: %v", err)
	}
}

// An A/D converter of 2 V and 110 dB, one with a D/A converter of 2 V behind it, has 2
// V/10^(110/20) of A-weighted noise at the output; its input loads a source of 600 Ω with 10 kΩ,
// 20·lg(10/10.6) = −0.506 dB.
func TestInputSide(t *testing.T) {
	p := plain("way", signalpath.DAC{Name: "converter", Rate: 96000, FullScale: 2}, signalpath.Amplifier{Name: "amplifier", Gain: 1})
	p.Elements = append([]signalpath.Element{
		signalpath.ADC{Name: "input", Rate: 48000, FullScale: 2, DynamicRange: level.Ratio(110), Latency: 12, InputResistance: 10e3},
		signalpath.RateConverter{Name: "rates", From: 48000, To: 96000, Latency: 30, DynamicRange: level.Ratio(125)},
	}, p.Elements...)
	p.SourceResistance = 600
	s := must(p.On(audio(t)))(t)
	rows := must(signalpath.NoiseBudget(setup(), s))(t)
	for i, want := range []struct {
		element string
		volts   float64
	}{{"input", 2 * math.Pow(10, -5.5)}, {"rates", 2 * math.Pow(10, -6.25)}, {"source", math.Sqrt(4*1.380649e-23*293.15*600*12467.18) * 10 / 10.6}} {
		if r := rows[i]; r.Element != want.element || math.Abs(r.Volts/want.volts-1) > 1e-4 {
			t.Errorf("row %d is %+v, want %g V of %s", i, r, want.volts, want.element)
		}
	}
	total := must(s.Response("all"))(t)
	if got, want := cmplx.Abs(total.At(100)), 10/10.6; math.Abs(got-want) > 1e-12 {
		t.Errorf("gain is %g, want %g", got, want)
	}
	if b := total.Basis(); b.Per != freq.PerInput || b.Quantity != freq.Voltage {
		t.Errorf("basis is %v", b)
	}
	for name, unit := range map[string]string{"rates": "FS²/Hz", "source": "V²/Hz", "input": "FS²/Hz", "converter": "V²/Hz"} {
		if c := must(s.ElementNoise(name))(t); c.Unit() != unit {
			t.Errorf("noise of %q is in %q, want %q", name, c.Unit(), unit)
		}
	}
	if _, err := s.TerminalNoise("nobody"); err == nil {
		t.Error("noise of nobody")
	}
	lat := must(s.Latency(1000))(t)
	if got, want := lat[len(lat)-1].Latency, 42.0/48000; math.Abs(got-want) > 1e-15 {
		t.Errorf("latency is %g s, want %g", got, want)
	}
}

// A gain that was measured into 4 Ω behind an output impedance gives into 8 Ω what the divider
// says, and into what it was measured with what was measured.
func TestGainMeasuredIntoALoad(t *testing.T) {
	g := must(freq.NewGrid([]float64{100, 1000, 20000}))(t)
	measured := must(freq.NewResponse(g, []complex128{9.8, 9.7 - 0.1i, 8 - 3i}, "bench", freq.Basis{Quantity: freq.Voltage, Per: freq.PerInput}))(t)
	out := network.Source{R: 0.1, L: 1e-6}
	a := signalpath.Amplifier{Name: "amplifier", Gain: 1, Transfer: measured, MeasuredInto: ohms(4), Output: out}
	p := plain("way", demoDAC(), a)
	p.Elements = p.Elements[1:]
	for _, load := range []float64{4, 8} {
		p.Driver.Impedance = ohms(load)
		h := must(must(p.On(g))(t).Response("h"))(t)
		for i := range h.Len() {
			z := complex(0.1, g.Omega()[i]*1e-6)
			want := measured.At(i) * (4 + z) / 4 * complex(load, 0) / (complex(load, 0) + z)
			if d := cmplx.Abs(h.At(i) - want); d > 1e-13 {
				t.Errorf("into %g Ω at %g Hz %v, want %v", load, g.At(i), h.At(i), want)
			}
			if load == 4 && cmplx.Abs(h.At(i)-measured.At(i)) > 1e-13 {
				t.Errorf("into what it was measured with %v, want %v", h.At(i), measured.At(i))
			}
		}
	}
	if _, err := p.On(audio(t)); err == nil {
		t.Error("a measured gain is known on another grid")
	}
}
