package digital_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
)

// What the filter is made for (Thiran 1971): the delay at direct current, flat to
// the order 2n, and unity magnitude; order 1 has a1 = (1−D)/(1+D).
func TestThiran(t *testing.T) {
	const fs = 48000.0
	for n := 1; n <= digital.MaxThiran; n++ {
		for _, off := range []float64{-0.5, -0.2, 0, 0.01, 0.3, 0.5} {
			d := float64(n) + off
			s, err := digital.Thiran(fs, d, n)
			if err != nil {
				t.Errorf("order %d by %g samples: %v", n, d, err)
				continue
			}
			c, err := digital.NewCascade(fs, s...)
			if err != nil {
				t.Errorf("order %d by %g samples: %v", n, d, err)
				continue
			}
			g, err := freq.NewGrid([]float64{10, 1500, 3000, 12000, 23000})
			if err != nil {
				t.Fatal(err)
			}
			tau, h := c.GroupDelayTo(nil, g), c.ResponseTo(nil, g)
			for i := range h {
				if math.Abs(cmplx.Abs(h[i])-1) > 1e-10 {
					t.Errorf("order %d by %g samples at %g Hz: magnitude %.14g", n, d, g.At(i), cmplx.Abs(h[i]))
				}
				// The first term of what is missing is of the order (Ω/2)^2n.
				omega := 2 * math.Pi * g.At(i) / fs
				if limit := 1e-7 + 2*float64(n)*math.Pow(omega/2, 2*float64(n)); g.At(i) <= 3000 && math.Abs(tau[i]*fs-d) > limit {
					t.Errorf("order %d by %g samples at %g Hz: %.12g samples, want within %.2g", n, d, g.At(i), tau[i]*fs, limit)
				}
			}
			// Flat to the order 2n: an octave down the error is 4ⁿ times smaller.
			if e, half := tau[2]*fs-d, tau[1]*fs-d; n <= 3 && math.Abs(off) >= 0.2 && math.Abs(e/half/math.Pow(4, float64(n))-1) > 0.2 {
				t.Errorf("order %d by %g samples: errors %.3g and %.3g samples an octave apart, want a ratio of %g", n, d, e, half, math.Pow(4, float64(n)))
			}
			if n == 1 {
				if want := (1 - d) / (1 + d); math.Abs(c.At(0).A1-want) > 1e-15 {
					t.Errorf("a1 of %g samples is %.15g, want %.15g", d, c.At(0).A1, want)
				}
			}
		}
	}
	for _, c := range []struct {
		fs, d float64
		n     int
		want  string
	}{{0, 1, 1, "sample rate"}, {48000, 2, 0, "order"}, {48000, 2.6, 2, "want 1.5 to 2.5"}, {48000, math.NaN(), 2, "NaN"}, {48000, 13, 13, "want 1 to 12"}} {
		if _, err := digital.Thiran(c.fs, c.d, c.n); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%+v: error %v", c, err)
		}
	}
}
