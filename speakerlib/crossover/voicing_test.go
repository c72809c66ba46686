package crossover_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

var mask = crossover.Mask{From: 250, To: 12e3, LevelFrom: 300, LevelTo: 3e3, Smoothing: 12, Allowed: 0.75}

// A copy that is 4 dB louder and 1 ms late has the same voicing.
func TestVoicingIgnoresLevelAndDelay(t *testing.T) {
	low, _ := lr4(2000)
	p := evaluate(t, low, "passive")
	a := evaluate(t, freq.Series{low, freq.Gain(level.Ratio(4)), freq.Delay(1e-3)}, "active")
	m, err := crossover.MatchVoicing(a, p, mask)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(m.Level-4) > 1e-9 || math.Abs(m.Worst) > 1e-9 || !m.Within() {
		t.Errorf("level %g dB, worst %g dB, want 4 and 0", m.Level, m.Worst)
	}
}

// A treble 1 dB too high above the level band, by a broad first-order shelf, must
// show with its sign and break the mask of ±0.75 dB.
func TestVoicingFindsAShelf(t *testing.T) {
	k, w := level.Ratio(1), 2*math.Pi*5e3
	shelf := &freq.PolyRatio{Num: freq.NewPoly(w, k), Den: freq.NewPoly(w, 1)}
	p := evaluate(t, freq.Gain(0.1), "passive")
	a := evaluate(t, freq.Series{freq.Gain(0.1), shelf}, "active")
	m, err := crossover.MatchVoicing(a, p, mask)
	if err != nil {
		t.Fatal(err)
	}
	// |shelf|² = (1 + k²x²)/(1 + x²) with x = f/5000, less its mean over the level
	// band; the smoothing changes a curve this broad by less than 0.01 dB.
	db := func(f float64) float64 {
		x := f / 5e3 * f / 5e3
		return level.PowerDB((1 + k*k*x) / (1 + x))
	}
	var mean float64
	const n = 2000
	for i := range n {
		mean += db(300*math.Pow(10, (float64(i)+0.5)/n)) / n
	}
	if want := db(m.WorstAt) - mean; math.Abs(m.Worst-want) > 0.01 || m.WorstAt < 11.5e3 || m.Within() {
		t.Errorf("worst %.3f dB at %.0f Hz (within: %v), want %.3f dB at the upper end, outside the mask", m.Worst, m.WorstAt, m.Within(), want)
	}
}

func TestVoicingRefuses(t *testing.T) {
	low, _ := lr4(2000)
	p := evaluate(t, low, "passive")
	for name, c := range map[string]struct {
		a      freq.Response
		change func(*crossover.Mask)
		want   string
	}{
		"basis":    {p.Stated(freq.Basis{}), func(*crossover.Mask) {}, "one basis"},
		"coverage": {p, func(m *crossover.Mask) { m.To = 30e3 }, "want all of"},
		"reversed": {p, func(m *crossover.Mask) { m.From = 20e3 }, "0 < from < to"},
		"level":    {p, func(m *crossover.Mask) { m.LevelTo = 0 }, "level fitted"},
		"no level": {p, func(m *crossover.Mask) { m.LevelFrom, m.LevelTo = 30e3, 40e3 }, "level of the voicing"},
		"silent":   {evaluate(t, freq.Gain(0), "silent"), func(*crossover.Mask) {}, "silent"},
		"allowed":  {p, func(m *crossover.Mask) { m.Allowed = math.NaN() }, "NaN dB"},
	} {
		m := mask
		c.change(&m)
		if _, err := crossover.MatchVoicing(c.a, p, m); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}
