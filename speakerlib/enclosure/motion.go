package enclosure

import (
	"fmt"
	"math"

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
// are immutable and share one denominator.
type Motion struct {
	Impedance *freq.PolyRatio // at the source, Source included, Ω
	Current   *freq.PolyRatio // A/V
	Cone      *freq.PolyRatio // displacement of the cone, outward, m/V
	ConeFlow  *freq.PolyRatio // volume velocity of the cone, outward, m³/s per V
	VentFlow  *freq.PolyRatio // volume velocity of the vents, outward, m³/s per V; zero without vents
	VentAir   *freq.PolyRatio // mean air speed in the vents, m/s per V; zero without vents
	Pressure  *freq.PolyRatio // sound pressure at 1 m in half space, Pa/V
}

// PressureBasis returns what the pressure of a motion is: per volt, in half
// space at 1 m, with time zero at the cone (no time of flight).
func PressureBasis() freq.Basis {
	return freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 1}
}

// Motion solves the circuit
//
//	U₀ = (Rs + Re + Zc)·i + Bl·v,  Bl·i = Zm·v,
//	Zm = Rms + jωMms + 1/(jωCms) + Sd²·Zb
//
// with the impedance Zb of the box's [Box] seen by the cone. The pressure is that
// of the net volume velocity, cone, vent and leak together, which is the flow
// into the compliance of the box (R. H. Small, JAES 21, 1973):
//
//	p = jωρ·U/(2π·1 m)
//
// Valid while the box is small against the wavelength and the cone moves as one
// piece. The coil must be a [driver.RationalCoil].
func (m Mounted) Motion() (*Motion, error) {
	if err := m.Driver.Validate(); err != nil {
		return nil, err
	}
	if m.Box == nil {
		return nil, fmt.Errorf("enclosure: driver has no box, want one (InfiniteBaffle is one)")
	}
	if err := m.Air.Validate(); err != nil {
		return nil, err
	}
	if err := m.Box.Validate(m.Air); err != nil {
		return nil, err
	}
	if !(m.Source >= 0) || math.IsInf(m.Source, 0) {
		return nil, fmt.Errorf("enclosure: source resistance is %g ohm, want a finite value ≥ 0", m.Source)
	}
	d := m.Driver
	coil := d.Coil
	if coil == nil {
		coil = driver.NoCoil{}
	}
	rational, ok := coil.(driver.RationalCoil)
	if !ok {
		return nil, fmt.Errorf("enclosure: coil is a %T, want one whose impedance is a ratio of polynomials", coil)
	}
	zn, zd := rational.Rational()
	net := m.Box.network(m.Air)
	num, den, box, port := net.admittance()

	// Zm = mech/back, both over s·Cms and the numerator of the admittance.
	back := freq.NewPoly(0, d.Cms).Mul(num)
	mech := freq.NewPoly(1, d.Rms*d.Cms, d.Mms*d.Cms).Mul(num).Add(freq.NewPoly(0, d.Cms*d.Sd*d.Sd).Mul(den))
	ze := zn.Add(zd.Scale(d.Re + m.Source)) // over zd
	total := ze.Mul(mech).Add(zd.Mul(back).Scale(d.Bl * d.Bl))
	over := func(p freq.Poly) *freq.PolyRatio { return &freq.PolyRatio{Num: p, Den: total} }

	// v = Bl·zd·back/total; a flow that goes into the branch b of the box is
	// Sd·v·b/num, so that num cancels.
	force := zd.Scale(d.Bl * d.Cms)
	flow := freq.NewPoly(0, d.Sd).Mul(force)
	vent := port.Scale(-1).Mul(flow)
	out := &Motion{
		Impedance: &freq.PolyRatio{Num: total, Den: zd.Mul(mech)},
		Current:   over(zd.Mul(mech)),
		Cone:      over(force.Mul(num)),
		ConeFlow:  over(flow.Mul(num)),
		VentFlow:  over(vent),
		VentAir:   over(freq.Poly{}),
		Pressure:  over(freq.NewPoly(0, m.Air.Density/(2*math.Pi)).Mul(flow).Mul(box)),
	}
	if net.area > 0 {
		out.VentAir = over(vent.Scale(1 / net.area))
	}
	return out, nil
}
