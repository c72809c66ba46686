package directivity_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/radiation"
)

// A driver of 50 mm in a rigid sphere of 120 mm radius (Morse and Ingard 1968, by
// radiation.SphereCap), on 70 directions: against the mean of |D|² over all directions by 2000
// steps of cos θ. Quarter zones keep it to 0.02 dB; the weights of the standard read up to 0.44 dB
// high, and Bias tells by how much.
func TestSoundPowerOfASphere(t *testing.T) {
	g := grid(t, 100, 4000, 3)
	source := radiation.SphereCap{Radius: 0.12, HalfAngle: math.Asin(0.05 / 0.12)}
	set := must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "sphere", func(d directivity.Direction) (freq.Transfer, error) {
		return pattern(func(hz float64) complex128 { return source.Directivity(hz, math.Abs(d.Degrees)*math.Pi/180, medium) }), nil
	}, directivity.Orbits70()...))
	a := must[*directivity.Averages](t)(set.Averages(directivity.Reading{}))
	zones := must[directivity.Mean](t)(set.SoundPower(directivity.Zones))
	var highest float64
	for i := range g.Len() {
		var exact float64
		const n = 2000
		for k := range n {
			d := cmplx.Abs(source.Directivity(g.At(i), math.Acos(1-2*(float64(k)+0.5)/n), medium))
			exact += d * d / n
		}
		z := level.PowerDB(zones.Pressure.At(i) * zones.Pressure.At(i) / exact)
		s := level.PowerDB(a.SoundPower.Pressure.At(i) * a.SoundPower.Pressure.At(i) / exact)
		if math.Abs(z) > 0.02 {
			t.Errorf("%.0f Hz: zones are off by %.4f dB", g.At(i), z)
		}
		if math.Abs(s-a.Bias.At(i)) > 0.02 {
			t.Errorf("%.0f Hz: the standard's weights read %.4f dB high, Bias says %.4f", g.At(i), s, a.Bias.At(i))
		}
		highest = max(highest, s)
	}
	if highest < 0.4 || highest > 0.46 {
		t.Errorf("the standard's weights read at most %.3f dB high", highest)
	}
	// As a small source it is alike in all directions, and all indices are 0.
	for _, c := range []freq.Curve{a.SoundPowerIndex, a.EarlyIndex} {
		if math.Abs(c.At(0)) > 0.5 || c.At(g.Len()-1) < 1 {
			t.Errorf("%s from %.2f to %.2f dB", c.Label(), c.At(0), c.At(g.Len()-1))
		}
	}
}
