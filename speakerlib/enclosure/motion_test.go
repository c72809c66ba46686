package enclosure_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// semi is a coil that is no ratio of polynomials: K·√(jω).
type semi struct{ k float64 }

func (c semi) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		dst[i] = complex(c.k, 0) * cmplx.Sqrt(complex(0, 2*math.Pi*g.At(i)))
	}
	return dst
}

// With its polynomial a coil gives what it gives point by point.
func TestCoilByPolynomialAndPointByPoint(t *testing.T) {
	g, err := freq.LogGrid(10, 20000, 6)
	if err != nil {
		t.Fatal(err)
	}
	m := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Vented{Vb: 0.014,
		Vent: enclosure.Vent{Diameter: 0.05, Length: 0.2, Count: 1}, Losses: enclosure.Losses{QL: 7, QA: 50, QP: 90}}}
	m.Driver.Coil = driver.Ladder{Le: 2e-4, L2: 5e-4, R2: 8}
	a := motion(t, m)
	m.Driver.Coil = hidden{m.Driver.Coil}
	b := motion(t, m)
	for i, pair := range [][2]freq.Transfer{{a.Impedance, b.Impedance}, {a.Current, b.Current}, {a.Cone, b.Cone}, {a.ConeFlow, b.ConeFlow}, {a.VentFlow, b.VentFlow}, {a.VentAir, b.VentAir}, {a.Pressure, b.Pressure}} {
		if _, ok := pair[0].(freq.Rational); !ok {
			t.Errorf("transfer %d of a coil that is a ratio of polynomials is a %T", i, pair[0])
		}
		x, y := pair[0].ResponseTo(nil, g), pair[1].ResponseTo(nil, g)
		for k := range x {
			if !(cmplx.Abs(x[k]-y[k]) <= 1e-12*cmplx.Abs(y[k])) {
				t.Errorf("transfer %d at %g Hz: %v and %v", i, g.At(k), x[k], y[k])
			}
		}
	}
}

// A ratio of polynomials of a degree that does not fit takes the other path.
type steep struct{ driver.Inductor }

func (c steep) Rational() (num, den freq.Poly) {
	num, den = c.Inductor.Rational()
	same := freq.NewPoly(1, 1e-4, 1e-8, 1e-12, 1e-16, 1e-20)
	return num.Mul(same), den.Mul(same)
}

func TestCoilOfHighDegree(t *testing.T) {
	m := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Vented{Vb: 0.014, Vent: enclosure.Vent{Diameter: 0.05, Length: 0.2, Count: 1}}}
	m.Driver.Coil = driver.Inductor{Le: 3e-4}
	want := motion(t, m).Pressure.ResponseTo(nil, grid(t, 50, 500))
	m.Driver.Coil = steep{driver.Inductor{Le: 3e-4}}
	got := motion(t, m).Pressure.ResponseTo(nil, grid(t, 50, 500))
	for i := range want {
		if !(cmplx.Abs(got[i]/want[i]-1) <= 1e-12) {
			t.Errorf("pressure is %v, want %v", got[i], want[i])
		}
	}
}

// The basis says it: a pressure at 1 m in half space of the mass-controlled cone,
// p = ρ·Bl·Sd/(2π·Mms·Re) per volt, far above the resonance.
func TestPressureOfMassControlledCone(t *testing.T) {
	p := motion(t, enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Closed{Vb: 0.01}}).Pressure
	got := cmplx.Abs(p.ResponseTo(nil, grid(t, 1e6))[0])
	want := table.Density * woofer.Bl * woofer.Sd / (2 * math.Pi * woofer.Mms * woofer.Re)
	near(t, "pressure/ideal", got/want, 1, 1e-8)
	// and the driver's own sensitivity, from the reference efficiency by Small
	near(t, "SPL at √8 V, 1 W into 8 Ω", level.SPL(math.Sqrt(8)*got), woofer.SPL2V83(table), 1e-6)
	b := enclosure.PressureBasis()
	if b.Quantity != freq.Pressure || b.Per != freq.PerTerminals || b.Space != freq.HalfSpace || b.Distance != 1 {
		t.Errorf("basis is %v", b)
	}
}

// The coefficients that the alignments rest on (Small 1973, in the words of
// Align) are those of the circuit: random drivers, boxes and leaks.
func TestSmallsCoefficientsAreThoseOfTheCircuit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDriver(t)
		d.Coil = nil
		box := enclosure.Vented{Vb: within(t, "Vb", 1e-3, 0.3), Losses: enclosure.Losses{QL: within(t, "QL", 1, 1000)},
			Vent: enclosure.Vent{Diameter: within(t, "diameter", 0.02, 0.15), Length: within(t, "length", 0.01, 0.5), Count: 1}}
		m := enclosure.Mounted{Driver: d, Box: box, Air: table, Source: rapid.Float64Range(0, 2).Draw(t, "source")}
		s, err := m.SmallSignal()
		if err != nil {
			t.Fatal(err)
		}
		out, err := m.Motion()
		if err != nil {
			t.Fatal(err)
		}
		h, alpha, ql, qt := box.Fb(table)/s.Fs, s.Vas/box.Vb, box.Losses.QL, s.Qt
		want := []float64{
			1,
			(h*ql + qt) / (math.Sqrt(h) * ql * qt),
			(h + (alpha+1+h*h)*ql*qt) / (h * ql * qt),
			(ql + h*qt) / (math.Sqrt(h) * ql * qt),
			1,
		}
		ratio := out.Pressure.(*freq.PolyRatio)
		c := ratio.Den.Coefficients()
		if len(c) != 5 {
			t.Fatalf("denominator has the coefficients %v, want five", c)
		}
		w := 2 * math.Pi * math.Sqrt(s.Fs*box.Fb(table))
		for k := range want {
			if got := c[k] * math.Pow(w, float64(k)) / c[0]; !(math.Abs(got/want[k]-1) <= 1e-10) {
				t.Fatalf("coefficient of s^%d is %.12g, want %.12g", k, got, want[k])
			}
		}
		for k, v := range ratio.Num.Coefficients() {
			if (v != 0) != (k == 4) {
				t.Fatalf("numerator is %v, want s⁴ only", ratio.Num.Coefficients())
			}
		}
	})
}

func TestMotionRefusals(t *testing.T) {
	good := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Closed{Vb: 0.01}}
	vent := enclosure.Vent{Diameter: 0.05, Length: 0.2, Count: 1}
	for name, spoil := range map[string]func(m *enclosure.Mounted){
		"no box":                   func(m *enclosure.Mounted) { m.Box = nil },
		"driver":                   func(m *enclosure.Mounted) { m.Driver.Bl = 0 },
		"air":                      func(m *enclosure.Mounted) { m.Air.Density = math.NaN() },
		"source":                   func(m *enclosure.Mounted) { m.Source = -1 },
		"source NaN":               func(m *enclosure.Mounted) { m.Source = math.NaN() },
		"volume":                   func(m *enclosure.Mounted) { m.Box = enclosure.Closed{Vb: 0} },
		"volume NaN":               func(m *enclosure.Mounted) { m.Box = enclosure.Closed{Vb: math.NaN()} },
		"loss without a reference": func(m *enclosure.Mounted) { m.Box = enclosure.Closed{Vb: 0.01, Losses: enclosure.Losses{QA: 5}} },
		"port loss of a closed box": func(m *enclosure.Mounted) {
			m.Box = enclosure.Closed{Vb: 0.01, Losses: enclosure.Losses{QP: 5}, Reference: 50}
		},
		"negative leak": func(m *enclosure.Mounted) {
			m.Box = enclosure.Vented{Vb: 0.01, Vent: vent, Losses: enclosure.Losses{QL: -7}}
		},
		"infinite leak": func(m *enclosure.Mounted) {
			m.Box = enclosure.Vented{Vb: 0.01, Vent: vent, Losses: enclosure.Losses{QL: math.Inf(1)}}
		},
		"no vent": func(m *enclosure.Mounted) { m.Box = enclosure.Vented{Vb: 0.01} },
	} {
		m := good
		spoil(&m)
		if out, err := m.Motion(); err == nil {
			t.Errorf("%s: no error but %v", name, out)
		}
	}
	if _, err := good.Motion(); err != nil {
		t.Error(err)
	}
}

// What no polynomial can be: a coil that grows with √(jω), solved here in one
// line of complex arithmetic for an infinite baffle.
func TestCoilThatIsNoPolynomial(t *testing.T) {
	d := woofer
	d.Coil = semi{0.03}
	out := motion(t, enclosure.Mounted{Driver: d, Air: table, Box: enclosure.InfiniteBaffle{}, Source: 0.3})
	for _, hz := range []float64{10, 45, 700, 15000} {
		s := complex(0, 2*math.Pi*hz)
		zm := complex(d.Rms, 0) + s*complex(d.Mms, 0) + 1/(s*complex(d.Cms, 0))
		z := complex(d.Re+0.3, 0) + 0.03*cmplx.Sqrt(s) + complex(d.Bl*d.Bl, 0)/zm
		v := complex(d.Bl, 0) / (z * zm)
		g := grid(t, hz)
		for name, c := range map[string]struct {
			of   freq.Transfer
			want complex128
		}{
			"impedance": {out.Impedance, z}, "current": {out.Current, 1 / z}, "cone": {out.Cone, v / s}, "cone flow": {out.ConeFlow, v * complex(d.Sd, 0)},
			"pressure": {out.Pressure, s * v * complex(table.Density*d.Sd/(2*math.Pi), 0)},
		} {
			if got := c.of.ResponseTo(nil, g)[0]; !(cmplx.Abs(got/c.want-1) <= 1e-12) {
				t.Errorf("%s at %g Hz is %v, want %v", name, hz, got, c.want)
			}
		}
		if got := out.VentFlow.ResponseTo(nil, g)[0]; got != 0 {
			t.Errorf("vent flow without a vent is %v", got)
		}
	}
}

// A coil that is known on one grid only says so.
type measured struct {
	freq.Response
}

func (c measured) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	return c.ResponseTo(dst, g)
}

func TestCoilKnownOnAGridOnly(t *testing.T) {
	here, elsewhere := grid(t, 20, 200), grid(t, 20, 201)
	r, err := freq.NewResponse(here, []complex128{complex(0.1, 0.2), complex(0.5, 1)}, "coil", freq.Basis{Quantity: freq.Impedance})
	if err != nil {
		t.Fatal(err)
	}
	d := woofer
	d.Coil = measured{r}
	pair, err := enclosure.Several{Series: 2, Parallel: 1}.Of(d)
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range []driver.Params{d, pair} {
		for _, box := range []enclosure.Box{enclosure.Closed{Vb: 0.01}, enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 0.01}}} {
			m := enclosure.Mounted{Driver: d, Air: table, Box: box}
			out := motion(t, m)
			if _, err := freq.Evaluate(out.Pressure, here, "p", enclosure.PressureBasis()); err != nil {
				t.Error(err)
			}
			if _, err := freq.Evaluate(out.Pressure, elsewhere, "p", enclosure.PressureBasis()); err == nil {
				t.Errorf("%T: a coil is evaluated where it is not known", box)
			}
			if _, err := m.AtLevel(elsewhere, 1); err == nil {
				t.Errorf("%T: a level is solved where the coil is not known", box)
			}
		}
	}
}

// With little loss the cone moves least at fb.
func TestLeastExcursionIsAtTheTuning(t *testing.T) {
	box := enclosure.Vented{Vb: 0.014, Losses: enclosure.Losses{QA: 200, QP: 200},
		Vent: enclosure.Vent{Diameter: 0.05, Length: 0.2, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}}
	x, fb := motion(t, enclosure.Mounted{Driver: woofer, Air: table, Box: box}).Cone, box.Fb(table)
	least, at := math.Inf(1), 0.0
	for hz := 0.7 * fb; hz < 1.4*fb; hz *= 1.0005 {
		if a := cmplx.Abs(x.ResponseTo(nil, grid(t, hz))[0]); a < least {
			least, at = a, hz
		}
	}
	near(t, "frequency of the least excursion over fb", at/fb, 1, 2e-3)
}
