package divide_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/divide"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// lowOf is a closed box of 60 Hz and Q 0.8 in half space, whose goal is 5 dB less at low
// frequencies by a shelf around 110 Hz (closed form, of first order).
func lowOf(tb testing.TB, missing float64) (divide.Low, func(hz float64) float64) {
	tb.Helper()
	g, err := freq.LogGrid(15, 400, 24)
	if err != nil {
		tb.Fatal(err)
	}
	w := 2 * math.Pi * 60.0
	box := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1/(w*w)), Den: freq.NewPoly(1, 1/(0.8*w), 1/(w*w))}
	bass := response(tb, g, "bass", freq.Series{freq.Gain(2 * level.Pascal(88) / 2.83), box})
	less := level.Ratio(-missing)
	shelf := func(hz float64) float64 {
		x := hz / 110 * hz / 110
		return level.PowerDB((less*less + x) / (1 + x))
	}
	v := bass.SPL(2.83).Values()
	for i := range v {
		v[i] += shelf(g.At(i)) + 2 // and 2 dB louder than the passive bass, as the voice is
	}
	goal, err := freq.NewCurve(g, v, "goal", "dB", freq.Basis{})
	if err != nil {
		tb.Fatal(err)
	}
	half := acoustic
	half.Space = freq.HalfSpace
	return divide.Low{Bass: bass.Stated(half), Goal: goal, Volts: 2.83, At: 250, From: 20}, shelf
}

// The chain of the lowest way holds bass and voice together: below, it is the
// difference of goal and bass, above, the low-pass with the gain of the voice; half
// space and full space have a step of 6 dB between them that nothing is done about.
func TestBassAndVoice(t *testing.T) {
	task := made(t, divide.Symmetric(analog.LinkwitzRiley(4), 1920))
	g := task.Voice[0].Grid()
	k := freq.Gain(level.Pascal(88) / 2.83)
	task.Ways[0].Responses = []freq.Response{response(t, g, "woofer", k)}
	task.Ways[1].Responses = []freq.Response{response(t, g, "tweeter", k)}
	voice, err := divide.Flat(90, 2.83, task.Ways[0].Responses[0])
	if err != nil {
		t.Fatal(err)
	}
	task.Voice, task.From, task.Enough = []freq.Response{voice}, 250, 0.1
	low, shelf := lowOf(t, 5)
	joined, err := low.Join(task)
	if err != nil {
		t.Fatal(err)
	}
	if joined.From != 20 || task.From != 250 || task.Ways[0].Responses[0].Len() != g.Len() {
		t.Error("the task itself was changed")
	}
	if w, x := joined.Ways[0].Responses[0].At(0), joined.Ways[1].Responses[0].At(0); cmplx.Abs(x) > 0.0011*cmplx.Abs(w) {
		t.Errorf("the tweeter has %v in the bass, the woofer %v", x, w)
	}
	r, err := joined.Run()
	if err != nil {
		t.Fatal(err)
	}
	for name, n := range map[string]*divide.Network{"apart": r.Apart, "together": r.Network} {
		at, err := freq.NewGrid([]float64{25, 40, 63, 100, 160, 200, 320, 500, 800})
		if err != nil {
			t.Fatal(err)
		}
		c, err := freq.Evaluate(n.Transfers()[0], at, "chain", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		for i, v := range c.DB(1).Values() {
			want := 2 + shelf(at.At(i))
			if at.At(i) > 250 {
				x := math.Pow(at.At(i)/1920, 4)
				want = 2 - level.DB(1+x)
			}
			if math.Abs(v-want) > 0.3 {
				t.Errorf("%s: chain of the woofer is %.2f dB at %g Hz, want %.2f", name, v, at.At(i), want)
			}
		}
	}
	for want, change := range map[string]func(*divide.Low){
		"in dB as the bass":    func(l *divide.Low) { l.Goal = l.Goal.Times(1, "Pa") },
		"want 0 < from":        func(l *divide.Low) { l.From = 300 },
		"per volt at the term": func(l *divide.Low) { l.Bass = l.Bass.Stated(freq.Basis{}) },
		"both to reach":        func(l *divide.Low) { l.At = 600 },
		"to begin at 10":       func(l *divide.Low) { l.From = 10 },
		"0 V":                  func(l *divide.Low) { l.Volts = 0 },
	} {
		bad := low
		change(&bad)
		if _, err := bad.Join(task); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q: %v", want, err)
		}
	}
	if _, err := low.Join(divide.Task{}); err == nil {
		t.Error("a task without ways")
	}
}
