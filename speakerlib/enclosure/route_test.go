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

// solved is one frequency of the circuit, per volt of the source.
type solved struct {
	impedance, current, cone, coneFlow, ventFlow, ventAir, pressure complex128
	in, lost                                                        float64 // power in, and in all resistances, W
}

// solve is the second route: the circuit branch by branch in complex arithmetic,
// as the textbooks draw it (R. H. Small, JAES 21, 1973, figures of the analogous
// circuit; from memory), with nothing of the library in it but the fields.
func solve(m enclosure.Mounted, hz float64) solved {
	s := complex(0, 2*math.Pi*hz)
	k := m.Air.Density * m.Air.SpeedOfSound * m.Air.SpeedOfSound
	var zAir, zLeak, zVent complex128 // of the three branches behind the cone; Inf: not there
	none := complex(math.Inf(1), 0)
	var rab, ral, rap, area float64
	branches := func(vb, fb float64, l enclosure.Losses) {
		cab, wb := vb/k, 2*math.Pi*fb
		if l.QA > 0 {
			rab = 1 / (wb * cab * l.QA)
		}
		zAir = complex(rab, 0) + 1/(s*complex(cab, 0))
		zLeak = none
		if l.QL > 0 {
			ral = l.QL / (wb * cab)
			zLeak = complex(ral, 0)
		}
		if l.QP > 0 {
			rap = 1 / (wb * cab * l.QP)
		}
	}
	var load complex128
	switch b := m.Box.(type) {
	case enclosure.InfiniteBaffle:
	case enclosure.Closed:
		branches(b.Vb, b.Reference, b.Losses)
		zVent = none
	case enclosure.Vented:
		a := b.Vent.Diameter / 2
		area = float64(b.Vent.Count) * math.Pi * a * a
		mass := m.Air.Density * (b.Vent.Length + float64(b.Vent.Inner+b.Vent.Outer)*a) / area
		branches(b.Vb, 1/(2*math.Pi*math.Sqrt(mass*b.Vb/k)), b.Losses)
		zVent = complex(rap, 0) + s*complex(mass, 0)
	}
	inv := func(z complex128) complex128 {
		if cmplx.IsInf(z) || z == 0 {
			return 0
		}
		return 1 / z
	}
	if zAir != 0 {
		load = 1 / (inv(zAir) + inv(zLeak) + inv(zVent))
	}
	d := m.Driver
	var zc complex128
	switch c := d.Coil.(type) {
	case driver.Inductor:
		zc = s * complex(c.Le, 0)
	case driver.Ladder:
		l2 := s * complex(c.L2, 0)
		zc = s*complex(c.Le, 0) + l2*complex(c.R2, 0)/(l2+complex(c.R2, 0))
	case driver.SemiInductance:
		zc = complex(c.K, 0) * cmplx.Pow(s, complex(c.N, 0))
	}
	compliance := complex(d.Cms, 0)
	if c, ok := d.Suspension.(driver.LogCreep); ok {
		compliance *= 1 - complex(c.Lambda, 0)*cmplx.Log10(s/complex(2*math.Pi*c.F0, 0))
	}
	ze := complex(m.Source+d.Re, 0) + zc
	zm := complex(d.Rms, 0) + s*complex(d.Mms, 0) + 1/(s*compliance) + load*complex(d.Sd*d.Sd, 0)
	bl := complex(d.Bl, 0)
	v := bl / (ze*zm + bl*bl)
	i := zm / (ze*zm + bl*bl)
	u := v * complex(d.Sd, 0)
	inside := -u * load // an outward cone thins the air behind it
	air, leak, vent := inside*inv(zAir), inside*inv(zLeak), inside*inv(zVent)
	net := u + leak + vent
	square := func(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
	out := solved{
		impedance: 1 / i, current: i, cone: v / s, coneFlow: u, ventFlow: vent,
		pressure: s * complex(m.Air.Density/(2*math.Pi), 0) * net,
		in:       real(i),
		lost:     square(i)*real(ze) + square(v)*(d.Rms+real(1/(s*compliance))) + square(air)*rab + square(leak)*ral + square(vent)*rap,
	}
	if area > 0 {
		out.ventAir = vent / complex(area, 0)
	}
	return out
}

func within(t *rapid.T, label string, lo, hi float64) float64 {
	// uniform over the logarithm
	return lo * math.Pow(hi/lo, rapid.Float64Range(0, 1).Draw(t, label))
}

func maybe(t *rapid.T, label string, lo, hi float64) float64 {
	if rapid.Bool().Draw(t, "has "+label) {
		return within(t, label, lo, hi)
	}
	return 0
}

func drawDriver(t *rapid.T) driver.Params {
	p := driver.Params{
		Re: within(t, "Re", 1.5, 16), Bl: within(t, "Bl", 1.5, 25), Mms: within(t, "Mms", 3e-4, 0.2),
		Cms: within(t, "Cms", 5e-5, 2e-3), Rms: within(t, "Rms", 0.1, 8), Sd: within(t, "Sd", 6e-4, 0.1),
	}
	switch rapid.IntRange(0, 2).Draw(t, "coil") {
	case 1:
		p.Coil = driver.Inductor{Le: within(t, "Le", 2e-5, 3e-3)}
	case 2:
		p.Coil = driver.Ladder{Le: within(t, "Le", 2e-5, 3e-3), L2: within(t, "L2", 2e-5, 5e-3), R2: within(t, "R2", 0.5, 50)}
	}
	return p
}

func drawVent(t *rapid.T) enclosure.Vent {
	return enclosure.Vent{Diameter: within(t, "diameter", 0.02, 0.2), Length: within(t, "length", 0.01, 0.6),
		Inner: enclosure.Free, Outer: enclosure.Flanged, Count: rapid.IntRange(1, 3).Draw(t, "vents")}
}

func drawMounted(t *rapid.T) enclosure.Mounted {
	m := enclosure.Mounted{Driver: drawDriver(t), Air: air.Room(), Source: maybe(t, "source", 0.01, 4)}
	losses := enclosure.Losses{QL: maybe(t, "QL", 2, 100), QA: maybe(t, "QA", 5, 200)}
	vb := within(t, "Vb", 1e-3, 0.3)
	switch rapid.IntRange(0, 2).Draw(t, "box") {
	case 0:
		m.Box = enclosure.InfiniteBaffle{}
	case 1:
		m.Box = enclosure.Closed{Vb: vb, Losses: losses, Reference: within(t, "reference", 30, 100)}
	case 2:
		losses.QP = maybe(t, "QP", 5, 200)
		m.Box = enclosure.Vented{Vb: vb, Vent: drawVent(t), Losses: losses}
	}
	return m
}

// The polynomials, and the points where there are none, against the circuit in
// complex arithmetic, for any driver, coil, suspension and box, from 5 Hz to 20 kHz; and the powers of that circuit, which must add up
// to what goes in.
func TestMotionAgainstTheCircuit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := drawMounted(t)
		if rapid.Bool().Draw(t, "creep") {
			m.Driver.Suspension = driver.LogCreep{Lambda: rapid.Float64Range(0, 0.5).Draw(t, "λ"), F0: m.Driver.Fs()}
		}
		if rapid.Bool().Draw(t, "semi-inductance") {
			m.Driver.Coil = driver.SemiInductance{K: within(t, "K", 1e-3, 1), N: rapid.Float64Range(0.3, 1).Draw(t, "N")}
		}
		mo, err := m.Motion()
		if err != nil {
			t.Fatal(err)
		}
		hz := within(t, "Hz", 5, 20000)
		g, err := freq.NewGrid([]float64{hz})
		if err != nil {
			t.Fatal(err)
		}
		want := solve(m, hz)
		if math.Abs(want.lost/want.in-1) > 1e-9 {
			t.Fatalf("power of the second route: %g W in, %g W lost", want.in, want.lost)
		}
		// What cancels in the sum of the flows cancels in the second route only.
		scale := 1e-11 * (1 + cmplx.Abs(want.coneFlow)/cmplx.Abs(want.pressure)*2*math.Pi*hz*m.Air.Density/(2*math.Pi))
		for _, c := range []struct {
			name string
			of   freq.Transfer
			want complex128
			tol  float64
		}{
			{"impedance", mo.Impedance, want.impedance, 1e-10},
			{"current", mo.Current, want.current, 1e-10},
			{"cone", mo.Cone, want.cone, 1e-10},
			{"cone flow", mo.ConeFlow, want.coneFlow, 1e-10},
			{"vent flow", mo.VentFlow, want.ventFlow, 1e-10},
			{"vent air", mo.VentAir, want.ventAir, 1e-10},
			{"pressure", mo.Pressure, want.pressure, scale},
		} {
			if got := c.of.ResponseTo(nil, g)[0]; cmplx.Abs(got-c.want) > c.tol*cmplx.Abs(c.want) {
				t.Errorf("%s at %g Hz is %v, want %v", c.name, hz, got, c.want)
			}
		}
	})
}
