package tune

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

// The window against the average of package freq.
func TestWindowsAreTheSmoothing(t *testing.T) {
	uneven, err := freq.LinearGrid(300, 9000, 88)
	if err != nil {
		t.Fatal(err)
	}
	even, err := freq.LogGrid(100, 10e3, 48)
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range []*freq.Grid{uneven, even} {
		v, p := make([]complex128, g.Len()), make([]float64, g.Len())
		for i := range v {
			v[i] = complex(1.2+math.Sin(float64(3*i)), math.Cos(float64(i*i)))
			p[i] = real(v[i])*real(v[i]) + imag(v[i])*imag(v[i])
		}
		r, err := freq.NewResponse(g, v, "made", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range []float64{3, 12} {
			want, err := r.SmoothPower(n, 1)
			if err != nil {
				t.Fatal(err)
			}
			for i, w := range windows(g, n) {
				if got := 10 * math.Log(w.of(p)) / math.Ln10; math.Abs(got-want.At(i)) > 1e-9 {
					t.Fatalf("%v, 1/%g octave at %g Hz: %.9f dB, want %.9f", g, n, g.At(i), got, want.At(i))
				}
			}
		}
	}
}
