package radiation_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/radiation"
)

// Point and caps against the series of Morse and Ingard, computed elsewhere to 1e-8 dB.
func TestSphereAgainstSeries(t *testing.T) {
	motions := map[string]radiation.CapMotion{"point": radiation.Radial, "radial": radiation.Radial, "axial": radiation.Axial}
	for _, r := range reference(t, "piston_on_sphere.csv") {
		n := func(c string) float64 { return r.number(t, c) }
		s := radiation.SphereCap{Radius: 0.15, HalfAngle: rad(n("cap_half_angle_deg")), Motion: motions[r["source"]]}
		if err := s.Validate(); err != nil {
			t.Fatal(err)
		}
		d := s.Directivity(hz(n("ka"), 0.15), rad(n("theta_deg")), still)
		if e := math.Abs(level.DB(cmplx.Abs(d)) - n("mag_db")); !(e < 2e-7) {
			t.Errorf("%s %v° ka %v at %v°: %.8f dB, want %v", r["source"], n("cap_half_angle_deg"), n("ka"), n("theta_deg"), level.DB(cmplx.Abs(d)), n("mag_db"))
		}
		if e := math.Abs(math.Remainder(cmplx.Phase(d)*180/math.Pi-n("phase_deg_re_monopole_at_centre"), 360)); !(e < 2e-6) {
			t.Errorf("%s %v° ka %v at %v°: %.7f°, want %v", r["source"], n("cap_half_angle_deg"), n("ka"), n("theta_deg"), cmplx.Phase(d)*180/math.Pi, n("phase_deg_re_monopole_at_centre"))
		}
	}
}
