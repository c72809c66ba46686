package analog_test

import (
	"math"
	"math/big"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// upper returns the poles that are not below the real axis, in the order in
// which they are given.
func upper(p []complex128) []complex128 {
	var u []complex128
	for _, z := range p {
		if imag(z) >= 0 {
			u = append(u, z)
		}
	}
	return u
}

// Poles and polynomials of datasets/reference/prototypes.csv, computed from the
// defining polynomials outside this library and against SciPy.
func TestPrototypesAgainstTheTable(t *testing.T) {
	seen := map[string]int{}
	for i, row := range testtable.Read(t, "../../datasets/reference/prototypes.csv") {
		family, n := row.Text(t, "family"), int(row.Number(t, "order"))
		var p analog.Prototype
		switch family {
		case "butterworth":
			p = analog.Butterworth(n)
		case "linkwitz_riley":
			p = analog.LinkwitzRiley(n)
		case "bessel_delay":
			p = analog.Bessel(n, analog.ByDelay)
		case "bessel_phase":
			p = analog.Bessel(n, analog.ByPhase)
		case "bessel_mag":
			p = analog.Bessel(n, analog.ByMagnitude)
		case "chebyshev1_0.5dB":
			p = analog.ChebyshevI{Order: n, Ripple: level.Ratio(0.5)}
		case "chebyshev1_0.5dB_n3dB":
			// Of which half the power is at 1 rad/s.
			f, err := analog.LowpassThrough(analog.ChebyshevI{Order: n, Ripple: level.Ratio(0.5)}, 1/(2*math.Pi), math.Sqrt(0.5))
			if err != nil {
				t.Fatal(err)
			}
			p = own(f.Poles())
		default:
			t.Errorf("row %d: family %q", i+2, family)
			continue
		}
		seen[family]++
		poles, err := p.Poles()
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		if len(poles) != n {
			t.Errorf("row %d: %v has %d poles", i+2, p, len(poles))
			continue
		}
		index := int(row.Number(t, "pole_index_upper"))
		got, want := upper(poles)[index-1], complex(row.Number(t, "re"), row.Number(t, "im"))
		if cmplx.Abs(got-want) > 1e-9*cmplx.Abs(want) {
			t.Errorf("row %d: pole %d of %v is %.12g, want %.12g", i+2, index, p, got, want)
		}
		// The polynomial is the product over the poles.
		c := []complex128{1}
		for _, z := range poles {
			next := make([]complex128, len(c)+1)
			for k, v := range c {
				next[k] += v
				next[k+1] -= z * v
			}
			c = next
		}
		for k, w := range row.Numbers(t, "den_coeffs_descending") {
			if math.Abs(real(c[k])-w) > 1e-9*w || math.Abs(imag(c[k])) > 1e-9*w {
				t.Errorf("row %d: coefficient %d of %v is %.12g, want %.12g", i+2, k, p, c[k], w)
			}
		}
	}
	if len(seen) != 7 {
		t.Errorf("families in the table: %v, want 7", seen)
	}
}

// SciPy's prototypes up to order 24 (datasets/reference/scipy_filters.py).
func TestPrototypesAgainstSciPy(t *testing.T) {
	type key struct {
		family string
		order  int
	}
	want := map[key][]complex128{}
	var all []key
	for _, row := range testtable.Read(t, "../../datasets/reference/scipy_prototypes.csv") {
		k := key{row.Text(t, "family"), int(row.Number(t, "order"))}
		if want[k] == nil {
			all = append(all, k)
		}
		want[k] = append(want[k], complex(row.Number(t, "re"), row.Number(t, "im")))
	}
	if len(all) != 4*15 {
		t.Errorf("table has %d prototypes, want 60", len(all))
	}
	for _, of := range all {
		k := of.order
		p := map[string]analog.Prototype{
			"butterworth": analog.Butterworth(k), "bessel delay": analog.Bessel(k, analog.ByDelay),
			"bessel phase": analog.Bessel(k, analog.ByPhase), "bessel mag": analog.Bessel(k, analog.ByMagnitude),
		}[of.family]
		poles, err := p.Poles()
		if err != nil {
			t.Error(err)
			continue
		}
		got := upper(poles)
		if len(got) != len(want[of]) {
			t.Errorf("%v has %d poles on or above the real axis, SciPy %d", p, len(got), len(want[of]))
			continue
		}
		for i, z := range got {
			if w := want[of][i]; cmplx.Abs(z-w) > 2e-14*cmplx.Abs(w) {
				t.Errorf("%v: pole %d is %.15g, SciPy %.15g", p, i, z, w)
			}
		}
	}
}

// The poles are roots of θₙ from its defining sum (Thomson 1949), evaluated with
// 400 bits: |θₙ/θₙ′| is the distance to the root.
func TestBesselPolesAreRootsOfTheSum(t *testing.T) {
	for _, n := range []int{2, 5, 9, 12, 17, 24} {
		poles, err := analog.Bessel(n, analog.ByDelay).Poles()
		if err != nil {
			t.Fatal(err)
		}
		c := make([]*big.Float, n+1)
		for k := range c {
			num := new(big.Int).MulRange(1, int64(2*n-k))
			den := new(big.Int).Lsh(new(big.Int).Mul(new(big.Int).MulRange(1, int64(k)), new(big.Int).MulRange(1, int64(n-k))), uint(n-k))
			c[k] = new(big.Float).SetPrec(400).SetInt(num.Quo(num, den))
		}
		big0 := func(v float64) *big.Float { return new(big.Float).SetPrec(400).SetFloat64(v) }
		for _, z := range poles {
			x, y := big0(real(z)), big0(imag(z))
			mulAdd := func(a, b, c *big.Float) (*big.Float, *big.Float) { // (a+jb)·z + c
				re := big0(0).Sub(big0(0).Mul(a, x), big0(0).Mul(b, y))
				im := big0(0).Add(big0(0).Mul(a, y), big0(0).Mul(b, x))
				return re.Add(re, c), im
			}
			re, im, dre, dim := big0(0), big0(0), big0(0), big0(0)
			for k := n; k >= 0; k-- {
				dre, dim = mulAdd(dre, dim, re)
				dim.Add(dim, im)
				re, im = mulAdd(re, im, c[k])
			}
			f := func(v *big.Float) float64 { w, _ := v.Float64(); return w }
			if d := math.Hypot(f(re), f(im)) / math.Hypot(f(dre), f(dim)); d > 4e-15*cmplx.Abs(z) {
				t.Errorf("order %d: pole %v is %.2g from a root of the sum", n, z, d)
			}
		}
	}
}

// own is a prototype from outside the package.
type own []complex128

func (p own) Poles() ([]complex128, error) { return p, nil }
func (p own) String() string               { return "own" }

func TestForeignPrototypes(t *testing.T) {
	for _, c := range []struct {
		p    own
		want string
	}{
		{own{-1, complex(-1, 2), complex(-1, -2)}, ""},
		{own{complex(-1, 2)}, "without its conjugate"},
		{own{complex(-1, 2), -1, complex(-1, -2)}, "without its conjugate"},
		{own{complex(-1, -2), complex(-2, 2)}, "without its conjugate"},
		{own{1}, "left half plane"},
		{own{complex(0, 1), complex(0, -1)}, "left half plane"},
		{own{complex(math.NaN(), 0)}, "left half plane"},
	} {
		_, err := analog.Design(analog.Lowpass{Fc: 1000}, c.p)
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%v: error %v, want %q", c.p, err, c.want)
		}
	}
}

func TestPrototypesRefuse(t *testing.T) {
	for _, c := range []struct {
		p    analog.Prototype
		want string
	}{
		{analog.Butterworth(0), "order of Butterworth is 0, want 1 to 24"},
		{analog.Butterworth(25), "25"},
		{analog.LinkwitzRiley(3), "want an even one"},
		{analog.LinkwitzRiley(0), "0"},
		{analog.Bessel(-1, analog.ByPhase), "-1"},
		{analog.Bessel(4, analog.BesselNorm(7)), "BesselNorm(7), want ByDelay"},
	} {
		if _, err := c.p.Poles(); err == nil || !strings.HasPrefix(err.Error(), "analog: ") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: error %v, want one with %q", c.p, err, c.want)
		}
		if _, err := analog.Design(analog.Lowpass{Fc: 1000}, c.p); err == nil {
			t.Errorf("%v: Design accepts it", c.p)
		}
	}
	for _, fc := range []float64{0, -5, 0.9e-9, 1.1e9, math.NaN(), math.Inf(1)} {
		if _, err := analog.Design(analog.Highpass{Fc: fc}, analog.Butterworth(2)); err == nil || !strings.Contains(err.Error(), "corner frequency is") {
			t.Errorf("corner %g Hz: error %v", fc, err)
		}
	}
	if _, err := analog.Design(nil, analog.Butterworth(2)); err == nil {
		t.Error("no band accepted")
	}
}
