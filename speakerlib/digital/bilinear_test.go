package digital_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
)

func fromAnalog(t *testing.T, b analog.Band, p analog.Prototype, fs float64, m digital.Bilinear) *digital.Cascade {
	t.Helper()
	f, err := analog.Design(b, p)
	if err != nil {
		t.Fatal(err)
	}
	c, err := digital.FromAnalog(f, fs, m)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// SciPy's butter(…, fs=…), from zeros, poles and gain
// (datasets/reference/scipy_filters.py).
func TestFromAnalogAgainstSciPy(t *testing.T) {
	rows := testtable.Read(t, "../../datasets/reference/scipy_butterworth.csv")
	for i, row := range rows {
		n, fc, fs, at := int(row.Number(t, "order")), row.Number(t, "fc_hz"), row.Number(t, "fs_hz"), row.Number(t, "f_hz")
		want := complex(row.Number(t, "re"), row.Number(t, "im"))
		var b analog.Band = analog.Lowpass{Fc: fc}
		if row.Text(t, "band") == "highpass" {
			b = analog.Highpass{Fc: fc}
		}
		g, err := freq.NewGrid([]float64{at})
		if err != nil {
			t.Fatal(err)
		}
		got := fromAnalog(t, b, analog.Butterworth(n), fs, digital.Bilinear{}).ResponseTo(nil, g)[0]
		// What float64 coefficients hold of poles at 40 Hz and 96 kHz.
		if e := cmplx.Abs(got/want - 1); e > 2e-9 {
			t.Errorf("row %d: order %d %v at %g Hz: %v, SciPy %v (off by %.2g)", i+2, n, b, at, got, want, e)
		}
	}
	if len(rows) != 144 {
		t.Errorf("table has %d rows", len(rows))
	}
}

// The mapping itself: the digital response at f is the analogue response at the
// warped frequency, and equal at the matching frequency.
func TestBilinearWarping(t *testing.T) {
	const fs = 48000.0
	g, err := freq.LogGrid(100, 23000, 6)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range []analog.Prototype{analog.Butterworth(3), analog.LinkwitzRiley(4), analog.Bessel(5, analog.ByMagnitude)} {
		for _, b := range []analog.Band{analog.Lowpass{Fc: 3000}, analog.Highpass{Fc: 3000}} {
			for _, match := range []float64{0, 1000, 9000} {
				f, err := analog.Design(b, p)
				if err != nil {
					t.Fatal(err)
				}
				h := fromAnalog(t, b, p, fs, digital.Bilinear{Match: match}).ResponseTo(nil, g)
				m := match
				if m == 0 {
					m = 3000
				}
				var warped []float64
				for i := range g.Len() {
					warped = append(warped, m*math.Tan(math.Pi*g.At(i)/fs)/math.Tan(math.Pi*m/fs))
				}
				w, err := freq.NewGrid(warped)
				if err != nil {
					t.Fatal(err)
				}
				for i, want := range f.ResponseTo(nil, w) {
					if cmplx.Abs(h[i]-want) > 1e-11*cmplx.Abs(want) {
						t.Errorf("%v matched at %g Hz: at %g Hz %v, want %v", f, m, g.At(i), h[i], want)
					}
				}
			}
		}
	}
}

// Low-pass and high-pass of Linkwitz–Riley at 2 kHz and 48 kHz sum to an
// all-pass (Linkwitz 1976; the bilinear transform keeps the sum).
func TestDigitalLinkwitzRileySumsToAnAllpass(t *testing.T) {
	g, err := freq.LogGrid(20, 23900, 24)
	if err != nil {
		t.Fatal(err)
	}
	for n := analog.LinkwitzRiley(2); n <= 8; n += 2 {
		lp := fromAnalog(t, analog.Lowpass{Fc: 2000}, n, 48000, digital.Bilinear{})
		hp := fromAnalog(t, analog.Highpass{Fc: 2000}, n, 48000, digital.Bilinear{}).WithPolarity(n.Opposed())
		a, b := lp.ResponseTo(nil, g), hp.ResponseTo(nil, g)
		for i := range a {
			if m := cmplx.Abs(a[i] + b[i]); math.Abs(m-1) > 1e-12 {
				t.Errorf("%v at %g Hz sums to %.15g, want 1", n, g.At(i), m)
			}
		}
	}
}

func TestFromAnalogRefusesAndDescribes(t *testing.T) {
	f, err := analog.Design(analog.Highpass{Fc: 2200}, analog.LinkwitzRiley(4))
	if err != nil {
		t.Fatal(err)
	}
	c, err := digital.FromAnalog(f, 48000, digital.Bilinear{Match: 1000})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := c.Design(1), "high-pass 2200 Hz, Linkwitz–Riley order 4, section 2 of 2, matched at 1000 Hz"; got != want {
		t.Errorf("design %q, want %q", got, want)
	}
	for _, err := range []error{
		second(digital.FromAnalog(nil, 48000, digital.Bilinear{})),
		second(digital.FromAnalog(f, 4400, digital.Bilinear{})),
		second(digital.FromAnalog(f, 48000, digital.Bilinear{Match: -1})),
		second(digital.FromAnalog(f, math.NaN(), digital.Bilinear{})),
	} {
		if err == nil || !strings.HasPrefix(err.Error(), "digital: ") {
			t.Errorf("error %v", err)
		}
	}
}
