package measure_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/measure"
)

// What a join leaves is what was put in: a gain of 2 and a delay are in the join, and
// a peak that only one of them has is in the residual.
func TestResidualShowsWhatOneHasAndTheOtherNot(t *testing.T) {
	common := resonance(150, 1, 0.7)
	odd := resonance(1000, 8, 1.5)
	lower := evaluate(t, freq.Series{freq.Gain(2), common}, logGrid(t, 20, 2000, 48), "near", farBasis)
	upper := evaluate(t, freq.Series{freq.Delay(3e-3), common, odd}, logGrid(t, 200, 16e3, 96), "far", farBasis)
	g := logGrid(t, 210, 1950, 24)
	_, join, err := measure.Splice(lower, upper, 250, 400, logGrid(t, 30, 15e3, 24))
	if err != nil {
		t.Fatal(err)
	}
	left, err := join.Residual(lower, upper, g)
	if err != nil {
		t.Fatal(err)
	}
	if left.Basis() != (freq.Basis{}) || left.Label() != "far over near" {
		t.Errorf("%q, %v", left.Label(), left.Basis())
	}
	// The foot of the peak turns the phase in the band a little, which the join takes
	// for a delay.
	if math.Abs(join.Gain-0.5) > 0.01 || math.Abs(join.Delay-3e-3) > 50e-6 {
		t.Errorf("%v, want −6 dB and 3 ms", join)
	}
	known := freq.Series{odd, freq.Gain(0.5 / join.Gain), freq.Delay(3e-3 - join.Delay)}
	for i, want := range known.ResponseTo(nil, g) {
		if d := cmplx.Abs(left.At(i)/want - 1); d > 1e-3 {
			t.Errorf("at %g Hz: %v, want %v", g.At(i), left.At(i), want)
		}
	}
	// The rms that the join states is that of the curve within its band.
	band := logGrid(t, 250, 400, 96)
	left, err = join.Residual(lower, upper, band)
	if err != nil {
		t.Fatal(err)
	}
	var db, turn float64
	for i := range left.Len() {
		db += math.Pow(left.DB(1).At(i), 2) / float64(left.Len())
		turn += math.Pow(cmplx.Phase(left.At(i)), 2) / float64(left.Len())
	}
	if math.Abs(math.Sqrt(db)-join.Level) > 0.03*join.Level || math.Abs(math.Sqrt(turn)-join.Phase) > 0.03*join.Phase {
		t.Errorf("rms within the band %.5f dB and %.5f rad, want %.5f and %.5f as the join states", math.Sqrt(db), math.Sqrt(turn), join.Level, join.Phase)
	}
	for want, f := range map[string]func() error{
		"gain of 0":              func() error { _, err := measure.Join{}.Residual(lower, upper, g); return err },
		"want the same basis":    func() error { _, err := join.Residual(lower.Stated(freq.Basis{}), upper, g); return err },
		"extrapolation is refus": func() error { _, err := join.Residual(lower, upper, logGrid(t, 210, 3000, 24)); return err },
		"\"far\", which is know": func() error { _, err := join.Residual(lower, upper, logGrid(t, 50, 1950, 24)); return err },
		"on no grid":             func() error { _, err := join.Residual(lower, upper, nil); return err },
	} {
		if err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}
