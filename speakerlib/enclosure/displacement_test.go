package enclosure_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// The displacement of a closed box is a low-pass of second order in the system's
// Qtc and fc (R. H. Small, "Closed-Box Loudspeaker Systems, Part I", JAES 20, 1972; number
// of the equation not known from memory): above Qtc = 1/√2 it peaks at
// fc·√(1 − 1/(2Q²)) with Q²/√(Q² − 1/4) of its value towards direct current.
func TestDisplacementMaximumOfAClosedBox(t *testing.T) {
	m := air.Room()
	p := driver.Params{Re: 5.5, Bl: 5, Mms: 15e-3, Cms: 1e-3, Rms: 0.8, Sd: 138e-4, Coil: driver.NoCoil{}}
	for _, vb := range []float64{3e-3, 6e-3, 12e-3} {
		motion, err := enclosure.Mounted{Driver: p, Box: enclosure.Closed{Vb: vb}, Air: m}.Motion()
		if err != nil {
			t.Fatal(err)
		}
		alpha := p.Vas(m) / vb
		fc, q := p.Fs()*math.Sqrt(1+alpha), p.Qts()*math.Sqrt(1+alpha)
		if q < 0.75 {
			t.Fatalf("Qtc of %g has no peak", q)
		}
		at := fc * math.Sqrt(1-1/(2*q*q))
		g, err := freq.NewGrid([]float64{1e-3, at * 0.999, at, at * 1.001})
		if err != nil {
			t.Fatal(err)
		}
		x := motion.Cone.ResponseTo(nil, g)
		got := cmplx.Abs(x[2]) / cmplx.Abs(x[0])
		if want := q * q / math.Sqrt(q*q-0.25); math.Abs(got/want-1) > 1e-7 {
			t.Errorf("%g m³, Qtc %.3f: displacement peaks at %.6f of its static value, want %.6f", vb, q, got, want)
		}
		if cmplx.Abs(x[1]) > cmplx.Abs(x[2]) || cmplx.Abs(x[3]) > cmplx.Abs(x[2]) {
			t.Errorf("%g m³: displacement is no maximum at %g Hz", vb, at)
		}
	}
}

// In a vented box without losses the cone stands still at the tuning: the vent carries
// all of the flow (R. H. Small, "Vented-Box Loudspeaker Systems", JAES 21, 1973).
func TestConeStandsStillAtTheTuning(t *testing.T) {
	m := air.Room()
	p := driver.Params{Re: 5.5, Bl: 7.5, Mms: 15e-3, Cms: 1e-3, Rms: 0.8, Sd: 138e-4, Coil: driver.NoCoil{}}
	vent := enclosure.Vent{Diameter: 0.052, Length: 0.2, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	box := enclosure.Vented{Vb: 14.6e-3, Vent: vent}
	motion, err := enclosure.Mounted{Driver: p, Box: box, Air: m}.Motion()
	if err != nil {
		t.Fatal(err)
	}
	fb := box.Fb(m)
	g, err := freq.NewGrid([]float64{fb / 1.3, fb, fb * 1.3})
	if err != nil {
		t.Fatal(err)
	}
	x := motion.Cone.ResponseTo(nil, g)
	if side := min(cmplx.Abs(x[0]), cmplx.Abs(x[2])); cmplx.Abs(x[1]) > 1e-12*side {
		t.Errorf("the cone moves by %g m/V at the tuning, and by %g beside it", cmplx.Abs(x[1]), side)
	}
}
