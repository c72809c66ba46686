package fir_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/freq"
)

// Values that nobody means, next to some that somebody may.
var (
	absurd  = []float64{0, -1, math.NaN(), math.Inf(1), math.Inf(-1), 5e-324, 1e-9, 0.5, 1, 15.5, 1000, 23999.999999, 24000, 24000.1, 1e9, math.MaxFloat64}
	lengths = []int{math.MinInt, -1, 0, 1, 2, 3, 16, 31, 64, fir.MaxTaps + 1, math.MaxInt}
)

// judge is what must hold whatever went in: an error that names the package and says
// what it had and wants, or taps that are finite, and a latency within them.
func judge(t *testing.T, what string, f *fir.Filter, err error) {
	t.Helper()
	if err != nil {
		if s := err.Error(); !strings.HasPrefix(s, "fir: ") || strings.Contains(s, "%!") || !strings.Contains(s, "want") {
			t.Errorf("%s: error %q, want one that says what is wanted", what, s)
		}
		return
	}
	for i, v := range f.Taps() {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			t.Errorf("%s: tap %d is %g", what, i, v)
			return
		}
	}
	if d := f.Samples(); !(d >= 0 && d <= float64(f.Len())) || strings.Contains(f.String(), "%!") {
		t.Errorf("%s: %v is %g samples late", what, f, d)
	}
}

func TestDesignsOfAbsurdValues(t *testing.T) {
	for _, a := range absurd {
		for _, n := range lengths {
			for _, w := range []fir.Window{nil, fir.Hann{}, fir.Kaiser{Beta: a}, fir.Kaiser{Beta: 6}} {
				for _, fs := range []float64{48000, a} {
					for _, b := range []analog.Band{nil, analog.Lowpass{Fc: a}, analog.Highpass{Fc: a}, analog.Bandpass{Lo: 100, Hi: a}, analog.Bandstop{Lo: a, Hi: 5000}} {
						f, err := fir.Windowed(fs, n, b, w)
						judge(t, fmt.Sprintf("windowed %g Hz, %d, %#v, %#v", fs, n, b, w), f, err)
					}
					f, err := fir.SincDelay(fs, a, n, w)
					judge(t, fmt.Sprintf("sinc %g Hz, %g, %d, %#v", fs, a, n, w), f, err)
					ways, err := fir.Crossover(fs, n, w, 1000, a)
					if err == nil {
						for _, f := range ways {
							judge(t, "crossover", f, nil)
						}
					} else {
						judge(t, fmt.Sprintf("crossover %g Hz, %d, %#v, %g Hz", fs, n, w, a), nil, err)
					}
				}
			}
			f, err := fir.Lagrange(48000, a, n)
			judge(t, fmt.Sprintf("Lagrange %g, %d", a, n), f, err)
			for _, b := range absurd {
				g := []fir.Goal{{Lo: 0, Hi: a, Gain: 1, Weight: 1}, {Lo: b, Hi: 24000, Gain: b, Weight: a}}
				f, err := fir.LeastSquares(48000, n, g...)
				judge(t, fmt.Sprintf("least squares %d, %v", n, g), f, err)
				e, err := fir.Equiripple(48000, n, g...)
				if err != nil {
					judge(t, fmt.Sprintf("equal ripple %d, %v", n, g), nil, err)
				} else {
					judge(t, fmt.Sprintf("equal ripple %d, %v", n, g), e.Filter, nil)
				}
			}
			_, err = fir.WarpedMinimumPhase(48000, a, n, freq.Gain(1), 20, 20000)
			if err != nil {
				judge(t, fmt.Sprintf("warped by %g, %d", a, n), nil, err)
			}
			_, err = fir.MixedPhase(48000, freq.Gain(1), fir.Correction{Taps: n, Lo: 1000, Hi: 20000, Boost: 2, Ahead: a, Ringing: a, Guard: a})
			if err != nil {
				judge(t, fmt.Sprintf("mixed phase %g, %d", a, n), nil, err)
			}
		}
	}
}

// Taps of any size, where products may leave float64.
func TestFiltersOfAbsurdTaps(t *testing.T) {
	for _, v := range []float64{5e-324, 1e-300, 1e300, math.MaxFloat64} {
		h := []float64{v, -v, v, v / 2}
		f, err := fir.New(48000, h, 0, "given")
		if err != nil {
			t.Fatal(err)
		}
		judge(t, fmt.Sprintf("of %g", v), f, nil)
		both, err := f.Then(f)
		judge(t, fmt.Sprintf("twice of %g", v), both, err)
		m, err := fir.MinimumPhase(f)
		if err != nil {
			judge(t, fmt.Sprintf("minimum phase of %g", v), nil, err)
		} else {
			judge(t, fmt.Sprintf("minimum phase of %g", v), m.Filter, nil)
			if !(m.Error < 1e-9) {
				t.Errorf("minimum phase of %g is off by %g", v, m.Error)
			}
			for i, x := range m.Taps() { // zeros at 0.5 of those of h: already of minimum phase
				if cmplx.Abs(complex(x, 0)) > 2*v {
					t.Errorf("minimum phase of %g: tap %d is %g", v, i, x)
				}
			}
		}
		d, err := fir.Decimate(f, fir.Decimation{Factor: 2, Edge: 100, Above: v, Loss: 1000})
		if err != nil {
			judge(t, fmt.Sprintf("decimated %g", v), nil, err)
		} else {
			judge(t, fmt.Sprintf("decimated %g", v), d.Low(), nil)
		}
	}
}
