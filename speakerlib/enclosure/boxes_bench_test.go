package enclosure_test

import (
	"testing"

	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// waveBoxes are boxes of every kind of part, as a study has them.
func waveBoxes() map[string]enclosure.Box {
	chamber := enclosure.Chamber{Vb: 0.0148, Reference: 45, Losses: enclosure.Losses{QL: 10, QA: 60}}
	column := chamber
	column.Column = enclosure.Column{Length: 0.4, Driver: 0.1, Port: 0.35}
	column.Fill = enclosure.Fill{Isothermal: 0.3, Resistivity: 500}
	vent := enclosure.Vent{Diameter: 0.052, Length: 0.2, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	flare := enclosure.Flare{Diameter: 0.052, Length: 0.22, InnerFlare: 0.015, OuterFlare: 0.02, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	return map[string]enclosure.Box{
		"lumped":          enclosure.Cabinet{Chamber: chamber, Port: vent},
		"column":          enclosure.Cabinet{Chamber: column, Port: vent},
		"pipe":            enclosure.Cabinet{Chamber: chamber, Port: enclosure.Pipe{Of: vent}},
		"flare":           enclosure.Cabinet{Chamber: chamber, Port: enclosure.Pipe{Of: flare}},
		"column and pipe": enclosure.Cabinet{Chamber: column, Port: enclosure.Pipe{Of: vent}},
		"bandpass4":       enclosure.Bandpass4{Rear: chamber, Front: chamber, Port: vent},
		"series6":         enclosure.Bandpass6{Rear: chamber, Front: chamber, FrontPort: vent, RearPort: vent, Series: true},
		"double":          enclosure.DoubleChamber{First: chamber, Second: chamber, Between: vent, Outer: vent, Direct: vent},
	}
}

// Solved point by point, a box takes no memory of its own, either.
func TestWavesDoNotAllocate(t *testing.T) {
	g := grid481(t)
	dst := make([]complex128, g.Len())
	for name, box := range waveBoxes() {
		m := standMount()
		m.Box = box
		mo := motion(t, m)
		for _, of := range []freq.Transfer{mo.Pressure, mo.Impedance, mo.Cone, mo.VentAir} {
			if n := testing.AllocsPerRun(5, func() { of.ResponseTo(dst, g) }); n != 0 {
				t.Errorf("%s allocates %g times, want never", name, n)
			}
		}
	}
}

func BenchmarkWaves(b *testing.B) {
	g := grid481(b)
	dst := make([]complex128, g.Len())
	for _, name := range []string{"lumped", "column", "pipe", "flare", "column and pipe", "bandpass4", "series6", "double"} {
		b.Run(name, func(b *testing.B) {
			m := standMount()
			m.Box = waveBoxes()[name]
			p := motion(b, m).Pressure
			b.ReportAllocs()
			for b.Loop() {
				p.ResponseTo(dst, g)
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(g.Len()), "ns/point")
		})
	}
}

func BenchmarkPassiveRadiator481(b *testing.B) {
	m := standMount()
	m.Box = enclosure.PassiveRadiator{Vb: 0.0148, Radiator: enclosure.Radiator{Mmp: 0.06, Cmp: 1e-3, Rmp: 1, Sp: 0.0138, Count: 1}, Losses: enclosure.Losses{QL: 10}}
	q, g := motion(b, m).Pressure.(freq.Rational), grid481(b)
	r, dst := freq.NewRatio(g.Len()), make([]complex128, g.Len())
	b.ReportAllocs()
	for b.Loop() {
		r.Reset()
		q.MulTo(r, g)
		r.DivideTo(dst)
	}
}

func BenchmarkAtLevel481(b *testing.B) {
	m, g := standMount(), grid481(b)
	for b.Loop() {
		if _, err := m.AtLevel(g, 20); err != nil {
			b.Fatal(err)
		}
	}
}
