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

// load returns what a box puts on the cone, the acoustic impedance Sd²·Z as the
// motion shows it: Bl·i/v less the driver's own.
func load(t rapid.TB, m enclosure.Mounted, g *freq.Grid) []complex128 {
	t.Helper()
	mo, err := m.Motion()
	if err != nil {
		t.Fatal(err)
	}
	i, u := mo.Current.ResponseTo(nil, g), mo.ConeFlow.ResponseTo(nil, g)
	out := make([]complex128, g.Len())
	d := m.Driver
	for k := range out {
		w := 2 * math.Pi * g.At(k)
		zm := complex(d.Bl*d.Sd, 0)*i[k]/u[k] - complex(d.Rms, w*d.Mms-1/(w*d.Cms))
		out[k] = zm / complex(d.Sd*d.Sd, 0)
	}
	return out
}

// The pressure of a source in a closed tube without losses, the closed form
//
//	Z = −j·(ρc/S)·cos(kx)·cos(k(L−x))/sin(kL)
//
// of any textbook: what the cone at x feels.
func TestColumnClosedForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := within(t, "length", 0.1, 2)
		x := l * rapid.Float64Range(0, 1).Draw(t, "x")
		m := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 0.02, Column: enclosure.Column{Length: l, Driver: x, Port: rapid.Float64Range(0, l).Draw(t, "port")}}}}
		hz := within(t, "Hz", 10, 2000)
		k := 2 * math.Pi * hz / table.SpeedOfSound
		got := load(t, m, grid(t, hz))[0]
		want := complex(0, -table.Impedance()*l/0.02*math.Cos(k*x)*math.Cos(k*(l-x))/math.Sin(k*l))
		// what the driver's own impedance takes away again
		d := woofer
		own := (d.Rms + 2*math.Pi*hz*d.Mms + 1/(2*math.Pi*hz*d.Cms)) / (d.Sd * d.Sd)
		if cmplx.Abs(got-want) > 1e-9*(cmplx.Abs(want)+own)/math.Abs(math.Sin(k*l)) {
			t.Errorf("impedance is %v, want %v", got, want)
		}
	})
}

// At a mode, c/2L, the cone cannot move if it is at the end and does not notice if it
// is in the middle, where the mode has no pressure: there the load is that beside
// the mode.
func TestColumnModes(t *testing.T) {
	col := enclosure.Column{Length: 0.5}
	c := enclosure.Chamber{Vb: 0.02, Column: col}
	f1 := col.Mode(1, table)
	near(t, "first mode", f1, 345, 1e-12)
	near(t, "third mode", col.Mode(3, table), 3*345, 1e-12)
	m := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Cabinet{Chamber: c}}
	g := grid(t, 0.9*f1, f1*(1+1e-9), 1.1*f1)
	z := load(t, m, g)
	if cmplx.Abs(z[1]) < 1e5*cmplx.Abs(z[0]) {
		t.Errorf("at the mode the load at the end is %v, beside it %v", z[1], z[0])
	}
	c.Column.Driver = 0.25
	m.Box = enclosure.Cabinet{Chamber: c}
	z = load(t, m, g)
	if cmplx.Abs(z[1]) > 1e-3*table.Impedance()*0.5/0.02 {
		t.Errorf("at the mode the load in the middle is %v, want about 0", z[1])
	}
	// A vent in the middle lets nothing of the first mode out.
	at := func(port float64) float64 {
		// fibre, as dense as makes a mode 3 dB wide
		c.Column = enclosure.Column{Length: 0.5, Driver: 0.1, Port: port}
		c.Fill.Resistivity = 50
		m.Box = enclosure.Cabinet{Chamber: c, Port: enclosure.Pipe{Of: enclosure.Vent{Diameter: 0.05, Length: 0.1, Count: 1}}}
		return cmplx.Abs(motion(t, m).VentFlow.ResponseTo(nil, grid(t, f1))[0])
	}
	if middle, end := at(0.25), at(0.5); middle > 0.1*end {
		t.Errorf("at the mode a vent in the middle carries %g, at the end %g", middle, end)
	}
}

// Long waves do not see a column: it is the lumped chamber, with losses, fibre and
// ports. What it is off by is of the second order of length over wavelength.
func TestShortColumnIsLumped(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawing{lumped: true}.chamber(t, "", true)
		c.Fill.Resistivity = maybe(t, "σ", 1, 3000)
		l := within(t, "length", 0.01, 0.05)
		c.Fill.Depth = l
		port := drawVent(t)
		m := enclosure.Mounted{Driver: woofer, Air: air.Room(), Box: enclosure.Cabinet{Chamber: c, Port: port}}
		hz := within(t, "Hz", 20, 60)
		lumped := load(t, m, grid(t, hz))[0]
		c.Column = enclosure.Column{Length: l, Port: 0}
		m.Box = enclosure.Cabinet{Chamber: c, Port: port}
		wave := load(t, m, grid(t, hz))[0]
		// The column is in series between the driver and the port, and before its own air:
		// to first order that takes y²·z of what flows.
		w := 2 * math.Pi * hz
		series := (w*m.Air.Density + c.Fill.Resistivity) * l * l / c.Vb
		y := w*1.4*c.Vb/m.Air.Stiffness() + 1/(w*port.Mass(m.Air)) + cmplx.Abs(1/lumped)
		if d := cmplx.Abs(1/wave - 1/lumped); d > 2*y*y*series+1e-9*y {
			t.Errorf("admittance is %v, lumped %v, differ by %g, want %g", 1/wave, 1/lumped, d, 2*y*y*series)
		}
	})
}

// The resistance of a filled depth is the first term of Zc·coth γℓ: the line of the
// column approaches it with the square of frequency.
func TestFillFlowLoss(t *testing.T) {
	const vb, depth = 0.02, 0.3
	fill := enclosure.Fill{Resistivity: 2000, Depth: depth}
	m := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Closed{Vb: vb, Fill: fill}}
	want := 2000 * depth * depth / (3 * vb)
	near(t, "lumped", real(load(t, m, grid(t, 40))[0])/want, 1, 1e-9)
	m.Box = enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: vb, Fill: fill, Column: enclosure.Column{Length: depth}}}
	for _, hz := range []float64{2, 4} {
		near(t, "line", real(load(t, m, grid(t, hz))[0])/want, 1, 1e-4*hz*hz)
	}
}
