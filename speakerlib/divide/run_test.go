package divide_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/divide"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/tune"
)

var acoustic = freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}

func response(tb testing.TB, g *freq.Grid, name string, t freq.Transfer) freq.Response {
	tb.Helper()
	r, err := freq.Evaluate(t, g, name, acoustic)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// made is a task of drivers in one direction: a woofer that falls with a pole, a
// midrange and a tweeter with a high-pass of second order each, at different distances.
func made(tb testing.TB, splits ...divide.Split) divide.Task {
	tb.Helper()
	g, err := freq.LogGrid(60, 20e3, 24)
	if err != nil {
		tb.Fatal(err)
	}
	pole := func(hz float64) freq.Transfer {
		return &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1/(2*math.Pi*hz))}
	}
	high := func(hz, q float64) freq.Transfer {
		w := 2 * math.Pi * hz
		return &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1/(w*w)), Den: freq.NewPoly(1, 1/(q*w), 1/(w*w))}
	}
	k := freq.Gain(level.Pascal(88) / 2.83)
	drivers := []divide.Way{
		{Name: "woofer", Responses: []freq.Response{response(tb, g, "woofer", freq.Series{k, pole(4000), freq.Delay(90e-6)})}},
		{Name: "tweeter", Responses: []freq.Response{response(tb, g, "tweeter", freq.Series{k, freq.Gain(1.6), high(900, 1.1)})}}}
	if len(splits) == 2 {
		middle := divide.Way{Name: "midrange", Responses: []freq.Response{response(tb, g, "midrange", freq.Series{k, high(120, 0.8), pole(7000), freq.Delay(40e-6)})}}
		drivers = []divide.Way{drivers[0], middle, drivers[1]}
	}
	voice, err := divide.Flat(88, 2.83, drivers[0].Responses[0])
	if err != nil {
		tb.Fatal(err)
	}
	return divide.Task{Ways: drivers, Splits: splits, Directions: []divide.Direction{{Name: "axis", Counts: 1}}, Voice: []freq.Response{voice},
		SampleRate: 96e3, From: 100, To: 18e3}
}

// Linkwitz–Riley halves of orders 2, 4 and 6 sum to an all-pass, the second and sixth
// with one way inverted; halves are 6.02 dB down at the crossover (Linkwitz, JAES 24,
// 1976). A Butterworth of order 3 sums to an all-pass in either polarity, with 3.01 dB
// in quadrature. The ways are flat, so that the filters are the halves, and the tweeter
// is 90 µs early and gets that as a delay.
func TestLinkwitzRileySums(t *testing.T) {
	for name, c := range map[string]struct {
		p        analog.Prototype
		inverted bool
		down     float64
		null     float64 // the reverse null is at least so deep, dB
	}{
		"LR2": {analog.LinkwitzRiley(2), true, 6.02, -25},
		"LR4": {analog.LinkwitzRiley(4), false, 6.02, -25},
		"LR6": {analog.LinkwitzRiley(6), true, 6.02, -25},
		"LR8": {analog.LinkwitzRiley(8), false, 6.02, -25},
		"BW3": {analog.Butterworth(3), false, 3.01, -3},
		// θ₄ = s⁴ + 10s³ + 45s² + 105s + 105 (Thomson, Proc. IEE 96 III, 1949) where
		// s⁴ = 105 is 105/251.2.
		"Bessel 4": {analog.Bessel(4, analog.ByPhase), false, 7.58, -10},
	} {
		task := made(t, divide.Symmetric(c.p, 1920))
		g := task.Voice[0].Grid()
		task.Ways[0].Responses = []freq.Response{response(t, g, "woofer", freq.Series{freq.Gain(0.01), freq.Delay(90e-6)})}
		task.Ways[1].Responses = []freq.Response{response(t, g, "tweeter", freq.Gain(0.02))}
		task.Enough = 0.02
		r, err := task.Run()
		if err != nil {
			t.Fatal(name, err)
		}
		n := r.Network
		if name != "Bessel 4" && (n.Range > 0.3 || n.RMS > 0.06) {
			t.Errorf("%s: sum within %.3f dB, rms %.3f dB, want flat", name, n.Range, n.RMS)
		}
		if got := n.Chains[0].Cascade.Inverted() != n.Chains[1].Cascade.Inverted(); strings.HasPrefix(name, "LR") && got != c.inverted {
			t.Errorf("%s: inverted %v, want %v", name, got, c.inverted)
		}
		if null := n.Nulls[0]; strings.HasPrefix(name, "LR") && (null.Depth > c.null || math.Abs(null.At/1920-1) > 0.03 || null.Coherence < 0.99) {
			t.Errorf("%s: %+v", name, null)
		}
		for k, w := range r.Apart.Ways[0] {
			i := w.Grid().Nearest(1920)
			half := level.DB(cmplx.Abs(w.At(i)) / cmplx.Abs(task.Voice[0].At(i)))
			if math.Abs(half+c.down) > 0.1 {
				t.Errorf("%s: way %d is at %.2f dB at the crossover, want %.2f", name, k, half, -c.down)
			}
		}
		if a := r.Aligned[0]; strings.HasPrefix(name, "LR") && math.Abs(a.Delay-90e-6) > 8e-6 {
			t.Errorf("%s: delay %.1f µs, want 90", name, a.Delay*1e6)
		}
	}
}

// One direction does not tell delays: what was aligned stays, to half a sample, however
// little holds the fit of the sum.
func TestOneDirectionKeepsItsDelay(t *testing.T) {
	task := made(t, divide.Symmetric(analog.LinkwitzRiley(2), 2000))
	task.Stay = 1e-6
	r, err := task.Run()
	if err != nil {
		t.Fatal(err)
	}
	if late := r.Network.Chains[1].Delay - r.Network.Chains[0].Delay; math.Abs(late-r.Aligned[0].Delay) > 0.501/96e3 || r.Network == r.Apart {
		t.Errorf("%g s late, aligned by %g s", late, r.Aligned[0].Delay)
	}
}

// Slopes of two orders and two corners: each way has its own (Butterworth's definition,
// −3.01 dB at the corner; Linkwitz's, −6.02 dB).
func TestUnequalSlopes(t *testing.T) {
	split := divide.Split{Low: analog.Butterworth(2), High: analog.LinkwitzRiley(4), Fc: 1920, HighFc: 2715.29}
	task := made(t, split)
	task.Enough, task.Apart = 0.02, true
	r, err := task.Run()
	if err != nil {
		t.Fatal(err)
	}
	for k, c := range []struct{ hz, down float64 }{{1920, 3.01}, {2715.29, 6.02}} {
		w := r.Apart.Ways[0][k]
		i := w.Grid().Nearest(c.hz)
		if half := level.DB(cmplx.Abs(w.At(i)) / cmplx.Abs(task.Voice[0].At(i))); math.Abs(half+c.down) > 0.15 {
			t.Errorf("way %d is at %.2f dB at %g Hz, want %.2f", k, half, c.hz, -c.down)
		}
	}
	if s := split.String(); !strings.Contains(s, "1920 Hz") || !strings.Contains(s, "2715.29 Hz") {
		t.Error(s)
	}
}

// Whole samples are whole; a Thiran all-pass delays by parts of one, and every way is
// later by its order.
func TestDelaysAreRealised(t *testing.T) {
	task := made(t, divide.Symmetric(analog.LinkwitzRiley(4), 2000))
	task.SampleRate = 44100
	whole, err := task.Run()
	if err != nil {
		t.Fatal(err)
	}
	d := whole.Network.Chains[1].Delay * 44100
	if math.Abs(d-math.Round(d)) > 1e-9 || d < 3 || whole.Network.Chains[1].Cascade.Delay() != int(math.Round(d)) {
		t.Errorf("delay of %g samples", d)
	}
	task.Delays.Thiran = 3
	part, err := task.Run()
	if err != nil {
		t.Fatal(err)
	}
	a, b := part.Network.Chains[0], part.Network.Chains[1]
	if a.Cascade.Delay() != 3 || math.Abs(b.Latency-b.Delay-3/44100.0) > 1e-12 || part.Network.RMS > whole.Network.RMS+0.02 {
		t.Errorf("latencies %g and %g s, rms %g and %g dB", a.Latency, b.Latency, part.Network.RMS, whole.Network.RMS)
	}
	// The chain is the fitted cascade later by what is told, to 4 kHz (the definition of
	// a delay; Thiran's is flat at low frequencies).
	g, err := freq.LogGrid(100, 4000, 6)
	if err != nil {
		t.Fatal(err)
	}
	fitted := part.Sum.Branches[1].Cascade.ResponseTo(nil, g)
	for i, v := range b.Cascade.ResponseTo(nil, g) {
		want := fitted[i] * cmplx.Rect(1, -2*math.Pi*g.At(i)*b.Latency)
		if e := cmplx.Abs(v/want - 1); e > 1e-3 {
			t.Fatalf("%g Hz: off by %g", g.At(i), e)
		}
	}
}

// Three ways, whose upper crossover turns the phase of the middle and not of the
// woofer: apart the sum dips, together it is flat again.
func TestThreeWays(t *testing.T) {
	r, err := made(t, divide.Symmetric(analog.LinkwitzRiley(4), 500), divide.Symmetric(analog.LinkwitzRiley(4), 3000)).Run()
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Aligned) != 2 || len(r.Network.Chains) != 3 || len(r.Network.Nulls) != 2 || r.Network.Range > 0.6 || r.Network.Error > r.Apart.Error {
		t.Errorf("within %.2f dB (apart %.2f dB): %+v", r.Network.Range, r.Apart.Range, r.Network.Nulls)
	}
	if a := r.Network.Active(); a.Validate() != nil || len(a.Ways) != 3 {
		t.Errorf("%v", a.Validate())
	}
}

// The group delay of a sum of flat ways is the flight of both and the all-pass of the
// halves, 2√2·(1+x²)/(ω₀·(1+x⁴)) (Linkwitz, JAES 24, 1976); where a flight is left in that
// turns the phase more than can be followed, none is told and all else is.
func TestGroupDelayOfTheSum(t *testing.T) {
	for _, flight := range []float64{0.1e-3, 30e-3} {
		task := made(t, divide.Symmetric(analog.LinkwitzRiley(4), 1920))
		g := task.Voice[0].Grid()
		for k := range task.Ways {
			task.Ways[k].Responses = []freq.Response{response(t, g, task.Ways[k].Name, freq.Series{freq.Gain(0.01), freq.Delay(flight)})}
		}
		task.Enough = 0.02
		r, err := task.Run()
		if err != nil {
			t.Fatal(err)
		}
		if flight > 1e-3 {
			if r.Network.GroupDelay.Grid() != nil || r.Network.Range > 0.3 {
				t.Errorf("a flight of %g s: delay on %v, sum within %g dB", flight, r.Network.GroupDelay.Grid(), r.Network.Range)
			}
			continue
		}
		for _, hz := range []float64{200, 480, 960, 1920, 3840, 7680} {
			x := hz / 1920 * hz / 1920
			want := flight + 2*math.Sqrt2/(2*math.Pi*1920)*(1+x)/(1+x*x)
			if got := r.Network.GroupDelay.At(g.Nearest(hz)); math.Abs(got-want) > 8e-6 {
				t.Errorf("%g Hz: %.1f µs, want %.1f µs", hz, got*1e6, want*1e6)
			}
		}
	}
}

// Delays and polarities of neighbours add up along the ways: with two splits of order 2
// the middle way is inverted against both others.
func TestAlignmentAddsUp(t *testing.T) {
	task := made(t, divide.Symmetric(analog.LinkwitzRiley(2), 400), divide.Symmetric(analog.LinkwitzRiley(2), 3500))
	task.Apart = true
	r, err := task.Run()
	if err != nil {
		t.Fatal(err)
	}
	c := r.Apart.Chains
	for k, a := range r.Aligned {
		if got := c[k+1].Delay - c[k].Delay; !a.Inverted || math.Abs(got-a.Delay) > 1.1/96e3 {
			t.Errorf("ways %d and %d are %g s apart and inverted: %v; want %+v", k, k+1, got, a.Inverted, a)
		}
	}
	if c[0].Cascade.Inverted() || !c[1].Cascade.Inverted() || c[2].Cascade.Inverted() || math.Abs(r.Aligned[0].Delay) < 20e-6 {
		t.Errorf("polarities %v %v %v, %+v", c[0].Cascade.Inverted(), c[1].Cascade.Inverted(), c[2].Cascade.Inverted(), r.Aligned)
	}
}

// What is before a way anyway is part of what is fitted, and of the chain.
func TestBefore(t *testing.T) {
	task := made(t, divide.Symmetric(analog.LinkwitzRiley(4), 2000))
	plain, err := task.Run()
	if err != nil {
		t.Fatal(err)
	}
	task.Ways[0].Before = freq.Gain(0.5)
	r, err := task.Run()
	if err != nil {
		t.Fatal(err)
	}
	if g := r.Network.Chains[0].Cascade.Gain() / plain.Network.Chains[0].Cascade.Gain(); math.Abs(g-2) > 0.02 || math.Abs(r.Network.Range-plain.Network.Range) > 0.02 {
		t.Errorf("gain up by %g, want 2; range %g and %g dB", g, r.Network.Range, plain.Network.Range)
	}
	task.Apart = true
	if r, err = task.Run(); err != nil || r.Sum != nil || r.Network != r.Apart {
		t.Errorf("apart: %v, %+v", err, r)
	}
}

func TestTaskRefusals(t *testing.T) {
	other, err := freq.LogGrid(60, 19e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	for want, change := range map[string]func(*divide.Task){
		"2 ways":               func(d *divide.Task) { d.Ways = d.Ways[:1] },
		"want one voice":       func(d *divide.Task) { d.Voice = nil },
		"ways are aligned":     func(d *divide.Task) { d.Directions[0].Counts = 0 },
		"40 Hz are missing be": func(d *divide.Task) { d.From = 20 },
		"above":                func(d *divide.Task) { d.To = 30e3 },
		"half of them":         func(d *divide.Task) { d.SampleRate = 20e3 },
		"at its terminals":     func(d *divide.Task) { d.Ways[0].Responses[0] = d.Ways[0].Responses[0].Stated(freq.Basis{}) },
		"as the voice":         func(d *divide.Task) { d.Ways[0].Responses[0] = response(t, other, "x", freq.Gain(1)) },
		"ascending within":     func(d *divide.Task) { d.Splits[0].Fc = 50 },
		"both slopes":          func(d *divide.Task) { d.Splits[0].High = nil },
		"skirt is 0.5":         func(d *divide.Task) { d.Skirt = 0.5 },
		"smoothing is NaN":     func(d *divide.Task) { d.Smoothing = math.NaN() },
		"Thiran order 20":      func(d *divide.Task) { d.Delays.Thiran = 20 },
		"reach NaN":            func(d *divide.Task) { d.Reach = math.NaN() },
		"before way":           func(d *divide.Task) { d.Ways[0].Before = response(t, other, "x", freq.Gain(1)) },
		"not both bounds":      func(d *divide.Task) { d.Ways[0].Sections = []tune.Free{{Low: digital.Peak{F0: 100, Gain: 1, Q: 1}}} },
		"any delay within ±1 ms": func(d *divide.Task) {
			late, err := freq.Evaluate(freq.Delay(1.2e-3), d.Voice[0].Grid(), "late", freq.Basis{})
			if err != nil {
				t.Fatal(err)
			}
			for i, r := range d.Ways[0].Responses {
				if d.Ways[0].Responses[i], err = r.Mul(late); err != nil {
					t.Fatal(err)
				}
			}
		},
		"names that differ":  func(d *divide.Task) { d.Ways[1].Name = d.Ways[0].Name },
		"high-pass of cross": func(d *divide.Task) { d.Splits[0].HighFc = 1e6 },
		"-Inf dB at":         func(d *divide.Task) { d.Ways[1].Responses[0] = response(t, d.Voice[0].Grid(), "x", freq.Gain(0)) },
	} {
		task := made(t, divide.Symmetric(analog.LinkwitzRiley(4), 2000))
		change(&task)
		if _, err := task.Run(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q: %v", want, err)
		}
	}
	if _, err := divide.Flat(88, 0, response(t, other, "x", freq.Gain(1))); err == nil {
		t.Error("a voice at 0 V")
	}
	if _, err := divide.Flat(math.Inf(-1), 1, response(t, other, "x", freq.Gain(1))); err == nil {
		t.Error("a voice of −Inf dB")
	}
}
