package enclosure_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// kind is a kind of box that the examination below takes.
type kind struct {
	name string
	draw func(t *rapid.T, g drawing) enclosure.Box
	// slope is the power of frequency with which the pressure rises in the end,
	// without losses
	slope float64
	// huge returns the box with chambers without bound, which is no box at all; nil if
	// there is no such limit
	huge func(t *rapid.T) enclosure.Box
}

// drawing is what an examination wants of the boxes.
type drawing struct {
	lossless bool
	tight    bool // chambers without losses
	lumped   bool // no columns, no pipes
}

func (g drawing) chamber(t *rapid.T, label string, ported bool) enclosure.Chamber {
	c := enclosure.Chamber{Vb: within(t, "Vb "+label, 2e-3, 0.1), Reference: within(t, "reference "+label, 30, 100)}
	if !g.lossless && !g.tight {
		c.Losses = enclosure.Losses{QL: maybe(t, "QL "+label, 3, 100), QA: maybe(t, "QA "+label, 5, 200)}
		if ported {
			c.Losses.QP = maybe(t, "QP "+label, 5, 200)
		}
		c.Fill = enclosure.Fill{Isothermal: rapid.Float64Range(0, 1).Draw(t, "isothermal "+label), Resistivity: maybe(t, "σ "+label, 10, 1e4), Depth: 0.2}
	}
	if !g.lumped && rapid.Bool().Draw(t, "column "+label) {
		l := within(t, "length "+label, 0.1, 1)
		c.Column = enclosure.Column{Length: l, Driver: l * rapid.Float64Range(0, 1).Draw(t, "driver's place "+label), Port: l * rapid.Float64Range(0, 1).Draw(t, "port's place "+label)}
	}
	return c
}

func drawTube(t *rapid.T) enclosure.Tube {
	switch rapid.IntRange(0, 2).Draw(t, "tube") {
	case 0:
		return drawVent(t)
	case 1:
		return drawSlot(t)
	}
	return drawFlare(t)
}

func (g drawing) port(t *rapid.T, label string) enclosure.Port {
	tube := drawTube(t)
	if !g.lumped && !g.lossless && rapid.Bool().Draw(t, "pipe "+label) {
		return enclosure.Pipe{Of: tube}
	}
	return tube
}

func drawRadiator(t *rapid.T, lossless bool) enclosure.Radiator {
	r := enclosure.Radiator{Mmp: within(t, "Mmp", 5e-3, 0.5), Cmp: within(t, "Cmp", 1e-4, 3e-3), Sp: within(t, "Sp", 2e-3, 0.1), Count: rapid.IntRange(1, 2).Draw(t, "radiators")}
	if !lossless {
		r.Rmp = maybe(t, "Rmp", 0.1, 5)
	}
	return r
}

var boxKinds = []kind{
	{
		name: "closed", slope: 2,
		draw: func(t *rapid.T, g drawing) enclosure.Box { return enclosure.Cabinet{Chamber: g.chamber(t, "", false)} },
		huge: func(*rapid.T) enclosure.Box { return enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 1e12}} },
	},
	{
		name: "vented", slope: 4,
		draw: func(t *rapid.T, g drawing) enclosure.Box {
			return enclosure.Cabinet{Chamber: g.chamber(t, "", true), Port: g.port(t, "")}
		},
		huge: func(t *rapid.T) enclosure.Box {
			return enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 1e12}, Port: enclosure.Pipe{Of: drawTube(t)}}
		},
	},
	{
		name: "passive radiator", slope: 2, // and below its resonance it is stiff
		draw: func(t *rapid.T, g drawing) enclosure.Box {
			b := enclosure.PassiveRadiator{Vb: within(t, "Vb", 2e-3, 0.1), Radiator: drawRadiator(t, g.lossless)}
			if !g.lossless && !g.tight {
				b.Losses = enclosure.Losses{QL: maybe(t, "QL", 3, 100), QA: maybe(t, "QA", 5, 200)}
			}
			return b
		},
		huge: func(t *rapid.T) enclosure.Box {
			return enclosure.PassiveRadiator{Vb: 1e12, Radiator: drawRadiator(t, false)}
		},
	},
	{
		name: "cabinet with passive radiator", slope: 2,
		draw: func(t *rapid.T, g drawing) enclosure.Box {
			return enclosure.Cabinet{Chamber: g.chamber(t, "", true), Port: drawRadiator(t, g.lossless)}
		},
	},
	{
		name: "bandpass 4", slope: 2,
		draw: func(t *rapid.T, g drawing) enclosure.Box {
			return enclosure.Bandpass4{Rear: g.chamber(t, "rear", false), Front: g.chamber(t, "front", true), Port: g.port(t, "front")}
		},
	},
	{
		name: "bandpass 6 parallel", slope: 4,
		draw: func(t *rapid.T, g drawing) enclosure.Box {
			return enclosure.Bandpass6{Rear: g.chamber(t, "rear", true), Front: g.chamber(t, "front", true), RearPort: g.port(t, "rear"), FrontPort: g.port(t, "front")}
		},
	},
	{
		name: "bandpass 6 series", slope: 4,
		draw: func(t *rapid.T, g drawing) enclosure.Box {
			return enclosure.Bandpass6{Rear: g.chamber(t, "rear", true), Front: g.chamber(t, "front", true), RearPort: g.port(t, "rear"), FrontPort: g.port(t, "front"), Series: true}
		},
	},
	{
		name: "two chambers", slope: 4,
		draw: func(t *rapid.T, g drawing) enclosure.Box {
			return enclosure.DoubleChamber{First: g.chamber(t, "first", true), Second: g.chamber(t, "second", true), Between: g.port(t, "between"), Outer: g.port(t, "outer")}
		},
		huge: func(t *rapid.T) enclosure.Box {
			return enclosure.DoubleChamber{First: enclosure.Chamber{Vb: 1e12}, Second: enclosure.Chamber{Vb: 1e12}, Between: drawVent(t), Outer: drawVent(t)}
		},
	},
	{
		name: "two chambers, two ports", slope: 4,
		draw: func(t *rapid.T, g drawing) enclosure.Box {
			return enclosure.DoubleChamber{First: g.chamber(t, "first", true), Second: g.chamber(t, "second", true), Between: g.port(t, "between"), Outer: g.port(t, "outer"), Direct: g.port(t, "direct")}
		},
	},
}

func examine(t *testing.T, each func(t *rapid.T, k kind)) {
	for _, k := range boxKinds {
		t.Run(k.name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) { each(t, k) })
		})
	}
}

func drawIn(t *rapid.T, box enclosure.Box) enclosure.Mounted {
	m := enclosure.Mounted{Driver: drawDriver(t), Air: air.Room(), Source: maybe(t, "source", 0.01, 4), Box: box}
	if rapid.Bool().Draw(t, "creep") {
		m.Driver.Suspension = driver.LogCreep{Lambda: rapid.Float64Range(0, 0.3).Draw(t, "λ"), F0: m.Driver.Fs()}
	}
	return m
}

// A box takes power and gives none: what comes in at the terminals, less what Re,
// the source, the coil and the suspension turn into heat, is what the air takes, and
// that is ≥ 0 at every frequency, for any box.
func TestAirOfEveryBoxIsPassive(t *testing.T) {
	examine(t, func(t *rapid.T, k kind) {
		m := drawIn(t, k.draw(t, drawing{}))
		mo := motion(t, m)
		hz := within(t, "Hz", 3, 5000)
		z, i, u := at(t, mo.Impedance, hz)[0], at(t, mo.Current, hz)[0], at(t, mo.ConeFlow, hz)[0]
		if one := z * i; cmplx.Abs(one-1) > 1e-12 {
			t.Errorf("impedance times current is %v, want 1", one)
		}
		coil := complex128(0)
		if m.Driver.Coil != nil {
			coil = m.Driver.Coil.ImpedanceTo(nil, grid(t, hz))[0]
		}
		v := u / complex(m.Driver.Sd, 0)
		v2 := real(v)*real(v) + imag(v)*imag(v)
		spring := complex(0, -1/(2*math.Pi*hz*m.Driver.Cms))
		if s := m.Driver.Suspension; s != nil {
			spring /= s.Relative(hz)
		}
		taken := real(i) // of one volt
		i2 := real(i)*real(i) + imag(i)*imag(i)
		heat := i2*(m.Driver.Re+m.Source+real(coil)) + v2*(m.Driver.Rms+real(spring))
		if air := taken - heat; air < -1e-9*taken {
			t.Errorf("the air takes %g W of %g W at %g Hz", air, taken, hz)
		}
	})
}

// Without losses all of the power is heat in the driver and the source.
func TestLosslessBoxesTakeNoPower(t *testing.T) {
	examine(t, func(t *rapid.T, k kind) {
		m := drawIn(t, k.draw(t, drawing{lossless: true}))
		m.Driver.Suspension, m.Driver.Coil = nil, nil
		mo := motion(t, m)
		hz := within(t, "Hz", 3, 2000)
		i, u := at(t, mo.Current, hz)[0], at(t, mo.ConeFlow, hz)[0]
		v := cmplx.Abs(u) / m.Driver.Sd
		heat := math.Pow(cmplx.Abs(i), 2)*(m.Driver.Re+m.Source) + v*v*m.Driver.Rms
		if math.Abs(real(i)-heat) > 1e-7*real(i) {
			t.Errorf("%g W in, %g W heat at %g Hz", real(i), heat, hz)
		}
	})
}

// Far below all resonances the pressure of a lossless box rises with the power of
// frequency that its ports leave: 12 dB an octave for one side closed, 24 dB for both
// open (order 2 for a passive radiator, whose suspension closes the box again, R. H. Small
// 1974).
func TestSlopeOfEveryBox(t *testing.T) {
	examine(t, func(t *rapid.T, k kind) {
		m := drawIn(t, k.draw(t, drawing{lossless: true, lumped: k.name == "bandpass 6 parallel"}))
		m.Driver.Suspension = nil
		if b, ok := m.Box.(enclosure.Bandpass6); ok && !b.Series {
			// two ports of the same tuning cancel in the next order, too
			rear, front := b.RearPort.(enclosure.Tube).Mass(m.Air)*b.Rear.Vb, b.FrontPort.(enclosure.Tube).Mass(m.Air)*b.Front.Vb
			if math.Abs(rear/front-1) < 0.2 {
				return
			}
		}
		const hz = 1e-3
		p := at(t, motion(t, m).Pressure, hz, 2*hz)
		if got := math.Log2(cmplx.Abs(p[1]) / cmplx.Abs(p[0])); math.Abs(got-k.slope) > 1e-3 {
			t.Errorf("pressure rises as f^%.5f, want f^%g", got, k.slope)
		}
	})
}

// A box without bound is none.
func TestEveryHugeBoxIsInfiniteBaffle(t *testing.T) {
	examine(t, func(t *rapid.T, k kind) {
		if k.huge == nil {
			return
		}
		m := drawIn(t, k.huge(t))
		got := motion(t, m)
		m.Box = enclosure.InfiniteBaffle{}
		want := motion(t, m)
		hz := within(t, "Hz", 5, 2000)
		for n, pair := range pairs(got, want)[:5] {
			if a, b := at(t, pair[0], hz)[0], at(t, pair[1], hz)[0]; cmplx.Abs(a-b) > 1e-6*cmplx.Abs(b) {
				t.Errorf("transfer %d at %g Hz: %v, in the infinite baffle %v", n, hz, a, b)
			}
		}
	})
}

// The flow that makes the pressure is that of cone and ports if nothing leaks, which
// is another sum than the one that the circuit takes; and a port's speed and excursion
// belong to its flow.
func TestFlowsOfEveryBoxAddUp(t *testing.T) {
	examine(t, func(t *rapid.T, k kind) {
		m := drawIn(t, k.draw(t, drawing{tight: true}))
		mo := motion(t, m)
		hz := within(t, "Hz", 20, 500)
		sum, ports := at(t, mo.VentFlow, hz)[0], complex128(0)
		cone := at(t, mo.ConeFlow, hz)[0]
		inside := k.name == "bandpass 6 series"
		switch k.name {
		case "bandpass 4", "bandpass 6 parallel", "bandpass 6 series":
		default:
			sum += cone
		}
		largest := cmplx.Abs(cone)
		for n, p := range mo.Ports {
			u := at(t, p.Flow, hz)[0]
			largest = math.Max(largest, cmplx.Abs(u))
			if !(inside && n == 1) && !(k.name == "two chambers" && n == 1) && n < 2 {
				ports += u
			}
			ratio := at(t, p.Air, hz)[0] / at(t, p.Excursion, hz)[0]
			if want := complex(0, 2*math.Pi*hz); cmplx.Abs(ratio/want-1) > 1e-11 {
				t.Errorf("port %d: speed over excursion is %v, want jω = %v", n, ratio, want)
			}
		}
		if got := at(t, mo.VentFlow, hz)[0]; cmplx.Abs(got-ports) > 1e-11*largest {
			t.Errorf("ports carry %v one by one, %v together", ports, got)
		}
		net := at(t, mo.Pressure, hz)[0] / complex(0, hz*m.Air.Density)
		if cmplx.Abs(net-sum) > 1e-9*largest {
			t.Errorf("net flow is %v, that of cone and ports %v", net, sum)
		}
	})
}

// pairs returns the transfers of two motions side by side, those that need ports
// last.
func pairs(a, b *enclosure.Motion) [][2]freq.Transfer {
	return [][2]freq.Transfer{{a.Impedance, b.Impedance}, {a.Current, b.Current}, {a.Cone, b.Cone}, {a.ConeFlow, b.ConeFlow},
		{a.Pressure, b.Pressure}, {a.VentFlow, b.VentFlow}, {a.VentAir, b.VentAir}}
}
