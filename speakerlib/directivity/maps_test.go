package directivity_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// cardioid powers of a: ((1+cos θ)/2)^n falls by 6 dB where cos²(θ/2) = 10^(−6/20n), a closed form.
func beam(n float64) func(float64) float64 {
	return func(a float64) float64 { return math.Pow((1+math.Cos(a))/2, n) }
}

func circle(t *testing.T, step float64, f func(float64) float64) *directivity.Set {
	t.Helper()
	return must[*directivity.Set](t)(directivity.Simulate(grid(t, 500, 1000, 1), fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
		return freq.Gain(f(d.Degrees * math.Pi / 180)), nil
	}, orbit(directivity.Horizontal, -180+step, 180, step)...))
}

func TestBeamwidthOfBeams(t *testing.T) {
	for _, n := range []float64{1, 2, 4, 8} {
		want := 2 * math.Acos(level.Ratio(-6/(2*n))) * 180 / math.Pi
		for _, step := range []float64{10, 5, 1} {
			b := must[*directivity.Beamwidth](t)(circle(t, step, beam(n)).Beamwidth(directivity.Horizontal, directivity.Side(0), 6))
			// The level is concave: the chord lies below it and the beam comes out narrow, by the
			// square of the step.
			if got := b.Plus.At(0); got > want+1e-9 || got < want-0.006*step*step {
				t.Errorf("n = %g, step %g°: %.4f°, want %.4f°", n, step, got, want)
			}
			if b.Plus.At(0)-b.Minus.At(0) > 1e-9 || math.Abs(b.Total.At(0)-2*b.Plus.At(0)) > 1e-9 {
				t.Errorf("n = %g: %g° and %g° are %g°", n, b.Plus.At(0), b.Minus.At(0), b.Total.At(0))
			}
		}
	}
}

func TestBeamwidthAtTheEnds(t *testing.T) {
	flat := func(float64) float64 { return 1 }
	b := must[*directivity.Beamwidth](t)(circle(t, 10, flat).Beamwidth(directivity.Horizontal, directivity.Side(0), 6))
	if b.Plus.At(0) != 180 || b.Minus.At(0) != 180 || b.Total.At(0) != 360 {
		t.Errorf("a circle is %g°, want 360°", b.Total.At(0))
	}
	front := must[*directivity.Set](t)(directivity.Simulate(grid(t, 500, 1000, 1), fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
		return freq.Gain(level.Ratio(-0.2 * max(0, d.Degrees))), nil
	}, orbit(directivity.Horizontal, -60, 60, 10)...))
	b = must[*directivity.Beamwidth](t)(front.Beamwidth(directivity.Horizontal, directivity.Side(0), 6))
	if math.Abs(b.Plus.At(0)-30) > 1e-9 || !math.IsInf(b.Minus.At(0), 1) || !math.IsInf(b.Total.At(0), 1) {
		t.Errorf("−0.2 dB a degree to the right: %g° and %g°, want 30° and beyond what is measured", b.Plus.At(0), b.Minus.At(0))
	}
	// About 20° right, over the end of the circle to the left.
	turned := must[*directivity.Beamwidth](t)(circle(t, 10, func(a float64) float64 { return beam(1)(a - 160*math.Pi/180) }).Beamwidth(directivity.Horizontal, directivity.Side(160), 6))
	straight := must[*directivity.Beamwidth](t)(circle(t, 10, beam(1)).Beamwidth(directivity.Horizontal, directivity.Side(0), 6))
	if math.Abs(turned.Plus.At(0)-straight.Plus.At(0)) > 1e-9 || math.Abs(turned.Minus.At(0)-straight.Minus.At(0)) > 1e-9 {
		t.Errorf("turned by 160°: %g° and %g°, want %g°", turned.Plus.At(0), turned.Minus.At(0), straight.Plus.At(0))
	}
	// A dead side has no logarithm: the angle of the silence itself.
	dead := must[*directivity.Beamwidth](t)(circle(t, 10, func(a float64) float64 {
		if math.Abs(a) > 0.6 {
			return 0
		}
		return 1
	}).Beamwidth(directivity.Horizontal, directivity.Side(0), 6))
	if dead.Plus.At(0) != 40 {
		t.Errorf("silent from 40°: %g°", dead.Plus.At(0))
	}
	for _, drop := range []float64{0, -6, math.NaN()} {
		if _, err := front.Beamwidth(directivity.Horizontal, directivity.Side(0), drop); err == nil {
			t.Errorf("drop of %g dB was taken", drop)
		}
	}
	if _, err := front.Beamwidth(directivity.Horizontal, directivity.Up(10), 6); err == nil {
		t.Error("a beam about a direction of the other orbit")
	}
	if _, err := front.Beamwidth(directivity.Vertical, directivity.Side(0), 6); err == nil {
		t.Error("a beam of an orbit that is not there")
	}
}

// Over a hole in the orbit nobody knows where the beam ends; one that has ended before it is
// known.
func TestBeamStopsAtHoles(t *testing.T) {
	for name, c := range map[string]struct {
		angles []float64
		n      float64
		say    string
	}{
		"two angles":           {[]float64{0, 180}, 2, "nothing for 180°"},
		"three angles":         {[]float64{-90, 0, 90}, 4, "nothing for 90°"},
		"hole to the right":    {[]float64{-30, -20, -10, 0, 10, 90}, 8, "nothing for 80° before 90°"},
		"hole behind the beam": {[]float64{-90, -80, -20, -10, 0, 10, 20, 80, 90}, 60, ""},
		"steps of 15°":         {[]float64{-60, -45, -30, -15, 0, 15, 30, 45, 60}, 8, ""},
	} {
		var d []directivity.Direction
		for _, a := range c.angles {
			d = append(d, directivity.Side(a))
		}
		set := must[*directivity.Set](t)(directivity.Simulate(grid(t, 500, 1000, 1), fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
			return freq.Gain(beam(c.n)(d.Degrees * math.Pi / 180)), nil
		}, d...))
		b, err := set.Beamwidth(directivity.Horizontal, directivity.Side(0), 6)
		if c.say != "" {
			if err == nil || !strings.Contains(err.Error(), c.say) {
				t.Errorf("%s: error %v, want one with %q", name, err, c.say)
			}
			continue
		}
		want := 2 * math.Acos(level.Ratio(-6/(2*c.n))) * 180 / math.Pi
		if err != nil || math.Abs(b.Plus.At(0)-want) > 1.5 {
			t.Errorf("%s: %+v (%v), want about %.1f°", name, b, err, want)
		}
	}
}

// From the last angle of an arc there is nothing beyond, to either side: that is not known,
// and no whole circle (by the definition of Beamwidth).
func TestBeamwidthFromTheEndOfAnArc(t *testing.T) {
	for _, c := range []struct {
		angles      []float64
		re          float64
		plus, minus bool // whether it falls there: by 0.7 dB a degree from 0° to the right
	}{
		{[]float64{0, 10}, 0, true, false},
		{[]float64{0, 10}, 10, false, false},
		{[]float64{-10, 0}, 0, false, false},
		{[]float64{-10, 0}, -10, false, false},
		{[]float64{0, 5, 8}, 0, false, false},
		{[]float64{0, 5, 8}, 8, false, false},
		{[]float64{-20, -10, 0}, 0, false, false},
		{[]float64{-20, -10, 0}, -20, false, false},
		{[]float64{-20, -10, 0}, -10, false, false},
		{[]float64{-10, 0, 10, 20}, -10, true, false},
		{[]float64{-10, 0, 10, 20}, 20, false, false},
	} {
		var d []directivity.Direction
		for _, a := range c.angles {
			d = append(d, directivity.Side(a))
		}
		set := must[*directivity.Set](t)(directivity.Simulate(grid(t, 500, 1000, 1), fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
			return freq.Gain(level.Ratio(-0.7 * max(0, d.Degrees))), nil
		}, d...))
		b, err := set.Beamwidth(directivity.Horizontal, directivity.Side(c.re), 6)
		if err != nil {
			t.Errorf("%v from %g°: %v", c.angles, c.re, err)
			continue
		}
		for _, side := range []struct {
			what  string
			got   float64
			falls bool
		}{{"plus", b.Plus.At(0), c.plus}, {"minus", b.Minus.At(0), c.minus}, {"total", b.Total.At(0), c.plus && c.minus}} {
			if math.IsInf(side.got, 1) == side.falls {
				t.Errorf("%v from %g°, %s: %g°, want that it falls: %v", c.angles, c.re, side.what, side.got, side.falls)
			}
		}
		if want := max(0, -c.re) + 6/0.7; c.plus && math.Abs(b.Plus.At(0)-want) > 1e-9 {
			t.Errorf("%v from %g°: %g°, want %g°", c.angles, c.re, b.Plus.At(0), want)
		}
	}
}

func TestMaps(t *testing.T) {
	set := must[*directivity.Set](t)(circle(t, 10, beam(2)).Mirror(directivity.Horizontal))
	m := must[*directivity.Map](t)(set.Levels(directivity.Horizontal, 2.83))
	n := must[*directivity.Map](t)(set.Normalised(directivity.Horizontal, directivity.Side(30)))
	if len(m.Degrees) != 36 || len(n.Levels) != 36 || m.Degrees[0] != -170 || m.Degrees[35] != 180 {
		t.Fatalf("angles %v", m.Degrees)
	}
	for k, a := range m.Degrees {
		p := beam(2)(a * math.Pi / 180)
		if math.Abs(a) < 180 && math.Abs(m.Levels[k].At(0)-level.DB(2.83*p/20e-6)) > 1e-9 {
			t.Errorf("%g°: %g dB", a, m.Levels[k].At(0))
		}
		if math.Abs(a) < 180 && math.Abs(n.Levels[k].At(0)-level.DB(p/beam(2)(math.Pi/6))) > 1e-9 {
			t.Errorf("%g°: %g dB re 30°", a, n.Levels[k].At(0))
		}
		if m.Origins[k] != directivity.Given {
			t.Errorf("%g° is %v", a, m.Origins[k])
		}
	}
	if !strings.Contains(m.Re, "2.83 V") || !strings.Contains(n.Re, "30° right") {
		t.Errorf("re %q and %q", m.Re, n.Re)
	}
	if _, err := set.Levels(directivity.Horizontal, 0); err == nil {
		t.Error("levels at 0 V")
	}
	silent := circle(t, 10, func(a float64) float64 { return math.Abs(math.Round(math.Sin(a))) })
	if _, err := silent.Normalised(directivity.Horizontal, directivity.Side(0)); err == nil || !strings.Contains(err.Error(), "silent") {
		t.Errorf("normalised to silence: %v", err)
	}
}

func TestPolar(t *testing.T) {
	g := grid(t, 500, 2000, 24)
	set := must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
		return pistonPair(d, 0), nil
	}, orbit(directivity.Horizontal, -90, 90, 10)...))
	p := must[*directivity.Polar](t)(set.Polar(directivity.Horizontal, 1010, 0, directivity.Side(0)))
	if p.Hz != g.At(24) {
		t.Fatalf("at %g Hz, want the point nearest to 1010 Hz", p.Hz)
	}
	smooth := must[*directivity.Polar](t)(set.Polar(directivity.Horizontal, 1010, 3, directivity.Side(20)))
	at20 := 0.0
	for k, a := range p.Degrees {
		x := 2 * math.Pi * p.Hz / soundSpeed * 0.06 * math.Sin(a*math.Pi/180)
		want := 0.0
		if x != 0 {
			want = level.DB(math.Abs(2 * math.J1(x) / x))
		}
		if math.Abs(p.DB[k]-want) > 1e-9 {
			t.Errorf("%g°: %g dB, want %g", a, p.DB[k], want)
		}
		if a == 20 {
			at20 = p.DB[k]
			if smooth.DB[k] != 0 {
				t.Errorf("reference reads %g dB", smooth.DB[k])
			}
		}
	}
	// Below ka = 1.5 a third of an octave changes the pattern by little.
	for k := range p.DB {
		if e := math.Abs(smooth.DB[k] - (p.DB[k] - at20)); e > 0.03 {
			t.Errorf("%g°: smoothing moves the level by %g dB", p.Degrees[k], e)
		}
	}
	for _, hz := range []float64{499, 2001, math.NaN()} {
		if _, err := set.Polar(directivity.Horizontal, hz, 0, directivity.Side(0)); err == nil {
			t.Errorf("polar plot at %g Hz", hz)
		}
	}
}
