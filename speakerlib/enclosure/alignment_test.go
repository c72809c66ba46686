package enclosure_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/enclosure"
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
	for _, r := range reference(t, "vented_lossy.csv") {
		name := r["family"] + " at QL " + r["QL"] + " Qts " + r["Qts"] + ": "
		ql := r.number(t, "QL")
		if math.IsInf(ql, 0) {
			ql = 0
		}
		qt := r.number(t, "Qts")
		a, err := enclosure.Align(kinds[r["family"]], enclosure.SmallSignal{Fs: 1, Qt: qt, Vas: 1}, ql)
		if err != nil {
			t.Error(name, err)
			continue
		}
		near(t, name+"h", a.H, r.number(t, "h_fb_fs"), 2e-5)
		near(t, name+"alpha", a.Alpha, r.number(t, "alpha_Vas_Vb"), 2e-5)
		near(t, name+"f3", a.F3, r.number(t, "f3_fs"), 2e-5)
		near(t, name+"peak", a.Peak, r.number(t, "peak_db"), 1e-4)
		near(t, name+"Qt asked for", a.Driver.Qt, qt, 2e-5)
		near(t, name+"Vb", a.Vb*a.Alpha, 1, 1e-12)
		if r["param_B_or_k"] != "" {
			near(t, name+"parameter", a.Parameter, r.number(t, "param_B_or_k"), 2e-6)
		}
	}
}
