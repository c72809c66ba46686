package enclosure_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// Far below its first resonance a pipe is its air mass, of which it differs by
// (kL)²/3 at most and by the drag of its wall, of the order of the boundary layer over
// the radius.
func TestLongWavesTakeAPipeForAMass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tube := drawTube(t)
		m := enclosure.Mounted{Driver: woofer, Air: air.Room(), Box: enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 0.02}, Port: tube}}
		hz := within(t, "f", 5, 20)
		g := grid(t, hz)
		u := func(port enclosure.Port) complex128 { // the box without its compliance
			m.Box = enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 0.02}, Port: port}
			return 1 / (1/load(t, m, g)[0] - complex(0, 2*math.Pi*hz*0.02/m.Air.Stiffness()))
		}
		mass, pipe := u(tube), u(enclosure.Pipe{Of: tube})
		want := complex(0, 2*math.Pi*hz*tube.Mass(m.Air))
		if cmplx.Abs(mass/want-1) > 1e-6 {
			t.Fatalf("mass has %v, want %v", mass, want)
		}
		// layer: √(2η/ρω), 0.7 mm at 10 Hz; the ratio of perimeter to area of any tube
		layer := math.Sqrt(2 * 1.9e-5 / (m.Air.Density * 2 * math.Pi * hz))
		radiation := m.Air.Density * 2 * math.Pi * hz / (2 * math.Pi * m.Air.SpeedOfSound) / tube.Mass(m.Air)
		if d := cmplx.Abs(pipe/mass - 1); d > 3*layer/hydraulic(tube)+1.1*radiation+0.02 {
			t.Errorf("pipe differs by %.3g from its mass at %g Hz", d, hz)
		}
		if real(pipe) <= 0 {
			t.Errorf("pipe has a resistance of %g", real(pipe))
		}
	})
}

// hydraulic returns twice the area over the perimeter: the radius of a round tube.
func hydraulic(tube enclosure.Tube) float64 {
	switch v := tube.(type) {
	case enclosure.Vent:
		return v.Diameter / 2
	case enclosure.Flare:
		return v.Diameter / 2
	case enclosure.Slot:
		return v.Width * v.Height / (v.Width + v.Height)
	}
	panic("unknown tube")
}

// A tube open at both ends resonates at c/(2·(L+ends)) (Rayleigh), where the vent
// lets the inside of the box out: a peak of its flow, which the lumped vent has not.
// What shifts it is the drag of the wall and the rest of the box; within 2 %.
func TestPipeResonance(t *testing.T) {
	vent := enclosure.Vent{Diameter: 0.05, Length: 0.25, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	m := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 0.03}, Port: enclosure.Pipe{Of: vent}}}
	g, err := freq.LinearGrid(300, 1000, 1401)
	if err != nil {
		t.Fatal(err)
	}
	mo := motion(t, m)
	flow := mo.VentFlow.ResponseTo(nil, g)
	cone := mo.ConeFlow.ResponseTo(nil, g)
	best := 0
	ratio := func(i int) float64 { return cmplx.Abs(flow[i] / cone[i]) }
	for i := range flow {
		if ratio(i) > ratio(best) {
			best = i
		}
	}
	near(t, "pipe resonance over c/2(L+ends)", g.At(best)/vent.PipeResonance(table), 1, 0.02)
	m.Box = enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 0.03}, Port: vent}
	lumped := motion(t, m).VentFlow.ResponseTo(nil, g)
	if rise := cmplx.Abs(flow[best] / lumped[best]); rise < 5 {
		t.Errorf("at the pipe resonance the line lets %g times as much out as the mass", rise)
	}
}

// All of the power that the air of a box takes leaves by the mouth if the wall is
// wide: with ka small the radiation resistance into half space is ρω²/(2πc) (any textbook),
// whatever the area of the mouth.
func TestPipeRadiation(t *testing.T) {
	vent := enclosure.Vent{Diameter: 0.3, Length: 0.05, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 2}
	m := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 0.03}, Port: enclosure.Pipe{Of: vent}}}
	g := grid(t, 60, 80)
	z := load(t, m, g)
	mo := motion(t, m)
	vent1, cone := mo.VentFlow.ResponseTo(nil, g), mo.ConeFlow.ResponseTo(nil, g)
	for i := range z {
		w := 2 * math.Pi * g.At(i)
		taken := real(z[i]) * math.Pow(cmplx.Abs(cone[i]), 2)
		radiated := table.Density * w * w / (2 * math.Pi * table.SpeedOfSound) * math.Pow(cmplx.Abs(vent1[i]), 2)
		// the wall of the short tube takes the rest
		if taken < radiated*0.98 || taken > 1.1*radiated {
			t.Errorf("at %g Hz the air takes %g W, the mouth radiates %g W", g.At(i), taken, radiated)
		}
	}
}
