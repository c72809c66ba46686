package analog_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/level"
)

// A Butterworth filter of order n has |H|² = 1/(1 + x²ⁿ), so that its corner for
// a magnitude r at f is f·(r⁻² − 1)^(1/2n) for a high-pass, and f over that for a
// low-pass.
func TestThrough(t *testing.T) {
	r := level.Ratio(-6)
	for _, n := range []int{1, 2, 4, 6} {
		x := math.Pow(1/(r*r)-1, 1/(2*float64(n)))
		hp, err := analog.HighpassThrough(analog.Butterworth(n), 35.5, r)
		if err != nil {
			t.Fatal(err)
		}
		lp, err := analog.LowpassThrough(analog.Butterworth(n), 35.5, r)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(hp.Corner()/(35.5*x)-1) > 1e-13 || math.Abs(lp.Corner()/(35.5/x)-1) > 1e-13 {
			t.Errorf("order %d: corners %.15g and %.15g Hz, want %.15g and %.15g", n, hp.Corner(), lp.Corner(), 35.5*x, 35.5/x)
		}
	}
	// Linkwitz–Riley filters are 6.02 dB down at their corner.
	if f, err := analog.HighpassThrough(analog.LinkwitzRiley(4), 2000, 0.5); err != nil || math.Abs(f.Corner()/2000-1) > 1e-13 {
		t.Errorf("corner %v, error %v, want 2000 Hz", f.Corner(), err)
	}
	for _, c := range []struct {
		hz, ratio float64
		order     int
		want      string
	}{{0, 0.5, 2, "0 Hz"}, {100, 1, 2, "ratio of 1"}, {100, math.NaN(), 2, "NaN"}, {100, 0.5, -1, "order"}} {
		if _, err := analog.HighpassThrough(analog.Butterworth(c.order), c.hz, c.ratio); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: error %v", c, err)
		}
	}
}
