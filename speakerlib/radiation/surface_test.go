package radiation_test

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/radiation"
)

func grid(t testing.TB, hz ...float64) *freq.Grid {
	t.Helper()
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// A thin ring is J₀(ka·sin θ) (textbook result, e.g. Morse and Ingard); a ring without a
// hole is a piston; near the axis a ring is the difference of two rim waves.
func TestRing(t *testing.T) {
	thin := radiation.Ring{Outer: 0.0501, Inner: 0.0499}
	for _, ka := range []float64{0.5, 3, 8} {
		f := hz(ka, 0.05)
		if d, want := thin.Directivity(f, rad(40), still), math.J0(ka*math.Sin(rad(40))); math.Abs(d-want) > 1e-5 {
			t.Errorf("ka %v: %v, want %v", ka, d, want)
		}
		disc := radiation.Ring{Outer: 0.05}
		if d, want := disc.Directivity(f, rad(40), still), (radiation.Piston{Radius: 0.05}).Directivity(f, rad(40), still); math.Abs(d-want) > 1e-12 {
			t.Errorf("ka %v: %v, want %v", ka, d, want)
		}
		r := radiation.Ring{Outer: 0.05, Inner: 0.02}
		k := ka / 0.05
		want := complex(still.Impedance(), 0) * (cmplx.Exp(complex(0, -k*math.Hypot(0.1, 0.02))) - cmplx.Exp(complex(0, -k*math.Hypot(0.1, 0.05))))
		if got := r.Pressure(f, 0.1, 0, still); cmplx.Abs(got-want) > 1e-8*still.Impedance() {
			t.Errorf("ka %v: %v, want %v", ka, got, want)
		}
	}
}

// A flat dome is a piston. A shallow one is a paraboloid h·(1 − r²/a²), whose axial
// response is (e^{jkh} − 1)/jkh in closed form; the cap, of the volume πh(3a²+h²)/6, is higher
// in the mean by h²/3a².
func TestDome(t *testing.T) {
	for _, ka := range []float64{0.5, 2, 6} {
		f := hz(ka, 0.0125)
		flat := radiation.Dome{Radius: 0.0125}.Directivity(f, rad(50), still)
		if want := (radiation.Piston{Radius: 0.0125}).Directivity(f, rad(50), still); cmplx.Abs(flat-complex(want, 0)) > 1e-9 {
			t.Errorf("ka %v: flat dome %v, want %v", ka, flat, want)
		}
		for _, h := range []float64{0.001, -0.001} {
			kh := ka / 0.0125 * h * (1 + h*h/(3*0.0125*0.0125))
			want := (cmplx.Exp(complex(0, kh)) - 1) / complex(0, kh)
			if got := (radiation.Dome{Radius: 0.0125, Height: h}).Directivity(f, 0, still); cmplx.Abs(got-want) > 3e-4*math.Abs(kh) {
				t.Errorf("ka %v, h %v: %v, want %v", ka, h, got, want)
			}
			e, err := radiation.Dome{Radius: 0.0125, Height: h}.Elements(r3.Vec{}, r3.Vec{Z: 1}, 4, still)
			if err != nil {
				t.Fatal(err)
			}
			got, err := radiation.Array{Sources: []radiation.Placed{{Elements: e}}}.Toward(r3.Vec{Z: 1}, still, grid(t, f))
			if err != nil || cmplx.Abs(got[0]-want) > 3e-4*math.Abs(kh) {
				t.Errorf("ka %v, h %v: elements %v (%v), want %v", ka, h, got, err, want)
			}
		}
	}
}

// Woofer and vent 0.2 m apart, with the polarity and delay of the vent's response: at
// a point the two distances tell (worked by hand).
func TestArrayAtPoint(t *testing.T) {
	a := radiation.Array{Sources: []radiation.Placed{
		{Elements: []radiation.Element{{Weight: 1}}},
		{Elements: []radiation.Element{{At: r3.Vec{Y: -0.2}, Weight: 1, Delay: 1e-3}}, Response: freq.Gain(-0.5)},
	}}
	const f = 343.0 // k = 2π
	h, err := a.At(r3.Vec{Z: 1}, still, grid(t, f))
	if err != nil {
		t.Fatal(err)
	}
	r := math.Sqrt(1.04)
	want := 1 - complex(0.5/r, 0)*cmplx.Exp(complex(0, -2*math.Pi*(r-1)-2*math.Pi*f*1e-3))
	if cmplx.Abs(h[0]-want) > 1e-12 {
		t.Errorf("%v, want %v", h[0], want)
	}
	up, err := a.Toward(r3.Vec{Y: 1}, still, grid(t, f))
	want = 1 - 0.5*cmplx.Exp(complex(0, -2*math.Pi*0.2-2*math.Pi*f*1e-3))
	if err != nil || cmplx.Abs(up[0]-want) > 1e-12 {
		t.Errorf("up: %v (%v), want %v", up, err, want)
	}
}

// A dome that is nearly flat is a piston, 2·J₁(x)/x, of h·cos θ/2 more in phase.
func TestShallowDomeIsAPiston(t *testing.T) {
	const f, angle, a = 20e3, 0.5, 0.0125
	k := 2 * math.Pi * f / 343
	x := k * a * math.Sin(angle)
	for _, h := range []float64{1e-200, 1e-15, 1e-9, 1e-7} {
		d := radiation.Dome{Radius: a, Height: h}.Directivity(f, angle, still)
		if e := math.Abs(real(d) - 2*math.J1(x)/x); !(e < 1e-9) {
			t.Errorf("%g m high: %v, want %v", h, d, 2*math.J1(x)/x)
		}
		// (2/a²)∫J₀·k·h(r)·cos θ·r dr with h(r) = h·(1 − r²/a²) is 4·J₂(x)/x²·k·h·cos θ
		want := 4 * math.Jn(2, x) / (x * x) * k * h * math.Cos(angle)
		if e := math.Abs(imag(d) - want); !(e <= 1e-7*want) {
			t.Errorf("%g m high: imaginary part %v, want %v", h, imag(d), want)
		}
	}
}

func TestRefuses(t *testing.T) {
	nan := math.NaN()
	z := r3.Vec{Z: 1}
	for name, err := range map[string]error{
		"piston":      radiation.Piston{Radius: nan}.Validate(),
		"ring":        radiation.Ring{Outer: 1, Inner: 1}.Validate(),
		"dome":        radiation.Dome{Radius: 1, Height: 1.1}.Validate(),
		"rectangle":   radiation.Rectangle{Width: 1}.Validate(),
		"sphere":      radiation.SphereCap{Radius: 1, HalfAngle: 2}.Validate(),
		"motion":      radiation.SphereCap{Radius: 1, Motion: 7}.Validate(),
		"array":       radiation.Array{}.Validate(),
		"no elements": radiation.CheckElements(nil),
		"element":     radiation.CheckElements([]radiation.Element{{Weight: nan}}),
		"axis":        second(radiation.Piston{Radius: 1}.Elements(r3.Vec{}, r3.Vec{}, 3)),
		"centre":      second(radiation.Piston{Radius: 1}.Elements(r3.Vec{X: math.Inf(1)}, z, 3)),
		"slot":        second(radiation.Rectangle{Width: 1, Height: 1}.Elements(r3.Vec{Y: math.Inf(-1)}, z, 3, 3)),
		"rings":       second(radiation.Piston{Radius: 1}.Elements(r3.Vec{}, z, 0)),
		"direction":   second(one().Toward(r3.Vec{}, still, grid(t, 1))),
		"at source":   second(one().At(r3.Vec{X: 1}, still, grid(t, 1))),
		"at origin":   second(one().At(r3.Vec{}, still, grid(t, 1))),
		"no grid":     second(one().Toward(z, still, nil)),
	} {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func one() radiation.Array {
	return radiation.Array{Sources: []radiation.Placed{{Elements: []radiation.Element{{At: r3.Vec{X: 1}, Weight: 1}}}}}
}

func second[T any](_ T, err error) error { return err }
