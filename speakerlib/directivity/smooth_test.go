package directivity_test

import (
	"math"
	"os"
	"testing"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// The mean of the powers of an average is the average of the powers: smoothing before averaging
// over directions, or after, is the same.
func TestSmoothedSet(t *testing.T) {
	s := must[*directivity.FolderSet](t)(directivity.ReadFolder(os.DirFS(farField), ".", demo("passive"))).Set
	smooth := must[*directivity.Set](t)(s.Smoothed(6))
	if c := smooth.Clock(); c.Phases != directivity.Unknown || smooth.UsableFrom() != 250 {
		t.Errorf("clock %+v, usable from %g Hz", c, smooth.UsableFrom())
	}
	d := []directivity.Direction{directivity.Side(0), directivity.Side(30), directivity.Up(20)}
	got := must[directivity.Mean](t)(smooth.Average("", d...))
	var want []float64
	for _, at := range d {
		db := must[freq.Curve](t)(must[freq.Response](t)(s.Response(at)).SmoothPower(6, 1))
		if want == nil {
			want = make([]float64, db.Len())
		}
		for i := range want {
			want[i] += level.PowerRatio(db.At(i)) / 3
		}
	}
	for i := range want {
		if math.Abs(got.Pressure.At(i)*got.Pressure.At(i)/want[i]-1) > 1e-9 {
			t.Fatalf("%g Hz: %g, want %g", s.Grid().At(i), got.Pressure.At(i), math.Sqrt(want[i]))
		}
	}
	if _, err := smooth.Response(d[0]); err == nil {
		t.Error("a complex response of what was smoothed in power")
	}
	if _, err := s.Smoothed(0); err == nil {
		t.Error("smoothing over no octave")
	}
}
