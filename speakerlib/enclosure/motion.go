package enclosure

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
)

// Mounted is a driver in a box.
type Mounted struct {
	Driver driver.Params
	Box    Box
	Air    air.Medium
	Source float64 // resistance between the source and the terminals, Ω: choke, cable
}

// Motion is what a driver in a box does, per volt of the source. Its transfers
// are immutable and share one denominator. With a [driver.RationalCoil], a
// constant suspension and a lumped box each is a *[freq.PolyRatio] and takes the
// fast path; with any other coil, suspension or box they solve the same circuit
// point by point, with the coil's impedance on that grid.
type Motion struct {
	Impedance freq.Transfer // at the source, Source included, Ω
	Current   freq.Transfer // A/V
	Cone      freq.Transfer // displacement of the cone, outward, m/V
	ConeFlow  freq.Transfer // volume velocity of the cone, outward, m³/s per V
	VentFlow  freq.Transfer // volume velocity of all ports to the outside, outward, m³/s per V; zero without ports
	VentAir   freq.Transfer // mean air speed in the first port, outward, m/s per V; zero without ports
	Pressure  freq.Transfer // sound pressure at 1 m in half space, Pa/V

	// Ports are the ports one by one, in the order that the box states: vents, or
	// passive radiators, equal ones as one.
	Ports []PortMotion
}

// PortMotion is what a port does, per volt of the source.
type PortMotion struct {
	Flow      freq.Transfer // volume velocity, outward (from chamber to chamber: towards the outer one), m³/s per V
	Air       freq.Transfer // speed of its air, or of the diaphragm, m/s per V
	Excursion freq.Transfer // displacement of its air, or of the diaphragm, m/V
}

// PressureBasis returns what the pressure of a motion is: per volt at the way's
// terminals, in half space at 1 m, with time zero at the cone (no time of flight).
// The volts of a motion are those before Mounted.Source. Where that is the choke of
// a passive network they are those at the loudspeaker's input: state freq.PerInput
// then.
func PressureBasis() freq.Basis {
	return freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 1}
}

// Motion solves the circuit
//
//	V = (Rs + Re + Zc)·i + Bl·v,  Bl·i = Zm·v,
//	Zm = Rms + jωMms + 1/(jωC) + Sd²/Yb
//
// with the acoustic admittance Yb of the [Box] behind the cone, and with C = Cms or
// what the driver's [driver.Suspension] makes of it. The pressure is
// that of the net volume velocity U, cone, vent and leak together, which is what
// does not go into the compliance of the box (R. H. Small, "Vented-Box
// Loudspeaker Systems, Part I", JAES 21, 1973):
//
//	p = jωρ·U/(2π·1 m)
//
// Positive volts move the cone outward. Valid while the box is small against the
// wavelength and the cone moves as one piece. Exact for this circuit: a ratio of
// polynomials in jω of degree four for the mechanics and the box, and that of
// the coil besides.
func (m Mounted) Motion() (*Motion, error) {
	if err := m.validate(); err != nil {
		return nil, err
	}
	net, lumped := m.Box.field(m.Air).(network)
	if !lumped {
		return m.waves()
	}
	c, err := m.lumped(net)
	if err != nil {
		return nil, err
	}
	coil := m.coil()
	whole := pointwise{coil: coil, suspension: m.Driver.Suspension, dc: c.dc, mech: c.mech, spring: c.spring, back: c.back}
	transfer := func(num freq.Poly) freq.Transfer {
		t := whole
		t.num = num
		return &t
	}
	electrical := func(inverse bool) freq.Transfer {
		t := whole
		t.electrical, t.inverse = true, inverse
		return &t
	}
	impedance, current := electrical(true), electrical(false)
	if r, ok := coil.(driver.RationalCoil); ok && m.Driver.Suspension == nil {
		zn, zd := r.Rational()
		if max(zn.Degree(), zd.Degree())+c.mech.Degree() <= freq.MaxDegree {
			total := zn.Add(zd.Scale(c.dc)).Mul(c.mech).Add(zd.Mul(c.back))
			transfer = func(num freq.Poly) freq.Transfer {
				return &freq.PolyRatio{Num: num.Mul(zd), Den: total}
			}
			impedance, current = &freq.PolyRatio{Num: total, Den: zd.Mul(c.mech)}, transfer(c.mech)
		}
	}
	out := &Motion{
		Impedance: impedance,
		Current:   current,
		Cone:      transfer(c.cone),
		ConeFlow:  transfer(c.coneFlow),
		VentFlow:  transfer(c.ventFlow),
		VentAir:   transfer(freq.Poly{}),
		Pressure:  transfer(freq.NewPoly(0, m.Air.Density/(2*math.Pi)).Mul(c.netFlow)),
	}
	if c.area > 0 {
		out.VentAir = transfer(c.ventFlow.Scale(1 / c.area))
		out.Ports = []PortMotion{{Flow: out.VentFlow, Air: out.VentAir, Excursion: transfer(c.ventMove)}}
	}
	return out, nil
}

func (m Mounted) coil() driver.Coil {
	if m.Driver.Coil == nil {
		return driver.NoCoil{}
	}
	return m.Driver.Coil
}

// circuit is all of the solution but the coil. With the coil's impedance Zc the
// common denominator is
//
//	(dc + Zc)·mech + back
//
// and mech, cone and the flows are the numerators, per volt.
type circuit struct {
	dc         float64   // Re + Rs, Ω
	mech, back freq.Poly // Zm and Bl², both over s·Cms and the numerator of Yb
	spring     freq.Poly // the part of mech that is the suspension's

	cone, coneFlow, ventFlow, ventMove, netFlow freq.Poly

	area float64 // of the vents, m²; 0: none
}

func (m Mounted) validate() error {
	if err := m.Driver.Validate(); err != nil {
		return err
	}
	if m.Box == nil {
		return fmt.Errorf("enclosure: driver has no box, want one (InfiniteBaffle is one)")
	}
	if err := m.Air.Validate(); err != nil {
		return err
	}
	if err := m.Box.Validate(m.Air); err != nil {
		return err
	}
	if !(m.Source >= 0) || math.IsInf(m.Source, 0) {
		return fmt.Errorf("enclosure: source resistance is %g ohm, want a finite value ≥ 0", m.Source)
	}
	return nil
}

// circuit returns the circuit of a lumped box; for others it panics.
func (m Mounted) circuit() (circuit, error) {
	if err := m.validate(); err != nil {
		return circuit{}, err
	}
	net, ok := m.Box.field(m.Air).(network)
	if !ok {
		panic("enclosure: box is not lumped")
	}
	return m.lumped(net)
}

func (m Mounted) lumped(net network) (circuit, error) {
	d := m.Driver
	if !net.finite() {
		return circuit{}, beyond()
	}
	num, den, box, port := net.admittance()
	// v = Bl·s·Cms·num/total; a flow that goes into the branch b of the box is
	// Sd·v·b/num, so that num cancels.
	flow := freq.NewPoly(0, d.Sd*d.Bl*d.Cms)
	c := circuit{
		dc:       d.Re + m.Source,
		mech:     freq.NewPoly(1, d.Rms*d.Cms, d.Mms*d.Cms).Mul(num).Add(freq.NewPoly(0, d.Cms*d.Sd*d.Sd).Mul(den)),
		back:     freq.NewPoly(0, d.Cms*d.Bl*d.Bl).Mul(num),
		spring:   num,
		cone:     num.Scale(d.Bl * d.Cms),
		coneFlow: flow.Mul(num),
		ventFlow: flow.Mul(port).Scale(-1),
		netFlow:  flow.Mul(box),
		area:     net.area,
	}
	if net.area > 0 {
		c.ventMove = port.Scale(-d.Sd * d.Bl * d.Cms / net.area)
	}
	if !finite(c.dc) {
		return circuit{}, beyond()
	}
	for _, p := range []freq.Poly{c.mech, c.back, c.cone, c.coneFlow, c.ventFlow, c.ventMove, c.netFlow} {
		if !finite(p.E[:]...) || !finite(p.O[:]...) {
			return circuit{}, beyond()
		}
	}
	return c, nil
}

// beyond is the error of quantities that are valid one by one.
func beyond() error {
	return errors.New("enclosure: driver and box together have quantities beyond what float64 holds, want smaller or larger ones: are the units right?")
}

// finite reports whether no value is NaN or infinite.
func finite(v ...float64) bool {
	for _, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// positive reports whether all values are finite and above 0.
func positive(v ...float64) bool { return finite(v...) && slices.Min(v) > 0 }

// pointwise is a transfer of a driver whose coil is no ratio of polynomials (or
// one of too high a degree), or whose compliance changes with frequency: num, or
// mech if it is electrical, over the common denominator, or inverse.
type pointwise struct {
	coil               driver.Coil
	suspension         driver.Suspension // nil: constant
	dc                 float64
	mech, spring, back freq.Poly
	num                freq.Poly
	electrical         bool
	inverse            bool
}

// ResponseTo implements [freq.Transfer].
func (t *pointwise) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = t.coil.ImpedanceTo(freq.Dst(dst, g.Len()), g)
	for i, zc := range dst {
		hz := g.At(i)
		mech := t.mech.At(hz)
		if t.suspension != nil {
			// All is over s·Cms; with C in its place the suspension's 1/(s·C) is
			// Cms/C there instead of 1.
			mech += (1/t.suspension.Relative(hz) - 1) * t.spring.At(hz)
		}
		num, den := mech, (complex(t.dc, 0)+zc)*mech+t.back.At(hz)
		if !t.electrical {
			num = t.num.At(hz)
		}
		if t.inverse {
			num, den = den, num
		}
		dst[i] = num / den
	}
	return dst
}

// CheckGrid implements [freq.Sampled]: a coil or a suspension may be known on a
// grid only.
func (t *pointwise) CheckGrid(g *freq.Grid) error { return checkGrid(g, t.coil, t.suspension) }

// checkGrid returns the first error of the parts that are known on a grid only.
func checkGrid(g *freq.Grid, parts ...any) error {
	for _, part := range parts {
		if s, ok := part.(interface{ CheckGrid(*freq.Grid) error }); ok {
			if err := s.CheckGrid(g); err != nil {
				return err
			}
		}
	}
	return nil
}
