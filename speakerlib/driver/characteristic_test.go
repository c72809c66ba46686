package driver_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/internal/testtable"
)

func polynomial(t testing.TB, from, to float64, c ...float64) *driver.Characteristic {
	t.Helper()
	p, err := driver.NewPolynomial(c, from, to)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func table(t testing.TB, x, y []float64) *driver.Characteristic {
	t.Helper()
	c, err := driver.NewTable(x, y)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The curve through the points against SciPy's (testdata/monotone_cubic.py).
func TestTableAgainstSciPy(t *testing.T) {
	var x, y, at, want []float64
	for _, row := range testtable.Read(t, "testdata/monotone_cubic.csv") {
		a, v := row.Number(t, "x_mm"), row.Number(t, "Bl_NA")
		if row.Text(t, "kind") == "point" {
			x, y = append(x, a), append(y, v)
		} else {
			at, want = append(at, a), append(want, v)
		}
	}
	if len(x) != 10 || len(at) != 61 {
		t.Fatalf("%d points and %d between, want 10 and 61", len(x), len(at))
	}
	c := table(t, x, y)
	for i := range at {
		if got, in := c.At(at[i]); !in || math.Abs(got-want[i]) > 1e-13 {
			t.Errorf("at %g mm: %v (measured: %v), SciPy %v", at[i], got, in, want[i])
		}
	}
}

// Beyond the range nothing is measured, and the value is that of the end.
func TestBeyondTheRangeIsMarked(t *testing.T) {
	for name, c := range map[string]*driver.Characteristic{
		"polynomial": polynomial(t, -4e-3, 5e-3, 7, 100, -9e4),
		"table":      table(t, []float64{-4e-3, 0, 5e-3}, []float64{5.16, 7, 5.25}),
	} {
		low, _ := c.At(-4e-3)
		high, _ := c.At(5e-3)
		for _, v := range []struct {
			x, want float64
			in      bool
		}{{-4e-3, low, true}, {5e-3, high, true}, {0, 7, true}, {-4.001e-3, low, false}, {0.02, high, false}, {math.Inf(1), high, false}} {
			if got, in := c.At(v.x); got != v.want || in != v.in {
				t.Errorf("%s at %g: %v, %v, want %v, %v", name, v.x, got, in, v.want, v.in)
			}
		}
		if math.Abs(low-5.16) > 1e-12 || math.Abs(high-5.25) > 1e-12 {
			t.Errorf("%s: ends are %v and %v, want 5.16 and 5.25", name, low, high)
		}
		for _, x := range []float64{4.5e-3, -4.5e-3} {
			if _, in := c.Symmetric(x); in {
				t.Errorf("%s: the symmetric part is measured at %g where one side is not", name, x)
			}
			if _, in := c.Asymmetric(x); in {
				t.Errorf("%s: the asymmetric part is measured at %g where one side is not", name, x)
			}
		}
		if from, to := c.Range(); from != -4e-3 || to != 5e-3 {
			t.Errorf("%s: range %g … %g", name, from, to)
		}
		x, y := c.Points(7)
		if len(x) != 7 || x[0] != -4e-3 || x[6] != 5e-3 || y[0] != low || y[6] != high || math.Abs(x[3]-0.5e-3) > 1e-18 {
			t.Errorf("%s: points %v, %v", name, x, y)
		}
	}
}

// The symmetric part of a polynomial has its even powers, the asymmetric part its
// odd ones.
func TestSymmetricAndAsymmetric(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		c := rapid.SliceOfN(rapid.Float64Range(-5, 5), 4, 4).Draw(rt, "c")
		p, err := driver.NewPolynomial(c, -2, 2)
		if err != nil {
			rt.Fatal(err)
		}
		x := rapid.Float64Range(-2, 2).Draw(rt, "x")
		even, in := p.Symmetric(x)
		odd, also := p.Asymmetric(x)
		if want := c[0] + c[2]*x*x; !in || math.Abs(even-want) > 1e-13 {
			rt.Fatalf("symmetric part of %v at %g is %v, want %v", c, x, even, want)
		}
		if want := c[1]*x + c[3]*x*x*x; !also || math.Abs(odd-want) > 1e-13 {
			rt.Fatalf("asymmetric part of %v at %g is %v, want %v", c, x, odd, want)
		}
	})
}

// A parabola around d is centred at d for every amplitude; a cubic term moves the
// centre with it: of 1 − k·x² + m·x³ the centre c solves
// f(c+a) = f(c−a) ⇔ −2kc + m·(3c² + a²) = 0.
func TestCentre(t *testing.T) {
	const d, k = 0.8e-3, 9000.0
	p := polynomial(t, -6e-3, 6e-3, 7*(1-k*d*d), 7*2*k*d, -7*k)
	for _, reach := range []float64{0.1e-3, 2e-3, 5e-3} {
		if c, err := p.Centre(reach); err != nil || math.Abs(c-d) > 1e-12 {
			t.Errorf("centre at ±%g m is %v (%v), want %v", reach, c, err, d)
		}
	}
	const m = 4e5
	q := polynomial(t, -6e-3, 6e-3, 1, 0, -k, m)
	const a = 3e-3
	want := (k - math.Sqrt(k*k-3*m*m*a*a)) / (3 * m)
	if c, err := q.Centre(a); err != nil || math.Abs(c-want) > 1e-12 {
		t.Errorf("centre of the cubic is %v (%v), want %v", c, err, want)
	}
	// The cubic has another centre at (k + √…)/3m, farther from rest, on the same side.
	for _, sign := range []float64{1, -1} {
		wide := polynomial(t, -20e-3, 20e-3, 1, 0, -k, sign*m)
		if other := (k + math.Sqrt(k*k-3*m*m*a*a)) / (3 * m); other+a > 20e-3 {
			t.Fatalf("the other centre, %v, is not in the range", other)
		}
		if c, err := wide.Centre(a); err != nil || math.Abs(c-sign*want) > 1e-12 {
			t.Errorf("centre of the wide cubic is %v (%v), want %v", c, err, sign*want)
		}
	}
	if c, err := polynomial(t, -1, 1, 3).Centre(0.5); err != nil || c != 0 {
		t.Errorf("centre of a constant is %v (%v), want rest", c, err)
	}
	// A symmetric table has its centre at rest.
	tab := table(t, []float64{-2, -1, 0, 1, 2}, []float64{4, 6, 7, 6, 4})
	if c, err := tab.Centre(1.3); err != nil || math.Abs(c) > 1e-15 {
		t.Errorf("centre of a symmetric table is %v (%v), want rest", c, err)
	}
	for want, f := range map[string]func() (float64, error){
		"only rises or falls":     func() (float64, error) { return polynomial(t, -1, 1, 3, 1).Centre(0.5) },
		"half the measured range": func() (float64, error) { return p.Centre(6.1e-3) },
		"distance of -1":          func() (float64, error) { return p.Centre(-1) },
		"distance of NaN":         func() (float64, error) { return p.Centre(math.NaN()) },
	} {
		if c, err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, error %v, want %q", c, err, want)
		}
	}
}

func TestCharacteristicRefuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for want, f := range map[string]func() (*driver.Characteristic, error){
		"has 0 coefficients":          func() (*driver.Characteristic, error) { return driver.NewPolynomial(nil, -1, 1) },
		"has 17 coefficients":         func() (*driver.Characteristic, error) { return driver.NewPolynomial(make([]float64, 17), -1, 1) },
		"coefficient 1 of the polyno": func() (*driver.Characteristic, error) { return driver.NewPolynomial([]float64{1, nan}, -1, 1) },
		"terms up to 1e+30":           func() (*driver.Characteristic, error) { return driver.NewPolynomial([]float64{1, 0, 1}, -1e16, 1) },
		"known from 1 to 1":           func() (*driver.Characteristic, error) { return driver.NewPolynomial([]float64{1}, 1, 1) },
		"known from -Inf":             func() (*driver.Characteristic, error) { return driver.NewPolynomial([]float64{1}, -inf, 1) },
		"2 places and 1 values":       func() (*driver.Characteristic, error) { return driver.NewTable([]float64{1, 2}, []float64{1}) },
		"has 1 points":                func() (*driver.Characteristic, error) { return driver.NewTable([]float64{1}, []float64{1}) },
		"is NaN at 2":                 func() (*driver.Characteristic, error) { return driver.NewTable([]float64{1, 2}, []float64{1, nan}) },
		"at 1 after 1":                func() (*driver.Characteristic, error) { return driver.NewTable([]float64{1, 1}, []float64{1, 2}) },
		"apart, want more than": func() (*driver.Characteristic, error) {
			return driver.NewTable([]float64{0, 1e-10, 1}, []float64{1, 2, 3})
		},
		"2e-200 apart": func() (*driver.Characteristic, error) {
			return driver.NewTable([]float64{-1e-200, 1e-200}, []float64{1, 2})
		},
	} {
		if c, err := f(); err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), "driver: ") {
			t.Errorf("%v, error %v, want %q", c, err, want)
		}
	}
	// What is handed in may change afterwards.
	c := []float64{1, 2}
	p := polynomial(t, -1, 1, c...)
	x, y := []float64{-1, 1}, []float64{1, 3}
	q := table(t, x, y)
	c[1], y[1], x[1] = 100, 100, 100
	if v, _ := p.At(1); v != 3 {
		t.Errorf("polynomial changes with its coefficients: %v", v)
	}
	if v, _ := q.At(1); v != 3 {
		t.Errorf("table changes with its points: %v", v)
	}
	if got := p.Coefficients(); len(got) != 2 || got[1] != 2 || q.Coefficients() != nil {
		t.Errorf("coefficients are %v and %v", got, q.Coefficients())
	}
	defer func() {
		if recover() == nil {
			t.Error("no panic at NaN")
		}
	}()
	p.At(nan)
}

// A table never overshoots its points.
func TestTableIsMonotoneBetweenPoints(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := rapid.IntRange(2, 8).Draw(rt, "n")
		x, y := make([]float64, n), make([]float64, n)
		for i := range x {
			y[i] = rapid.Float64Range(-10, 10).Draw(rt, "y")
			if i > 0 {
				x[i] = x[i-1] + span(rt, "step", 1e-3, 10)
			}
		}
		c, err := driver.NewTable(x, y)
		if err != nil {
			rt.Fatal(err)
		}
		i := rapid.IntRange(0, n-2).Draw(rt, "piece")
		lo, hi := math.Min(y[i], y[i+1]), math.Max(y[i], y[i+1])
		at := x[i] + (x[i+1]-x[i])*rapid.Float64Range(0, 1).Draw(rt, "at")
		if v, _ := c.At(at); !(v >= lo-1e-12*(hi-lo) && v <= hi+1e-12*(hi-lo)) {
			rt.Fatalf("%v at %g between %g and %g", v, at, y[i], y[i+1])
		}
	})
}
