package freq_test

import (
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

func TestSame(t *testing.T) {
	g, _ := freq.NewGrid([]float64{10, 20})
	r, _ := freq.NewResponse(g, []complex128{1, 2}, "r", freq.Basis{})
	twin, _ := freq.NewResponse(g, []complex128{1, 2}, "r", freq.Basis{})
	p, q := &freq.PolyRatio{}, &freq.PolyRatio{}
	for name, c := range map[string]struct {
		a, b freq.Transfer
		want bool
	}{
		"gain":            {freq.Gain(2), freq.Gain(2), true},
		"gains":           {freq.Gain(2), freq.Gain(3), false},
		"gain and delay":  {freq.Gain(2), freq.Delay(2), false},
		"pointer":         {p, p, true},
		"pointers":        {p, q, false},
		"response":        {r, r.As("renamed"), true},
		"responses":       {r, twin, false},
		"response, other": {r, p, false},
		"chain":           {freq.Series{p, freq.Gain(1)}, freq.Series{p, freq.Gain(1)}, true},
		"chains":          {freq.Series{p}, freq.Series{q}, false},
		"shorter":         {freq.Series{p}, freq.Series{p, p}, false},
		"inverse":         {freq.Inverse{Of: p}, freq.Inverse{Of: p}, true},
		"inverse chains":  {freq.Inverse{Of: freq.Series{p}}, freq.Inverse{Of: freq.Series{p}}, false},
		"nothing":         {nil, nil, true},
		"something":       {p, nil, false},
	} {
		if got := freq.Same(c.a, c.b); got != c.want {
			t.Errorf("%s: %v, want %v", name, got, c.want)
		}
	}
}
