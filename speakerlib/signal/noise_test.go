package signal_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/signal"
)

func noise(t *testing.T, s signal.NoiseSetup) *signal.Noise {
	t.Helper()
	n, err := signal.NewNoise(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func samples(t *testing.T, c *signal.Clip) []float64 {
	t.Helper()
	x, err := c.Channel(0)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// Equal power in every third octave (the definition of pink noise), to what lines
// 0.2 Hz apart resolve, and the crest that was asked for. Noise that is clipped to
// a crest of 2 and left so is off by 0.46 dB at 20 Hz.
func TestPinkNoiseOfStatedCrest(t *testing.T) {
	for _, crest := range []float64{0, 4, 2, 1.6} {
		n := noise(t, signal.NoiseSetup{SampleRate: 48e3, Duration: 5, From: 17, To: 23e3, Shape: signal.Pink{}, Crest: crest, RMS: 0.1, Seed: 7})
		s := signal.StatisticsOf(samples(t, n.Clip))
		if math.Abs(s.RMS/0.1-1) > 1e-9 || s.Crest() > n.Crest*(1+1e-9) || s.Crest() < 0.9*n.Crest {
			t.Errorf("crest %g: rms %g and crest %g, said to be 0.1 and %g", crest, s.RMS, s.Crest(), n.Crest)
		}
		// Left alone the highest of n normal samples is near √(2·ln n) = 5.0 (extreme
		// value theory), of such a band a little less.
		if crest == 0 && (n.Crest < 4 || n.Crest > 5.5) || crest > 0 && n.Crest > crest*1.01 {
			t.Errorf("crest %g, wanted %g", n.Crest, crest)
		}
		spectrum, err := signal.SpectrumOf(n.Clip, 0)
		if err != nil {
			t.Fatal(err)
		}
		bands, err := spectrum.ThirdOctaves(20, 20e3)
		if err != nil {
			t.Fatal(err)
		}
		if len(bands) != 31 {
			t.Fatalf("%d bands from 20 Hz to 20 kHz, want 31", len(bands))
		}
		want := 0.01 * math.Ln10 / 10 / math.Log(23e3/17)
		for _, b := range bands {
			if e := level.PowerDB(b.Power / want); math.Abs(e) > 0.06 {
				t.Errorf("crest %g: band of %.4g Hz is off by %.3f dB", crest, b.Hz, e)
			}
		}
	}
}

func TestNoiseIsOfItsSeed(t *testing.T) {
	s := signal.NoiseSetup{SampleRate: 8e3, Duration: 0.5, From: 50, To: 3e3, Shape: signal.Pink{}, Crest: 2, Seed: 1}
	a, b := samples(t, noise(t, s).Clip), samples(t, noise(t, s).Clip)
	s.Seed = 2
	c := samples(t, noise(t, s).Clip)
	var same, cross, power float64
	for i := range a {
		same = max(same, math.Abs(a[i]-b[i]))
		cross += a[i] * c[i]
		power += a[i] * a[i]
	}
	if same != 0 {
		t.Errorf("one seed gives two noises, %g apart", same)
	}
	if math.Abs(cross/power) > 0.2 {
		t.Errorf("two seeds have a correlation of %g", cross/power)
	}
	n := noise(t, s)
	if p := n.Clip.Peak(); p > 1 || p < 0.9 || math.Abs(n.RMS*n.Crest-1) > 1e-12 {
		t.Errorf("peak without a stated rms is %g of samples and %g between them, want 1", p, n.RMS*n.Crest)
	}
}

// The levels of the standard, from memory, in testdata; so is the script that found
// the poles.
func TestProgrammeNoiseHasTheLevelsOfTheStandard(t *testing.T) {
	n := noise(t, signal.NoiseSetup{SampleRate: 48e3, Duration: 5, From: 17, To: 23e3, Shape: signal.Programme{}, Crest: 2, Seed: 3})
	spectrum, err := signal.SpectrumOf(n.Clip, 0)
	if err != nil {
		t.Fatal(err)
	}
	bands, err := spectrum.ThirdOctaves(20, 20e3)
	if err != nil {
		t.Fatal(err)
	}
	var reference float64 // the band of 500 Hz, which the table has at 0 dB
	for _, b := range bands {
		if math.Abs(b.Hz/501.2-1) < 1e-3 {
			reference = b.Power
		}
	}
	rows := testtable.Read(t, "testdata/programme_levels.csv")
	if len(rows) != 31 {
		t.Errorf("%d levels compared, want 31", len(rows))
	}
	for i, row := range rows {
		hz, want := row.Number(t, "hz"), row.Number(t, "level_dB")
		filter := level.DB(signal.Programme{}.Amplitude(hz) / signal.Pink{}.Amplitude(hz))
		if math.Abs(filter-want) > 0.11 {
			t.Errorf("%.4g Hz: filter %.2f dB, want %.1f", hz, filter, want)
		}
		// A band has the mean over its width, which differs where the filter falls.
		if l := level.PowerDB(bands[i].Power / reference); math.Abs(l-want) > 0.25 {
			t.Errorf("%.4g Hz: band %.2f dB, want %.1f", hz, l, want)
		}
	}
}

func TestNoiseRefusals(t *testing.T) {
	good := signal.NoiseSetup{SampleRate: 48e3, Duration: 1, From: 20, To: 20e3, Shape: signal.Pink{}}
	for name, c := range map[string]struct {
		change func(*signal.NoiseSetup)
		want   string
	}{
		"no rate":   {func(s *signal.NoiseSetup) { s.SampleRate = 0 }, "sample rate of a noise is 0"},
		"no time":   {func(s *signal.NoiseSetup) { s.Duration = math.NaN() }, "duration of a noise is NaN"},
		"too long":  {func(s *signal.NoiseSetup) { s.Duration = 1e6 }, "want at most"},
		"band":      {func(s *signal.NoiseSetup) { s.To = 25e3 }, "half the sample rate"},
		"no lines":  {func(s *signal.NoiseSetup) { s.Duration, s.To = 0.01, 30 }, "no lines"},
		"no shape":  {func(s *signal.NoiseSetup) { s.Shape = nil }, "no shape"},
		"bad shape": {func(s *signal.NoiseSetup) { s.Shape = constant(math.NaN()) }, "amplitude of the noise at 20 Hz is NaN"},
		"silence":   {func(s *signal.NoiseSetup) { s.Shape = constant(0) }, "power of the noise"},
		"crest":     {func(s *signal.NoiseSetup) { s.Crest = 1.2 }, "wanted crest is 1.2"},
		"rms":       {func(s *signal.NoiseSetup) { s.RMS = -1 }, "rms of a noise is -1"},
	} {
		s := good
		c.change(&s)
		if _, err := signal.NewNoise(s); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}

type constant float64

func (c constant) Amplitude(float64) float64 { return float64(c) }

func BenchmarkNoise(b *testing.B) {
	for b.Loop() {
		if _, err := signal.NewNoise(signal.NoiseSetup{SampleRate: 48e3, Duration: 10, From: 20, To: 20e3, Shape: signal.Pink{}, Crest: 2}); err != nil {
			b.Fatal(err)
		}
	}
}
