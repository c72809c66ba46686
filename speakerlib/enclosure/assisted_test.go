package enclosure_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// A. N. Thiele (JAES 19, 1971) and D. B. Keele (JAES 23, 1975): the tables are
// computed outside the library from the Butterworth polynomials; B5's α = 1 and
// Qt = 0.447 also as printed, from memory.
func TestAssistedAlignments(t *testing.T) {
	b6 := map[string]enclosure.AssistedKind{
		"B5":         enclosure.B5{},
		"B6 class I": enclosure.B6{Class: enclosure.ClassI}, "B6 class II": enclosure.B6{Class: enclosure.ClassII}, "B6 class III": enclosure.B6{Class: enclosure.ClassIII},
	}
	check := func(r testtable.Row, ql float64, alpha string, qt string) {
		name := r["alignment"] + " at QL " + r["QL"] + ": "
		want := r.Number(t, qt)
		a, err := enclosure.AlignAssisted(b6[r["alignment"]], enclosure.SmallSignal{Fs: 1, Qt: want, Vas: 1}, ql)
		if err != nil {
			t.Error(name, err)
			return
		}
		near(t, name+"h", a.H, r.Number(t, "h_fb_fs"), 1e-5)
		near(t, name+"alpha", a.Alpha, r.Number(t, alpha), 1e-5)
		near(t, name+"Qt", a.Driver.Qt, want, 1e-5)
		near(t, name+"f3", a.F3, r.Number(t, "f3_fs"), 1e-5)
		near(t, name+"filter's corner", a.Filter.F0, 1, 1e-12)
		near(t, name+"peak", a.Peak, 0, 1e-9)
		if r["alignment"] == "B5" {
			near(t, name+"filter's Q (0: first order)", a.Filter.Q, 0, 0)
			return
		}
		near(t, name+"filter's Q", a.Filter.Q, r.Number(t, "Q_aux"), 1e-5)
		if boost := r["aux_boost_db"]; boost != "" {
			db, hz := a.Filter.Boost()
			near(t, name+"boost", db, r.Number(t, "aux_boost_db"), 1e-4)
			if db > 0 {
				near(t, name+"boost at", hz/a.F3, r.Number(t, "f_auxpeak_f3"), 1e-5)
			}
		}
	}
	for _, r := range testtable.Read(t, "../../datasets/reference/sixth_order_assisted.csv") {
		check(r, 0, "alpha_Cas_Cab", "Qt")
	}
	for _, r := range testtable.Read(t, "../../datasets/reference/sixth_order_assisted_lossy.csv") {
		check(r, r.Number(t, "QL"), "alpha", "Qt")
	}
}

// What the families promise, looked at in the sound pressure of the whole circuit
// with its leak, behind the filter: a Butterworth of order n has
// |G|⁻² = 1 + (f3/f)²ⁿ; a Chebyshev one has half power at f3, and between its
// peaks of equal height comes back to the level of high frequencies (order 6) or
// stays above it; every one falls with 6·n dB an octave.
func TestAssistedAlignmentsInTheCircuit(t *testing.T) {
	for _, c := range []struct {
		kind  enclosure.AssistedKind
		ql    float64
		qt    float64 // 0: the one it asks for
		order int
	}{
		{enclosure.B5{}, 0, 0, 5}, {enclosure.B5{}, 7, 0, 5}, {enclosure.C5{}, 7, 0.6, 5}, {enclosure.SC5{}, 7, 0.4, 5},
		{enclosure.B6{Class: enclosure.ClassI}, 7, 0, 6}, {enclosure.B6{Class: enclosure.ClassIII}, 10, 0, 6},
		{enclosure.C6{Class: enclosure.ClassI}, 7, 0.40, 6}, {enclosure.C6{Class: enclosure.ClassII}, 7, 0.55, 6}, {enclosure.SC6{Class: enclosure.ClassI}, 7, 0.28, 6},
		{enclosure.SC6{Class: enclosure.ClassII}, 0, 0.37, 6},
	} {
		name := c.kind.String() + ": "
		if c.qt == 0 {
			var err error
			if c.qt, _, err = enclosure.AssistedQtRange(c.kind, c.ql); err != nil {
				t.Fatal(name, err)
			}
		}
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
		a, err := enclosure.AlignAssisted(c.kind, s, c.ql)
		if err != nil {
			t.Error(name, err)
			continue
		}
		near(t, name+"Qt", a.Driver.Qt, c.qt, 1e-12)
		box, err := a.Box(enclosure.Vent{Diameter: 0.06, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}, table)
		if err != nil {
			t.Fatal(err)
		}
		whole := freq.Series{motion(t, enclosure.Mounted{Driver: d, Box: box, Air: table}).Pressure, a.Filter.Transfer()}
		power := func(x float64) float64 { // |G|⁻² at f = x·f3
			z := whole.ResponseTo(nil, grid(t, x*a.F3, 1e7*s.Fs))
			q := cmplx.Abs(z[1]) / cmplx.Abs(z[0])
			return q * q
		}
		near(t, name+"power at f3", power(1), 2, 1e-6)
		slope := power(0.005) / power(0.01)
		near(t, name+"slope", slope/math.Pow(2, 2*float64(c.order)), 1, 2e-3)
		least := 1.0
		for x := 0.5; x < 40; x *= 1.001 {
			least = math.Min(least, power(x))
		}
		near(t, name+"peak", level.PowerDB(1/least), a.Peak, 1e-4)
		switch c.kind.(type) {
		case enclosure.B5, enclosure.B6:
			for _, x := range []float64{0.3, 0.7, 1, 1.5, 2} {
				near(t, name+"Butterworth", power(x)/(1+math.Pow(x, -2*float64(c.order))), 1, 1e-7)
			}
		case enclosure.C5, enclosure.C6:
			// The turning points of |G|⁻² are of equal ripple: all peaks are alike, and
			// all dips; an odd order has the ripple below its level at high
			// frequencies, an even one above.
			odd := c.order == 5
			if (a.Peak > 1e-3) == odd || (a.Sag > 1e-3) != odd || !(a.Parameter < 1) {
				t.Errorf("%speak %g dB and sag %g dB with k %g", name, a.Peak, a.Sag, a.Parameter)
			}
			var turns, dips []float64
			before, last := power(0.9), power(0.9*1.0003)
			for x := 0.9 * 1.0003 * 1.0003; x < 40; x *= 1.0003 {
				now := power(x)
				if last < before && last < now {
					turns = append(turns, last)
				}
				if last > before && last > now {
					dips = append(dips, last)
				}
				before, last = last, now
			}
			if len(turns)+len(dips) < 4 {
				t.Errorf("%s%d peaks and %d dips, want 4 at least", name, len(turns), len(dips))
			}
			for _, p := range turns {
				near(t, name+"peaks alike", level.PowerDB(1/p), a.Peak, 1e-5)
			}
			for _, p := range dips {
				near(t, name+"dips alike", level.PowerDB(p), a.Sag, 1e-5)
			}
		case enclosure.SC5, enclosure.SC6:
			if a.Peak > 1e-9 || !(a.Parameter > 1) {
				t.Errorf("%speak %g dB with k %g", name, a.Peak, a.Parameter)
			}
		}
	}
}

// A volume instead of a Qt gives back the Qt and the tuning it was made of; the
// cabinet's account closes; a resistance in front makes the Qt asked for.
func TestAlignVolumeInvertsAlign(t *testing.T) {
	s := enclosure.SmallSignal{Fs: 41.5, Qt: 0.36, Vas: 0.027}
	for _, kind := range []enclosure.Kind{enclosure.QB3{}, enclosure.SC4{}} {
		a, err := enclosure.Align(kind, s, 7)
		if err != nil {
			t.Fatal(err)
		}
		b, err := enclosure.AlignVolume(kind, enclosure.SmallSignal{Fs: s.Fs, Vas: s.Vas}, a.Vb, 7)
		if err != nil {
			t.Fatal(err)
		}
		near(t, kind.String()+" Qt", b.Driver.Qt, s.Qt, 1e-9)
		near(t, kind.String()+" Fb", b.Fb, a.Fb, 1e-8)
	}
	book := enclosure.Book{Gross: 0.0152, VentWall: 3e-3, VentRoom: 0.25}
	vent := enclosure.Vent{Diameter: 0.052, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	a, account, err := book.AlignAssisted(enclosure.C6{Class: enclosure.ClassI}, s, 7, vent, table)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "net volume", account.Box.Vb, a.Vb, 1e-11*a.Vb)
	near(t, "tuning of the box", account.Box.Fb(table), a.Fb, 1e-9)
	near(t, "volumes", account.Box.Vb+account.Tube, book.Gross, 1e-15)
	again, err := enclosure.AlignAssisted(a.Kind, a.Driver, 7)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "volume for the Qt asked for", again.Vb, a.Vb, 1e-9*a.Vb)

	m := enclosure.Mounted{Driver: woofer, Air: table}
	r, err := m.SourceFor(0.5)
	if err != nil {
		t.Fatal(err)
	}
	m.Source = r
	got, err := m.SmallSignal()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "Qt with the resistance", got.Qt, 0.5, 1e-12)
	for _, qt := range []float64{0.1, 50, math.NaN()} {
		if r, err := m.SourceFor(qt); err == nil {
			t.Errorf("a resistance of %g ohm makes Qt %g", r, qt)
		}
	}
}

// Every row of the list is an alignment, each name once, and those without a leak
// whose existence is known in closed form are there: B4 at Qt √(2−√2)/2, B5 at
// 1/√5, B6 class II at 1/√6 (A. N. Thiele 1971).
func TestTextbooks(t *testing.T) {
	names := func(qt, ql float64) map[string]enclosure.Textbook {
		list, err := enclosure.Textbooks(enclosure.SmallSignal{Fs: 40, Qt: qt, Vas: 0.03}, ql)
		if err != nil {
			t.Fatal(err)
		}
		m := map[string]enclosure.Textbook{}
		for _, a := range list {
			if !(a.Vb > 0 && a.F3 > 0) {
				t.Errorf("%+v", a)
			}
			if _, twice := m[a.Name]; twice {
				t.Errorf("%s twice", a.Name)
			}
			m[a.Name] = a
		}
		return m
	}
	for _, c := range []struct {
		qt   float64
		name string
		not  string
	}{
		{math.Sqrt(2-math.Sqrt2) / 2, "B4", "B5"},
		{1 / math.Sqrt(5), "B5", "B4"},
		{1 / math.Sqrt(6), "B6 class II", "B5"},
		{0.35, "C6 class I", "C4"},
		{0.35, "QB3", "C5"},
		{0.6, "C4", "closed Bessel"},
		{0.3, "closed Butterworth", "B5"},
	} {
		m := names(c.qt, 0)
		if _, ok := m[c.name]; !ok {
			t.Errorf("Qt %g has no %s: %v", c.qt, c.name, m)
		}
		if a, ok := m[c.not]; ok {
			t.Errorf("Qt %g has %+v", c.qt, a)
		}
	}
	book := enclosure.Book{Gross: 0.0152, Driver: 4e-4, VentWall: 3e-3, VentRoom: 0.25}
	vent := enclosure.Vent{Diameter: 0.052, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	for name, a := range names(0.3, 7) {
		h, err := book.House(a, vent, table)
		if err != nil {
			t.Error(name, err)
			continue
		}
		near(t, name+": volumes", h.Gross, a.Vb+h.Tube+4e-4, 1e-15)
		near(t, name+": left", h.Over, 0.0152-h.Gross, 1e-15)
		if h.Fits != (h.Over >= 0 && (a.Fb == 0 || h.Spare >= 0)) {
			t.Errorf("%+v", h)
		}
		if a.Fb > 0 {
			v := vent
			v.Length = h.Length
			near(t, name+": tuning", v.Tuning(a.Vb, table), a.Fb, 1e-9)
		}
	}
}

func TestAssistedRefusals(t *testing.T) {
	s := enclosure.SmallSignal{Fs: 40, Qt: 0.3, Vas: 0.02}
	for _, kind := range []enclosure.AssistedKind{nil, enclosure.B6{}, enclosure.C6{Class: 4}} {
		if a, err := enclosure.AlignAssisted(kind, s, 7); err == nil {
			t.Errorf("%v gives %+v", kind, a)
		}
	}
	_, err := enclosure.AlignAssisted(enclosure.B5{}, s, 0)
	if err == nil || !strings.Contains(err.Error(), "Qt is 0.3, want 0.4472 within 1 % for B5 at no leak") {
		t.Errorf("error is %v, want one that says the Qt", err)
	}
	_, err = enclosure.AlignVolume(enclosure.QB3{}, s, 1, 0)
	if err == nil || !strings.Contains(err.Error(), "net volume is 1 m³, want") {
		t.Errorf("error is %v, want one that says the volumes", err)
	}
	for _, vb := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if a, err := enclosure.AlignAssistedVolume(enclosure.C5{}, s, vb, 0); err == nil {
			t.Errorf("%g m³ gives %+v", vb, a)
		}
	}
}
