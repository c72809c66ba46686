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

// Three positions: the axis 2 dB louder, one that is 1 dB louder still, and one with a
// notch of 3 dB. With one level the second breaks the mask everywhere; with a level
// each it does not; the notch is listed with its edges.
func TestVoicingsOverPositions(t *testing.T) {
	w := 2 * math.Pi * 1500.0
	notch := &freq.PolyRatio{Num: freq.NewPoly(1, level.Ratio(-3)/(5*w), 1/(w*w)), Den: freq.NewPoly(1, 1/(5*w), 1/(w*w))}
	low, _ := lr4(9000)
	p := evaluate(t, low, "passive")
	pair := func(name string, tr ...freq.Transfer) crossover.Pair {
		return crossover.Pair{Name: name, Active: evaluate(t, append(freq.Series{low}, tr...), "active"), Passive: p}
	}
	m := mask
	m.Smoothing = 48
	pairs := []crossover.Pair{pair("axis", freq.Gain(level.Ratio(2))), pair("side", freq.Gain(level.Ratio(3))), pair("up", freq.Gain(level.Ratio(2)), notch)}
	one, err := crossover.MatchVoicings(pairs, m, crossover.OneLevel)
	if err != nil {
		t.Fatal(err)
	}
	each, err := crossover.MatchVoicings(pairs, m, crossover.LevelEach)
	if err != nil {
		t.Fatal(err)
	}
	if !one[0].Within || math.Abs(one[0].Level-2) > 1e-9 || one[1].Within || math.Abs(one[1].Worst-1) > 1e-9 || math.Abs(one[1].RMS-1) > 1e-9 || one[1].Level != one[0].Level {
		t.Errorf("one level: %+v, %+v", one[0], one[1])
	}
	if s := one[1].Stretches; len(s) != 1 || math.Abs(s[0].Beyond-0.25) > 1e-9 || s[0].From > 255 || s[0].To < 11.5e3 {
		t.Errorf("side: %+v", s)
	}
	if !each[1].Within || math.Abs(each[1].Level-3) > 1e-9 || len(each[1].Stretches) != 0 {
		t.Errorf("a level each: %+v", each[1])
	}
	s := one[2].Stretches
	if len(s) != 1 || math.Abs(s[0].Worst+3) > 0.1 || math.Abs(s[0].WorstAt/1500-1) > 0.02 || s[0].From < 1200 || s[0].To > 1900 {
		t.Errorf("up: %+v", s)
	}
	// A step from too much to too little has two stretches, though no point is within.
	step := p.Values()
	for i := range step {
		k := level.Ratio(1.5)
		if p.Grid().At(i) > 1000 {
			k = 1 / k
		}
		step[i] *= complex(k, 0)
	}
	stepped, err := freq.NewResponse(p.Grid(), step, "stepped", p.Basis())
	if err != nil {
		t.Fatal(err)
	}
	sharp := m
	sharp.Smoothing = 1000
	both, err := crossover.MatchVoicings([]crossover.Pair{{Name: "axis", Active: stepped, Passive: p}}, sharp, crossover.OneLevel)
	if err != nil {
		t.Fatal(err)
	}
	if s := both[0].Stretches; len(s) != 2 || s[0].Worst < 1 || s[1].Worst > -1 || s[0].To >= s[1].From {
		t.Errorf("step: %+v", s)
	}
	if _, err := crossover.MatchVoicings(nil, m, crossover.OneLevel); err == nil {
		t.Error("no position")
	}
	pairs[1].Active = p.Stated(freq.Basis{})
	if _, err := crossover.MatchVoicings(pairs, m, crossover.OneLevel); err == nil || !strings.Contains(err.Error(), "side") {
		t.Errorf("a bad position: %v", err)
	}
	m.From = 60
	if _, err := crossover.MatchVoicings(pairs[:1], m, crossover.OneLevel); err == nil || !strings.Contains(err.Error(), "40 Hz are missing below") {
		t.Errorf("a band that is not covered: %v", err)
	}
}
