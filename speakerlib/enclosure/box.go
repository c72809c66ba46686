// Package enclosure puts a driver in a box and tells what both do together.
//
// A [Box] is an acoustic network around the cone: the compliance of the air with
// its absorption, a leak, and ports. [Mounted] joins it to a driver, and
// [Motion] has all that follows, per volt: impedance, excursion, the air in the
// vent, the sound pressure in half space at 1 m. They are ratios of polynomials in
// jω that share one denominator, if the box is lumped, the coil's impedance such a
// ratio and the suspension constant. Boxes of a [Chamber] or two may have standing waves
// ([Column]) and pipe resonances ([Pipe]) and are solved point by point.
//
// [Align], [AlignClosed] and [AlignBandpass] find the box for a driver from the
// polynomials that define an alignment, and a [Book] finds vent and net volume of a
// cabinet. All of it holds for small signals, but for [Mounted.AtLevel], which has the
// loss of vents at high air speeds.
package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
)

// Box is what is around a cone. [InfiniteBaffle], [Closed], [Vented] and
// [PassiveRadiator] are lumped and ratios of polynomials; [Cabinet], [Bandpass4],
// [Bandpass6] and [DoubleChamber] are made of chambers and ports that may have
// waves in them, and are solved point by point.
type Box interface {
	// Validate reports what is wrong with it.
	Validate(m air.Medium) error
	field(m air.Medium) field
}

// network is the acoustic circuit that the back of a cone sees. The air of the
// box has the compliance cab, m³/Pa, in series with the absorption ra, Pa·s/m³;
// beside it stand a leak of conductance leak, m³/(Pa·s), and a port of mass
// mass, kg/m⁴, resistance rp, Pa·s/m³, and stiffness spring, Pa/m³. A branch that
// is not there is zero. It is a [field] that is a ratio of polynomials.
type network struct {
	cab, ra, leak    float64
	mass, rp, spring float64
	area             float64 // of the port, m², all vents together
	vent             Vent    // the port, if it is a vent: for its loss at high speeds
}

// finite reports whether all elements are finite, and those that divide not 0.
func (n network) finite() bool {
	return finite(n.cab, n.ra, n.leak, n.mass, n.rp, n.spring) && (n.area == 0 || finite(1/n.area)) && (n == network{} || n.cab > 0)
}

// admittance returns Y(s) = num/den of the whole, and the part of a flow that
// goes into the air of the box and into the port, each over num:
//
//	Y = s·C/(1+s·C·ra) + leak + 1/(rp + s·mass + spring/s)
func (n network) admittance() (num, den, box, port freq.Poly) {
	if n.cab == 0 { // open to another half space: no load
		return freq.NewPoly(1), freq.Poly{}, freq.NewPoly(1), freq.Poly{}
	}
	compliance := freq.NewPoly(0, n.cab)
	series := freq.NewPoly(1, n.cab*n.ra)
	leak := series.Scale(n.leak)
	if n.mass == 0 {
		return compliance.Add(leak), series, compliance, freq.Poly{}
	}
	p, through := freq.NewPoly(n.rp, n.mass), series
	if n.spring > 0 { // times s
		p, through = freq.NewPoly(n.spring, n.rp, n.mass), series.Mul(freq.NewPoly(0, 1))
	}
	num = compliance.Add(leak).Mul(p).Add(through)
	return num, series.Mul(p), compliance.Mul(p), through
}

// InfiniteBaffle is no box: the back radiates into another half space.
type InfiniteBaffle struct{}

// Validate implements [Box].
func (InfiniteBaffle) Validate(air.Medium) error { return nil }
func (InfiniteBaffle) field(air.Medium) field    { return network{} }

// Losses are the quality factors of a box at its resonance, as R. H. Small
// defines them ("Vented-Box Loudspeaker Systems", JAES 21, 1973), with ωb = 2π·fb:
//
//	QL = ωb·Cab·Ral   the leak beside the air of the box
//	QA = 1/(ωb·Cab·Rab)   absorption in series with it
//	QP = 1/(ωb·Cab·Rap)   the resistance in series with the port's mass
//
// A zero means that the loss is not there.
type Losses struct{ QL, QA, QP float64 }

func (l Losses) validate() error {
	for _, v := range []struct {
		name string
		q    float64
	}{{"QL", l.QL}, {"QA", l.QA}, {"QP", l.QP}} {
		if !(v.q >= 0) || math.IsInf(v.q, 0) {
			return fmt.Errorf("enclosure: %s is %g, want a finite value > 0, or 0 for no such loss", v.name, v.q)
		}
	}
	return nil
}

func (l Losses) of(cab, wb float64) network {
	n := network{cab: cab}
	if l.QL > 0 {
		n.leak = wb * cab / l.QL
	}
	if l.QA > 0 {
		n.ra = 1 / (wb * cab * l.QA)
	}
	if l.QP > 0 {
		n.rp = 1 / (wb * cab * l.QP)
	}
	return n
}

// Closed is a closed box. Its losses are stated at Reference, which a closed box
// has no resonance of its own for: usually the system's fc.
type Closed struct {
	Vb        float64 // net volume, m³
	Losses    Losses  // QP must be 0
	Reference float64 // Hz; needed if there are losses
	Fill      Fill    // fibre in the air; the losses are beside its own
}

// Validate implements [Box].
func (b Closed) Validate(m air.Medium) error {
	if err := checkVolume(b.Vb, m); err != nil {
		return err
	}
	if err := b.Losses.validate(); err != nil {
		return err
	}
	if b.Losses.QP != 0 {
		return fmt.Errorf("enclosure: a closed box has QP = %g, want 0: it has no port", b.Losses.QP)
	}
	if b.Losses != (Losses{}) && !(b.Reference > 0 && !math.IsInf(b.Reference, 0)) {
		return fmt.Errorf("enclosure: losses of a closed box are stated at %g Hz, want a finite frequency > 0", b.Reference)
	}
	return b.Fill.lumped()
}

func (b Closed) field(m air.Medium) field {
	n := b.Losses.of(b.Fill.felt(b.Vb)/m.Stiffness(), 2*math.Pi*b.Reference)
	n.ra += b.Fill.resistance(b.Vb)
	return n
}

// Vented is a vented box.
type Vented struct {
	Vb     float64 // net volume, m³, the vents' own taken off
	Vent   Vent
	Losses Losses
	Fill   Fill // fibre in the air, away from the vent; the losses are beside its own
}

// Validate implements [Box].
func (b Vented) Validate(m air.Medium) error {
	if err := checkVolume(b.Vb, m); err != nil {
		return err
	}
	if err := b.Losses.validate(); err != nil {
		return err
	}
	if err := b.Fill.lumped(); err != nil {
		return err
	}
	return b.Vent.Validate()
}

// Fb returns the tuning, Hz.
func (b Vented) Fb(m air.Medium) float64 { return b.Vent.Tuning(b.Fill.felt(b.Vb), m) }

func (b Vented) field(m air.Medium) field {
	n := b.Losses.of(b.Fill.felt(b.Vb)/m.Stiffness(), 2*math.Pi*b.Fb(m))
	n.ra += b.Fill.resistance(b.Vb)
	n.mass, n.area, n.vent = b.Vent.Mass(m), b.Vent.Area(), b.Vent
	return n
}

func checkVolume(vb float64, m air.Medium) error {
	if err := m.Validate(); err != nil {
		return err
	}
	if !(vb > 0) || math.IsInf(vb, 0) {
		return fmt.Errorf("enclosure: net volume is %g m³, want a finite value > 0", vb)
	}
	if !positive(vb / m.Stiffness()) { // 0 would be taken for no box
		return beyond()
	}
	return nil
}
