package crossover_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Two equal points d apart in phase have |cos(π·d·sin θ/λ)| far away: −3.01 dB at
// sin θ = λ/4d, −6.02 dB at λ/3d; a delay τ of the lower one turns the lobe to
// sin θ = −cτ/d (S. H. Linkwitz, JAES 24, 1976; J. D'Appolito, 74th AES Convention,
// 1983; formulas of two-source interference from memory). Heights are ±d/2, so that
// the reference point lies between them.
func TestLobeOfTwoPoints(t *testing.T) {
	const d, far, f0 = 0.2, 200.0, 2000.0
	g := logGrid(t, f0/2, 2*f0, 12)
	for _, tau := range []float64{0, 80e-6, -150e-6} {
		delay := freq.Series{freq.Delay(max(0, tau))}
		other := freq.Series{freq.Delay(max(0, -tau))}
		s := stackOf(t, source{-d / 2, point}.measured(t, "lower", g, wide, delay), source{d / 2, point}.measured(t, "upper", g, wide, other))
		l, err := s.Lobe(f0, far)
		if err != nil {
			t.Fatal(err)
		}
		lambda := sound / l.Hz
		tilt := math.Asin(-sound * tau / d)
		edge := func(part float64) float64 { return math.Asin(math.Sin(tilt) + part*lambda/d) }
		// cos(π/4) is −3.01 dB; exactly 3 dB down it is acos(10^(−3/20))/π of λ/d.
		p3, p6 := math.Acos(level.Ratio(-3))/math.Pi, math.Acos(level.Ratio(-6))/math.Pi
		for _, c := range []struct{ got, want float64 }{{l.Tilt, tilt}, {l.Lower3, edge(-p3)}, {l.Upper3, edge(p3)}, {l.Lower6, edge(-p6)}, {l.Upper6, edge(p6)}} {
			if math.Abs(c.got-c.want) > 0.02*degree {
				t.Errorf("τ = %g s: %.3f°, want %.3f° (%+v)", tau, c.got/degree, c.want/degree, l)
			}
		}
		if want := -level.DB(math.Abs(math.Cos(math.Pi * l.Hz * tau))); math.Abs(l.Level-want) > 1e-3 {
			t.Errorf("τ = %g s: %.4f dB above the axis, want %.4f", tau, l.Level, want)
		}
		if math.Abs(l.Width3()-(l.Upper3-l.Lower3)) > 0 || l.Width6() <= l.Width3() {
			t.Errorf("widths %g and %g", l.Width3(), l.Width6())
		}
	}
}

var wide = []float64{-70, -60, -50, -40, -30, -20, -10, 0, 10, 20, 30, 40, 50, 60, 70}

// A lobe wider than what was measured is open, and one source has no tilt to speak of.
func TestOpenLobe(t *testing.T) {
	g := logGrid(t, 200, 400, 12)
	s := stackOf(t, source{-0.1, point}.measured(t, "lower", g, arc, nil), source{0.1, point}.measured(t, "upper", g, arc, nil))
	l, err := s.Lobe(200, 3)
	if err != nil {
		t.Fatal(err)
	}
	if !math.IsInf(l.Lower3, -1) || !math.IsInf(l.Upper6, 1) || !math.IsInf(l.Width3(), 1) {
		t.Errorf("%+v", l)
	}
}

// Aligned ways of fourth order are in phase at all frequencies and so have no tilt;
// with a delay that is constant the tilt is asin(cτ/d) at the crossover, where both
// are equal, and none where one is alone (closed form).
func TestTiltOverFrequency(t *testing.T) {
	const d = 0.15
	g := logGrid(t, 250, 16e3, 12)
	low, high := lr4(2000)
	s := stackOf(t, source{-d / 2, point}.measured(t, "lower", g, wide, freq.Series{low, freq.Delay(40e-6)}), source{d / 2, point}.measured(t, "upper", g, wide, high))
	tilt, err := s.Tilt(250, 16e3, 100)
	if err != nil {
		t.Fatal(err)
	}
	at := tilt.At(g.Nearest(2000))
	if want := -math.Asin(sound * 40e-6 / d); math.Abs(at-want) > 0.3*degree || tilt.Unit() != "rad" {
		t.Errorf("tilt %.2f°, want %.2f°", at/degree, want/degree)
	}
	if _, err := s.Tilt(17e3, 18e3, 1); err == nil {
		t.Error("a band without points")
	}
	e, err := s.OverAngle(2000, 100, -30*degree, 30*degree, 13)
	if err != nil || e[6].Angle != 0 || e[6].Level != 0 || e[3].Level <= e[9].Level {
		t.Errorf("%v: %+v", err, e)
	}
}

// Ears that move: against the exact sum of two points, at 1 m and at 2.6 m. The
// largest change within ±0.1 m is written out from the closed form, and so is that within
// ±0.4 m, which lies between the ends for frequencies whose notch is passed.
func TestHeightOfTheEars(t *testing.T) {
	g := logGrid(t, 400, 12e3, 12)
	low, high := lr4(2300)
	woofer, tweeter := source{-0.145, point}, source{0, point}
	s := stackOf(t, woofer.measured(t, "woofer", g, arc, low), tweeter.measured(t, "tweeter", g, arc, high))
	l, h := low.ResponseTo(nil, g), high.ResponseTo(nil, g)
	at := func(i int, p crossover.Place) float64 {
		z := l[i]*woofer.pressure(g.At(i), p) + h[i]*tweeter.pressure(g.At(i), p)
		return level.DB(math.Hypot(real(z), imag(z)))
	}
	var worst [3]float64
	for k, distance := range []float64{1, 2.6, 1} {
		p := crossover.Place{Distance: distance}
		millimetres := 100
		if k == 2 {
			millimetres = 400
		}
		r, err := s.Height(crossover.HeightSetup{Place: p, Range: float64(millimetres) / 1000, From: 500, To: 10e3})
		if err != nil {
			t.Fatal(err)
		}
		for i := range g.Len() {
			var want float64
			for mm := -millimetres; mm <= millimetres; mm += 5 {
				if c := at(i, crossover.Place{Distance: distance, Height: float64(mm) / 1000}) - at(i, p); math.Abs(c) > math.Abs(want) {
					want = c
				}
			}
			if math.Abs(r.Largest.At(i)-want) > 1e-9 {
				t.Fatalf("%g m, %g Hz: %g dB, want %g", distance, g.At(i), r.Largest.At(i), want)
			}
			slope := (at(i, crossover.Place{Distance: distance, Height: 1e-4}) - at(i, crossover.Place{Distance: distance, Height: -1e-4})) / 2e-4
			if math.Abs(r.Slope.At(i)-slope) > 1e-3+1e-3*math.Abs(slope) {
				t.Fatalf("%g m, %g Hz: %g dB/m, want %g", distance, g.At(i), r.Slope.At(i), slope)
			}
		}
		worst[k] = math.Abs(r.Worst)
		if i := g.Nearest(r.WorstAt); r.Worst != r.Largest.At(i) || r.SlopeWorst != r.Slope.At(g.Nearest(r.SlopeAt)) || math.Abs(r.WorstUp) > float64(millimetres)/1000 {
			t.Errorf("%+v", r)
		}
	}
	if worst[0] < 2*worst[1] || worst[1] < 0.05 {
		t.Errorf("largest change %.2f dB at 1 m and %.2f dB at 2.6 m: want it far larger near by", worst[0], worst[1])
	}
	if _, err := s.Height(crossover.HeightSetup{Place: crossover.Place{Distance: 1}, Range: 0.1, From: 100, To: 10e3}); err == nil {
		t.Error("a band that is not covered")
	}
}

// A frequency that the grid does not hold is not taken for the one at its end, and a sum that is
// silent has no lobe.
func TestLobeRefuses(t *testing.T) {
	s := stackOf(t, source{0, point}.measured(t, "way", logGrid(t, 200, 8000, 12), []float64{-20, 0, 20}, nil))
	for _, hz := range []float64{math.NaN(), 0, 100, 20e3, math.Inf(1)} {
		if l, err := s.Lobe(hz, 1); err == nil {
			t.Errorf("lobe at %g Hz is %+v", hz, l)
		}
		if _, err := s.OverAngle(hz, 1, -0.1, 0.1, 3); err == nil {
			t.Errorf("levels over the angle at %g Hz", hz)
		}
	}
	if _, err := s.With(freq.Gain(math.Inf(1))); err == nil {
		t.Error("a chain that is infinite")
	}
	silent, err := s.With(freq.Gain(0))
	if err != nil {
		t.Fatal(err)
	}
	if l, err := silent.Lobe(1000, 1); err == nil {
		t.Errorf("lobe of silence is %+v", l)
	}
	if e, err := silent.OverAngle(1000, 1, -0.1, 0.1, 3); err == nil {
		t.Errorf("levels over the angle of silence are %+v", e)
	}
	if _, err := crossover.MatchVoicings([]crossover.Pair{{Name: "axis"}}, crossover.Mask{From: 300, To: 4000, LevelFrom: 300, LevelTo: 3000, Smoothing: 12, Allowed: 1}, crossover.OneLevel); err == nil {
		t.Error("a voicing of nothing")
	}
	if _, err := crossover.Align(freq.Response{}, freq.Response{}, 1000, 2000, 1e-3); err == nil {
		t.Error("an alignment of nothing")
	}
}
