package directivity_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// wide returns a set of 70 directions over a grid that a mask can be laid over.
func wide(t *testing.T, basis freq.Basis, toward func(d directivity.Direction) freq.Transfer, d ...directivity.Direction) *directivity.Set {
	t.Helper()
	g := must[*freq.Grid](t)(freq.LogGrid(100, 20e3, 24))
	return must[*directivity.Set](t)(directivity.Simulate(g, basis, "ideal", func(d directivity.Direction) (freq.Transfer, error) { return toward(d), nil }, d...))
}

// Against closed forms: what counts twice behind 90° is 0 dB in the window, which has no
// such direction, and 10·lg(1 + Σw) of the sound power with the weights behind.
func TestVoicingOfAverages(t *testing.T) {
	mask := crossover.Mask{From: 250, To: 12e3, LevelFrom: 300, LevelTo: 3e3, Smoothing: 12, Allowed: 0.75}
	all := directivity.Orbits70()
	omni := wide(t, fullSpace, func(directivity.Direction) freq.Transfer { return freq.Gain(1) }, all...)
	louder := wide(t, fullSpace, func(d directivity.Direction) freq.Transfer {
		if math.Abs(d.Degrees) > 90 {
			return freq.Gain(2 * math.Sqrt2)
		}
		return freq.Gain(2) // a level that the mask takes out
	}, all...)
	rows, err := directivity.Voicing(louder, omni, directivity.Reading{}, mask, crossover.OneLevel)
	if err != nil {
		t.Fatal(err)
	}
	behind := 0.0
	for _, d := range all {
		if a := math.Abs(d.Degrees); a > 90 {
			times := 1.0
			if a == 180 {
				times = 4 / float64(count(all, 180))
			}
			behind += times * directivity.Standard.At(a)
		}
	}
	want := map[string]float64{"axis": 0, "listening window": 0, "sound power": level.PowerDB(1 + behind),
		"early reflections": level.PowerDB((4 + 4./3) / 5)} // the rear's mean of 180° and ±90° is 4/3, four bounces are 1
	for _, r := range rows {
		w, ok := want[r.Position]
		if ok && math.Abs(r.Worst-w) > 1e-9 {
			t.Errorf("%s: %.4f dB, want %.4f", r.Position, r.Worst, w)
		}
		if math.Abs(r.Level-level.DB(2)) > 1e-9 {
			t.Errorf("%s: level %.3f dB taken out, want that of the axis, %.3f", r.Position, r.Level, level.DB(2))
		}
		delete(want, r.Position)
	}
	if len(want) > 0 || len(rows) != 4 {
		t.Errorf("%d rows, without %v", len(rows), want)
	}
	for _, c := range []struct {
		active, passive *directivity.Set
		want            string
	}{
		{nil, omni, "needs both"},
		{louder, ideal(t, func(float64) float64 { return 1 }), "want one grid"},
		{louder, wide(t, fullSpace, func(directivity.Direction) freq.Transfer { return freq.Gain(1) }, all[:40]...), "passive"},
		{wide(t, freq.Basis{Quantity: freq.Pressure, Per: freq.PerInput, Space: freq.FullSpace, Distance: 2}, func(directivity.Direction) freq.Transfer { return freq.Gain(1) }, all...), omni, "one basis"},
	} {
		if _, err := directivity.Voicing(c.active, c.passive, directivity.Reading{}, mask, crossover.OneLevel); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q in it", err, c.want)
		}
	}
}

// count is how many directions are at an angle, of either orbit.
func count(all []directivity.Direction, degrees float64) (n int) {
	for _, d := range all {
		if d.Degrees == degrees {
			n++
		}
	}
	return n
}
