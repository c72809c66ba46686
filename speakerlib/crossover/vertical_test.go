package crossover_test

import (
	"errors"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

const (
	degree = math.Pi / 180
	sound  = 343.0
)

var medium = air.Medium{Density: 1.2, SpeedOfSound: sound}

// source is a way at a height with a directivity over its own angle.
type source struct {
	height float64
	of     func(hz, angle float64) complex128
}

func point(float64, float64) complex128 { return 1 }

// pressure is the exact sound of a source at a place, the flight of the reference
// point's distance taken out.
func (s source) pressure(hz float64, p crossover.Place) complex128 {
	d := math.Hypot(p.Distance, p.Height-s.height)
	r := math.Hypot(p.Distance, p.Height)
	a := math.Atan2(p.Height-s.height, p.Distance)
	return s.of(hz, a) * cmplx.Rect(1/d, -2*math.Pi*hz*(d-r)/sound)
}

// measured is what a microphone on an arc of 1 m gives.
func (s source) measured(t *testing.T, name string, g *freq.Grid, degrees []float64, chain freq.Transfer) crossover.Vertical {
	t.Helper()
	v := crossover.Vertical{Name: name, Height: s.height, Chain: chain}
	for _, a := range degrees {
		h := make([]complex128, g.Len())
		for i := range h {
			h[i] = s.pressure(g.At(i), crossover.Arc(1, a*degree))
		}
		r, err := freq.NewResponse(g, h, name, freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1})
		if err != nil {
			t.Fatal(err)
		}
		v.Angles, v.Responses = append(v.Angles, a*degree), append(v.Responses, r)
	}
	return v
}

func stackOf(t *testing.T, ways ...crossover.Vertical) *crossover.Stack {
	t.Helper()
	s, err := crossover.NewStack(medium, ways...)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func logGrid(t *testing.T, lo, hi float64, n int) *freq.Grid {
	t.Helper()
	g, err := freq.LogGrid(lo, hi, n)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

var arc = []float64{-40, -30, -20, -10, 0, 10, 20, 30, 40}

// Points that radiate: from an arc of 1 m follows the sum at any other place exactly,
// delay, level and all (closed form: the sound of two points).
func TestStackOfPointsIsExact(t *testing.T) {
	g := logGrid(t, 200, 20e3, 12)
	low, high := lr4(2300)
	woofer, tweeter := source{-0.145, point}, source{0, point}
	s := stackOf(t, woofer.measured(t, "woofer", g, arc, low), tweeter.measured(t, "tweeter", g, arc, high))
	l, h := low.ResponseTo(nil, g), high.ResponseTo(nil, g)
	for _, p := range []crossover.Place{{1, 0}, {2.6, 0}, {2.6, 0.4}, {0.8, -0.2}, crossover.Arc(1, 17*degree)} {
		r, err := s.At(p)
		if err != nil {
			t.Fatal(err)
		}
		for i := range g.Len() {
			want := l[i]*woofer.pressure(g.At(i), p) + h[i]*tweeter.pressure(g.At(i), p)
			if cmplx.Abs(r.At(i)-want) > 1e-9 {
				t.Fatalf("%+v at %g Hz: %v, want %v", p, g.At(i), r.At(i), want)
			}
		}
		if b := r.Basis(); math.Abs(b.Distance-math.Hypot(p.Distance, p.Height)) > 1e-12 || b.Per != freq.PerInput {
			t.Errorf("%+v: basis %v", p, b)
		}
	}
	// The delay between the ways is that of Parallax.
	ways, err := s.Ways(crossover.Place{Distance: 2.6})
	if err != nil {
		t.Fatal(err)
	}
	lag, err := crossover.Parallax{Separation: 0.145, Air: medium}.Lag(2.6)
	if err != nil {
		t.Fatal(err)
	}
	bare := stackOf(t, woofer.measured(t, "woofer", g, arc, nil))
	if r, err := bare.At(crossover.Place{Distance: 2.6}); err != nil || r.Basis().Per != freq.PerTerminals {
		t.Errorf("without a chain: %v, %v", r.Basis(), err)
	}
	i := g.Nearest(1000)
	got := -cmplx.Phase(ways[0].At(i)/l[i]/(ways[1].At(i)/h[i])) / (2 * math.Pi * g.At(i))
	if math.Abs(got-lag) > 1e-9 {
		t.Errorf("the woofer is late by %g s, want %g", got, lag)
	}
}

// A piston of 66 mm radius, 2·J₁(x)/x with x = ka·sin α, known every 10°, against
// itself in between: up to ka = 3 within 0.1 dB and 1° of the phase that a centre 24 mm
// behind the baffle makes.
func TestInterpolationOverAngles(t *testing.T) {
	g := logGrid(t, 200, 2500, 12)
	piston := source{-0.145, func(hz, a float64) complex128 {
		k := 2 * math.Pi * hz / sound
		x := k * 0.066 * math.Sin(a)
		v := 1.0
		if x != 0 {
			v = 2 * math.J1(x) / x
		}
		return cmplx.Rect(v, -k*0.024*math.Cos(a))
	}}
	s := stackOf(t, piston.measured(t, "woofer", g, arc, nil))
	for a := -39.0; a <= 39; a++ {
		r, err := s.At(crossover.Arc(1, a*degree))
		if err != nil {
			t.Fatal(err)
		}
		for i := range g.Len() {
			e := r.At(i) / piston.pressure(g.At(i), crossover.Arc(1, a*degree))
			if math.Abs(level.DB(cmplx.Abs(e))) > 0.1 || math.Abs(cmplx.Phase(e)) > degree {
				t.Fatalf("%g° at %g Hz: off by %.3f dB and %.2f°", a, g.At(i), level.DB(cmplx.Abs(e)), cmplx.Phase(e)/degree)
			}
		}
	}
}

// Where neighbours are opposed, a notch lies between, and the straight line through S
// has it where both are equally strong.
func TestNotchBetweenAngles(t *testing.T) {
	g := logGrid(t, 900, 1100, 12)
	dipole := source{0, func(_, a float64) complex128 { return complex(math.Sin(a-5*degree), 0) }}
	s := stackOf(t, dipole.measured(t, "dipole", g, arc, nil))
	r, err := s.At(crossover.Arc(1, 5*degree))
	if err != nil {
		t.Fatal(err)
	}
	if v := cmplx.Abs(r.At(0)); v > 1e-3 {
		t.Errorf("%g in the notch, want 0", v)
	}
}

func TestStackRefusals(t *testing.T) {
	g := logGrid(t, 200, 2000, 12)
	good := source{0, point}.measured(t, "way", g, arc, nil)
	change := func(f func(*crossover.Vertical)) crossover.Vertical {
		v := good
		v.Angles = append([]float64(nil), v.Angles...)
		v.Responses = append([]freq.Response(nil), v.Responses...)
		f(&v)
		return v
	}
	other := source{0, point}.measured(t, "way", logGrid(t, 300, 2000, 12), arc, nil)
	for want, v := range map[string]crossover.Vertical{
		"of no way":       {},
		"as many":         change(func(v *crossover.Vertical) { v.Angles = v.Angles[1:] }),
		"ascending":       change(func(v *crossover.Vertical) { v.Angles[1] = v.Angles[0] }),
		"half the dist":   change(func(v *crossover.Vertical) { v.Height = 0.6 }),
		"as the others":   change(func(v *crossover.Vertical) { v.Responses[2] = v.Responses[2].Stated(freq.Basis{}) }),
		"sound pressures": change(func(v *crossover.Vertical) { v.Responses[0] = v.Responses[0].Stated(freq.Basis{}) }),
		"is on":           change(func(v *crossover.Vertical) { v.Responses[2] = other.Responses[2] }),
		"chain of way":    change(func(v *crossover.Vertical) { v.Chain = other.Responses[0] }),
		"(NaN+0i) at 200": change(func(v *crossover.Vertical) { v.Chain = freq.Gain(math.NaN()) }),
	} {
		if _, err := crossover.NewStack(medium, v); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("want %q: %v", want, err)
		}
	}
	s := stackOf(t, source{-0.145, point}.measured(t, "woofer", g, []float64{-20, 0, 20}, nil))
	var out *crossover.Outside
	if _, err := s.At(crossover.Arc(2.6, -20*degree)); !errors.As(err, &out) || !strings.Contains(err.Error(), "are missing") {
		t.Fatalf("outside: %v", err)
	}
	// By the law of sines of the triangle of way, reference point and place.
	from, to, err := s.Range(2.6)
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range []float64{from, to} {
		if _, err := s.At(crossover.Arc(2.6, a)); err != nil {
			t.Errorf("at the end of the range: %v", err)
		}
	}
	if _, err := s.At(crossover.Arc(2.6, from-1e-4)); err == nil {
		t.Error("below the range nothing is known")
	}
	if _, err := s.At(crossover.Place{Distance: -1}); err == nil {
		t.Error("behind the baffle nothing is known")
	}
}
