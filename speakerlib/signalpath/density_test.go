package signalpath_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/signalpath"
)

// 4kTR of 1 kΩ at 290 K is (4.002 nV)²/Hz: 4·1.380649e-23·290·1000, by hand.
func TestThermalNoise(t *testing.T) {
	if got := signalpath.Johnson(1000, 290).White; math.Abs(got/1.60155284e-17-1) > 1e-12 {
		t.Errorf("density of 1 kΩ is %.9g V²/Hz, want 1.60155284e-17", got)
	}
	for _, d := range []signalpath.Density[signalpath.Volt]{signalpath.Johnson(-1, 290), signalpath.Johnson(1, -1), signalpath.Johnson(math.NaN(), 290)} {
		if d.Validate() == nil {
			t.Errorf("%v is valid", d)
		}
	}
}

// A full-scale sine is 6.02·B + 1.76 dB above the noise of rounding (W. R. Bennett, Bell Syst.
// Tech. J. 27, 1948), exactly 10·lg(1.5·4^B); triangular dither takes 10·lg 3 of it.
func TestQuantisation(t *testing.T) {
	for _, bits := range []int{16, 20, 24, 32} {
		const rate = 96000.0
		d := must(signalpath.Quantisation(bits, rate, signalpath.NoDither))(t)
		got := level.PowerDB(0.5 / (d.White * rate / 2))
		if want := 6.0205999132796239*float64(bits) + 1.7609125905568124; math.Abs(got-want) > 1e-9 {
			t.Errorf("%d bits: %.9f dB, want %.9f", bits, got, want)
		}
		e := must(signalpath.Quantisation(bits, rate, signalpath.Triangular))(t)
		if got := level.PowerDB(e.White / d.White); math.Abs(got-4.7712125471966244) > 1e-12 {
			t.Errorf("triangular dither adds %g dB", got)
		}
	}
	for _, bad := range []struct {
		bits int
		rate float64
	}{{0, 48000}, {65, 48000}, {16, 0}, {16, math.Inf(1)}, {16, math.NaN()}} {
		if _, err := signalpath.Quantisation(bad.bits, bad.rate, signalpath.NoDither); err == nil {
			t.Errorf("%d bits at %g Hz are no error", bad.bits, bad.rate)
		}
	}
}

func TestDensityRefusesWhatIsNone(t *testing.T) {
	g := must(freq.NewGrid([]float64{100, 200}))(t)
	curve := func(unit string, v ...float64) freq.Curve {
		return must(freq.NewCurve(g, v, "hiss", unit, freq.Basis{}))(t)
	}
	type density = signalpath.Density[signalpath.FullScale]
	for _, c := range []struct {
		d    density
		want string
	}{
		{density{White: -1e-15}, "-1e-15 FS²/Hz"},
		{density{White: math.NaN()}, "NaN"},
		{density{Curve: curve("V²/Hz", 1, 2)}, "in V²/Hz, want FS²/Hz"},
		{density{Curve: curve("FS²/Hz", 1, -2)}, "-2 FS²/Hz at 200 Hz"},
		{density{Curve: curve("FS²/Hz", math.Inf(1), 2)}, "+Inf FS²/Hz at 100 Hz"},
	} {
		if err := c.d.Validate(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: error is %v, want %q in it", c.d, err, c.want)
		}
	}
	if err := (density{White: 1e-15, Curve: curve("FS²/Hz", 0, 1e-15)}).Validate(); err != nil {
		t.Error(err)
	}
}
