package enclosure_test

import (
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

func standMount() enclosure.Mounted {
	return enclosure.Mounted{
		Driver: driver.Params{Re: 5.5, Bl: 7.5, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.85, Sd: 0.0138, Coil: driver.Ladder{Le: 2e-4, L2: 3e-4, R2: 3}},
		Box: enclosure.Vented{Vb: 0.0148, Losses: enclosure.Losses{QL: 10, QA: 60, QP: 80},
			Vent: enclosure.Vent{Diameter: 0.052, Length: 0.2, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}},
		Air: air.Room(), Source: 0.1,
	}
}

func grid481(t testing.TB) *freq.Grid {
	t.Helper()
	g, err := freq.LogGrid(20, 20480, 48)
	if err != nil || g.Len() != 481 {
		t.Fatalf("grid of %d points (%v), want 481", g.Len(), err)
	}
	return g
}

// A stage of a chain, and what it divides into, takes no memory of its own.
func TestRatioPathDoesNotAllocate(t *testing.T) {
	mo := motion(t, standMount())
	g := grid481(t)
	r, dst := freq.NewRatio(g.Len()), make([]complex128, g.Len())
	for name, of := range map[string]freq.Transfer{"pressure": mo.Pressure, "cone": mo.Cone, "vent air": mo.VentAir, "impedance": mo.Impedance} {
		q, ok := of.(freq.Rational)
		if !ok {
			t.Errorf("%s is a %T, want a freq.Rational", name, of)
			continue
		}
		if n := testing.AllocsPerRun(20, func() {
			r.Reset()
			q.MulTo(r, g)
			r.DivideTo(dst)
		}); n != 0 {
			t.Errorf("%s allocates %g times, want never", name, n)
		}
	}
}

func BenchmarkMotion(b *testing.B) {
	m := standMount()
	for b.Loop() {
		if _, err := m.Motion(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkPressure481(b *testing.B) {
	q, g := motion(b, standMount()).Pressure.(freq.Rational), grid481(b)
	r, dst := freq.NewRatio(g.Len()), make([]complex128, g.Len())
	b.ReportAllocs()
	for b.Loop() {
		r.Reset()
		q.MulTo(r, g)
		r.DivideTo(dst)
	}
}

// The same from building the circuit to the values, as a trial of a study does it.
func BenchmarkMotionAndPressure481(b *testing.B) {
	m, g := standMount(), grid481(b)
	r, dst := freq.NewRatio(g.Len()), make([]complex128, g.Len())
	b.ReportAllocs()
	for b.Loop() {
		mo, err := m.Motion()
		if err != nil {
			b.Fatal(err)
		}
		r.Reset()
		mo.Pressure.(freq.Rational).MulTo(r, g)
		r.DivideTo(dst)
	}
}

// hidden keeps the coil's polynomials to itself, so that it takes the slow path.
type hidden struct{ driver.Coil }

func BenchmarkPressure481AnyCoil(b *testing.B) {
	m, g := standMount(), grid481(b)
	m.Driver.Coil = hidden{m.Driver.Coil}
	p, dst := motion(b, m).Pressure, make([]complex128, g.Len())
	b.ReportAllocs()
	for b.Loop() {
		p.ResponseTo(dst, g)
	}
}
