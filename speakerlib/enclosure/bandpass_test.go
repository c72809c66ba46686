package enclosure_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// lossy is a chamber with resistances as a circuit has them.
func lossy(vb, leak, absorption, port float64) enclosure.Chamber {
	const reference = 50.0
	wc := 2 * math.Pi * reference * vb / table.Stiffness()
	c := enclosure.Chamber{Vb: vb, Reference: reference, Losses: enclosure.Losses{QL: wc * leak, QA: 1 / (wc * absorption)}}
	if port > 0 {
		c.Losses.QP = 1 / (wc * port)
	}
	return c
}

func bare(d, l float64) enclosure.Vent { return enclosure.Vent{Diameter: d, Length: l, Count: 1} }

// The four circuits of boxes_ngspice.py by ngspice 39, twelve digits: currents,
// cones, every port, and the pressure of what cone, ports and leaks send out.
func TestChambersAgainstNgspice(t *testing.T) {
	d := woofer
	d.Coil = driver.Inductor{Le: 4e-4}
	g, v := spice(t, "boxes_ngspice.txt")
	next := 0
	for _, c := range []struct {
		name    string
		box     enclosure.Box
		port    []int // in ours, of the netlist's
		outside int   // how many of the netlist's, the first, lead out
	}{
		{"bandpass 4", enclosure.Bandpass4{Rear: lossy(0.012, 3e5, 400, 0), Front: lossy(0.009, 5e5, 300, 600), Port: bare(0.06, 0.15)}, []int{0}, 1},
		{"bandpass 6 parallel", enclosure.Bandpass6{Rear: lossy(0.02, 3e5, 400, 900), Front: lossy(0.007, 5e5, 300, 600),
			FrontPort: bare(0.07, 0.10), RearPort: bare(0.05, 0.20)}, []int{0, 1}, 2},
		{"bandpass 6 series", enclosure.Bandpass6{Rear: lossy(0.02, 3e5, 400, 900), Front: lossy(0.007, 5e5, 300, 600),
			FrontPort: bare(0.07, 0.10), RearPort: bare(0.05, 0.20), Series: true}, []int{0, 1}, 1},
		{"two chambers", enclosure.DoubleChamber{First: lossy(0.012, 3e5, 400, 900), Second: lossy(0.018, 5e5, 300, 600),
			Outer: bare(0.05, 0.20), Direct: bare(0.04, 0.12), Between: bare(0.06, 0.10)}, []int{0, 1, 2}, 2},
	} {
		mo := motion(t, enclosure.Mounted{Driver: d, Air: table, Box: c.box})
		sameAsSpice(t, c.name+": current", mo.Current, g, v[next], 1e-9)
		flow := make([]complex128, g.Len())
		for i, u := range v[next+1] {
			flow[i] = u * complex(d.Sd, 0)
		}
		sameAsSpice(t, c.name+": flow of the cone", mo.ConeFlow, g, flow, 1e-9)
		next += 2
		out := make([]complex128, g.Len())
		if strings.HasPrefix(c.name, "two") {
			copy(out, flow)
		}
		for k, leak := range []float64{3e5, 5e5} {
			for i, p := range v[next+k] {
				out[i] += p / complex(leak, 0)
			}
		}
		next += 2
		if len(mo.Ports) != len(c.port) {
			t.Fatalf("%s has %d ports, want %d", c.name, len(mo.Ports), len(c.port))
		}
		for n, k := range c.port {
			sameAsSpice(t, c.name+": port", mo.Ports[k].Flow, g, v[next+n], 1e-9)
			if n < c.outside {
				for i, u := range v[next+n] {
					out[i] += u
				}
			}
		}
		for i := range out {
			out[i] *= complex(0, g.At(i)*table.Density)
		}
		sameAsSpice(t, c.name+": pressure", mo.Pressure, g, out, 1e-8) // flows cancel at low frequencies
		next += len(c.port)
	}
	if next != len(v) {
		t.Errorf("the file has %d vectors, used %d", len(v), next)
	}
}

// What one box becomes when a part of it goes: a port that nothing comes through is a
// wall, a chamber without bound behind a port is the outside, a wide hole joins two
// chambers.
func TestBoxesBecomeOthers(t *testing.T) {
	shut := enclosure.Vent{Diameter: 1e-5, Length: 10, Count: 1}
	hole := enclosure.Vent{Diameter: 100, Length: 1e-9, Count: 1}
	ch := func(vb float64) enclosure.Chamber { return enclosure.Chamber{Vb: vb} }
	vent, other := bare(0.06, 0.15), bare(0.05, 0.2)
	for name, pair := range map[string][2]enclosure.Box{
		"cabinet with a shut vent": {enclosure.Cabinet{Chamber: ch(0.02), Port: shut}, enclosure.Closed{Vb: 0.02}},
		"closed cabinet":           {enclosure.Cabinet{Chamber: ch(0.02)}, enclosure.Closed{Vb: 0.02}},
		"cabinet with a vent":      {enclosure.Cabinet{Chamber: ch(0.02), Port: vent}, enclosure.Vented{Vb: 0.02, Vent: vent}},
		"cabinet with fill": {enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 0.02, Fill: enclosure.Fill{Isothermal: 0.5, Resistivity: 3000, Depth: 0.2}}, Port: vent},
			enclosure.Vented{Vb: 0.02, Vent: vent, Fill: enclosure.Fill{Isothermal: 0.5, Resistivity: 3000, Depth: 0.2}}},
		"isothermal air": {enclosure.Closed{Vb: 0.02, Fill: enclosure.Fill{Isothermal: 1}}, enclosure.Closed{Vb: 0.028}},
		"bandpass 6 with a shut rear port": {enclosure.Bandpass6{Rear: ch(0.02), Front: ch(0.01), FrontPort: vent, RearPort: shut},
			enclosure.Bandpass4{Rear: ch(0.02), Front: ch(0.01), Port: vent}},
		"series bandpass 6 with a shut rear port": {enclosure.Bandpass6{Rear: ch(0.02), Front: ch(0.01), FrontPort: vent, RearPort: shut, Series: true},
			enclosure.Bandpass4{Rear: ch(0.02), Front: ch(0.01), Port: vent}},
		"bandpass 4 without a front":          {enclosure.Bandpass4{Rear: ch(0.02), Front: ch(1e-9), Port: hole}, enclosure.Closed{Vb: 0.02}},
		"parallel bandpass 6 without a front": {enclosure.Bandpass6{Rear: ch(0.02), Front: ch(1e-9), FrontPort: hole, RearPort: vent}, enclosure.Vented{Vb: 0.02, Vent: vent}},
		"series bandpass 6 without a front":   {enclosure.Bandpass6{Rear: ch(0.02), Front: ch(1e-9), FrontPort: hole, RearPort: vent, Series: true}, enclosure.Vented{Vb: 0.02, Vent: vent}},
		"two chambers with a hole":            {enclosure.DoubleChamber{First: ch(0.008), Second: ch(0.012), Between: hole, Outer: vent}, enclosure.Vented{Vb: 0.02, Vent: vent}},
		"two chambers, shut between":          {enclosure.DoubleChamber{First: ch(0.02), Second: ch(0.012), Between: shut, Direct: vent}, enclosure.Vented{Vb: 0.02, Vent: vent}},
		"two chambers, the second unbounded": {enclosure.DoubleChamber{First: ch(0.02), Second: ch(1e12), Between: vent, Outer: other},
			enclosure.DoubleChamber{First: ch(0.02), Second: ch(1e12), Between: vent}},
		"a pipe between chambers": {enclosure.DoubleChamber{First: ch(0.008), Second: ch(0.012), Between: enclosure.Pipe{Of: enclosure.Vent{Diameter: 1, Length: 1e-9, Count: 1}}, Outer: vent},
			enclosure.Vented{Vb: 0.02, Vent: vent}},
	} {
		g := grid(t, 15, 33, 61, 150, 400)
		a := motion(t, enclosure.Mounted{Driver: woofer, Air: table, Box: pair[0]})
		b := motion(t, enclosure.Mounted{Driver: woofer, Air: table, Box: pair[1]})
		for n, p := range [][2]freq.Transfer{{a.Impedance, b.Impedance}, {a.Cone, b.Cone}, {a.Pressure, b.Pressure}} {
			if name == "two chambers, the second unbounded" && n == 2 {
				continue // of which one has an outlet
			}
			x, y := p[0].ResponseTo(nil, g), p[1].ResponseTo(nil, g)
			for i := range x {
				near(t, name+": ratio, real", real(x[i]/y[i]), 1, 2e-5)
				near(t, name+": ratio, imaginary", imag(x[i]/y[i]), 0, 2e-5)
			}
		}
	}
}

func TestChamberRefusals(t *testing.T) {
	good := enclosure.Chamber{Vb: 0.02}
	vent := bare(0.05, 0.2)
	with := func(change func(*enclosure.Chamber)) enclosure.Chamber {
		c := good
		change(&c)
		return c
	}
	for name, c := range map[string]struct {
		box  enclosure.Box
		want string
	}{
		"no volume":       {enclosure.Cabinet{Chamber: enclosure.Chamber{}}, "net volume is 0 m³"},
		"no reference":    {enclosure.Cabinet{Chamber: with(func(c *enclosure.Chamber) { c.Losses.QL = 7 })}, "stated at 0 Hz"},
		"NaN loss":        {enclosure.Cabinet{Chamber: with(func(c *enclosure.Chamber) { c.Losses.QA = math.NaN() })}, "QA is NaN"},
		"QP when closed":  {enclosure.Cabinet{Chamber: with(func(c *enclosure.Chamber) { c.Losses.QP, c.Reference = 7, 50 })}, "QP = 7, want 0"},
		"fill":            {enclosure.Cabinet{Chamber: with(func(c *enclosure.Chamber) { c.Fill.Isothermal = -1 })}, "isothermal share of the fill is -1"},
		"no depth":        {enclosure.Cabinet{Chamber: with(func(c *enclosure.Chamber) { c.Fill.Resistivity = 500 })}, "fill of 500 Pa·s/m² has no depth"},
		"no depth closed": {enclosure.Closed{Vb: 0.02, Fill: enclosure.Fill{Resistivity: 500}}, "has no depth"},
		"no depth vented": {enclosure.Vented{Vb: 0.02, Vent: vent, Fill: enclosure.Fill{Resistivity: 500}}, "has no depth"},
		"column":          {enclosure.Cabinet{Chamber: with(func(c *enclosure.Chamber) { c.Column.Length = math.Inf(1) })}, "column is +Inf m"},
		"driver outside":  {enclosure.Cabinet{Chamber: with(func(c *enclosure.Chamber) { c.Column = enclosure.Column{Length: 0.3, Driver: 0.4} })}, "at 0.4 and 0 m"},
		"vent":            {enclosure.Cabinet{Chamber: good, Port: enclosure.Vent{}}, "vent diameter is 0 m"},
		"pipe":            {enclosure.Cabinet{Chamber: good, Port: enclosure.Pipe{Of: enclosure.Vent{}}}, "vent diameter is 0 m"},
		"beyond numbers":  {enclosure.Cabinet{Chamber: good, Port: bare(1e-160, 1e300)}, "are the units right?"},
		"pipe of nothing": {enclosure.Cabinet{Chamber: good, Port: enclosure.Pipe{}}, "pipe is of no tube"},
		"no front port":   {enclosure.Bandpass4{Rear: good, Front: good}, "front chamber has no port"},
		"bad rear":        {enclosure.Bandpass4{Front: good, Port: vent}, "net volume is 0 m³"},
		"bad front":       {enclosure.Bandpass4{Rear: good, Port: vent}, "net volume is 0 m³"},
		"no rear port":    {enclosure.Bandpass6{Rear: good, Front: good, FrontPort: vent}, "rear chamber has no port"},
		"no port between": {enclosure.DoubleChamber{First: good, Second: good}, "first chamber has no port"},
		"bad direct":      {enclosure.DoubleChamber{First: good, Second: good, Between: vent, Direct: enclosure.Vent{}}, "vent diameter is 0 m"},
		"bad between":     {enclosure.DoubleChamber{First: good, Second: good, Between: enclosure.Radiator{}}, "Mmp = 0 kg"},
		"bad second":      {enclosure.DoubleChamber{First: good, Between: vent}, "net volume is 0 m³"},
	} {
		_, err := enclosure.Mounted{Driver: woofer, Air: table, Box: c.box}.Motion()
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "enclosure: ") {
			t.Errorf("%s: error %v, want one of enclosure with %q", name, err, c.want)
		}
	}
}
