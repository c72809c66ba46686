package radiation_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/radiation"
)

// Point and caps against the series of Morse and Ingard, computed elsewhere to 1e-8 dB.
func TestSphereAgainstSeries(t *testing.T) {
	motions := map[string]radiation.CapMotion{"point": radiation.Radial, "radial": radiation.Radial, "axial": radiation.Axial}
	for _, r := range testtable.Read(t, "testdata/piston_on_sphere.csv") {
		n := func(c string) float64 { return r.Number(t, c) }
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

// A small cap is a point, whose series has no cap in it: what is left of a cap of α rad is
// of the order of (n·α)²/8, n about ka. Differences of polynomials would leave nothing of
// it below 1e-7 rad.
func TestSmallCapIsAPoint(t *testing.T) {
	for _, motion := range []radiation.CapMotion{radiation.Radial, radiation.Axial} {
		for _, alpha := range []float64{1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9, 1e-200} {
			for _, ka := range []float64{0.01, 1, 10, 40} {
				for _, angle := range []float64{0, 1, 2.5, math.Pi} {
					point := radiation.SphereCap{Radius: 0.15}.Directivity(hz(ka, 0.15), angle, still)
					small := radiation.SphereCap{Radius: 0.15, HalfAngle: alpha, Motion: motion}.Directivity(hz(ka, 0.15), angle, still)
					if e, most := cmplx.Abs(small-point), math.Pow((ka+5)*alpha, 2)+1e-11; !(e < most) {
						t.Errorf("motion %d, %g rad, ka %v, %v rad: %v, point %v: %.3g off, want %.3g", motion, alpha, ka, angle, small, point, e, most)
					}
				}
			}
		}
	}
}

// What cannot be computed is no number, and neither hangs nor panics; at 0 Hz there is the
// limit of low frequencies.
func TestBeyondNumbers(t *testing.T) {
	cap := radiation.SphereCap{Radius: 0.15, HalfAngle: 0.3}
	if d := cap.Directivity(0, 1, still); d != 1 {
		t.Errorf("sphere at 0 Hz: %v, want 1", d)
	}
	for name, v := range map[string]float64{
		"piston":    radiation.Piston{Radius: 0.05}.Directivity(1000, 0.5, air.Medium{}),
		"ring":      radiation.Ring{Outer: 0.05}.Directivity(1000, 0.5, air.Medium{}),
		"rectangle": radiation.Rectangle{Width: 0.05, Height: 0.1}.Directivity(1000, 0.5, 0.1, air.Medium{}),
		"factor":    radiation.Piston{Radius: 0.05}.DirectivityFactor(1000, air.Medium{}),
	} {
		if !math.IsNaN(v) {
			t.Errorf("%s in no air: %v, want no number", name, v)
		}
	}
	for _, f := range []float64{math.NaN(), math.Inf(1), 1e15} {
		for name, v := range map[string]complex128{
			"sphere":   cap.Directivity(f, 1, still),
			"pressure": radiation.Piston{Radius: 0.05}.Pressure(f, 0.5, 0.1, still),
			"dome":     radiation.Dome{Radius: 0.0125, Height: 0.004}.Directivity(f, 0.3, still),
		} {
			if !cmplx.IsNaN(v) {
				t.Errorf("%s at %g Hz: %v, want no number", name, f, v)
			}
		}
	}
}
