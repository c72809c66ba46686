package analog_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

func bandOf(t *testing.T, kind string, lo, hi float64) analog.Band {
	t.Helper()
	switch kind {
	case "lowpass":
		return analog.Lowpass{Fc: hi}
	case "highpass":
		return analog.Highpass{Fc: lo}
	case "bandpass":
		return analog.Bandpass{Lo: lo, Hi: hi}
	case "bandstop":
		return analog.Bandstop{Lo: lo, Hi: hi}
	}
	t.Fatalf("band %q", kind)
	return nil
}

func prototypeOf(t *testing.T, family string, n int, rp, rs float64) analog.Prototype {
	t.Helper()
	switch family {
	case "butter":
		return analog.Butterworth(n)
	case "cheby1":
		return analog.ChebyshevI{Order: n, Ripple: level.Ratio(rp)}
	case "cheby2":
		return analog.ChebyshevII{Order: n, Stop: level.Ratio(rs)}
	case "ellip":
		return analog.Elliptic{Order: n, Ripple: level.Ratio(rp), Stop: level.Ratio(rs)}
	}
	t.Fatalf("family %q", family)
	return nil
}

// SciPy's iirfilter(…, analog=True) in all families and bands, evaluated from its
// zeros, poles and gain (datasets/reference/scipy_synthesis.py).
func TestFiltersAgainstSciPy(t *testing.T) {
	rows := testtable.Read(t, "../../datasets/reference/scipy_synthesis.csv")
	if len(rows) != 4*7*2*6*5 {
		t.Errorf("table has %d rows", len(rows))
	}
	for i, row := range rows {
		n, hz := int(row.Number(t, "order")), row.Number(t, "f_hz")
		p := prototypeOf(t, row.Text(t, "family"), n, row.Number(t, "ripple_dB"), row.Number(t, "stop_dB"))
		f := design(t, bandOf(t, row.Text(t, "band"), row.Number(t, "lo_hz"), row.Number(t, "hi_hz")), p)
		g, err := freq.NewGrid([]float64{hz})
		if err != nil {
			t.Fatal(err)
		}
		got, want := f.ResponseTo(nil, g)[0], complex(row.Number(t, "re"), row.Number(t, "im"))
		if e := cmplx.Abs(got - want); e > 1e-9*cmplx.Abs(want) {
			t.Errorf("row %d: %v at %g Hz: %v, SciPy %v (off by %.2g)", i+2, f, hz, got, want, e/cmplx.Abs(want))
		}
	}
}

// Elliptic poles and zeros computed with 60 digits from the definition
// (mpmath, datasets/reference/scipy_synthesis.py), up to order 24.
func TestEllipticAgainstLongArithmetic(t *testing.T) {
	type key struct {
		n      int
		rp, rs float64
		kind   string
	}
	want := map[key][]complex128{}
	for _, row := range testtable.Read(t, "../../datasets/reference/mpmath_elliptic.csv") {
		k := key{int(row.Number(t, "order")), row.Number(t, "ripple_dB"), row.Number(t, "stop_dB"), row.Text(t, "kind")}
		want[k] = append(want[k], complex(row.Number(t, "re"), row.Number(t, "im")))
	}
	if len(want) != 10*4*2-4 { // order 1 has no zeros
		t.Errorf("table has %d lists", len(want))
	}
	for k, w := range want {
		e := analog.Elliptic{Order: k.n, Ripple: level.Ratio(k.rp), Stop: level.Ratio(k.rs)}
		list := e.Poles
		if k.kind == "zero" {
			list = e.Zeros
		}
		all, err := list()
		if err != nil {
			t.Fatal(err)
		}
		got := upper(all)
		if len(got) != len(w) {
			t.Errorf("%v has %d of kind %s, want %d", e, len(got), k.kind, len(w))
			continue
		}
		for i := range got {
			if d := cmplx.Abs(got[i]-w[i]) / cmplx.Abs(w[i]); d > 5e-14 {
				t.Errorf("%v: %s %d is %.16g, want %.16g (off by %.2g)", e, k.kind, i, got[i], w[i], d)
			}
		}
	}
}

// Lowest orders of SciPy's buttord, cheb1ord, cheb2ord and ellipord, and what
// the definition of a mask says: exactly the ripple at the edges of the pass band
// that bind, and enough loss at the edges of the other.
func TestMasks(t *testing.T) {
	rows := testtable.Read(t, "../../datasets/reference/scipy_orders.csv")
	if len(rows) != 84 {
		t.Errorf("table has %d rows", len(rows))
	}
	for i, row := range rows {
		kind, want := row.Text(t, "band"), int(row.Number(t, "order"))
		swap := func(lo, hi string) analog.Band {
			return bandOf(t, kind, row.Number(t, lo), row.Number(t, hi))
		}
		m := analog.Mask{Pass: swap("pass_lo", "pass_hi"), Outside: swap("out_lo", "out_hi"),
			Ripple: level.Ratio(row.Number(t, "ripple_dB")), Stop: level.Ratio(row.Number(t, "stop_dB"))}
		f, err := map[string]func() (*analog.Filter, error){
			"butter": m.Butterworth, "cheby1": m.ChebyshevI, "cheby2": m.ChebyshevII, "ellip": m.Elliptic,
		}[row.Text(t, "family")]()
		if want > analog.MaxOrder {
			if err == nil || !strings.Contains(err.Error(), fmt.Sprintf("asks for order %d,", want)) {
				t.Errorf("row %d: error %v, want one with SciPy's order %d", i+2, err, want)
			}
			continue
		}
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		order := f.Order()
		if kind == "bandpass" || kind == "bandstop" {
			order /= 2
		}
		if order != want {
			t.Errorf("row %d: %v has order %d, SciPy %d", i+2, f, order, want)
		}
		at := func(edge string) float64 {
			g, err := freq.NewGrid([]float64{row.Number(t, edge)})
			if err != nil {
				t.Fatal(err)
			}
			return cmplx.Abs(f.ResponseTo(nil, g)[0])
		}
		loss := 1.0
		for _, edge := range []string{"pass_lo", "pass_hi"} {
			loss = math.Min(loss, at(edge))
		}
		if math.Abs(loss*m.Ripple-1) > 1e-9 {
			t.Errorf("row %d: %v is %.12g at the pass edge, want %.12g", i+2, f, loss, 1/m.Ripple)
		}
		for _, edge := range []string{"out_lo", "out_hi"} {
			if v := at(edge); v*m.Stop > 1+1e-7 {
				t.Errorf("row %d: %v is %.6g at %g Hz, want at most %.6g", i+2, f, v, row.Number(t, edge), 1/m.Stop)
			}
		}
	}
}

// The definitions of equal ripple: over a fine grid the magnitude in the pass
// band runs from 1/Ripple to 1, n-fold, and stays at or below 1/Stop in the stop
// band. And half the power of the inverse Chebyshev where its formula says.
func TestEqualRipple(t *testing.T) {
	rp, rs := level.Ratio(0.7), level.Ratio(47)
	for n := 1; n <= 12; n++ {
		e := analog.Elliptic{Order: n, Ripple: rp, Stop: rs}
		edge, err := e.StopEdge()
		if err != nil {
			t.Fatal(err)
		}
		second := analog.ChebyshevII{Order: n, Stop: rs}
		for _, c := range []struct {
			p              analog.Prototype
			ripple         float64
			passTo, stopAt float64
		}{
			{analog.ChebyshevI{Order: n, Ripple: rp}, rp, 1, math.Inf(1)},
			{second, math.Sqrt2, 1 / math.Cosh(math.Acosh(math.Sqrt(rs*rs-1))/float64(n)), 1},
			{e, rp, 1, edge},
		} {
			f := design(t, analog.Lowpass{Fc: 1000}, c.p)
			g, err := freq.LinearGrid(0.05, 1000*c.passTo, 8001)
			if err != nil {
				t.Fatal(err)
			}
			lo, hi, turns, rising := 2.0, 0.0, 0, false
			h := f.ResponseTo(nil, g)
			for i := range h {
				a := cmplx.Abs(h[i])
				lo, hi = math.Min(lo, a), math.Max(hi, a)
				if i > 0 {
					up := a > cmplx.Abs(h[i-1])
					if i > 1 && up != rising {
						turns++
					}
					rising = up
				}
			}
			if math.Abs(lo*c.ripple-1) > 1e-6 || math.Abs(hi-1) > 1e-4 {
				t.Errorf("%v runs from %.9g to %.9g in its pass band, want %.9g to 1", c.p, lo, hi, 1/c.ripple)
			}
			if c.p != analog.Prototype(second) && turns != n-1 {
				t.Errorf("%v turns %d times in its pass band, want %d", c.p, turns, n-1)
			}
			if math.IsInf(c.stopAt, 1) {
				continue
			}
			if g, err = freq.LogGrid(1000*c.stopAt*(1+1e-12), 1e6, 300); err != nil {
				t.Fatal(err)
			}
			hi = 0
			for _, v := range f.ResponseTo(nil, g) {
				hi = math.Max(hi, cmplx.Abs(v))
			}
			if math.Abs(hi*rs-1) > 1e-8 {
				t.Errorf("%v reaches %.9g in its stop band, want %.9g", c.p, hi, 1/rs)
			}
		}
	}
}

// |H|² = 1/Σ(γω²)ᵏ/k! by its definition, with γ from the half-power point found by
// bisection of the same sum; and the bell curve itself as the order grows.
func TestGaussian(t *testing.T) {
	for n := 1; n <= 24; n++ {
		sum := func(y float64) float64 {
			s, term := 0.0, 1.0
			for k := range n + 1 {
				s += term
				term *= y / float64(k+1)
			}
			return s
		}
		lo, hi := 0.0, 2.0
		for range 60 {
			if mid := (lo + hi) / 2; sum(mid) < 2 {
				lo = mid
			} else {
				hi = mid
			}
		}
		f := design(t, analog.Lowpass{Fc: 1000}, analog.Gaussian(n))
		g, err := freq.LogGrid(10, 20000, 6)
		if err != nil {
			t.Fatal(err)
		}
		for i, h := range f.ResponseTo(nil, g) {
			x := g.At(i) / 1000
			want := 1 / math.Sqrt(sum(lo*x*x))
			if a := cmplx.Abs(h); math.Abs(a/want-1) > 1e-12 {
				t.Errorf("order %d at %g Hz: %.15g, want %.15g", n, g.At(i), a, want)
			}
			if bell := math.Exp(-math.Ln2 / 2 * x * x); n >= 12 && x <= 2 && math.Abs(cmplx.Abs(h)/bell-1) > 1e-4 {
				t.Errorf("order %d at %g Hz: %.9g, the bell curve is %.9g", n, g.At(i), cmplx.Abs(h), bell)
			}
		}
	}
}

// Band-pass and band-stop by substitution: H(jω) is that of the prototype at
// (ω² − ω0²)/(Bω), or its negative inverse, evaluated through the low-pass.
func TestBandsBySubstitution(t *testing.T) {
	unit := 1 / (2 * math.Pi)
	for _, p := range []analog.Prototype{
		analog.Butterworth(3), analog.Bessel(6, analog.ByMagnitude), analog.LinkwitzRiley(8), analog.Gaussian(5),
		analog.Elliptic{Order: 7, Ripple: 1.02, Stop: 300}, analog.Elliptic{Order: 24, Ripple: 1.02, Stop: 1e6}, analog.ChebyshevII{Order: 6, Stop: 1000},
	} {
		lp := design(t, analog.Lowpass{Fc: unit}, p)
		proto := func(x float64) complex128 {
			h := complex(1, 0)
			for _, q := range lp.Sections() {
				s := complex(0, x)
				h *= (complex(q.N2, 0)*s*s + complex(q.N1, 0)*s + complex(q.N0, 0)) / (complex(q.D2, 0)*s*s + complex(q.D1, 0)*s + complex(q.D0, 0))
			}
			return h
		}
		for _, edges := range [][2]float64{{40, 9000}, {900, 1100}, {100, 1e5}} {
			lo, hi := edges[0], edges[1]
			bp, bs := design(t, analog.Bandpass{Lo: lo, Hi: hi}, p), design(t, analog.Bandstop{Lo: lo, Hi: hi}, p)
			var hz []float64
			for k := range 60 {
				hz = append(hz, lo/4*math.Pow(16*hi/lo, (float64(k)+0.3)/60))
			}
			g, err := freq.NewGrid(hz)
			if err != nil {
				t.Fatal(err)
			}
			a, b := bp.ResponseTo(nil, g), bs.ResponseTo(nil, g)
			da, db := bp.GroupDelayTo(nil, g), freq.GroupDelay(bp, g, "numeric")
			for i, f := range hz {
				x := (f - lo*hi/f) / (hi - lo)
				if w := proto(x); cmplx.Abs(a[i]-w) > 1e-10*(1e-3+cmplx.Abs(w)) {
					t.Errorf("%v at %g Hz: %v, want %v", bp, f, a[i], w)
				}
				if w := proto(-1 / x); cmplx.Abs(b[i]-w) > 1e-10*(1e-3+cmplx.Abs(w)) {
					t.Errorf("%v at %g Hz: %v, want %v", bs, f, b[i], w)
				}
				if cmplx.Abs(a[i]) > 1e-3 && math.Abs(da[i]-db.At(i)) > 1e-4*(1/f+math.Abs(da[i])) {
					t.Errorf("%v at %g Hz: group delay %g s, numerically %g s", bp, f, da[i], db.At(i))
				}
			}
			if bp.Order() != 2*lp.Order() || bs.Order() != 2*lp.Order() || math.Abs(bp.Corner()/math.Sqrt(lo*hi)-1) > 1e-15 {
				t.Errorf("%v has order %d and its centre at %g Hz", bp, bp.Order(), bp.Corner())
			}
		}
	}
}

// Poles and zeros are where the substitution says, each as exact as the prototype's
// even where two roots of one are far apart: with S = (s² + ω0²)/(Bs), or its
// inverse, every one is that of the prototype.
func TestRootsOfWideBands(t *testing.T) {
	off := zeroed{own{complex(-1, 2), complex(-1, -2), complex(-0.3, 0.4), complex(-0.3, -0.4), -0.7}, []complex128{complex(-0.2, 3), complex(-0.2, -3)}, 0.9}
	for _, p := range []analog.Prototype{analog.Butterworth(5), analog.Elliptic{Order: 5, Ripple: 1.1, Stop: 100}, off} {
		poles, err := p.Poles()
		if err != nil {
			t.Fatal(err)
		}
		var zeros []complex128
		if z, ok := p.(analog.ZeroedPrototype); ok {
			if zeros, err = z.Zeros(); err != nil {
				t.Fatal(err)
			}
		}
		for _, e := range [][2]float64{{0.01, 1e6}, {1, 30}, {999, 1001}} {
			w0 := 2 * math.Pi * math.Sqrt(e[0]*e[1])
			width := complex(2*math.Pi*(e[1]-e[0]), 0)
			near := func(s complex128, list []complex128, tol float64) bool {
				for _, p := range list {
					if cmplx.Abs(s-p) <= tol*cmplx.Abs(p) {
						return true
					}
				}
				return false
			}
			// A rounding of s moves S by the ratio of the centre to the width.
			tol := 1e-14 * (1 + w0/real(width))
			for _, s := range design(t, analog.Bandpass{Lo: e[0], Hi: e[1]}, p).Poles() {
				if S := (s*s + complex(w0*w0, 0)) / (s * width); !near(S, poles, tol) {
					t.Errorf("%v from %g to %g Hz: pole %v is %v of the prototype, want one of %v", p, e[0], e[1], s, S, poles)
				}
			}
			for _, s := range design(t, analog.Bandpass{Lo: e[0], Hi: e[1]}, p).Zeros() {
				if s == 0 {
					continue
				}
				if S := (s*s + complex(w0*w0, 0)) / (s * width); !near(S, zeros, tol) {
					t.Errorf("%v from %g to %g Hz: zero %v is %v of the prototype, want one of %v", p, e[0], e[1], s, S, zeros)
				}
			}
			for _, s := range design(t, analog.Bandstop{Lo: e[0], Hi: e[1]}, p).Poles() {
				if S := s * width / (s*s + complex(w0*w0, 0)); !near(S, poles, tol) {
					t.Errorf("stop %v from %g to %g Hz: pole %v is %v of the prototype, want one of %v", p, e[0], e[1], s, S, poles)
				}
			}
		}
	}
}

// Zeros off the imaginary axis, in all bands: sections, fast path and group delay
// against zeros, poles and gain of the prototype under the substitution.
func TestZerosOffTheAxis(t *testing.T) {
	p := zeroed{own{complex(-1, 2), complex(-1, -2), -0.7}, []complex128{complex(-0.2, 3), complex(-0.2, -3)}, 0.9}
	proto := func(S complex128) complex128 {
		h := complex(0.9, 0)
		for _, q := range p.own {
			h *= -q / (S - q)
		}
		for _, z := range p.zeros {
			h *= (S - z) / -z
		}
		return h
	}
	g := grid(t)
	w0, b := 2*math.Pi*700.0, 2*math.Pi*(1400.0-350)
	for _, c := range []struct {
		band analog.Band
		S    func(s complex128) complex128
	}{
		{analog.Lowpass{Fc: 700}, func(s complex128) complex128 { return s / complex(w0, 0) }},
		{analog.Highpass{Fc: 700}, func(s complex128) complex128 { return complex(w0, 0) / s }},
		{analog.Bandpass{Lo: 350, Hi: 1400}, func(s complex128) complex128 { return (s*s + complex(w0*w0, 0)) / (s * complex(b, 0)) }},
		{analog.Bandstop{Lo: 350, Hi: 1400}, func(s complex128) complex128 { return s * complex(b, 0) / (s*s + complex(w0*w0, 0)) }},
	} {
		f := design(t, c.band, p)
		numeric := freq.GroupDelay(f, g, "numeric")
		delay := f.GroupDelayTo(nil, g)
		for i, h := range f.ResponseTo(nil, g) {
			s := complex(0, g.Omega()[i])
			if want := proto(c.S(s)); cmplx.Abs(h-want) > 1e-12 {
				t.Errorf("%v at %g Hz: %v, want %v", f, g.At(i), h, want)
			}
			zpk := complex(f.Gain(), 0)
			for _, q := range f.Poles() {
				zpk /= s - q
			}
			for _, z := range f.Zeros() {
				zpk *= s - z
			}
			if cmplx.Abs(h-zpk) > 1e-12 {
				t.Errorf("%v at %g Hz: %v, from zeros and poles %v", f, g.At(i), h, zpk)
			}
			if d := math.Abs(delay[i] - numeric.At(i)); d > 1e-6/g.At(i) && cmplx.Abs(h) > 1e-6 {
				t.Errorf("%v at %g Hz: group delay %g s, numerically %g s", f, g.At(i), delay[i], numeric.At(i))
			}
		}
	}
}

// The pole of the highest Q goes with the zero that is nearest, which keeps the
// sections' peaks low: in order of Q the zeros ascend (common practice, no source).
func TestSectionsPairNeighbours(t *testing.T) {
	e := analog.Elliptic{Order: 8, Ripple: 1.05, Stop: 1000}
	poles, err := e.Poles()
	if err != nil {
		t.Fatal(err)
	}
	zeros, err := e.Zeros()
	if err != nil {
		t.Fatal(err)
	}
	// The same whatever the order in which a prototype gives them.
	reversed := own{}
	for i := len(poles) - 2; i >= 0; i -= 2 {
		reversed = append(reversed, poles[i], poles[i+1])
	}
	f := design(t, analog.Lowpass{Fc: 1000}, e)
	g := design(t, analog.Lowpass{Fc: 1000}, zeroed{reversed, zeros, e.DC()}).Sections()
	for i, s := range f.Sections() {
		if o := g[len(g)-1-i]; math.Abs(s.N0/s.N2/(o.N0/o.N2)-1) > 1e-12 || math.Abs(s.D1/o.D1-1) > 1e-12 {
			t.Errorf("section %d is %+v, of reversed poles %+v", i, s, o)
		}
	}
	last, lastZero := math.Inf(1), 0.0
	for i, s := range f.Sections() {
		q, zero := math.Sqrt(s.D0)/s.D1, math.Sqrt(s.N0/s.N2)
		if q >= last || zero <= lastZero {
			t.Errorf("section %d has Q %g and its zero at %g rad/s after Q %g and %g rad/s", i, q, zero, last, lastZero)
		}
		last, lastZero = q, zero
	}
}

// The point of given magnitude by the formula of the Chebyshev filter,
// cosh(acosh(√(r⁻²−1)/ε)/n), and the edge of the ripple itself refused.
func TestThroughRipple(t *testing.T) {
	ripple := level.Ratio(0.5)
	eps := math.Sqrt(ripple*ripple - 1)
	for _, n := range []int{2, 3, 6, 9} {
		p := analog.ChebyshevI{Order: n, Ripple: ripple}
		f, err := analog.LowpassThrough(p, 1000, math.Sqrt(0.5))
		if err != nil {
			t.Fatal(err)
		}
		if want := 1000 / math.Cosh(math.Acosh(1/eps)/float64(n)); math.Abs(f.Corner()/want-1) > 1e-12 {
			t.Errorf("%v: corner %.12g Hz, want %.12g Hz", p, f.Corner(), want)
		}
		if _, err := analog.HighpassThrough(p, 1000, 0.97); err == nil || !strings.Contains(err.Error(), "its ripple") {
			t.Errorf("%v through its ripple: %v", p, err)
		}
	}
}

// zeroed is a prototype with zeros from outside the package.
type zeroed struct {
	own
	zeros []complex128
	dc    float64
}

func (z zeroed) Zeros() ([]complex128, error) { return z.zeros, nil }
func (z zeroed) DC() float64                  { return z.dc }

func TestSynthesisRefuses(t *testing.T) {
	lp := analog.Lowpass{Fc: 100}
	pair := own{complex(-1, 2), complex(-1, -2)}
	for _, c := range []struct {
		b    analog.Band
		p    analog.Prototype
		want string
	}{
		{lp, analog.ChebyshevI{Order: 0, Ripple: 1.1}, "order of Chebyshev I is 0"},
		{lp, analog.ChebyshevI{Order: 4, Ripple: 1}, "ripple of Chebyshev I is the ratio 1"},
		{lp, analog.ChebyshevI{Order: 4, Ripple: math.NaN()}, "NaN"},
		{lp, analog.ChebyshevII{Order: 4, Stop: 0.01}, "stop-band loss of Chebyshev II is the ratio 0.01"},
		{lp, analog.ChebyshevII{Order: 25, Stop: 100}, "25"},
		{lp, analog.Elliptic{Order: 4, Ripple: 1.1, Stop: math.Inf(1)}, "+Inf"},
		{lp, analog.Elliptic{Order: 4, Ripple: 3, Stop: 2}, "more loss than ripple"},
		{lp, analog.Gaussian(25), "order of Gaussian is 25"},
		{analog.Bandpass{Lo: 200, Hi: 100}, analog.Butterworth(2), "edges of a band-pass are 200 and 100 Hz"},
		{analog.Bandstop{Lo: 100, Hi: 100.00001}, analog.Butterworth(2), "1e-6 of their frequency apart"},
		{analog.Bandstop{Lo: math.NaN(), Hi: 100}, analog.Butterworth(2), "NaN"},
		{lp, zeroed{pair, []complex128{complex(0, 3)}, 1}, "finite conjugate pairs"},
		{lp, zeroed{pair, []complex128{3, 3}, 1}, "finite conjugate pairs"},
		{lp, zeroed{pair, []complex128{complex(0, 3), complex(0, -3), complex(0, 4), complex(0, -4)}, 1}, "2 pairs of zeros"},
		{lp, zeroed{pair, nil, 0}, "gain of 0"},
		{lp, own{}, "no poles"},
	} {
		if _, err := analog.Design(c.b, c.p); err == nil || !strings.HasPrefix(err.Error(), "analog: ") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, %v: error %v, want one with %q", c.b, c.p, err, c.want)
		}
	}
	// A pair of zeros off the axis: a phase that is not minimal is allowed, and told by the response.
	f := design(t, lp, zeroed{pair, []complex128{complex(1, 2), complex(1, -2)}, 1})
	if h := f.Zeros(); len(h) != 2 || real(h[0]) <= 0 {
		t.Errorf("zeros %v", h)
	}
	ok := analog.Mask{Pass: analog.Lowpass{Fc: 1000}, Outside: analog.Lowpass{Fc: 2000}, Ripple: 1.1, Stop: 100}
	for what, change := range map[string]func(m *analog.Mask){
		"a gap between":       func(m *analog.Mask) { m.Outside = analog.Lowpass{Fc: 900} },
		"of one kind":         func(m *analog.Mask) { m.Outside = analog.Highpass{Fc: 2000} },
		"want both":           func(m *analog.Mask) { m.Pass = nil },
		"more loss":           func(m *analog.Mask) { m.Stop = 1.05 },
		"corner frequency is": func(m *analog.Mask) { m.Pass = analog.Lowpass{Fc: math.NaN()} },
		"want at most 24":     func(m *analog.Mask) { m.Outside = analog.Lowpass{Fc: 1000.0001} },
	} {
		m := ok
		change(&m)
		if _, err := m.Elliptic(); err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("%+v: error %v, want one with %q", m, err, what)
		}
	}
}
