package signalpath_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/network"
	"example.org/loudspeaker/speakerlib/signal"
	"example.org/loudspeaker/speakerlib/signalpath"
)

// demoWay is an invented way from an analogue input to 8 Ω.
func demoWay(t testing.TB) signalpath.Path {
	c := must(must(digital.NewCascade(96000, digital.Peak{F0: 60, Q: 1, Gain: 2}))(t).WithDelay(14))(t)
	p := plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 10, ClipVolts: 26, ClipAmperes: 12, Output: network.Source{R: 0.1}})
	p.Elements = append([]signalpath.Element{
		signalpath.Amplifier{Name: "stage", Gain: 0.5},
		signalpath.ADC{Name: "input", Rate: 96000, FullScale: 2, DynamicRange: level.Ratio(112), Latency: 10, Clock: signalpath.Clock{Name: "crystal", Tolerance: 50e-6}},
		signalpath.Processor{Name: "processor", Rate: 96000, Filters: c, Block: 32, PeakNorm: 2.5, Ceiling: 4},
	}, p.Elements...)
	return p
}

// By hand: 1 V peak at the input is 0.5 V at the converter of 2·√2 V, 0.17678 FS, at 60 Hz twice
// that, 0.35355 FS, 1 V behind the D/A converter and 10 V in the amplifier, 10/8.1 A.
func TestHeadroomByHand(t *testing.T) {
	s := must(demoWay(t).On(must(freq.LogGrid(15, 20000, 48))(t)))(t) // 60 Hz is a point
	in := signalpath.Input{Peak: 1, From: 15, To: 19000, Shape: signal.Pink{}, RMS: 0.1, Crest: 4}
	rows := must(s.Headroom(in))(t)
	want := []struct {
		element string
		cause   signalpath.Cause
		limit   float64
		sine    float64
		tol     float64
	}{
		{"input", signalpath.AnalogueInput, 2 * math.Sqrt2, 0.5, 1e-12},
		{"processor", signalpath.DigitalFullScale, 1, 0.125 * math.Sqrt2, 1e-12},
		{"processor", signalpath.DigitalNode, 4, 0.125 * math.Sqrt2 * 2.5, 1e-12},
		{"converter", signalpath.DigitalFullScale, 1, 0.25 * math.Sqrt2, 1e-6},
		{"amplifier", signalpath.ClipVolts, 26, 10, 1e-6},
		{"amplifier", signalpath.ClipAmperes, 12, 10 / 8.1, 1e-6},
	}
	if len(rows) != len(want) {
		t.Fatalf("%d rows: %+v", len(rows), rows)
	}
	for i, w := range want {
		r := rows[i]
		if r.Element != w.element || r.Cause != w.cause || r.Limit != w.limit || math.Abs(r.Sine/w.sine-1) > w.tol ||
			math.Abs(r.Headroom-level.DB(w.limit/w.sine)) > 1e-4 || math.Abs(r.ProgrammePeak/r.ProgrammeRMS-4) > 1e-12 {
			t.Errorf("row %d is %+v, want %+v", i, r, w)
		}
	}
	if got := rows[0].ProgrammeRMS; math.Abs(got-0.05) > 1e-12 {
		t.Errorf("programme is %g V at the converter, want 0.05", got)
	}
	if r := rows[3]; r.At != 60 || r.ProgrammeRMS/rows[1].ProgrammeRMS < 1.05 || r.ProgrammeRMS/rows[1].ProgrammeRMS > 1.4 {
		t.Errorf("boost of the programme: %+v after %+v", r, rows[1])
	}
	if first := signalpath.ClipsFirst(rows); first.Cause != signalpath.ClipVolts {
		t.Errorf("clips first: %+v", first)
	}
	over := must(s.HeadroomOver("amplifier", signalpath.ClipVolts, 1))(t)
	if v := must(over.Interpolate(60))(t); math.Abs(v-rows[4].Headroom) > 1e-9 {
		t.Errorf("headroom at 60 Hz is %g dB, want %g", v, rows[4].Headroom)
	}
	levels := must(s.Levels(in))(t)
	if n := levels[3]; n.Node != "processor" || n.Unit != "FS" || math.Abs(n.Sine-0.25*math.Sqrt2) > 1e-6 || math.Abs(n.Least-0.125*math.Sqrt2) > 1e-4 {
		t.Errorf("level behind the processor: %+v", n)
	}
	if n := levels[5]; math.Abs(n.Sine-10*8/8.1) > 1e-4 {
		t.Errorf("level at the terminals: %+v", n)
	}
	p := demoWay(t)
	p.Elements = append([]signalpath.Element{signalpath.RateConverter{Name: "rates", From: 44100, To: 96000, Ripple: 1.25}}, p.Elements[2:]...)
	s = must(p.On(must(freq.LogGrid(15, 20000, 48))(t)))(t)
	if r := must(s.Headroom(in))(t)[0]; r.Element != "rates" || r.Sine != 1.25 || r.Headroom >= 0 {
		t.Errorf("ripple takes headroom: %+v", r)
	}
	if b := must(s.Pressure("sound"))(t).Basis(); b.Per != freq.PerFullScale || b.Quantity != freq.Pressure {
		t.Errorf("basis behind samples is %v", b)
	}
	proc := demoWay(t).Elements[2].(signalpath.Processor)
	if got := proc.Headroom(); got != 1 {
		t.Errorf("2.5 within 4 asks for a headroom of %g", got)
	}
	proc.Ceiling = 0
	if got := proc.Headroom(); got != 2.5 {
		t.Errorf("2.5 within full scale asks for a headroom of %g", got)
	}
}

// Latencies by adding up: 10 + 32 + 14 samples at 96 kHz; the group delay of the section by its
// closed form.
func TestLatencyByPart(t *testing.T) {
	p := demoWay(t)
	g := must(freq.LogGrid(15, 20000, 96))(t)
	s := must(p.On(g))(t)
	rows := must(s.Latency(60))(t)
	c := p.Elements[2].(signalpath.Processor).Filters.(*digital.Cascade)
	if r := rows[2]; r.Part != "processor" || r.Samples != 46 || math.Abs(r.Latency-46.0/96000) > 1e-15 ||
		math.Abs(r.Group/c.At(0).GroupDelay(60, 96000)-1) > 1e-3 {
		t.Errorf("processor: %+v, want 46 samples and %g s", r, c.At(0).GroupDelay(60, 96000))
	}
	if rows[1].Sum != rows[1].Latency || rows[2].Sum != rows[1].Latency+rows[2].Latency {
		t.Errorf("sums so far are %g and %g", rows[1].Sum, rows[2].Sum)
	}
	if r := rows[len(rows)-1]; r.Part != "all" || math.Abs(r.Latency-56.0/96000) > 1e-15 {
		t.Errorf("sum: %+v", r)
	}
	q := p
	q.Name = "other"
	q, err := q.With(signalpath.Processor{Name: "processor", Rate: 96000})
	if err != nil {
		t.Fatal(err)
	}
	check := must(signalpath.CheckLatency(3e-3, p, q))(t)
	if check.Way != "way" || math.Abs(check.Left-(3e-3-56.0/96000)) > 1e-15 || math.Abs(check.Apart-46.0/96000) > 1e-15 {
		t.Errorf("check is %+v", check)
	}
	// The delay that a response holds and its element states is in the path's response once.
	h := must(s.Response("h"))(t)
	i := g.Nearest(10000)
	want := c.ResponseTo(nil, g)[i] * cmplx.Rect(1, -2*math.Pi*g.At(i)*42/96000)
	if d := math.Abs(cmplx.Phase(h.At(i) / want)); d > 1e-9 {
		t.Errorf("phase at 10 kHz is off by %g", d)
	}
}

// By hand, at 1 kHz: 26 V behind 10, 2·√2 V per FS and 1 at both converters are 2.6 V peak at the
// A/D converter, 1.838 V rms, which clips at 2 V rms. With a gain of 2 the input wants 0.919 V rms
// and clips at 1 V, with ½ 3.677 and 4.
func TestSensitivityOfPositions(t *testing.T) {
	p := demoWay(t)
	e, err := p.With(signalpath.Processor{Name: "processor", Rate: 96000})
	if err != nil {
		t.Fatal(err)
	}
	s := signalpath.Sensing{Grid: audio(t), Hz: 1000, Output: "amplifier", Noise: setup()}
	rows := must(signalpath.Sensitivity(e, s,
		signalpath.Position{Name: "high", Element: signalpath.Amplifier{Name: "stage", Gain: 2}},
		signalpath.Position{Name: "low", Element: signalpath.Amplifier{Name: "stage", Gain: 0.5, ClipVolts: 1}}))(t)
	full := 2.6 / math.Sqrt2
	if r := rows[0]; r.Position != "high" || math.Abs(r.Full-full/2) > 1e-12 || math.Abs(r.AtClip-full/2) > 1e-12 ||
		r.Clips != "amplifier, output volts" || r.Reserve != 0 || math.Abs(r.Output-26/math.Sqrt2*8/8.1) > 1e-9 {
		t.Errorf("high: %+v", r)
	}
	if r := rows[1]; math.Abs(r.Full-2*full) > 1e-12 || math.Abs(r.AtClip-2/math.Sqrt2) > 1e-12 || r.Clips != "stage, output volts" || r.Reserve >= 0 {
		t.Errorf("low: %+v", r)
	}
	if r := rows[0]; math.Abs(r.Level-level.SPL(r.Output)) > 1e-9 || math.Abs(r.Range-(r.Level-r.Idle)) > 1e-9 {
		t.Errorf("levels: %+v", r)
	}
	s.Noise.Distance = 0.1
	near := must(signalpath.Sensitivity(e, s, signalpath.Position{Name: "high", Element: signalpath.Amplifier{Name: "stage", Gain: 2}}))(t)[0]
	if math.Abs(near.Idle-rows[0].Idle-20) > 1e-9 || math.Abs(near.Range-rows[0].Range) > 1e-9 {
		t.Errorf("heard at 0.1 m: %+v, at 1 m %+v", near, rows[0])
	}
	s.Output = "nobody"
	if _, err := signalpath.Sensitivity(e, s, signalpath.Position{Name: "high", Element: signalpath.Amplifier{Name: "stage", Gain: 2}}); err == nil || !strings.Contains(err.Error(), "nobody") {
		t.Errorf("full output of nobody: %v", err)
	}
}

// testdata/tweeter.cir: volts across the protection capacitor, and the current of the coil's
// branch by Ohm's law.
func TestStressAgreesWithCircuitSimulation(t *testing.T) {
	rows := readTable(t, "testdata/tweeter_ac_ngspice.txt", 13)
	g := gridOf(t, rows)
	p := tweeterPath()
	p.Elements[3] = signalpath.SeriesCapacitor{Name: "capacitor", C: 22e-6, ESR: 0.05, Rated: 100}
	s := must(p.On(g))(t)
	in := signalpath.Input{Peak: 2, From: 21, To: 19000, Shape: signal.Pink{}, RMS: 0.5, Crest: 2}
	stress := must(s.Stress(in))(t)
	var volts, power, weight float64
	for i, r := range rows {
		if r[0] < in.From || r[0] > in.To {
			continue
		}
		drop := cmplx.Abs(complex(r[7], r[8]) - complex(r[9], r[10]))
		volts = max(volts, 2*drop)
		w := 1.0 // pink, equal steps of ln f
		if rows[i-1][0] < in.From || rows[i+1][0] > in.To {
			w = 0.5
		}
		power += w * drop * drop
		weight += w
	}
	var found bool
	for _, r := range stress {
		if r.Part != "capacitor" {
			continue
		}
		found = true
		if math.Abs(r.PeakVolts/volts-1) > 1e-9 || math.Abs(r.Volts/(0.5*math.Sqrt(power/weight))-1) > 1e-9 {
			t.Errorf("capacitor: %+v, want %g V peak and %g V rms", r, volts, 0.5*math.Sqrt(power/weight))
		}
		if esr := r.Amperes * r.Amperes * 0.05; math.Abs(r.Watts/esr-1) > 1e-9 {
			t.Errorf("capacitor has %g W, want %g", r.Watts, esr)
		}
	}
	if last := stress[len(stress)-1]; !found || last.Element != "driver" || last.Watts <= 0 {
		t.Errorf("rows: %+v", stress)
	}
	head := must(s.Headroom(in))(t)
	if r := head[len(head)-1]; r.Cause != signalpath.RatedVolts || math.Abs(r.Sine/volts-1) > 1e-9 {
		t.Errorf("headroom of the capacitor: %+v", r)
	}
}

// The peak of an output filter that nothing damps: with a load R, Q = R·√(C/L), and the maximum of
// a second-order low-pass is Q/√(1 − 1/4Q²) at f₀·√(1 − 1/2Q²) (closed form).
func TestOutputFilterPeaksWithoutALoad(t *testing.T) {
	const l, c, r = 10e-6, 0.47e-6, 40.0
	q := r * math.Sqrt(c/l)
	f0 := 1 / (2 * math.Pi * math.Sqrt(l*c))
	p := plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 1})
	p.Elements = append(p.Elements, signalpath.OutputFilter{Name: "filter", L: l, C: c})
	p.Driver.Impedance = ohms(r)
	s := must(p.On(must(freq.LogGrid(1000, 200000, 960))(t)))(t)
	peak := must(s.Peak("filter"))(t)
	if _, err := s.Peak("converter"); err == nil {
		t.Error("a converter has a gain")
	}
	if db, hz := peak.Value, peak.Hz; math.Abs(db-level.DB(q/math.Sqrt(1-1/(4*q*q)))) > 2e-4 || math.Abs(hz/(f0*math.Sqrt(1-1/(2*q*q)))-1) > 1e-3 {
		t.Errorf("peak is %.5f dB at %.0f Hz, want %.5f at %.0f", db, hz, level.DB(q/math.Sqrt(1-1/(4*q*q))), f0*math.Sqrt(1-1/(2*q*q)))
	}
}
