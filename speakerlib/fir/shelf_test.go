package fir_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/fir"
)

// A shelf is its gain where the low-pass passes, 1 where it stops, and (gain + 1)/2 at the
// edge, where the windowed low-pass is one half (closed form of the sum); its phase is that of
// its latency.
func TestShelf(t *testing.T) {
	low, err := fir.Windowed(48000, 2001, analog.Lowpass{Fc: 200}, fir.Hann{})
	if err != nil {
		t.Fatal(err)
	}
	s, err := fir.Shelf(low, 1.6)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ hz, want float64 }{{20, 1.6}, {200, 1.3}, {2000, 1}, {20000, 1}} {
		got := s.At(c.hz) * cmplx.Rect(1, 2*math.Pi*c.hz*1000/48000)
		if math.Abs(real(got)-c.want) > 2e-3 || math.Abs(imag(got)) > 1e-9 {
			t.Errorf("at %g Hz %.5f, want %g", c.hz, got, c.want)
		}
	}
	if s.Samples() != 1000 {
		t.Errorf("latency %g samples, want 1000", s.Samples())
	}
	even, err := fir.Windowed(48000, 100, analog.Lowpass{Fc: 200}, fir.Hann{})
	if err != nil {
		t.Fatal(err)
	}
	for name, try := range map[string]func() error{
		"nil":  func() error { _, err := fir.Shelf(nil, 2); return err },
		"even": func() error { _, err := fir.Shelf(even, 2); return err },
		"zero": func() error { _, err := fir.Shelf(low, 0); return err },
		"NaN":  func() error { _, err := fir.Shelf(low, math.NaN()); return err },
	} {
		if try() == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
