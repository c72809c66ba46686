package enclosure_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

var kinds = map[string]enclosure.Kind{
	"QB3": enclosure.QB3{}, "B4": enclosure.B4{}, "C4": enclosure.C4{}, "SC4": enclosure.SC4{}, "BE4": enclosure.Bessel{},
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.8g, want %.8g ± %g", what, got, want, tol)
	}
}

// R. H. Small, "Vented-Box Loudspeaker Systems", JAES 21 (1973): the table is
// computed from his polynomials, its digits are five after the point.
func TestAlignmentsWithLeak(t *testing.T) {
	for _, r := range testtable.Read(t, "../../datasets/reference/vented_lossy.csv") {
		name := r["family"] + " at QL " + r["QL"] + " Qts " + r["Qts"] + ": "
		ql := r.Number(t, "QL")
		if math.IsInf(ql, 0) {
			ql = 0
		}
		qt := r.Number(t, "Qts")
		a, err := enclosure.Align(kinds[r["family"]], enclosure.SmallSignal{Fs: 1, Qt: qt, Vas: 1}, ql)
		if err != nil {
			t.Error(name, err)
			continue
		}
		near(t, name+"h", a.H, r.Number(t, "h_fb_fs"), 2e-5)
		near(t, name+"alpha", a.Alpha, r.Number(t, "alpha_Vas_Vb"), 2e-5)
		near(t, name+"f3", a.F3, r.Number(t, "f3_fs"), 2e-5)
		near(t, name+"peak", a.Peak, r.Number(t, "peak_db"), 1e-4)
		near(t, name+"Qt asked for", a.Driver.Qt, qt, 2e-5)
		near(t, name+"Vb", a.Vb*a.Alpha, 1, 1e-12)
		if r["param_B_or_k"] != "" {
			near(t, name+"parameter", a.Parameter, r.Number(t, "param_B_or_k"), 2e-6)
		}
	}
}

// A. N. Thiele, "Loudspeakers in Vented Boxes", JAES 19 (1971), alignments 1, 3, 5,
// 6 and 8: against his printed figures, which are rounded (0.5 %), and against
// the same computed to five digits from his polynomials.
func TestThieleAlignments(t *testing.T) {
	for _, r := range testtable.Read(t, "../../datasets/reference/thiele_vented.csv") {
		name := "alignment " + r["no"] + ": "
		a, err := enclosure.Align(kinds[r["type"]], enclosure.SmallSignal{Fs: 1, Qt: r.Number(t, "Qt"), Vas: 1}, 0)
		if err != nil {
			t.Error(name, err)
			continue
		}
		for column, got := range map[string]float64{"f3_fs": a.F3, "f3_fb": a.F3 / a.Fb, "fb_fs": a.H, "Vas_Vb": a.Alpha, "Qt": a.Driver.Qt, "param_B_or_k": a.Parameter} {
			if column == "param_B_or_k" && r["type"] == "B4" {
				got = 0
			}
			want := r.Number(t, column)
			near(t, name+column, got, want, 1e-4*math.Max(1, want))
		}
		near(t, name+"ripple", a.Peak, r.Number(t, "ripple_db"), 1e-4)
		for column, got := range map[string]float64{"pub_f3_fs": a.F3, "pub_f3_fb": a.F3 / a.Fb, "pub_Cas_Cab": a.Alpha, "pub_Qt": a.Driver.Qt} {
			want := r.Number(t, column)
			near(t, name+column, got, want, 0.005*want)
		}
	}
}

// What an alignment promises of G(s), looked at in the sound pressure of the whole
// circuit with a leak: the half-power frequency, the peak, and the shape that
// gives the family its name.
func TestAlignmentsKeepTheirPromiseInTheCircuit(t *testing.T) {
	for _, c := range []struct {
		kind enclosure.Kind
		ql   float64
		qt   float64
	}{
		{enclosure.QB3{}, 7, 0.30}, {enclosure.SC4{}, 7, 0.30}, {enclosure.C4{}, 7, 0.52}, {enclosure.C4{}, 0, 0.7},
		{enclosure.B4{}, 7, 0.4048142474636}, {enclosure.B4{}, 0, math.Sqrt(2-math.Sqrt2) / 2}, {enclosure.Bessel{}, 0, 1 / math.Sqrt(10)},
	} {
		d := woofer
		d.Rms = 0.3
		free, err := enclosure.SmallSignalOf(d, table)
		if err != nil {
			t.Fatal(err)
		}
		d.Bl *= math.Sqrt((1/c.qt - 1/d.Qms()) / (1/free.Qt - 1/d.Qms()))
		s, err := enclosure.SmallSignalOf(d, table)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "Qt of the test's driver", s.Qt, c.qt, 1e-12)
		a, err := enclosure.Align(c.kind, s, c.ql)
		if err != nil {
			t.Fatal(err)
		}
		box, err := a.Box(enclosure.Vent{Diameter: 0.05, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}, table)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "Fb of the box", box.Fb(table)/a.Fb, 1, 1e-12)
		p := motion(t, enclosure.Mounted{Driver: d, Box: box, Air: table}).Pressure
		power := func(x float64) float64 { // |G|⁻² at s = jx
			z := p.ResponseTo(nil, grid(t, x*math.Sqrt(s.Fs*a.Fb), 1e7*s.Fs))
			q := cmplx.Abs(z[1]) / cmplx.Abs(z[0])
			return q * q
		}
		name := c.kind.String() + ": "
		near(t, name+"power at f3", power(a.F3/math.Sqrt(s.Fs*a.Fb)), 2, 1e-6)
		least := math.Inf(1)
		for x := 0.3; x < 30; x *= 1.002 {
			least = math.Min(least, power(x))
		}
		near(t, name+"peak", level.PowerDB(1/math.Min(least, 1)), a.Peak, 1e-4)
		switch c.kind.(type) {
		case enclosure.B4:
			for _, x := range []float64{0.3, 0.7, 1, 2} {
				near(t, name+"1/|G|² − 1 − x⁻⁸", power(x)*math.Pow(x, 8)/(1+math.Pow(x, 8)), 1, 1e-7)
			}
		case enclosure.QB3:
			for _, x := range []float64{0.3, 0.7, 1, 2} {
				want := 1 + a.Parameter*a.Parameter*math.Pow(x, -6) + math.Pow(x, -8)
				near(t, name+"1/|G|²", power(x)/want, 1, 1e-7)
			}
		case enclosure.C4:
			// 1/|G|² in y = x⁻² has three turning points, of equal ripple: the two
			// peaks as high, the dip between them at the level of high frequencies.
			low, mid, high := 0.0, 0.0, 0.0
			before, last := power(0.3), power(0.3*1.0005)
			for x := 0.3 * 1.0005 * 1.0005; x < 30; x *= 1.0005 {
				now := power(x)
				switch {
				case last < before && last < now && low == 0:
					low = last
				case last > before && last > now && mid == 0:
					mid = last
				case last < before && last < now:
					high = last
				}
				before, last = last, now
			}
			near(t, name+"dip", mid, 1, 1e-6)
			near(t, name+"peaks alike", low, high, 1e-6)
			if !(low < 1-1e-5) {
				t.Errorf("%speak of 1/|G|² is %g, want below 1", name, low)
			}
		}
	}
}

// Known without any solving (A. N. Thiele 1971; R. H. Small 1973): B4 without a
// leak has h = 1, α = √2 and Qt = √(2−√2)/2 = 0.3827; Bessel without a leak has
// α = 7/3 and Qt = 1/√10.
func TestFixedAlignmentsInClosedForm(t *testing.T) {
	for _, c := range []struct {
		kind         enclosure.Kind
		qt, h, alpha float64
	}{
		{enclosure.B4{}, math.Sqrt(2-math.Sqrt2) / 2, 1, math.Sqrt2},
		{enclosure.Bessel{}, 1 / math.Sqrt(10), 10 / math.Sqrt(105), 7.0 / 3},
	} {
		lo, hi, err := enclosure.QtRange(c.kind, 0)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "Qt", lo, c.qt, 1e-14)
		near(t, "Qt", hi, c.qt, 1e-14)
		// a driver within the tolerance gets the box of the one asked for
		a, err := enclosure.Align(c.kind, enclosure.SmallSignal{Fs: 40, Qt: c.qt * 1.009, Vas: 0.03}, 0)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "h", a.H, c.h, 1e-14)
		near(t, "alpha", a.Alpha, c.alpha, 1e-13)
		near(t, "Fb", a.Fb, 40*c.h, 1e-12)
		near(t, "Vb", a.Vb, 0.03/c.alpha, 1e-14)
		near(t, "Qt asked for", a.Driver.Qt, c.qt, 1e-14)
		for _, off := range []float64{0.98, 1.02} {
			if _, err := enclosure.Align(c.kind, enclosure.SmallSignal{Fs: 40, Qt: c.qt * off, Vas: 0.03}, 0); err == nil {
				t.Errorf("%v: a Qt %g of what it asks for is accepted", c.kind, off)
			}
		}
	}
}

// Where the families end. All three begin at B4. The sub-Chebyshev tends to two
// double real poles −sin π/8 and −sin 3π/8, which a driver of
// Qt = 1/(2·(p+1/p)), p² = tan 3π/8, has without a leak; the others go on.
func TestQtRange(t *testing.T) {
	b4 := math.Sqrt(2-math.Sqrt2) / 2
	p := math.Sqrt(math.Tan(3 * math.Pi / 8))
	lo, hi, err := enclosure.QtRange(enclosure.SC4{}, 0)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "least Qt of SC4", lo, 1/(2*(p+1/p)), 1e-9)
	near(t, "greatest Qt of SC4", hi, b4, 1e-12)
	lo, hi, err = enclosure.QtRange(enclosure.QB3{}, 0)
	if err != nil || lo > 1e-5 || math.Abs(hi-b4) > 1e-12 {
		t.Errorf("QB3 exists for Qt %g to %g (%v), want near 0 to %g", lo, hi, err, b4)
	}
	lo, hi, err = enclosure.QtRange(enclosure.C4{}, 0)
	if err != nil || math.Abs(lo-b4) > 1e-12 || hi < 1e4 {
		t.Errorf("C4 exists for Qt %g to %g (%v), want %g to beyond 1e4", lo, hi, err, b4)
	}
	// A leak that is next to none is none.
	for _, ql := range []float64{1e9, 1e20, 1e31, 1e300} {
		a, err := enclosure.Align(enclosure.QB3{}, enclosure.SmallSignal{Fs: 1, Qt: 0.3, Vas: 1}, ql)
		b, err2 := enclosure.Align(enclosure.QB3{}, enclosure.SmallSignal{Fs: 1, Qt: 0.3, Vas: 1}, 0)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		near(t, "h", a.H, b.H, 1e-8)
		near(t, "alpha", a.Alpha, b.Alpha, 1e-8)
	}
	// With a leak C4 ends where a driver without any loss would be needed, and the
	// range told is the range that Align takes, in every family.
	for name, kind := range kinds {
		for _, ql := range []float64{2, 3, 7, 20} {
			lo, hi, err := enclosure.QtRange(kind, ql)
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range []struct {
				qt   float64
				want bool
			}{{lo * 1.000001, true}, {math.Sqrt(lo * hi), true}, {hi * 0.999999, true}, {lo * 0.98, false}, {hi * 1.02, false}} {
				a, err := enclosure.Align(kind, enclosure.SmallSignal{Fs: 50, Qt: c.qt, Vas: 0.02}, ql)
				if (err == nil) != c.want {
					t.Errorf("%s at QL %g, Qt %g of %g to %g: %v", name, ql, c.qt, lo, hi, err)
				}
				if err == nil && !(a.Vb > 0 && a.Fb > 0 && a.F3 > 0) {
					t.Errorf("%s at QL %g, Qt %g: %+v", name, ql, c.qt, a)
				}
			}
		}
	}
}

func TestAlignRefusals(t *testing.T) {
	s := enclosure.SmallSignal{Fs: 40, Qt: 0.3, Vas: 0.02}
	for _, ql := range []float64{-1, math.NaN(), math.Inf(1), 0.5} {
		if a, err := enclosure.Align(enclosure.QB3{}, s, ql); err == nil {
			t.Errorf("QL %g gives %+v", ql, a)
		}
	}
	if _, err := enclosure.Align(nil, s, 7); err == nil {
		t.Error("no kind is accepted")
	}
	for _, bad := range []enclosure.SmallSignal{{Fs: -40, Qt: 0.3, Vas: 1}, {Fs: 40, Qt: 0, Vas: 1}, {Fs: 40, Qt: math.NaN(), Vas: 1}, {Fs: 40, Qt: 0.3, Vas: math.Inf(1)}} {
		if _, err := enclosure.Align(enclosure.QB3{}, bad, 7); err == nil {
			t.Errorf("%+v is accepted", bad)
		}
	}
	a, err := enclosure.Align(enclosure.QB3{}, s, 7)
	if err != nil {
		t.Fatal(err)
	}
	if box, err := a.Box(enclosure.Vent{Diameter: 0.005, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}, table); err == nil {
		t.Errorf("a vent that is too narrow makes %+v", box)
	}
	_, err = enclosure.Align(enclosure.C4{}, s, 7)
	if err == nil || !strings.Contains(err.Error(), "Qt is 0.3, want 0.4048 to 1.298 for C4 at QL 7") {
		t.Errorf("error is %v, want one that says the range", err)
	}
}
