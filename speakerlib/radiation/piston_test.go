package radiation_test

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/radiation"
)

// Beranek and Mellow (2012), piston in an infinite baffle.
func TestPistonTables(t *testing.T) {
	const a = 0.07
	p := radiation.Piston{Radius: a}
	for _, r := range testtable.Read(t, "testdata/piston.csv") {
		f := hz(r.Number(t, "ka"), a)
		z := p.Impedance(f, still) / complex(still.Impedance()*p.Area(), 0)
		if math.Abs(real(z)-r.Number(t, "R1_2ka")) > 1e-9 || math.Abs(imag(z)-r.Number(t, "X1_2ka")) > 1e-9 {
			t.Errorf("ka %v: impedance %v, want %v and %v", r["ka"], z, r["R1_2ka"], r["X1_2ka"])
		}
		if q := p.DirectivityFactor(f, still); math.Abs(q/r.Number(t, "Q_directivity_factor")-1) > 1e-8 {
			t.Errorf("ka %v: Q %v, want %v", r["ka"], q, r["Q_directivity_factor"])
		}
	}
	for _, r := range testtable.Read(t, "testdata/piston_directivity.csv") {
		// Any ka and angle with this product.
		d := p.Directivity(hz(2*r.Number(t, "ka_sin_theta"), a), math.Pi/6, still)
		if math.Abs(d-r.Number(t, "D")) > 1e-9 {
			t.Errorf("ka·sin θ %v: D %v, want %v", r["ka_sin_theta"], d, r["D"])
		}
	}
	for _, r := range testtable.Read(t, "testdata/piston_angles.csv") {
		f := hz(r.Number(t, "ka"), a)
		for column, angle := range map[string]float64{"D_30deg_db": 30, "D_60deg_db": 60, "D_90deg_db": 90} {
			if d := level.DB(math.Abs(p.Directivity(f, rad(angle), still))); math.Abs(d-r.Number(t, column)) > 2e-6 {
				t.Errorf("ka %v at %v°: %.6f dB, want %v", r["ka"], angle, d, r[column])
			}
		}
		if index := level.PowerDB(p.DirectivityFactor(f, still)); math.Abs(index-r.Number(t, "DI_db")) > 1e-6 {
			t.Errorf("ka %v: directivity index %.6f dB, want %v", r["ka"], index, r["DI_db"])
		}
		for column, want := range map[string]float64{"theta_-3dB_deg": level.Ratio(-3), "theta_-6dB_deg": level.Ratio(-6), "theta_-10dB_deg": level.Ratio(-10), "first_null_deg": 0} {
			if r.Text(t, column) == "none" { // not even beside the piston
				if d := p.Directivity(f, math.Pi/2, still); d < want {
					t.Errorf("ka %v at 90°: %v, want at least %v", r["ka"], d, want)
				}
			} else if d := p.Directivity(f, rad(r.Number(t, column)), still); math.Abs(d-want) > 1e-7 {
				t.Errorf("ka %v at %v°: %v, want %v", r["ka"], r[column], d, want)
			}
		}
	}
}

// Struve's function beyond 2ka = 40: X₁ goes to 4/(π·2ka) (Beranek and Mellow; the next
// term of the asymptotic series, Abramowitz and Stegun 12.1.31, is within the limit).
func TestReactanceAtHighFrequencies(t *testing.T) {
	p := radiation.Piston{Radius: 0.1}
	for _, ka := range []float64{19.99, 20.01, 60} {
		x := imag(p.Impedance(hz(ka, 0.1), still)) / (still.Impedance() * p.Area())
		y := math.Y1(2*ka) / ka
		if want := y + 2/(math.Pi*ka)*(1+1/(4*ka*ka)); math.Abs(x-want) > 1e-7 {
			t.Errorf("ka %v: X₁ %v, want %v", ka, x, want)
		}
	}
}

// On the axis the ring integral is the closed form, and far away it is the directivity.
func TestPistonNearAndFar(t *testing.T) {
	const a = 0.05
	p := radiation.Piston{Radius: a}
	for _, f := range []float64{50, 2000, 10000, 30000} {
		for _, z := range []float64{0, 0.01, 0.1, 2} {
			on, by := p.OnAxis(f, z, still), p.Pressure(f, z, 0, still)
			want := complex(still.Impedance(), 0) * (cmplx.Exp(complex(0, -2*math.Pi*f/343*z)) - cmplx.Exp(complex(0, -2*math.Pi*f/343*math.Hypot(z, a))))
			if cmplx.Abs(on-want) > 1e-9*still.Impedance() || cmplx.Abs(by-want) > 1e-9*still.Impedance() {
				t.Errorf("%v Hz at %v m: %v, by the ring %v, want %v", f, z, on, by, want)
			}
		}
		for _, deg := range []float64{10, 45, 80} {
			const r = 2000.0
			sin, cos := math.Sincos(rad(deg))
			got := p.Pressure(f, r*cos, r*sin, still)
			// jωρ·Sv/(2πr)·e^{−jkr}·D
			want := 2 * math.Pi * f * still.Density * p.Area() / (2 * math.Pi * r) * math.Abs(p.Directivity(f, rad(deg), still))
			if math.Abs(cmplx.Abs(got)-want) > 2e-5*2*math.Pi*f*still.Density*p.Area()/(2*math.Pi*r)+1e-12*still.Impedance() {
				t.Errorf("%v Hz at %v°: %v, want %v", f, deg, cmplx.Abs(got), want)
			}
		}
	}
}

// Off the axis in the near field: Rayleigh's surface integral by brute force.
func TestPistonAgainstRayleigh(t *testing.T) {
	const a, f = 0.05, 6000.0
	k := 2 * math.Pi * f / 343
	p := radiation.Piston{Radius: a}
	for _, at := range [][2]float64{{0.02, 0.01}, {0.05, 0.049}, {0.03, 0.05}, {0.1, 0.2}, {0.008, 0.0495}} {
		z, x := at[0], at[1]
		part := func(of func(complex128) float64) float64 {
			return quad.Fixed(func(r float64) float64 {
				sum := 0.0
				const n = 400
				for i := range n {
					d := math.Sqrt(z*z + r*r + x*x - 2*r*x*math.Cos(2*math.Pi*float64(i)/n))
					sum += of(cmplx.Exp(complex(0, -k*d)) / complex(d, 0))
				}
				return sum / n * 2 * math.Pi * r
			}, 0, a, 120, nil, 0)
		}
		integral := complex(part(func(v complex128) float64 { return real(v) }), part(func(v complex128) float64 { return imag(v) }))
		want := complex(0, 2*math.Pi*f*still.Density/(2*math.Pi)) * integral
		if got := p.Pressure(f, z, x, still); cmplx.Abs(got-want) > 1e-6*still.Impedance() {
			t.Errorf("z %v, x %v: %v, want %v", z, x, got, want)
		}
	}
}

// n rings are good up to ka·sin θ = 3.5·n − 4, in all directions around the axis.
func TestRingsOfElements(t *testing.T) {
	for n := 2; n <= 6; n++ {
		e, err := radiation.Piston{Radius: 1}.Elements(r3.Vec{}, r3.Vec{Z: 1}, n)
		if err != nil || len(e) != 4*n*n {
			t.Fatalf("%d elements (%v), want %d", len(e), err, 4*n*n)
		}
		a := radiation.Array{Sources: []radiation.Placed{{Elements: e}}}
		for x := 0.5; x <= 3.5*float64(n)-4; x += 0.5 {
			for phi := 0.0; phi < math.Pi/2; phi += 0.1 {
				h, err := a.Toward(r3.Vec{X: math.Cos(phi), Y: math.Sin(phi)}, still, grid(t, hz(x, 1)))
				if want := 2 * math.J1(x) / x; err != nil || cmplx.Abs(h[0]-complex(want, 0)) > 1e-3 {
					t.Errorf("%d rings at ka·sin θ = %v: %v (%v), want %v", n, x, h, err, want)
				}
			}
		}
	}
}

// Elements stand for the piston, the ring and the rectangle, wherever they look.
func TestElementsRadiateAlike(t *testing.T) {
	const a = 0.06
	axis := r3.Unit(r3.Vec{X: 0.3, Y: 0.2, Z: 1})
	piston, err := radiation.Piston{Radius: a}.Elements(r3.Vec{X: 1, Y: 2}, axis, 4)
	if err != nil {
		t.Fatal(err)
	}
	ring, err := radiation.Ring{Outer: a, Inner: a / 2}.Elements(r3.Vec{X: 1, Y: 2}, axis, 4)
	if err != nil {
		t.Fatal(err)
	}
	slot, err := radiation.Rectangle{Width: 0.1, Height: 0.03}.Elements(r3.Vec{X: 1, Y: 2}, axis, 8, 6)
	if err != nil {
		t.Fatal(err)
	}
	across := r3.Unit(r3.Cross(r3.Vec{Y: 1}, axis))
	for _, deg := range []float64{0, 20, 60} {
		f := hz(5, a)
		sin, cos := math.Sincos(rad(deg))
		to := r3.Add(r3.Scale(cos, axis), r3.Scale(sin, across))
		for name, c := range map[string]struct {
			e    []radiation.Element
			want float64
		}{
			"piston": {piston, radiation.Piston{Radius: a}.Directivity(f, rad(deg), still)},
			"ring":   {ring, radiation.Ring{Outer: a, Inner: a / 2}.Directivity(f, rad(deg), still)},
			"slot":   {slot, radiation.Rectangle{Width: 0.1, Height: 0.03}.Directivity(f, sin, 0, still)},
		} {
			h, err := radiation.Array{Sources: []radiation.Placed{{Elements: c.e}}, Reference: r3.Vec{X: 1, Y: 2}}.Toward(to, still, grid(t, f))
			if err != nil {
				t.Fatal(err)
			}
			if cmplx.Abs(h[0]-complex(c.want, 0)) > 1e-3 {
				t.Errorf("%s at %v°: %v, want %v", name, deg, h[0], c.want)
			}
		}
	}
}

// Whichever way the axis looks, the elements lie in the plane across it.
func TestElementsAcrossAxis(t *testing.T) {
	for _, axis := range []r3.Vec{{X: 1}, {Y: 1}, {Y: -2}, {Z: -1}, {X: 0.1, Y: 3, Z: 0.2}} {
		e, err := radiation.Piston{Radius: 1}.Elements(r3.Vec{X: 5}, axis, 3)
		if err != nil {
			t.Fatal(err)
		}
		var sum, square float64
		for _, v := range e {
			d := r3.Sub(v.At, r3.Vec{X: 5})
			if h := r3.Dot(d, r3.Unit(axis)); math.Abs(h) > 1e-12 {
				t.Errorf("axis %v: an element is %v off the plane", axis, h)
			}
			sum += v.Weight
			square += v.Weight * r3.Norm2(d)
		}
		// The mean of r² over a disc is a²/2.
		if math.Abs(sum-1) > 1e-12 || math.Abs(square-0.5) > 1e-12 {
			t.Errorf("axis %v: weights %v, mean square %v", axis, sum, square)
		}
	}
}

// Where a surface ends does not depend on how many elements stand for it (the closed forms of
// circle and rectangle): a circle reaches its radius to all sides, a rectangle w·|cos|/2 +
// h·|sin|/2, and they do so from their centre.
func TestRims(t *testing.T) {
	centre, axis := r3.Vec{X: 1, Y: 2, Z: -0.5}, r3.Vec{X: 0.6, Z: 0.8}
	right, up := r3.Vec{X: 0.8, Z: -0.6}, r3.Vec{Y: 1}
	for _, n := range []int{1, 2, 5} {
		piston, err := radiation.Piston{Radius: 0.1}.Elements(centre, axis, n)
		if err != nil {
			t.Fatal(err)
		}
		ring, err := radiation.Ring{Outer: 0.1, Inner: 0.09}.Elements(centre, axis, n)
		if err != nil {
			t.Fatal(err)
		}
		dome, err := radiation.Dome{Radius: 0.1, Height: 0.03}.Elements(centre, axis, n, still)
		if err != nil {
			t.Fatal(err)
		}
		slot, err := radiation.Rectangle{Width: 0.3, Height: 0.1}.Elements(centre, axis, n, n)
		if err != nil {
			t.Fatal(err)
		}
		for name, elements := range map[string][]radiation.Element{"piston": piston, "ring": ring, "dome": dome, "slot": slot} {
			if err := radiation.CheckElements(elements); err != nil {
				t.Errorf("%s: %v", name, err)
			}
			for _, a := range []float64{0, 20, 45, 90, 135, 180, 250} {
				sin, cos := math.Sincos(rad(a))
				d := r3.Add(r3.Scale(cos, right), r3.Scale(sin, up))
				want := r3.Dot(d, centre) + 0.1
				if name == "slot" {
					want = r3.Dot(d, centre) + 0.15*math.Abs(cos) + 0.05*math.Abs(sin)
				}
				for i, e := range elements {
					if got := r3.Dot(d, e.At) + e.Rim.Reach(d); math.Abs(got-want) > 1e-12 {
						t.Errorf("%s by %d, element %d at %g°: reaches %v, want %v", name, n, i, a, got, want)
					}
				}
			}
		}
	}
	for name, rim := range map[string]radiation.Rim{
		"no number": {Radius: math.NaN()}, "negative": {Radius: -0.1}, "infinite": {Radius: math.Inf(1)},
		"centre": {Centre: r3.Vec{Y: math.NaN()}}, "across": {Across: r3.Vec{X: math.Inf(1)}}, "up": {Up: r3.Vec{Z: math.NaN()}},
	} {
		if err := radiation.CheckElements([]radiation.Element{{Weight: 1, Rim: rim}}); err == nil {
			t.Errorf("%s: the rim %+v was taken", name, rim)
		}
	}
}
