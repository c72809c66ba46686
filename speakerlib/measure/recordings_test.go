package measure_test

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/measure"
	"example.org/loudspeaker/speakerlib/signal"
)

func wav(t testing.TB, name string) *signal.WAV {
	t.Helper()
	f, err := os.Open(filepath.Join(standmount, "recordings", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	w, err := signal.ReadWAV(f, name, signal.Limits{})
	if err != nil {
		t.Fatal(err)
	}
	return w
}

func channel(t testing.TB, w *signal.WAV, i int) []float64 {
	t.Helper()
	c, err := w.Clip.Channel(i)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The raw recordings of the demo were made by another rig, with another sample rate,
// microphone, excitation and noise, than the finished far-field files of the same
// loudspeaker. Calibrator, sweep, gate and microphone file together give the finished
// response again.
func TestRecordingsGiveTheFinishedResponse(t *testing.T) {
	f, err := os.Open(filepath.Join(standmount, "recordings", "recording.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	q, err := measure.ReadQuantities(f, "recording.txt")
	if err != nil {
		t.Fatal(err)
	}
	in := func(key string, u measure.Unit) float64 {
		v, err := q.In(key, u)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	sweep, err := signal.NewSweep(signal.SweepSetup{SampleRate: in("sample_rate", measure.Hertz), From: in("sweep_from", measure.Hertz), To: in("sweep_to", measure.Hertz),
		Duration: in("sweep_duration", measure.Second), Amplitude: in("sweep_amplitude", measure.One), FadeIn: in("sweep_rise", measure.Second), FadeOut: in("sweep_fall", measure.Second)})
	if err != nil {
		t.Fatal(err)
	}
	recorded := wav(t, "sweep-woofer.wav")
	terminals := channel(t, recorded, 1)
	for i := range terminals {
		terminals[i] *= in("terminals_full_scale", measure.Volt)
	}
	d, err := measure.Deconvolve(measure.SweepRecording{Samples: channel(t, recorded, 0), Sweep: sweep, Reference: terminals, Orders: 3,
		Label: "woofer", Basis: freq.Basis{Per: freq.PerTerminals}, TimeZero: "recorder"})
	if err != nil {
		t.Fatal(err)
	}
	tone := wav(t, "calibrator.wav")
	c, err := measure.Calibrate(channel(t, tone, 0), tone.Clip.SampleRate(), in("calibrator_tone", measure.Hertz), in("calibrator_level", measure.Decibel))
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(c.Sensitivity/0.2-1) > 0.003 || math.Abs(c.Hz-1000.4) > 0.05 || c.Residual > -50 {
		t.Errorf("calibrator: %v, want 0.2 of full scale per pascal at 1000.4 Hz", c)
	}
	microphone, err := measure.NewMicrophone(table(t, "recordings/microphone.txt"))
	if err != nil {
		t.Fatal(err)
	}
	if microphone, err = microphone.Calibrated(c.Sensitivity); err != nil {
		t.Fatal(err)
	}
	h := d.Orders[0].Impulse
	flight, err := h.Flight(200, 15000)
	if err != nil {
		t.Fatal(err)
	}
	// 1 m to the tweeter's middle is 1.010 m to the woofer's, and 24 mm more to its
	// acoustic centre, through which its low-pass delays by another tenth.
	if flight < 2.95e-3 || flight > 3.2e-3 {
		t.Errorf("the sound arrives after %g s, want about 3.05e-3", flight)
	}
	gated, err := h.Gated(measure.Gate{From: flight - 0.5e-3, To: flight + 5e-3, Rise: 0.5e-3, Fall: 1.4e-3})
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.LogGrid(250, 12000, 24)
	if err != nil {
		t.Fatal(err)
	}
	u, err := gated.Response(g)
	if err != nil {
		t.Fatal(err)
	}
	p, err := microphone.Pressure(u, freq.FullSpace, 1)
	if err != nil {
		t.Fatal(err)
	}
	finished, err := measure.Resample(stated(t, "far-field/woofer-axis.txt"), g)
	if err != nil {
		t.Fatal(err)
	}
	got, want := p.SPL(2.83), finished.SPL(2.83)
	var worst float64
	for i := range got.Len() {
		worst = max(worst, math.Abs(got.At(i)-want.At(i)))
	}
	t.Logf("largest difference %.3f dB", worst)
	// The rigs repeat to 0.01 dB; the rest is noise in the dips above 4 kHz and the gates.
	if worst > 0.1 {
		t.Errorf("from %v the response is up to %.3f dB off that of the finished file", g, worst)
	}
	// What bends is the displacement: both orders fall fast with frequency.
	band, err := freq.LogGrid(100, 400, 6)
	if err != nil {
		t.Fatal(err)
	}
	for order, most := range map[int]float64{2: 0.03, 3: 0.01} {
		r, err := d.Distortion(order, band)
		if err != nil {
			t.Fatal(err)
		}
		if low, high := r.At(0), r.At(r.Len()-1); !(low > 10*high && low < most && low > 1e-3) {
			t.Errorf("order %d: %g at 100 Hz and %g at 400 Hz, want a steep fall", order, low, high)
		}
	}
}

// The spread of five set-ups is that of their places: a few millimetres turn the phase
// in proportion to frequency and hardly change the level.
func TestSetUpsSpread(t *testing.T) {
	g, err := freq.LogGrid(260, 19e3, 12)
	if err != nil {
		t.Fatal(err)
	}
	var list []freq.Response
	for _, k := range "12345" {
		r, err := measure.Resample(stated(t, "recordings/set-up-"+string(k)+".txt"), g)
		if err != nil {
			t.Fatal(err)
		}
		list = append(list, r)
	}
	m, err := measure.Average("set-ups", list...)
	if err != nil {
		t.Fatal(err)
	}
	for i := range g.Len() {
		if v := m.Level.At(i); v > 0.3 {
			t.Errorf("levels spread by %.2f dB at %.0f Hz", v, g.At(i))
		}
	}
	low, high := m.Phase.At(24), m.Phase.At(g.Len()-1)
	if r := high / low / (g.Last() / g.At(24)); r < 0.5 || r > 2 {
		t.Errorf("phases spread by %.3f rad at %.0f Hz and %.3f rad at %.0f Hz, want in proportion", low, g.At(24), high, g.Last())
	}
}
