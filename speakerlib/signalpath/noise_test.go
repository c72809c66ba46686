package signalpath_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/network"
	"example.org/loudspeaker/speakerlib/signalpath"
)

func audio(t testing.TB) *freq.Grid { return must(freq.LogGrid(20, 20000, 48))(t) }

// ohms is a resistance as a load.
func ohms(r float64) freq.Transfer { return freq.Gain(r) }

// plain is a converter, an amplifier and a resistance that makes 1 Pa of 1 V: invented.
func plain(name string, c signalpath.DAC, a signalpath.Amplifier) signalpath.Path {
	pressure, basis := evenPressure(1)
	return signalpath.Path{Name: name, Elements: []signalpath.Element{c, a},
		Driver: signalpath.Driver{Name: "driver", Impedance: ohms(8), Pressure: pressure, Basis: basis}}
}

func demoDAC() signalpath.DAC {
	return signalpath.DAC{Name: "converter", Rate: 96000, FullScale: 2, DynamicRange: level.Ratio(112),
		Clock: signalpath.Clock{Name: "crystal", Tolerance: 50e-6}}
}

func setup() signalpath.NoiseSetup {
	return signalpath.NoiseSetup{Distance: 1, Air: air.Medium{Density: 1.2, SpeedOfSound: 343}, Weighting: level.A}
}

// A converter of 112 dB(A) re 2 V has 2 V/10^(112/20) = 5.0238 µV(A), and 50.238 µV(A) behind 20
// dB: by hand. An amplifier of 30 µV(A) adds by power. At 1 Pa/V the sum is 20·lg(58.513 µV/20
// µPa) = 9.325 dB(A).
func TestNoiseBudgetOfADataSheet(t *testing.T) {
	s := must(plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 10, OutputNoise: 30e-6}).On(audio(t)))(t)
	rows := must(signalpath.NoiseBudget(setup(), s))(t)
	want := []struct {
		element string
		volts   float64
	}{{"converter", 50.2377e-6}, {"amplifier", 30e-6}, {"all", 58.5130e-6}}
	if len(rows) != len(want)+1 {
		t.Fatalf("%d rows, want %d: %v", len(rows), len(want)+1, rows)
	}
	for i, w := range want {
		r := rows[i]
		if r.Element != w.element || math.Abs(r.Volts/w.volts-1) > 1e-4 || math.Abs(r.Level-level.SPL(w.volts)) > 1e-3 {
			t.Errorf("row %d is %+v, want %s of %g V", i, r, w.element, w.volts)
		}
	}
	if d := math.Abs(rows[0].Share + rows[1].Share - 1); d > 1e-12 {
		t.Errorf("shares are off 1 by %g", d)
	}
	if r := rows[3]; r.Way != "sum" || r.Volts != 0 || r.Level != rows[2].Level || r.Share != 1 {
		t.Errorf("last row is %+v", r)
	}
}

// The A-weighted bandwidth of white noise is 12467.1838120206 Hz within 20 Hz … 20 kHz and
// 12462.672894062 within 200 Hz … 20 kHz, by quadrature in 30 digits (testdata/weighting.py of package
// level).
func TestWeightedBandwidthOfWhiteNoise(t *testing.T) {
	const density = 1e-14
	for _, c := range []struct {
		perOctave          int
		lowest, from, want float64
		off                float64
	}{{48, 20, 0, 12467.1838120206, 5e-5}, {24, 20, 0, 12467.1838120206, 2e-4}, {48, 200, 200, 12462.672894062, 5e-5}} {
		g := must(freq.LogGrid(c.lowest, 20000, c.perOctave))(t)
		p := plain("way", signalpath.DAC{Name: "converter", Rate: 96000, FullScale: 2, Noise: signalpath.Density[signalpath.Volt]{White: density}},
			signalpath.Amplifier{Name: "amplifier", Gain: 1})
		n := setup()
		n.From = c.from
		s := must(p.On(g))(t)
		rows := must(signalpath.NoiseBudget(n, s))(t)
		got := rows[0].Volts * rows[0].Volts / density
		if d := math.Abs(got/c.want - 1); d > c.off {
			t.Errorf("from %g Hz, %d points an octave: bandwidth %.3f Hz, off by %.2g", c.from, c.perOctave, got, d)
		}
		if c.from == 0 {
			continue
		}
		for _, bad := range []struct {
			from, to float64
			want     string
		}{{0, 0, "or a narrower band in the setup"}, {200, 100, "from 200 to 100 Hz"}, {10, 0, "from 10 to 20000 Hz"}, {200, math.NaN(), "to NaN Hz"}} {
			n.From, n.To = bad.from, bad.to
			if _, err := signalpath.NoiseBudget(n, s); err == nil || !strings.Contains(err.Error(), bad.want) {
				t.Errorf("band from %g to %g Hz: error is %v, want %q in it", bad.from, bad.to, err, bad.want)
			}
		}
	}
}

// H. Nyquist (Phys. Rev. 32, 1928): a network of one temperature, without a source, has the noise
// 4kT·Re(Z) at its terminals, whatever is in it.
func TestNoiseOfAPassiveNetworkIsThatOfItsImpedance(t *testing.T) {
	p := tweeterPath()
	p.Elements = append([]signalpath.Element{signalpath.Resistor{Name: "series", R: 33}, signalpath.Resistor{Name: "across", R: 47, Across: true}}, p.Elements[1:]...)
	p.SourceResistance, p.Kelvin, p.Driver.Re = 25, 310, 0
	p.Driver.Impedance = tweeterImpedance()
	g := audio(t)
	s := must(p.On(g))(t)
	noise, z, load := must(s.Noise("all"))(t), must(s.OutputImpedance("back"))(t), tweeterImpedance().ResponseTo(nil, g)
	for i := range noise.Len() {
		h := load[i] / (load[i] + z.At(i)) // the load has no noise of its own here
		want := 4 * 1.380649e-23 * 310 * real(z.At(i)) * (real(h)*real(h) + imag(h)*imag(h))
		if d := math.Abs(noise.At(i)/want - 1); d > 1e-12 {
			t.Fatalf("at %g Hz %.6g V²/Hz, want %.6g", g.At(i), noise.At(i), want)
		}
	}
}

// Two ways add by power, and rounding noise of a processor comes as a curve in full scale: 1e-15
// FS²/Hz at a full scale of 2 V rms, 2.828 V peak, is 8e-15 V²/Hz.
func TestWaysAddByPower(t *testing.T) {
	g := audio(t)
	values := make([]float64, g.Len())
	for i := range values {
		values[i] = 1e-15
	}
	rounding := must(freq.NewCurve(g, values, "rounding", "FS²/Hz", freq.Basis{}))(t)
	p := plain("woofer", signalpath.DAC{Name: "converter", Rate: 96000, FullScale: 2}, signalpath.Amplifier{Name: "amplifier", Gain: 1})
	p.Elements = append([]signalpath.Element{signalpath.Processor{Name: "processor", Rate: 96000, Noise: signalpath.Density[signalpath.FullScale]{Curve: rounding}}}, p.Elements...)
	q := p
	q.Name = "tweeter"
	s, u := must(p.On(g))(t), must(q.On(g))(t)
	rows := must(signalpath.NoiseBudget(setup(), s, u))(t)
	one, sum := rows[0], rows[len(rows)-1]
	if want := level.PowerDB(2); math.Abs(sum.Level-one.Level-want) > 1e-9 {
		t.Errorf("two ways are %.4f dB above one, want %.4f", sum.Level-one.Level, want)
	}
	if want := math.Sqrt(8e-15 * 12467.18); one.Element != "processor" || math.Abs(one.Volts/want-1) > 1e-4 {
		t.Errorf("first row is %+v, want %g V of the processor", one, want)
	}
	if _, err := signalpath.NoiseBudget(setup(), s, s); err == nil || !strings.Contains(err.Error(), "twice") {
		t.Errorf("a way twice: %v", err)
	}
	q.Driver.Basis.Space = freq.HalfSpace
	if _, err := signalpath.NoiseBudget(setup(), s, must(q.On(g))(t)); err == nil || !strings.Contains(err.Error(), "want one space") {
		t.Errorf("ways in two spaces: %v", err)
	}
	other := must(freq.LogGrid(100, 10000, 12))(t)
	if _, err := q.On(other); err == nil || !strings.Contains(err.Error(), `"rounding" is on`) {
		t.Errorf("a density on another grid: %v", err)
	}
}

// A piston on its axis by adding up rings (Rayleigh's integral over σ dσ e^{−jkR}/R), and in
// numbers an invented woofer of 66 mm at low frequencies: from 1 m to 0.1 m the pressure rises by
// (√(r²+a²) − r) = 0.019817 m over 0.0021756 m, 9.1084, not 10.
func TestNearFieldOfAPiston(t *testing.T) {
	const a, c = 0.066, 343.0
	rings := func(k, r float64) float64 {
		const n = 3000
		var re, im float64
		for i := range n {
			sigma := (float64(i) + 0.5) * a / n
			d := math.Hypot(r, sigma)
			re += math.Cos(k*d) / d * sigma * a / n
			im += math.Sin(k*d) / d * sigma * a / n
		}
		return k * math.Hypot(re, im)
	}
	g := must(freq.LogGrid(20, 20000, 24))(t)
	p := plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 10})
	p.Driver.Radius = a
	s := must(p.On(g))(t)
	n := setup()
	n.Weighting = level.Z
	for _, r := range []float64{0.1, 0.3, 2.6} {
		n.Distance = r
		near := must(s.PressureNoise(n, "near"))(t)
		n.Distance = 1
		far := must(s.PressureNoise(n, "far"))(t)
		for i := range near.Len() {
			hz := g.At(i)
			k := 2 * math.Pi * hz / c
			if k*a*a/(math.Hypot(r, a)+r) > 3 { // beyond the first maximum: an envelope
				continue
			}
			got, want := math.Sqrt(near.At(i)/far.At(i)), rings(k, r)/rings(k, 1)
			if i == 0 && r == 0.1 && math.Abs(got-9.1084) > 1e-4 {
				t.Errorf("at 0.1 m and 20 Hz: %.4f, want 9.1084", got)
			}
			if math.Abs(got/want-1) > 1e-6 {
				t.Errorf("at %g m and %g Hz: %.8g, want %.8g", r, hz, got, want)
			}
		}
	}
	// At 0.1 m and 15 kHz the argument is 2.7, beyond the first maximum: 1 over that of 1 m.
	n.Distance = 0.1
	near, i := must(s.PressureNoise(n, "near"))(t), g.Nearest(15000)
	n.Distance = 1
	far := must(s.PressureNoise(n, "far"))(t)
	k := 2 * math.Pi * g.At(i) / c
	if got, want := math.Sqrt(near.At(i)/far.At(i)), 1/math.Sin(k*(math.Hypot(1, a)-1)/2); math.Abs(got/want-1) > 1e-9 {
		t.Errorf("beyond the first maximum: %g, want %g", got, want)
	}
	rows := must(signalpath.IdleNoise(setup(), []float64{1, 0.1}, s))(t)
	if r := rows[0]; math.Abs(r.Error) > 1e-12 || r.Level != r.InverseDistance || r.Distance != 1 {
		t.Errorf("at the distance of the response: %+v", r)
	}
	if r := rows[2]; math.Abs(r.InverseDistance-rows[0].Level-20) > 1e-9 || math.Abs(r.InverseDistance-r.Level-r.Error) > 1e-12 || r.Error < 0.79 || r.Way != "way" || rows[3].Way != "sum" {
		t.Errorf("at 0.1 m: %+v", r)
	}
}

// A response that is known at 2 m is 6.02 dB up at 1 m, and the density of the sound is weighted:
// 10 Hz of it by −70.4 dB (IEC 61672-1, from memory).
func TestDistanceAndWeightOfTheDensity(t *testing.T) {
	g := must(freq.NewGrid([]float64{10, 1000}))(t)
	p := plain("way", signalpath.DAC{Name: "converter", Rate: 96000, FullScale: 2, Noise: signalpath.Density[signalpath.Volt]{White: 1e-12}},
		signalpath.Amplifier{Name: "amplifier", Gain: 1})
	p.Driver.Basis.Distance = 2
	d := must(must(p.On(g))(t).PressureNoise(setup(), "noise"))(t)
	if math.Abs(d.At(1)/4e-12-1) > 1e-12 || math.Abs(level.PowerDB(d.At(0)/4e-12)+70.4) > 0.05 {
		t.Errorf("density is %g and %g Pa²/Hz", d.At(0), d.At(1))
	}
	if b := d.Basis(); b.Distance != 1 || b.Per != freq.Absolute || d.Unit() != "Pa²/Hz" {
		t.Errorf("it is %v in %s", b, d.Unit())
	}
}

// A gain with which noise alone drives the output to its limit is refused, and says by how much:
// 5.02 µV(A) of a white converter are 6.36 µV over 20 Hz … 20 kHz, four times it 25.4 V peak with
// a gain of 1e6.
func TestClippingWithoutASignal(t *testing.T) {
	g := audio(t)
	amp := signalpath.Amplifier{Name: "amplifier", Gain: 1e6, ClipVolts: 26}
	if _, err := plain("way", demoDAC(), amp).On(g); err != nil {
		t.Errorf("25.4 of 26 V: %v", err)
	}
	amp.Gain = 1.1e6
	if _, err := plain("way", demoDAC(), amp).On(g); err == nil || !strings.Contains(err.Error(), `output volts of "amplifier" to 27.9 V peak`) ||
		!strings.Contains(err.Error(), "1.07 times the limit of 26 V") {
		t.Errorf("27.9 of 26 V: %v", err)
	}
	amp.Gain, amp.Offset = 10, -27
	if _, err := plain("way", demoDAC(), amp).On(g); err == nil || !strings.Contains(err.Error(), "27 V peak") {
		t.Errorf("offset beyond the limit: %v", err)
	}
	amp = signalpath.Amplifier{Name: "amplifier", Gain: 1, ClipAmperes: 1e-3, Noise: signalpath.Density[signalpath.Volt]{White: 1e-9}, Output: network.Source{R: 0.1}}
	if _, err := plain("way", demoDAC(), amp).On(g); err == nil || !strings.Contains(err.Error(), "output current") {
		t.Errorf("√(1e-9·2e4)·4/8.1 Ω are 2.2 mA against 1: %v", err)
	}
}
