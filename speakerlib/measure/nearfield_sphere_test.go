package measure_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/measure"
)

func sphereStep(t testing.TB, radius float64) *measure.SphereStep {
	t.Helper()
	s, err := measure.NewSphereStep(radius, air.Room())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// testdata/scipy_sphere.py: the field matched on the sphere with SciPy's spherical
// Bessel functions, 10⁷ radii away.
func TestSphereStepAgainstSciPy(t *testing.T) {
	rows := testtable.Read(t, "testdata/scipy_sphere.csv")
	if len(rows) != 12 {
		t.Fatalf("%d rows, want 12", len(rows))
	}
	const radius = 0.15
	step := sphereStep(t, radius)
	for _, row := range rows {
		ka, want := row.Number(t, "ka"), complex(row.Number(t, "re"), row.Number(t, "im"))
		g, err := freq.NewGrid([]float64{ka * air.Room().SpeedOfSound / (2 * math.Pi * radius)})
		if err != nil {
			t.Fatal(err)
		}
		if got := step.ResponseTo(nil, g)[0]; cmplx.Abs(got-want) > 1e-5 {
			t.Errorf("ka = %g: %.6f, want %.6f", ka, got, want)
		}
	}
}

// A sphere that is small is no wall (1/2), and one that is large is a flat one (1);
// its size scales the frequencies.
func TestSphereStepEndsAndScale(t *testing.T) {
	g := logGrid(t, 0.01, 300e3, 6)
	small, large := sphereStep(t, 0.05), sphereStep(t, 0.1)
	v := small.ResponseTo(nil, g)
	if d := cmplx.Abs(v[0] - 0.5); d > 1e-4 {
		t.Errorf("low: %v, want 1/2", v[0])
	}
	if d := cmplx.Abs(v[len(v)-1] - 1); d > 5e-3 {
		t.Errorf("high: %v, want 1", v[len(v)-1])
	}
	w := large.ResponseTo(nil, g)
	for i := range w[:len(w)-6] {
		if d := cmplx.Abs(w[i] - v[i+6]); d > 1e-9 {
			t.Errorf("twice the sphere at %g Hz: off by %.2g from an octave above", g.At(i), d)
		}
	}
	if r := measure.SphereOfVolume(4.0 / 3 * math.Pi * 1e-3); math.Abs(r-0.1) > 1e-12 {
		t.Errorf("sphere of 4/3·π·1 L has the radius %g m, want 0.1", r)
	}
}

func TestSphereStepRefuses(t *testing.T) {
	g := logGrid(t, 20, 800, 12)
	for _, radius := range []float64{0, math.NaN(), math.Inf(1)} {
		if _, err := measure.NewSphereStep(radius, air.Room()); err == nil {
			t.Errorf("a sphere of radius %g without an error", radius)
		}
	}
	for _, f := range []func(){func() { measure.SphereOfVolume(0) }, func() { sphereStep(t, 100).ResponseTo(nil, g) }} {
		func() {
			defer func() {
				if recover() == nil {
					t.Error("no panic")
				}
			}()
			f()
		}()
	}
}

func BenchmarkSphereStep(b *testing.B) {
	g, step := logGrid(b, 20, 20e3, 48), sphereStep(b, 0.15)
	dst := make([]complex128, g.Len())
	for b.Loop() {
		step.ResponseTo(dst, g)
	}
}
