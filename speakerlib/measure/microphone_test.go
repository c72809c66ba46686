package measure_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/measure"
)

// tone is a sine of an rms value with a constant, a third harmonic and noise.
func tone(n int, rate, hz, rms, constant, third, noise float64) []float64 {
	random := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, n)
	for i := range x {
		w := 2 * math.Pi * hz * float64(i) / rate
		x[i] = rms*math.Sqrt2*(math.Sin(w+0.7)+third*math.Sin(3*w)) + constant + noise*random.NormFloat64()
	}
	return x
}

// 1 Pa is 94 dB (level 93.979): 12.6 mV/Pa give 12.6 mV·10^((94−93.979)/20) rms.
func TestCalibrate(t *testing.T) {
	pascals := 20e-6 * math.Exp(94.0/20*math.Ln10)
	if math.Abs(pascals-1.00237) > 1e-5 {
		t.Fatalf("94 dB are %g Pa", pascals)
	}
	for _, c := range []struct {
		n                                 int
		hz, spl, constant, third, noise   float64
		residual, tolerance, toleranceOfS float64
	}{
		{48000, 1000, 94, 0, 0, 0, -200, 200, 1e-9},
		{48000, 1000, 94, 0.3, 0.01, 0, -40, 1e-3, 1e-6},
		{4801, 1013.37, 94, -0.1, 0, 0, -200, 200, 1e-8}, // no whole number of periods
		{480000, 251.2, 114, 0.01, 0, 12.6e-3 * 0.01, -60, 0.2, 1e-4},
	} {
		rms := 12.6e-3 * pascals * math.Exp((c.spl-94)/20*math.Ln10)
		nominal := 1000.0
		if c.hz < 500 {
			nominal = 250
		}
		got, err := measure.Calibrate(tone(c.n, 48000, c.hz, rms, c.constant, c.third, c.noise), 48000, nominal, c.spl)
		if err != nil {
			t.Error(err)
			continue
		}
		if math.Abs(got.Sensitivity/12.6e-3-1) > c.toleranceOfS || math.Abs(got.Hz/c.hz-1) > 1e-6 {
			t.Errorf("%v, want 0.0126 at %g Hz", got, c.hz)
		}
		if c.residual > -100 && math.Abs(got.Residual-c.residual) > c.tolerance+0.01 || c.residual < -100 && got.Residual > -150 {
			// Noise of 1 % of 1 Pa at 114 dB, ten times as much, is 60 dB down.
			t.Errorf("residual %.3f dB, want %g", got.Residual, c.residual)
		}
	}
	clipped := tone(48000, 48000, 1000, 1, 0, 0, 0)
	for i, x := range clipped {
		clipped[i] = max(-0.5, min(0.5, x))
	}
	for want, try := range map[string][]float64{
		"clipped input": clipped,
		"periods":       tone(2000, 48000, 1000, 1, 0, 0, 0),
		"no calibrator": tone(48000, 48000, 1060, 1, 0, 0, 0),
		"no tone":       make([]float64, 48000),
		"sample 0":      append([]float64{math.NaN()}, clipped...),
	} {
		if c, err := measure.Calibrate(try, 48000, 1000, 94); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, error %v, want one with %q", c, err, want)
		}
	}
	if _, err := measure.Calibrate(clipped, 48000, 24000, 94); err == nil {
		t.Error("a calibrator at half the sample rate was taken")
	}
	// Pascal, a level that was not filled in, and others that no calibrator has.
	for _, spl := range []float64{1, 0, 59, 161, math.Inf(1), math.NaN()} {
		if _, err := measure.Calibrate(tone(48000, 48000, 1000, 1, 0, 0, 0), 48000, 1000, spl); err == nil || !strings.Contains(err.Error(), "94 dB are 1 Pa") {
			t.Errorf("%g dB: error %v", spl, err)
		}
	}
}

func microphone(t *testing.T, text string) (*measure.Microphone, error) {
	t.Helper()
	tb, err := measure.ReadResponse(strings.NewReader(text), "mic.txt", measure.Format{})
	if err != nil {
		t.Fatal(err)
	}
	return measure.NewMicrophone(tb)
}

// 12.5 mV are 1 Pa; where the microphone gives 2 dB more, 2 dB come off, whichever
// way round the file tells it.
func TestMicrophone(t *testing.T) {
	g, err := freq.NewGrid([]float64{100, 1000, 10000})
	if err != nil {
		t.Fatal(err)
	}
	u, err := freq.NewResponse(g, []complex128{0.0125, 0.0125i, -0.025}, "u", freq.Basis{Quantity: freq.Voltage, Per: freq.PerTerminals})
	if err != nil {
		t.Fatal(err)
	}
	db := func(x float64) complex128 { return complex(math.Exp(x/20*math.Ln10), 0) }
	turned := cmplx.Rect(1, -math.Pi/6)
	for _, c := range []struct {
		text  string
		phase bool
		want  []complex128
	}{
		{"# columns: frequency_Hz level_dB\n# holds: response\n# sensitivity_mV_per_Pa: 12.5\n50 -1\n100 -1\n1000 0\n10000 2\n", false,
			[]complex128{1 / db(-1), 1i, -2 / db(2)}},
		{"# columns: frequency_Hz level_dB\n# holds: correction\n# sensitivity_mV_per_Pa: 12.5\n50 1\n100 1\n1000 0\n10000 -2\n", false,
			[]complex128{1 / db(-1), 1i, -2 / db(2)}},
		{"# columns: frequency_Hz level_dB phase_deg\n# holds: response\n# sensitivity_mV_per_Pa: 12.5\n100 -1 0\n1000 0 0\n10000 2 -30\n", true,
			[]complex128{1 / db(-1), 1i, -2 / db(2) / turned}},
		{"# columns: frequency_Hz level_dB phase_deg\n# holds: correction\n# sensitivity_mV_per_Pa: 12.5\n100 1 0\n1000 0 0\n10000 -2 30\n", true,
			[]complex128{1 / db(-1), 1i, -2 / db(2) / turned}},
	} {
		m, err := microphone(t, c.text)
		if err != nil {
			t.Error(err)
			continue
		}
		p, err := m.Pressure(u, freq.FullSpace, 1)
		if err != nil {
			t.Error(err)
			continue
		}
		if want := (freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}); p.Basis() != want || m.HasPhase() != c.phase {
			t.Errorf("basis %v, phase %v; want %v, %v", p.Basis(), m.HasPhase(), want, c.phase)
		}
		for i, w := range c.want {
			if cmplx.Abs(p.At(i)-w) > 1e-12 {
				t.Errorf("%s at %g Hz: %v Pa, want %v", c.text, g.At(i), p.At(i), w)
			}
		}
		half, err := m.Calibrated(0.0625)
		if err != nil {
			t.Fatal(err)
		}
		if q, err := half.Pressure(u, freq.FullSpace, 1); err != nil || cmplx.Abs(q.At(1)-0.2i) > 1e-12 || m.Sensitivity() != 0.0125 {
			t.Errorf("with five times the sensitivity %v, %v; the first has %g", q.At(1), err, m.Sensitivity())
		}
	}
}

func TestMicrophoneRefuses(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"# columns: frequency_Hz level_dB\n100 0\n1000 0\n", "holds"},
		{"# columns: frequency_Hz level_dB\n# holds: calibration\n100 0\n1000 0\n", "calibration"},
		{"# columns: frequency_Hz level_dB\n# holds: response\n# sensitivity_mV_per_Pa: -1\n100 0\n1000 0\n", "> 0"},
		{"# columns: frequency_Hz level_dB\n# holds: response\n100 -65.1\n300 0\n1000 0\n3000 0\n", "-65.1 dB at 100 Hz"},
		{"# columns: frequency_Hz level_dB\n# holds: response\n100 -38\n1000 -38\n3000 -38\n", "absolute, in dB re 1 V/Pa"},
	} {
		if _, err := microphone(t, c.text); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q: error %v, want one with %q", c.text, err, c.want)
		}
	}
	m, err := microphone(t, "# columns: frequency_Hz level_dB\n# holds: response\n100 0\n1000 0\n")
	if err != nil {
		t.Fatal(err)
	}
	low, err := freq.LogGrid(50, 800, 3)
	if err != nil {
		t.Fatal(err)
	}
	one := make([]complex128, low.Len())
	for i := range one {
		one[i] = 1
	}
	at := func(q freq.Quantity) freq.Response {
		r, err := freq.NewResponse(low, one, "u", freq.Basis{Quantity: q})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	if _, err := m.Pressure(at(freq.Voltage), freq.FullSpace, 1); err == nil || !strings.Contains(err.Error(), "not known") {
		t.Errorf("without sensitivity: %v", err)
	}
	if m, err = m.Calibrated(0.01); err != nil {
		t.Fatal(err)
	}
	for _, try := range []func() error{
		func() error { _, err := m.Pressure(at(freq.Voltage), freq.FullSpace, 1); return err }, // below the file
		func() error { _, err := m.Pressure(at(freq.Current), freq.FullSpace, 1); return err },
		func() error { _, err := m.Pressure(at(freq.Voltage), freq.NotRadiated, 1); return err },
		func() error { _, err := m.Pressure(at(freq.Voltage), freq.FullSpace, math.NaN()); return err },
		func() error { _, err := m.Calibrated(0); return err },
		func() error { _, err := measure.NewMicrophone(nil); return err },
	} {
		if try() == nil {
			t.Error("taken without an error")
		}
	}
}

// By hand: levels −2, 0, 2 dB have a standard deviation of 2 dB; phases of ±0.3 rad
// one of 0.3·√2 and a mean of cos 0.3; 3 and 4 an rms of √12.5.
func TestAverage(t *testing.T) {
	g, err := freq.NewGrid([]float64{100, 1000})
	if err != nil {
		t.Fatal(err)
	}
	at := func(a, b complex128) freq.Response {
		r, err := freq.NewResponse(g, []complex128{a, b}, "r", freq.Basis{Quantity: freq.Pressure, Space: freq.FullSpace, Distance: 1})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	turn := cmplx.Rect(1, 0.3)
	m, err := measure.Average("two", at(turn*1i, 3e-200), at(1i/turn, 4e-200))
	if err != nil {
		t.Fatal(err)
	}
	if v := m.Response.At(0); cmplx.Abs(v-complex(0, math.Cos(0.3))) > 1e-15 || m.Count != 2 {
		t.Errorf("mean %v of %d, want %g j of 2", v, m.Count, math.Cos(0.3))
	}
	for _, c := range []struct{ got, want float64 }{
		{m.Phase.At(0), 0.3 * math.Sqrt2}, {m.Level.At(0), 0}, {m.RMS.At(0), 1}, {m.Phase.At(1), 0},
		{m.RMS.At(1) * 1e200, math.Sqrt(12.5)}, {real(m.Response.At(1)) * 1e200, 3.5},
	} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("%g, want %g", c.got, c.want)
		}
	}
	up := complex(math.Exp(math.Ln10/10), 0) // 2 dB
	m, err = measure.Average("three", at(up, 1), at(1, 1), at(1/up, 1))
	if err != nil || math.Abs(m.Level.At(0)-2) > 1e-12 || m.Level.Unit() != "dB" || m.RMS.Unit() != "Pa" || m.Phase.Unit() != "rad" {
		t.Errorf("spread %v %s (%v), want 2 dB", m.Level.At(0), m.Level.Unit(), err)
	}
	other, err := freq.NewGrid([]float64{100, 1001})
	if err != nil {
		t.Fatal(err)
	}
	off, err := freq.NewResponse(other, []complex128{1, 1}, "off", at(1, 1).Basis())
	if err != nil {
		t.Fatal(err)
	}
	for want, rs := range map[string][]freq.Response{
		"at least 2":       {at(1, 1)},
		"same frequencies": {at(1, 1), off},
		"same basis":       {at(1, 1), at(1, 1).Stated(freq.Basis{})},
		"0 at 1000 Hz":     {at(1, 1), at(1, 0)},
		"without values":   {{}, {}},
	} {
		if _, err := measure.Average("x", rs...); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}
