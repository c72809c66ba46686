package divide_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/divide"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/signal"
)

const (
	degree = math.Pi / 180
	sound  = 343.0
	apart  = 0.15 // m, from way to way
)

var room = air.Medium{Density: 1.2, SpeedOfSound: sound}

// vertical is a point with a response, as a microphone on an arc of 1 m hears it.
func vertical(tb testing.TB, g *freq.Grid, name string, height float64, of freq.Transfer) crossover.Vertical {
	tb.Helper()
	v := crossover.Vertical{Name: name, Height: height}
	for a := -70.0; a <= 70; a += 10 {
		p := crossover.Arc(1, a*degree)
		d := math.Hypot(p.Distance, p.Height-height)
		v.Angles = append(v.Angles, a*degree)
		v.Responses = append(v.Responses, response(tb, g, name, freq.Series{of, freq.Gain(1 / d), phasor((d - 1) / sound)}))
	}
	return v
}

// phasor is a delay that may be negative.
type phasor float64

func (p phasor) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i, w := range g.Omega() {
		dst[i] = cmplx.Rect(1, -w*float64(p))
	}
	return dst
}

// question is a search of two flat points, 88 dB at 2.83 V, heard from far away, the
// reference point between them.
func question(tb testing.TB, slopes ...divide.Slopes) divide.Search {
	tb.Helper()
	g, err := freq.LogGrid(125, 16e3, 24)
	if err != nil {
		tb.Fatal(err)
	}
	k := freq.Gain(level.Pascal(88) / 2.83)
	voice, err := divide.Flat(88, 2.83, response(tb, g, "x", k))
	if err != nil {
		tb.Fatal(err)
	}
	return divide.Search{
		Lower: vertical(tb, g, "woofer", -apart/2, k), Upper: vertical(tb, g, "tweeter", apart/2, k), Air: room, Voice: voice,
		Frequencies: []float64{2000}, Slopes: slopes, Distance: 100, From: 250, To: 8e3, Level: 94,
		Objectives: []divide.Objective{divide.Tilt}}
}

func same(p analog.Prototype) divide.Slopes { return divide.Slopes{Low: p, High: p} }

func find(tb testing.TB, s divide.Search) *divide.Found {
	tb.Helper()
	f, err := s.Run()
	if err != nil {
		tb.Fatal(err)
	}
	return f
}

// Linkwitz–Riley of order 4: no tilt, a flat axis, a deep null, and the group delay of
// the all-pass of Q = 1/√2 that its sum is, 2√2·(1+x²)/(ω₀·(1+x⁴)) less its value at
// the end of the band (Linkwitz, JAES 24, 1976). Of order 2 it needs the inversion.
// Butterworth of order 3 has its ways in quadrature, so that the path between them
// must make up a quarter of a wavelength: sin θ = ±λ/4d, the sign by the polarity
// (J. D'Appolito, 74th AES Convention, 1983; from memory).
func TestIdealTopologies(t *testing.T) {
	s := question(t, same(analog.LinkwitzRiley(4)), same(analog.LinkwitzRiley(2)), same(analog.Butterworth(3)))
	s.Inverted = []bool{false, true}
	f := find(t, s)
	if len(f.Points) != 6 {
		t.Fatalf("%d points", len(f.Points))
	}
	g := s.Voice.Grid()
	lambda := sound / g.At(g.Nearest(2000))
	w0 := 2 * math.Pi * 2000
	tau := func(hz float64) float64 {
		x := hz / 2000 * hz / 2000
		return 2 * math.Sqrt2 / w0 * (1 + x) / (1 + x*x)
	}
	lr4 := f.Points[0]
	if math.Abs(lr4.Tilt) > 0.1*degree || lr4.Range > 1e-6 || lr4.Null > -25 || lr4.Inverted {
		t.Errorf("LR4: %+v", lr4)
	}
	// The delay is largest at x² = √2 − 1.
	if want := tau(2000*math.Sqrt(math.Sqrt2-1)) - tau(8000); math.Abs(lr4.Delay/want-1) > 0.01 {
		t.Errorf("LR4: group delay %g s, want %g", lr4.Delay, want)
	}
	// At 2 kHz the threshold is 1 ms, at 500 Hz 3.2 ms, at 1 kHz 2 ms (freq.AudibleDelay).
	want := max((tau(500)-tau(8000))/3.2e-3, (tau(1000)-tau(8000))/2e-3, (tau(2000)-tau(8000))/1e-3)
	if math.Abs(lr4.Audible/want-1) > 0.01 {
		t.Errorf("LR4: %g of the audible delay, want %g", lr4.Audible, want)
	}
	// −3 dB where cos(π·d·sin θ/λ) is: to both sides of the axis.
	if w := 2 * math.Asin(math.Acos(level.Ratio(-3))/math.Pi*lambda/apart); math.Abs(lr4.Width-w) > 0.3*degree {
		t.Errorf("LR4: width %.2f°, want %.2f°", lr4.Width/degree, w/degree)
	}
	if wrong := f.Points[1]; !wrong.Inverted || wrong.Range < 20 {
		t.Errorf("LR4, inverted: %+v", wrong)
	}
	if f.Points[2].Range < 20 || f.Points[3].Range > 1e-6 {
		t.Errorf("LR2: within %g dB, inverted %g dB", f.Points[2].Range, f.Points[3].Range)
	}
	for k, sign := range []float64{1, -1} {
		p := f.Points[4+k]
		if want := sign * math.Asin(lambda/4/apart); math.Abs(math.Abs(p.Tilt)-math.Abs(want)) > 0.5*degree || p.Range > 1e-6 {
			t.Errorf("BW3: tilt %.2f°, want ±%.2f°; within %g dB", p.Tilt/degree, want/degree, p.Range)
		}
	}
	if f.Points[4].Tilt*f.Points[5].Tilt >= 0 {
		t.Error("BW3 tilts to one side in both polarities")
	}
}

// Ways that are left as they are, the woofer 60 µs late: the lobe tilts down by
// asin(c·τ/d), and a delay takes that away (two-source geometry). ExcessLag finds
// one of 270 µs behind drivers of minimum phase and either polarity.
func TestWithoutDelay(t *testing.T) {
	s := question(t, same(analog.LinkwitzRiley(4)))
	s.Lag, s.Delays = 60e-6, []bool{true, false}
	f := find(t, s)
	if math.Abs(f.Points[0].Tilt) > 0.1*degree {
		t.Errorf("with a delay the tilt is %.2f°", f.Points[0].Tilt/degree)
	}
	if want := -math.Asin(sound * 60e-6 / apart); math.Abs(f.Points[1].Tilt-want) > 0.5*degree || f.Points[1].Range < 0.3 {
		t.Errorf("without: %.2f° and %.2f dB, want %.2f°", f.Points[1].Tilt/degree, f.Points[1].Range, want/degree)
	}
	g := s.Voice.Grid()
	w := 2 * math.Pi * 3000
	pole := &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1.2/w, 1/(w*w))}
	v := 2 * math.Pi * 900
	high := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1/(v*v)), Den: freq.NewPoly(1, 1.1/v, 1/(v*v))}
	for _, sign := range []freq.Gain{1, -1} {
		lag, err := divide.ExcessLag(response(t, g, "woofer", freq.Series{pole, phasor(260e-6), sign}), response(t, g, "tweeter", freq.Series{high, phasor(-10e-6)}),
			freq.Tails{Above: -12}, freq.Tails{Below: 12}, 800, 5000)
		if err != nil || math.Abs(lag-270e-6) > 3e-6 {
			t.Errorf("lag %g s, want 270 µs: %v", lag, err)
		}
	}
}

// Ways that are aligned at 1 m on the axis of the upper one are not at 3 m; aligned
// there they are. At 1 m the woofer's path is longer by √(1+d²) − 1 of the 1 m, at 3 m by
// less (Parallax), and the tilt is that over d.
func TestAlignedWhereOneListens(t *testing.T) {
	s := question(t, same(analog.LinkwitzRiley(4)))
	g := s.Voice.Grid()
	k := freq.Gain(level.Pascal(88) / 2.83)
	s.Lower, s.Upper, s.Distance = vertical(t, g, "woofer", -apart, k), vertical(t, g, "tweeter", 0, k), 3
	s.Tweeter = &divide.Tweeter{Cone: freq.Gain(1e-5), Current: freq.Gain(0.2), Fs: 900}
	near := find(t, s).Points[0]
	lag, err := crossover.Parallax{Separation: apart, Air: room}.Shift(1, 3)
	if err != nil {
		t.Fatal(err)
	}
	// At 3 m the woofer comes earlier, by what the lobe points up.
	if want := math.Asin(-sound * lag / apart); math.Abs(near.Tilt-want) > 0.3*degree {
		t.Errorf("tilt %.2f° at 3 m, want %.2f°", near.Tilt/degree, want/degree)
	}
	s.Aligned = crossover.Place{Distance: 3}
	if there := find(t, s).Points[0]; math.Abs(there.Tilt) > 0.3*degree || there.Range > 1e-6 {
		t.Errorf("aligned at 3 m: tilt %.2f°, within %g dB", there.Tilt/degree, there.Range)
	} else if math.Abs(there.Volts/near.Volts-1) > 0.01 {
		t.Errorf("aligned at 3 m: %g V for the level at 1 m, want %g", there.Volts, near.Volts)
	}
}

// A tweeter's excursion follows from what it radiates: p = ρ·Sd·a/2πr in half space,
// so that x = √2·p·2πr/(ρ·Sd·ω²) times the half (Kinsler et al., the baffled simple
// source; from memory), whatever its parameters.
func TestExcursionOfTheTweeter(t *testing.T) {
	s := question(t, same(analog.LinkwitzRiley(4)), same(analog.LinkwitzRiley(2)))
	dome := driver.Params{Re: 4.9, Bl: 2.6, Mms: 0.34e-3, Cms: 78e-6, Rms: 1.3, Sd: 7.1e-4}
	coil := limits.Coil{Re: 4.9, Wire: limits.Copper, Thermal: limits.Thermal{{Resistance: 11, Capacity: 0.3}}, MaxRise: 100}
	tw, err := divide.TweeterOf(dome, room, coil)
	if err != nil {
		t.Fatal(err)
	}
	motion, err := enclosure.Mounted{Driver: dome, Box: enclosure.InfiniteBaffle{}, Air: room}.Motion()
	if err != nil {
		t.Fatal(err)
	}
	g := s.Voice.Grid()
	s.Upper = vertical(t, g, "tweeter", 0, motion.Pressure)
	s.Lower = vertical(t, g, "woofer", 0, freq.Gain(0.02))
	s.Tweeter = &tw
	f := find(t, s)
	for k, order := range []float64{4, 2} {
		var want, at float64
		for i := range g.Len() {
			x := math.Pow(g.At(i)/2000, order)
			w := g.Omega()[i]
			if v := math.Sqrt2 * level.Pascal(94) * 2 * math.Pi / (1.2 * 7.1e-4 * w * w) * x / (1 + x); v > want {
				want, at = v, g.At(i)
			}
		}
		if p := f.Points[k]; math.Abs(p.Excursion/want-1) > 1e-3 || p.ExcursAt != at || math.Abs(p.Floor-2000/dome.Fs()) > 1e-9 {
			t.Errorf("order %g: %g m at %g Hz, want %g at %g", order, p.Excursion, p.ExcursAt, want, at)
		}
	}
	if f.Points[1].Excursion < 1.9*f.Points[0].Excursion {
		t.Error("a shallow slope does not cost excursion")
	}
}

// Heat of a resistance behind the half, in pink noise of a crest of 2 whose peaks are
// those of the sine: with x = f/fc, ∫x⁸/(1+x⁴)²·dx/x = ¼·(ln(1+x⁴) + 1/(1+x⁴)), over
// the grid, of ln(20 kHz/20 Hz) altogether (closed form).
func TestHeatOfTheTweeter(t *testing.T) {
	s := question(t, same(analog.LinkwitzRiley(4)))
	const re = 5.0
	s.Tweeter = &divide.Tweeter{Cone: freq.Gain(0), Current: freq.Gain(1 / re), Fs: 1000,
		Coil: limits.Coil{Re: re, Wire: limits.Copper, Thermal: limits.Thermal{{Resistance: 1e-3, Capacity: 1}}, MaxRise: 100}}
	s.Shape, s.Crest = signal.Pink{}, 2
	p := find(t, s).Points[0]
	part := func(hz float64) float64 {
		y := math.Pow(hz/2000, 4)
		return (math.Log(1+y) + 1/(1+y)) / 4
	}
	g := s.Voice.Grid()
	share := (part(g.Last()) - part(g.First())) / math.Log(1000)
	// 94 dB are 2.83 V·10^(6/20) of sine; the tweeter as measured at 1 m is d²…: its
	// own distance from the microphone on the axis makes up for itself.
	gain := math.Hypot(1, apart/2)
	u := 2.83 * level.Ratio(6) * math.Sqrt2 / 2 * gain
	if want := u * u / re * share; math.Abs(p.Heat/want-1) > 0.02 || math.Abs(p.Rise/(p.Heat*1e-3)-1) > 1e-9 {
		t.Errorf("%g W, want %g; %g K", p.Heat, want, p.Rise)
	}
}

// The guard is asked where a way is heard, at the level that it has there; the beam is
// told at the crossover; the window is an average of powers.
func TestGuardBeamAndWindow(t *testing.T) {
	s := question(t, same(analog.LinkwitzRiley(4)))
	g := s.Voice.Grid()
	k := freq.Gain(level.Pascal(88) / 2.83)
	low := response(t, g, "woofer at 30°", freq.Series{k, freq.Gain(level.Ratio(-5))})
	high := response(t, g, "tweeter at 30°", freq.Series{k, freq.Gain(level.Ratio(-2))})
	s.Beam = &divide.Seat{Name: "30°", Lower: low, Upper: high}
	most := map[string]float64{}
	lowest := map[string]float64{"tweeter": math.Inf(1)}
	s.Guard = func(way string, hz, spl float64) float64 {
		most[way] = max(most[way], spl)
		lowest[way] = min(lowest[way], hz)
		if way == "tweeter" {
			return 0.03
		}
		return 0.01
	}
	p := find(t, s).Points[0]
	// The ways stand 75 mm off the axis: 0.024 dB, and are taken at it.
	if math.Abs(p.Beaming+5) > 0.05 || math.Abs(p.Step-3) > 0.05 || p.Distorts != 0.03 {
		t.Errorf("%+v", p)
	}
	// x⁴/(1+x⁴) is −10 dB at x⁴ = 1/(√10 − 1).
	if want := 2000 * math.Pow(math.Sqrt(10)-1, -0.25); lowest["tweeter"] < want || lowest["tweeter"] > want*1.03 || math.Abs(most["tweeter"]-94) > 0.1 {
		t.Errorf("guard asked from %g Hz on, want %g; up to %g dB", lowest["tweeter"], want, most["tweeter"])
	}
	// Seats whose woofer is 6 dB down and whose tweeter is not: a step of about 6 dB,
	// of which a line takes some.
	s.Window = []divide.Seat{{Name: "side", Lower: response(t, g, "w", freq.Series{k, freq.Gain(0.5)}), Upper: response(t, g, "t", k), Counts: 1}}
	if r := find(t, s).Points[0].Ripple; r < 1 || r > 6 {
		t.Errorf("ripple %g dB of a step of 6 dB", r)
	}
	s.Window = append(s.Window, divide.Seat{Name: "axis", Lower: response(t, g, "w", k), Upper: response(t, g, "t", k), Counts: 1e9})
	if r := find(t, s).Points[0].Ripple; r > 1e-6 {
		t.Errorf("ripple %g dB where the axis counts alone", r)
	}
}

// By 1/r: 94 dB at 2 m are 100.02 dB at 1 m, where the guard knows its distortion.
func TestGuardIsAskedAtOneMetre(t *testing.T) {
	s := question(t, same(analog.LinkwitzRiley(4)))
	far := func(r freq.Response) freq.Response {
		b := r.Basis()
		b.Distance = 2
		return r.Stated(b)
	}
	for _, v := range []*crossover.Vertical{&s.Lower, &s.Upper} {
		for i, r := range v.Responses {
			v.Responses[i] = far(r)
		}
	}
	s.Voice = far(s.Voice)
	var most float64
	s.Guard = func(_ string, _, spl float64) float64 { most = max(most, spl); return 0 }
	find(t, s)
	if want := 94 + level.DB(2); math.Abs(most-want) > 0.01 {
		t.Errorf("guard is asked up to %.3f dB, want %.3f", most, want)
	}
}

func TestSearchRefusals(t *testing.T) {
	g, err := freq.LogGrid(125, 15e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	other := response(t, g, "x", freq.Gain(1))
	for want, change := range map[string]func(*divide.Search){
		"0 frequencies":   func(s *divide.Search) { s.Frequencies = nil },
		"want it within":  func(s *divide.Search) { s.Frequencies = []float64{100} },
		"missing below":   func(s *divide.Search) { s.From = 50 },
		"lag of NaN":      func(s *divide.Search) { s.Lag = math.NaN() },
		"voice is":        func(s *divide.Search) { s.Voice = other },
		"seat":            func(s *divide.Search) { s.Window = []divide.Seat{{Lower: other, Upper: other, Counts: 1}} },
		"have chains":     func(s *divide.Search) { s.Lower.Chain = freq.Gain(1) },
		"wants a tweeter": func(s *divide.Search) { s.Bounds.Floor = 2 },
		"wants a guard":   func(s *divide.Search) { s.Objectives = []divide.Objective{divide.Distortion} },
		"refined 9 times": func(s *divide.Search) { s.Refine = 9 },
		"bound of tilt":   func(s *divide.Search) { s.Bounds.Tilt = -1 },
		"not both slopes": func(s *divide.Search) { s.Slopes[0].Low = nil },
		"guard tells":     func(s *divide.Search) { s.Guard = func(string, float64, float64) float64 { return math.NaN() } },
		"2 m on 125": func(s *divide.Search) {
			b := s.Voice.Basis()
			b.Distance = 2
			s.Voice = s.Voice.Stated(b)
		},
		`seat "half space"`: func(s *divide.Search) {
			b := s.Voice.Basis()
			b.Per, b.Space = freq.PerTerminals, freq.HalfSpace
			r := s.Voice.Stated(b)
			s.Beam = &divide.Seat{Name: "half space", Lower: r, Upper: r}
		},
		`want those of the search, "woofer" and "tweeter"`: func(s *divide.Search) {
			s.Fit = &divide.Task{Ways: []divide.Way{{Name: "tweeter"}, {Name: "woofer"}}}
		},
		"some voltage gives": func(s *divide.Search) { s.Level = 1e6 },
		"more than the 0.07": func(s *divide.Search) { s.Distance = 0.05 },
	} {
		s := question(t, same(analog.LinkwitzRiley(4)))
		change(&s)
		if _, err := s.Run(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q: %v", want, err)
		}
	}
}
