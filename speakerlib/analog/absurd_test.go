package analog_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
)

// Values that nobody means, next to some that somebody may.
var absurd = []float64{0, -1, math.NaN(), math.Inf(1), math.Inf(-1), 5e-324, 1e-9, 1e-5, 0.01, 1, 1.000001, 1.5, 1000, 1e9, 1e15, 1e300, math.MaxFloat64}

// judge is what must hold whatever went in: an error that names the package and says
// what it had and wants, or a filter of finite stable poles and a finite response.
func judge(t *testing.T, what string, f *analog.Filter, err error) {
	t.Helper()
	if err != nil {
		if s := err.Error(); !strings.HasPrefix(s, "analog: ") || strings.Contains(s, "%!") || !strings.Contains(s, "want") {
			t.Errorf("%s: error %q, want one that says what is wanted", what, s)
		}
		return
	}
	for _, p := range f.Poles() {
		if !(real(p) < 0) || cmplx.IsInf(p) || cmplx.IsNaN(p) {
			t.Errorf("%s: pole %v", what, p)
		}
	}
	var hz []float64
	for _, k := range []float64{1e-3, 0.3, 1, 5} {
		if v := f.Corner() * k; v > 0 {
			hz = append(hz, v)
		}
	}
	g, err := freq.NewGrid(hz)
	if err != nil {
		return // a corner beyond any grid
	}
	delay := f.GroupDelayTo(nil, g)
	for i, h := range f.ResponseTo(nil, g) {
		if cmplx.IsNaN(h) || cmplx.IsInf(h) || cmplx.Abs(h) > 1.01 || math.IsNaN(delay[i]) || math.IsInf(delay[i], 0) {
			t.Errorf("%s: %v and %g s at %g Hz", what, h, delay[i], g.At(i))
		}
	}
}

func TestFiltersOfAbsurdValues(t *testing.T) {
	for _, n := range []int{math.MinInt, -1, 0, 1, 2, 3, 8, 16, 17, 24, 25, math.MaxInt} {
		prototypes := []analog.Prototype{analog.Butterworth(n), analog.LinkwitzRiley(n), analog.Gaussian(n),
			analog.Bessel(n, analog.ByDelay), analog.Bessel(n, analog.ByPhase), analog.Bessel(n, analog.ByMagnitude), analog.Bessel(n, -1)}
		for _, a := range absurd {
			prototypes = append(prototypes, analog.ChebyshevI{Order: n, Ripple: a}, analog.ChebyshevII{Order: n, Stop: a},
				analog.LinearPhase{Order: n, Error: a}, analog.EquirippleDelay{Order: n, Ripple: a})
			for _, b := range absurd {
				prototypes = append(prototypes, analog.Elliptic{Order: n, Ripple: a, Stop: b})
			}
		}
		for _, p := range prototypes {
			f, err := analog.Design(analog.Lowpass{Fc: 1000}, p)
			judge(t, fmt.Sprintf("%#v", p), f, err)
			if err != nil {
				continue
			}
			f, err = analog.Design(analog.Bandpass{Lo: 100, Hi: 1000}, p)
			judge(t, fmt.Sprintf("%#v", p), f, err)
			for _, r := range []float64{0.99, 0.5, 1e-5} {
				f, err = analog.HighpassThrough(p, 1000, r)
				judge(t, fmt.Sprintf("%#v through %g", p, r), f, err)
			}
		}
	}
	for _, lo := range absurd {
		for _, hi := range absurd {
			for _, b := range []analog.Band{analog.Lowpass{Fc: lo}, analog.Highpass{Fc: lo}, analog.Bandpass{Lo: lo, Hi: hi}, analog.Bandstop{Lo: lo, Hi: hi}} {
				for _, p := range []analog.Prototype{analog.Butterworth(1), analog.LinkwitzRiley(8), analog.Elliptic{Order: 24, Ripple: 1.01, Stop: 1e4}} {
					f, err := analog.Design(b, p)
					judge(t, fmt.Sprintf("%#v, %v", b, p), f, err)
				}
			}
			f, err := analog.LowpassThrough(analog.Butterworth(3), lo, hi)
			judge(t, fmt.Sprintf("through %g at %g Hz", hi, lo), f, err)
			for _, m := range []analog.Mask{
				{Pass: analog.Lowpass{Fc: lo}, Outside: analog.Lowpass{Fc: hi}, Ripple: 1.1, Stop: 100},
				{Pass: analog.Lowpass{Fc: 1000}, Outside: analog.Lowpass{Fc: 2000}, Ripple: lo, Stop: hi},
				{Pass: analog.Bandpass{Lo: 300, Hi: 3000}, Outside: analog.Bandpass{Lo: lo, Hi: hi}, Ripple: 1.1, Stop: 100},
				{Pass: analog.Bandstop{Lo: lo, Hi: hi}, Outside: analog.Bandstop{Lo: 300, Hi: 3000}, Ripple: 1.1, Stop: 100},
			} {
				for name, of := range map[string]func() (*analog.Filter, error){"Butterworth": m.Butterworth, "Chebyshev I": m.ChebyshevI, "Chebyshev II": m.ChebyshevII, "elliptic": m.Elliptic} {
					f, err := of()
					judge(t, fmt.Sprintf("%s for %+v", name, m), f, err)
				}
			}
		}
	}
}
