package digital_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// The prototypes of the W3C note "Audio EQ Cookbook" (2021) once more, as printed
// there, and first-order ones: H(s), s normalised to F0.
func cookbookInS(section digital.Section, s complex128) complex128 {
	c := func(v float64) complex128 { return complex(v, 0) }
	switch k := section.(type) {
	case digital.Lowpass:
		return 1 / (s*s + s/c(k.Q) + 1)
	case digital.Highpass:
		return s * s / (s*s + s/c(k.Q) + 1)
	case digital.Bandpass:
		return s / c(k.Q) / (s*s + s/c(k.Q) + 1)
	case digital.BandpassSkirt:
		return s / (s*s + s/c(k.Q) + 1)
	case digital.Notch:
		return (s*s + 1) / (s*s + s/c(k.Q) + 1)
	case digital.Peak:
		a := c(math.Sqrt(k.Gain))
		return (s*s + s*a/c(k.Q) + 1) / (s*s + s/(a*c(k.Q)) + 1)
	case digital.LowShelf:
		a, r := c(math.Sqrt(k.Gain)), c(math.Pow(k.Gain, 0.25)/k.Q)
		return a * (s*s + r*s + a) / (a*s*s + r*s + 1)
	case digital.HighShelf:
		a, r := c(math.Sqrt(k.Gain)), c(math.Pow(k.Gain, 0.25)/k.Q)
		return a * (a*s*s + r*s + 1) / (s*s + r*s + a)
	case digital.FirstLowpass:
		return 1 / (s + 1)
	case digital.FirstHighpass:
		return s / (s + 1)
	case digital.FirstLowShelf:
		g := c(math.Sqrt(k.Gain))
		return (s + g) / (s + 1/g)
	case digital.FirstHighShelf:
		g := c(math.Sqrt(k.Gain))
		return (g*s + 1) / (s/g + 1)
	}
	panic("no prototype")
}

// At 48 kHz, up to 0.45 of the sample rate and wherever the prototype is above
// −40 dB: the error of the matched section, and that it is below that of the
// bilinear transform. The limits are what the method leaves; at the three
// frequencies where it matches it is exact.
func TestMatchedSectionsHoldTheMagnitude(t *testing.T) {
	const fs = 48000.0
	for _, f0 := range []float64{200, 1000, 5000, 10000, 16000} {
		for _, c := range []struct {
			s     digital.Section
			limit float64 // dB
			share float64 // of the error of the bilinear transform
		}{
			{digital.Lowpass{F0: f0, Q: 0.7071}, 1.2, 0.08},
			{digital.Lowpass{F0: f0, Q: 2}, 1.2, 0.08},
			{digital.Highpass{F0: f0, Q: 0.7071}, 0.5, 0.1},
			{digital.Bandpass{F0: f0, Q: 2}, 2, 0.35},
			{digital.BandpassSkirt{F0: f0, Q: 1}, 2, 0.35},
			{digital.Notch{F0: f0, Q: 2}, 1.5, 0.9},
			{digital.Peak{F0: f0, Gain: 2, Q: 2}, 0.5, 0.3},
			{digital.Peak{F0: f0, Gain: 0.5, Q: 2}, 1.1, 0.4},
			{digital.LowShelf{F0: f0, Gain: 2, Q: 0.7071}, 0.3, 0.3},
			{digital.HighShelf{F0: f0, Gain: 2, Q: 0.7071}, 0.85, 0.6},
			{digital.HighShelf{F0: f0, Gain: 0.5, Q: 0.7071}, 0.3, 0.3},
			{digital.FirstLowpass{F0: f0}, 1.2, 0.3},
			{digital.FirstHighpass{F0: f0}, 1, 0.5},
			{digital.FirstLowShelf{F0: f0, Gain: 2}, 0.5, 0.5},
			{digital.FirstHighShelf{F0: f0, Gain: 2}, 0.6, 0.5},
		} {
			m := digital.Matched{Of: c.s}
			b, err := m.Biquad(fs)
			if err != nil {
				t.Errorf("%v: %v", m, err)
				continue
			}
			plain, err := c.s.Biquad(fs)
			if err != nil {
				t.Fatal(err)
			}
			err1 := func(b digital.Biquad, hz float64) float64 {
				return math.Abs(level.DB(cmplx.Abs(b.At(hz, fs)) / cmplx.Abs(cookbookInS(c.s, complex(0, hz/f0)))))
			}
			var worst, bilinear float64
			for hz := 20.0; hz < 0.45*fs; hz *= 1.01 {
				if cmplx.Abs(cookbookInS(c.s, complex(0, hz/f0))) > 0.01 {
					worst, bilinear = math.Max(worst, err1(b, hz)), math.Max(bilinear, err1(plain, hz))
				}
			}
			if worst > c.limit || worst > c.share*bilinear+1e-3 {
				t.Errorf("%v is off by %.3f dB, want at most %g dB and %g of the bilinear transform's %.3f dB", m, worst, c.limit, c.share, bilinear)
			}
			switch c.s.(type) {
			case digital.Notch, digital.FirstLowpass, digital.FirstHighpass, digital.FirstLowShelf, digital.FirstHighShelf:
			default:
				if e := err1(b, f0); e > 1e-6 {
					t.Errorf("%v is off by %.3g dB at its middle, want 0", m, e)
				}
			}
			for _, z := range b.Zeros() {
				if cmplx.Abs(z) > 1+1e-9 {
					t.Errorf("%v has a zero at %v, want minimum phase", m, z)
				}
			}
		}
	}
}

// The conditions of the design (Orfanidis 1997): gain 1 at direct current, Gain at
// F0, a flat top there, the prototype's gain at half the sample rate, and the
// points of √Gain F0/Q apart.
func TestNyquistPeakMeetsItsConditions(t *testing.T) {
	const fs = 48000.0
	for _, p := range []digital.NyquistPeak{
		{1000, level.Ratio(6), 2}, {1000, level.Ratio(-9), 0.7}, {12000, level.Ratio(12), 1.5}, {12000, level.Ratio(-12), 1.5}, {17000, level.Ratio(3), 4},
		{40, level.Ratio(9), 8}, {20000, level.Ratio(-6), 3},
	} {
		b, err := p.Biquad(fs)
		if err != nil {
			t.Errorf("%v: %v", p, err)
			continue
		}
		mag := func(hz float64) float64 { return cmplx.Abs(b.At(hz, fs)) }
		half := cmplx.Abs(cookbookInS(digital.Peak(p), complex(0, fs/2/p.F0)))
		top := (mag(p.F0*1.0001) - mag(p.F0*0.9999)) / (2e-4 * mag(p.F0))
		if math.Abs(mag(0)-1) > 1e-9 || math.Abs(mag(p.F0)/p.Gain-1) > 1e-7 || math.Abs(mag(fs/2)/half-1) > 1e-9 || math.Abs(top) > 1e-4 {
			t.Errorf("%v: %.12g at 0, %.12g at F0 (slope %.2g), %.12g at half the rate; want 1, %.12g, %.12g", p, mag(0), mag(p.F0), top, mag(fs/2), p.Gain, half)
		}
		edge := func(in, out float64) float64 {
			for range 80 {
				if mid := (in + out) / 2; math.Abs(math.Log(mag(mid))) > math.Abs(math.Log(p.Gain))/2 {
					in = mid
				} else {
					out = mid
				}
			}
			return in
		}
		if math.Abs(math.Log(half)) < math.Abs(math.Log(p.Gain))/2 {
			if width := edge(p.F0, fs/2) - edge(p.F0, 0); math.Abs(width*p.Q/p.F0-1) > 1e-6 {
				t.Errorf("%v: %.9g Hz between the points of half the gain, want %.9g Hz", p, width, p.F0/p.Q)
			}
		}
	}
	for _, c := range []struct {
		p    digital.NyquistPeak
		want string
	}{{digital.NyquistPeak{24000, 2, 1}, "24000"}, {digital.NyquistPeak{100, 0, 1}, "gain"}, {digital.NyquistPeak{100, 2, math.NaN()}, "Q"},
		{digital.NyquistPeak{20000, 2, 0.5}, "bandwidth"}} {
		if _, err := c.p.Biquad(48000); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: error %v", c.p, err)
		}
	}
	if b, err := (digital.NyquistPeak{1000, 1, 1}).Biquad(48000); err != nil || b != (digital.Biquad{B0: 1}) {
		t.Errorf("a peak of 0 dB is %v, error %v, want a wire", b, err)
	}
}

// Matched z by its definition: poles at e^{s/fs}, zeros likewise, and the gain
// at the frequency that the mapping names.
func TestMatchedZ(t *testing.T) {
	const fs = 48000.0
	for _, c := range []struct {
		b  analog.Band
		at float64
	}{{analog.Lowpass{Fc: 3000}, 0}, {analog.Highpass{Fc: 3000}, fs / 2}, {analog.Bandpass{Lo: 500, Hi: 8000}, 2000}, {analog.Bandstop{Lo: 500, Hi: 8000}, 0}} {
		for _, p := range []analog.Prototype{analog.Butterworth(4), analog.ChebyshevII{Order: 3, Stop: 30}, analog.Bessel(5, analog.ByMagnitude)} {
			f, err := analog.Design(c.b, p)
			if err != nil {
				t.Fatal(err)
			}
			d, err := digital.FromAnalog(f, fs, digital.MatchedZ{})
			if err != nil {
				t.Errorf("%v: %v", f, err)
				continue
			}
			var poles, zeros []complex128
			for i := range d.Len() {
				for _, q := range d.At(i).Poles() {
					if q != 0 {
						poles = append(poles, q)
					}
				}
				for _, q := range d.At(i).Zeros() {
					if q != 0 {
						zeros = append(zeros, q)
					}
				}
			}
			compare := func(what string, got, want []complex128) {
				if len(got) != len(want) {
					t.Errorf("%v has %d %s, want %d", f, len(got), what, len(want))
				}
				for _, s := range want {
					w, best := cmplx.Exp(s/fs), math.Inf(1)
					for _, g := range got {
						best = math.Min(best, cmplx.Abs(g-w))
					}
					if best > 1e-7 {
						t.Errorf("%v has none of its %s within %.2g of %v", f, what, best, w)
					}
				}
			}
			compare("poles", poles, f.Poles())
			compare("zeros", zeros, f.Zeros())
			g, err := freq.NewGrid([]float64{math.Max(c.at, 1e-3)})
			if err != nil {
				t.Fatal(err)
			}
			if a, b := cmplx.Abs(d.ResponseTo(nil, g)[0]), cmplx.Abs(f.ResponseTo(nil, g)[0]); math.Abs(a/b-1) > 1e-9 {
				t.Errorf("%v at %g Hz: %.12g, in s %.12g", f, c.at, a, b)
			}
		}
	}
	// A zero of a stop band above half the sample rate would fold back.
	f, err := analog.Design(analog.Lowpass{Fc: 22000}, analog.ChebyshevII{Order: 4, Stop: 30})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := digital.FromAnalog(f, 48000, digital.MatchedZ{}); err == nil || !strings.Contains(err.Error(), "fold back") {
		t.Errorf("error %v", err)
	}
}

// Whole filters with their magnitude held: a crossover's low-pass at 8 kHz and an
// elliptic one with its zeros below half the sample rate.
func TestMatchedMagnitudeOfFilters(t *testing.T) {
	const fs = 48000.0
	g, err := freq.LogGrid(50, 20000, 24)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		b     analog.Band
		p     analog.Prototype
		limit float64 // dB, where the analogue filter is above −30 dB
	}{
		{analog.Lowpass{Fc: 8000}, analog.LinkwitzRiley(4), 1.9},
		{analog.Highpass{Fc: 8000}, analog.LinkwitzRiley(4), 0.4},
		{analog.Bandpass{Lo: 4000, Hi: 12000}, analog.Butterworth(2), 2},
		{analog.Lowpass{Fc: 9000}, analog.Elliptic{Order: 3, Ripple: level.Ratio(0.5), Stop: level.Ratio(30)}, 3},
	} {
		f, err := analog.Design(c.b, c.p)
		if err != nil {
			t.Fatal(err)
		}
		d, err := digital.FromAnalog(f, fs, digital.MatchedMagnitude{})
		if err != nil {
			t.Errorf("%v: %v", f, err)
			continue
		}
		plain, err := digital.FromAnalog(f, fs, digital.Bilinear{})
		if err != nil {
			t.Fatal(err)
		}
		worst, bilinear := 0.0, 0.0
		a, m, b := f.ResponseTo(nil, g), d.ResponseTo(nil, g), plain.ResponseTo(nil, g)
		for i := range a {
			if cmplx.Abs(a[i]) > level.Ratio(-30) {
				worst = math.Max(worst, math.Abs(level.DB(cmplx.Abs(m[i]/a[i]))))
				bilinear = math.Max(bilinear, math.Abs(level.DB(cmplx.Abs(b[i]/a[i]))))
			}
		}
		if worst > c.limit || worst > bilinear/3 {
			t.Errorf("%v is off by %.3f dB, want at most %g dB and a third of the bilinear transform's %.3f dB", f, worst, c.limit, bilinear)
		}
		if !strings.HasSuffix(d.Design(0), ", matched magnitude") {
			t.Errorf("design %q", d.Design(0))
		}
	}
}

func bandOf(kind string, lo, hi float64) analog.Band {
	return map[string]analog.Band{"lowpass": analog.Lowpass{Fc: hi}, "highpass": analog.Highpass{Fc: lo},
		"bandpass": analog.Bandpass{Lo: lo, Hi: hi}, "bandstop": analog.Bandstop{Lo: lo, Hi: hi}}[kind]
}

// SciPy's iirfilter(…, fs=) of all bands (datasets/reference/scipy_synthesis.py).
func TestPrewarpedAgainstSciPy(t *testing.T) {
	rows := testtable.Read(t, "../../datasets/reference/scipy_digital.csv")
	if len(rows) != 4*3*4*5 {
		t.Errorf("table has %d rows", len(rows))
	}
	for i, row := range rows {
		n, rp, rs := int(row.Number(t, "order")), level.Ratio(row.Number(t, "ripple_dB")), level.Ratio(row.Number(t, "stop_dB"))
		lo, hi, fs, hz := row.Number(t, "lo_hz"), row.Number(t, "hi_hz"), row.Number(t, "fs_hz"), row.Number(t, "f_hz")
		p := map[string]analog.Prototype{"butter": analog.Butterworth(n), "cheby1": analog.ChebyshevI{Order: n, Ripple: rp},
			"cheby2": analog.ChebyshevII{Order: n, Stop: rs}, "ellip": analog.Elliptic{Order: n, Ripple: rp, Stop: rs}}[row.Text(t, "family")]
		b := bandOf(row.Text(t, "band"), lo, hi)
		s, err := digital.Prewarped(b, p, fs)
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		c, err := digital.NewCascade(fs, s...)
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		g, err := freq.NewGrid([]float64{hz})
		if err != nil {
			t.Fatal(err)
		}
		got, want := c.ResponseTo(nil, g)[0], complex(row.Number(t, "re"), row.Number(t, "im"))
		if e := cmplx.Abs(got - want); e > 1e-9*cmplx.Abs(want) {
			t.Errorf("row %d: %v, %v at %g Hz: %v, SciPy %v (off by %.2g)", i+2, b, p, hz, got, want, e/cmplx.Abs(want))
		}
		if at := fmt.Sprint(s[0]); !strings.HasPrefix(at, b.String()) {
			t.Errorf("design %q, want the edges of %v", at, b)
		}
	}
}

// A pair sums to an all-pass but for what rounding of the coefficients does: it
// grows as the distance of the poles from z = 1 shrinks, (fc/fs)⁻².
func TestLinkwitzRileyPairsOverTheRange(t *testing.T) {
	const fs = 48000.0
	for _, fc := range []float64{20, 80, 350, 2000, 9000, 20000} {
		limit := 1e-12 * math.Max(1, math.Pow(2000/fc, 2))
		for n := analog.LinkwitzRiley(2); n <= 8; n += 2 {
			lp := fromAnalog(t, analog.Lowpass{Fc: fc}, n, fs, digital.Bilinear{})
			hp := fromAnalog(t, analog.Highpass{Fc: fc}, n, fs, digital.Bilinear{}).WithPolarity(n.Opposed())
			g, err := freq.LogGrid(math.Max(fc/30, 1), 23900, 24)
			if err != nil {
				t.Fatal(err)
			}
			a, b := lp.ResponseTo(nil, g), hp.ResponseTo(nil, g)
			for i := range a {
				if m := cmplx.Abs(a[i] + b[i]); math.Abs(m-1) > limit {
					t.Errorf("%v of %g Hz sums to 1 %+.2g at %g Hz, want within %.2g", n, fc, m-1, g.At(i), limit)
				}
			}
		}
	}
}

func TestMappingsRefuse(t *testing.T) {
	bp, err := analog.Design(analog.Bandpass{Lo: 1000, Hi: 30000}, analog.Butterworth(2))
	if err != nil {
		t.Fatal(err)
	}
	lp, err := analog.Design(analog.Lowpass{Fc: 1000}, analog.Butterworth(2))
	if err != nil {
		t.Fatal(err)
	}
	// The poles of an inverse Chebyshev filter with little loss lie beyond its corner.
	far, err := analog.Design(analog.Lowpass{Fc: 22000}, analog.ChebyshevII{Order: 4, Stop: 1.2})
	if err != nil {
		t.Fatal(err)
	}
	for what, err := range map[string]error{
		"has a pole at":                    second(digital.FromAnalog(far, 48000, digital.MatchedMagnitude{})),
		"upper edge frequency is 30000 Hz": second(digital.FromAnalog(bp, 48000, digital.Bilinear{})),
		"mapping of low-pass 1000 Hz":      second(digital.FromAnalog(lp, 48000, nil)),
		"matched magnitude of all-pass":    second(digital.NewCascade(48000, digital.Matched{Of: digital.Allpass{F0: 100, Q: 1}})),
		"want > 0 and < 24000 Hz":          second(digital.NewCascade(48000, digital.Matched{Of: digital.Lowpass{F0: 25000, Q: 1}})),
		"B₂ is":                            second(digital.NewCascade(48000, digital.Matched{Of: digital.HighShelf{F0: 22000, Gain: 2, Q: 2}})),
		"matched magnitude of <nil>":       second(digital.NewCascade(48000, digital.Matched{})),
		"upper edge frequency is NaN Hz": func() error {
			_, err := digital.Prewarped(analog.Bandstop{Lo: 1, Hi: math.NaN()}, analog.Butterworth(1), 48000)
			return err
		}(),
		"order of Butterworth is 0, want 1 to": func() error {
			_, err := digital.Prewarped(analog.Lowpass{Fc: 100}, analog.Butterworth(0), 48000)
			return err
		}(),
	} {
		if err == nil || !strings.Contains(err.Error(), what) {
			t.Errorf("error %v, want one with %q", err, what)
		}
	}
}

// SciPy's orders for digital masks, and the mask itself: the ripple at the edge that
// binds, the loss at both others.
func TestLowestOrder(t *testing.T) {
	rows := testtable.Read(t, "../../datasets/reference/scipy_digital_orders.csv")
	if len(rows) != 4*2*4 {
		t.Errorf("table has %d rows", len(rows))
	}
	for i, row := range rows {
		kind, fs, want := row.Text(t, "band"), row.Number(t, "fs_hz"), int(row.Number(t, "order"))
		passLo, passHi, outLo, outHi := row.Number(t, "pass_lo"), row.Number(t, "pass_hi"), row.Number(t, "out_lo"), row.Number(t, "out_hi")
		m := analog.Mask{Pass: bandOf(kind, passLo, passHi), Outside: bandOf(kind, outLo, outHi),
			Ripple: level.Ratio(row.Number(t, "ripple_dB")), Stop: level.Ratio(row.Number(t, "stop_dB"))}
		family := map[string]func(analog.Mask) (*analog.Filter, error){"butter": analog.Mask.Butterworth, "cheby1": analog.Mask.ChebyshevI,
			"cheby2": analog.Mask.ChebyshevII, "ellip": analog.Mask.Elliptic}[row.Text(t, "family")]
		s, err := digital.LowestOrder(m, family, fs)
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		c, err := digital.NewCascade(fs, s...)
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		order := 0
		for k := range c.Len() {
			order += 2
			if b := c.At(k); b.A2 == 0 && b.B2 == 0 {
				order--
			}
		}
		if kind == "bandpass" || kind == "bandstop" {
			order /= 2
		}
		if order != want {
			t.Errorf("row %d: %s has order %d, SciPy %d", i+2, c.Design(0), order, want)
		}
		at := func(hz float64) float64 {
			g, err := freq.NewGrid([]float64{hz})
			if err != nil {
				t.Fatal(err)
			}
			return cmplx.Abs(c.ResponseTo(nil, g)[0])
		}
		if pass := math.Min(at(passLo), at(passHi)); math.Abs(pass*m.Ripple-1) > 1e-8 {
			t.Errorf("row %d: %s is %.12g at the pass edge, want %.12g", i+2, c.Design(0), pass, 1/m.Ripple)
		}
		if stop := math.Max(at(outLo), at(outHi)); stop*m.Stop > 1+1e-6 {
			t.Errorf("row %d: %s is %.6g at the stop edge, want at most %.6g", i+2, c.Design(0), stop, 1/m.Stop)
		}
	}
	m := analog.Mask{Pass: analog.Lowpass{Fc: 20000}, Outside: analog.Lowpass{Fc: 25000}, Ripple: 1.1, Stop: 100}
	if _, err := digital.LowestOrder(m, analog.Mask.Elliptic, 48000); err == nil || !strings.Contains(err.Error(), "25000 Hz") {
		t.Errorf("error %v", err)
	}
}
