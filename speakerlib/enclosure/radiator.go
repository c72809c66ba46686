package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
)

// Radiator is one or more equal passive radiators: a diaphragm without a motor.
// Acoustically n of them are the mass, compliance and resistance
//
//	Map = Mmp/(n·Sp²),  Cap = n·Sp²·Cmp,  Rap = Rmp/(n·Sp²)
//
// in series (R. H. Small, "Passive-Radiator Loudspeaker Systems, Part I: Analysis",
// J. Audio Eng. Soc. 22, 1974).
type Radiator struct {
	Mmp   float64 // moving mass with the air load and what was added to it, kg
	Cmp   float64 // compliance of the suspension, m/N
	Rmp   float64 // mechanical loss resistance, kg/s; 0: none
	Sp    float64 // effective area, m²
	Count int     // 1 or more
}

// RadiatorOf returns one passive radiator from its resonance, Hz, its Q there, its
// volume of compliance Vap, m³, and its area Sp, m²:
//
//	Cmp = Vap/(ρc²·Sp²),  Mmp = 1/(ωp²·Cmp),  Rmp = ωp·Mmp/Qmp
//
// A Qmp of 0 is no loss.
func RadiatorOf(fp, qmp, vap, sp float64, m air.Medium) (Radiator, error) {
	if err := m.Validate(); err != nil {
		return Radiator{}, err
	}
	if !positive(fp, vap, sp) || !(qmp >= 0) || math.IsInf(qmp, 0) {
		return Radiator{}, fmt.Errorf("enclosure: passive radiator has Fp %g Hz, Qmp %g, Vap %g m³ and Sp %g m², want finite values > 0", fp, qmp, vap, sp)
	}
	w := 2 * math.Pi * fp
	r := Radiator{Cmp: vap / (m.Stiffness() * sp * sp), Sp: sp, Count: 1}
	r.Mmp = 1 / (w * w * r.Cmp)
	if qmp > 0 {
		r.Rmp = w * r.Mmp / qmp
	}
	return r, r.Validate()
}

// Validate reports a parameter that is not positive and finite.
func (r Radiator) Validate() error {
	for _, v := range []struct {
		name, unit string
		value      float64
	}{{"Mmp", "kg", r.Mmp}, {"Cmp", "m/N", r.Cmp}, {"Sp", "m²", r.Sp}} {
		if !positive(v.value) {
			return fmt.Errorf("enclosure: passive radiator has %s = %g %s, want a finite value > 0", v.name, v.value, v.unit)
		}
	}
	if !(r.Rmp >= 0) || math.IsInf(r.Rmp, 0) {
		return fmt.Errorf("enclosure: passive radiator has Rmp = %g kg/s, want a finite value ≥ 0", r.Rmp)
	}
	if r.Count < 1 {
		return fmt.Errorf("enclosure: %d passive radiators, want at least 1", r.Count)
	}
	if _, mass, stiffness, resistance := r.acoustic(); !positive(mass, stiffness) || !finite(resistance) {
		return beyond()
	}
	return nil
}

// acoustic returns the elements of all radiators together.
func (r Radiator) acoustic() (area, mass, stiffness, resistance float64) {
	s2 := float64(r.Count) * r.Sp * r.Sp
	return r.Area(), r.Mmp / s2, 1 / (s2 * r.Cmp), r.Rmp / s2
}

// Area returns the area of all radiators together, m².
func (r Radiator) Area() float64 { return float64(r.Count) * r.Sp }

// Fp returns the resonance in free air, Hz; near it the radiator cancels the cone.
func (r Radiator) Fp() float64 { return 1 / (2 * math.Pi * math.Sqrt(r.Mmp*r.Cmp)) }

// Qmp returns the mechanical quality factor at Fp; +Inf without loss.
func (r Radiator) Qmp() float64 { return math.Sqrt(r.Mmp/r.Cmp) / r.Rmp }

// Tuning returns the resonance with a net volume, Hz: the mass on the suspension and
// on the air of the box,
//
//	ωb² = (1/Cap + ρc²/Vb)/Map
func (r Radiator) Tuning(vb float64, m air.Medium) float64 {
	_, mass, stiffness, _ := r.acoustic()
	return math.Sqrt((stiffness+m.Stiffness()/vb)/mass) / (2 * math.Pi)
}

// MassFor returns the radiator with the moving mass that tunes a net volume to fb:
// the inverse of [Radiator.Tuning]. The radiator's own mass is not looked at, its
// losses stay.
func (r Radiator) MassFor(fb, vb float64, m air.Medium) (Radiator, error) {
	if err := checkVolume(vb, m); err != nil {
		return Radiator{}, err
	}
	if !positive(fb) {
		return Radiator{}, fmt.Errorf("enclosure: tuning is %g Hz, want a finite frequency > 0", fb)
	}
	r.Mmp = 1
	if err := r.Validate(); err != nil {
		return Radiator{}, err
	}
	w := 2 * math.Pi * fb
	r.Mmp = (1/r.Cmp + float64(r.Count)*r.Sp*r.Sp*m.Stiffness()/vb) / (w * w)
	return r, r.Validate()
}

// PassiveRadiator is a box with passive radiators in the place of vents. In its
// motion VentFlow and VentAir are those of the diaphragms.
type PassiveRadiator struct {
	Vb       float64 // net volume, m³
	Radiator Radiator
	Losses   Losses // at [PassiveRadiator.Fb]; QP must be 0, it is in Rmp
	Fill     Fill   // fibre in the air; the losses are beside its own
}

// Validate implements [Box].
func (b PassiveRadiator) Validate(m air.Medium) error {
	if err := checkVolume(b.Vb, m); err != nil {
		return err
	}
	if err := b.Losses.validate(); err != nil {
		return err
	}
	if b.Losses.QP != 0 {
		return fmt.Errorf("enclosure: a box with a passive radiator has QP = %g, want 0: its loss is Rmp", b.Losses.QP)
	}
	if err := b.Fill.lumped(); err != nil {
		return err
	}
	return b.Radiator.Validate()
}

// Fb returns the tuning, Hz.
func (b PassiveRadiator) Fb(m air.Medium) float64 { return b.Radiator.Tuning(b.Fill.felt(b.Vb), m) }

func (b PassiveRadiator) field(m air.Medium) field {
	n := b.Losses.of(b.Fill.felt(b.Vb)/m.Stiffness(), 2*math.Pi*b.Fb(m))
	n.ra += b.Fill.resistance(b.Vb)
	n.area, n.mass, n.spring, n.rp = b.Radiator.acoustic()
	return n
}
