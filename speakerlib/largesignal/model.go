package largesignal

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
)

// Amplifier is what the source can give. Zero means without limit.
type Amplifier struct {
	Volts   float64 // peak
	Amperes float64 // peak
}

// Options of a model. The zero value is what is usually wanted.
type Options struct {
	// Order is that of the polynomials fitted to tables, 1 to 6. 0: 6.
	Order int
	// Amplifier limits voltage and current.
	Amplifier Amplifier
	// Jet is K in the pressure K·ρ·|u|·u/2 that a vent's air at speed u loses. 0: that
	// of [enclosure.Vent.Loss] for a stroke that is long against the rounding of the
	// mouths. Negative: no such loss.
	Jet float64
	// Heat is the way of the coil's heat and what it does to Re. Nil: Re stays.
	Heat *Heat
	// Method of the solver. 0: chosen by the coil's time constant.
	Method Method
}

// Model is a driver in a box, for any level. It is immutable.
type Model struct {
	driver  driver.Params
	options Options
	fits    []Fit

	re, source float64
	coil       ladder
	// characteristics over their values at rest, and absolute ones for the fast path
	bl, kms, le *curve
	saturation  saturation
	lo, hi      float64 // the range in which all are measured

	box  box
	fast fast
}

// box is the acoustic network behind the cone, as in package enclosure.
type box struct {
	yield            float64 // 1/Cab, Pa/m³; 0: no box
	absorb, leak     float64 // Rab, Pa·s/m³, and 1/Ral
	mass, rp, spring float64 // of the port; mass 0: none
	jet              float64 // pressure over |U|·U, Pa·s²/m⁶
	area             float64 // of the port, m²
	radiator         bool
}

// New returns the model of a mounted driver whose characteristics are those of l. Values
// at rest are those of the driver; l says how they change: each of its characteristics is
// taken over its own value at rest ([Fit].Rest has the ratio). What is nil in l does not
// change.
//
// The inductance's shape over x is that of all inductances and resistances of the coil's
// ladder (common practice, no source: what eddies there are is in the same iron); that
// over the current is that of Le alone. A coil without inductance gets Le(0) of l. A
// suspension that changes with frequency is replaced by the constant one that it is at
// the driver's Fs ([driver.Params.At]).
//
// Boxes are [enclosure.InfiniteBaffle], Closed, Vented and PassiveRadiator.
func New(m enclosure.Mounted, l driver.LargeSignal, o Options) (*Model, error) {
	if err := m.Driver.Validate(); err != nil {
		return nil, err
	}
	if err := m.Air.Validate(); err != nil {
		return nil, err
	}
	if m.Box == nil {
		m.Box = enclosure.InfiniteBaffle{}
	}
	if err := m.Box.Validate(m.Air); err != nil {
		return nil, err
	}
	if !(m.Source >= 0) || math.IsInf(m.Source, 0) {
		return nil, fmt.Errorf("largesignal: source has %g Ω, want a finite value ≥ 0", m.Source)
	}
	if err := o.validate(); err != nil {
		return nil, err
	}
	if o.Order == 0 {
		o.Order = order
	}
	d, err := m.Driver.At(m.Driver.Fs())
	if err != nil {
		return nil, err
	}
	s := &Model{driver: d, options: o, re: d.Re, source: m.Source}
	if s.coil, err = ladderOf(d.Coil); err != nil {
		return nil, err
	}
	if err := s.shapes(l); err != nil {
		return nil, err
	}
	if s.box, err = boxOf(m, o); err != nil {
		return nil, err
	}
	s.coil.le = max(s.coil.le, least*(s.re+s.source))
	s.prepare(m.Air.Density)
	return s, nil
}

func (o Options) validate() error {
	if o.Order < 0 || o.Order > order {
		return fmt.Errorf("largesignal: polynomials of order %d, want 1 to %d, or 0 for %d", o.Order, order, order)
	}
	if a := o.Amplifier; !(a.Volts >= 0) || !(a.Amperes >= 0) || math.IsInf(a.Volts, 0) || math.IsInf(a.Amperes, 0) {
		return fmt.Errorf("largesignal: amplifier gives %g V and %g A, want finite values > 0, or 0 for no limit", a.Volts, a.Amperes)
	}
	if math.IsNaN(o.Jet) || math.IsInf(o.Jet, 0) {
		return fmt.Errorf("largesignal: loss of the jet is %g, want a finite value", o.Jet)
	}
	if o.Method < Auto || o.Method > ARK4 {
		return fmt.Errorf("largesignal: method %d is not known, want Auto, RK4 or ARK4", int(o.Method))
	}
	if o.Heat != nil {
		return o.Heat.validate()
	}
	return nil
}

// shapes makes the polynomials.
func (s *Model) shapes(l driver.LargeSignal) error {
	s.bl, s.kms, s.le = constant(), constant(), constant()
	s.lo, s.hi = math.Inf(-1), math.Inf(1)
	if l == (driver.LargeSignal{}) {
		return nil
	}
	if err := l.Validate(); err != nil {
		return err
	}
	take := func(name string, c *driver.Characteristic, to **curve, small, direction float64) error {
		if c == nil {
			return nil
		}
		p, f, err := fit(name, c, s.options.Order)
		if err != nil {
			return err
		}
		if direction != 0 {
			p.runOn(direction)
		}
		if small > 0 {
			f.Rest /= small
		} else {
			f.Rest = 0
		}
		*to = p
		s.lo, s.hi = max(s.lo, p.from), min(s.hi, p.to)
		s.fits = append(s.fits, f)
		return nil
	}
	if err := take("Bl(x)", l.Bl, &s.bl, s.driver.Bl, -1); err != nil {
		return err
	}
	if err := take("Kms(x)", l.Kms, &s.kms, 1/s.driver.Cms, 1); err != nil {
		return err
	}
	if s.coil.le == 0 && s.coil.n == 0 && l.Le != nil {
		s.coil.le, _ = l.Le.At(0)
	}
	if err := take("Le(x)", l.Le, &s.le, s.coil.le, 0); err != nil {
		return err
	}
	if l.LeCurrent == nil {
		return nil
	}
	c, f, err := newSaturation(l.LeCurrent, s.options.Order)
	if err != nil {
		return err
	}
	if s.coil.le > 0 {
		f.Rest /= s.coil.le
	} else {
		f.Rest = 0
	}
	s.saturation = c
	s.fits = append(s.fits, f)
	return nil
}

// Fits tells how each characteristic became a polynomial.
func (s *Model) Fits() []Fit { return append([]Fit(nil), s.fits...) }

// Range returns the displacements within which all characteristics are measured, m;
// ±Inf if none is known.
func (s *Model) Range() (from, to float64) { return s.lo, s.hi }

const heatRatio = 1.4 // of air, as [enclosure.Fill] has it

// boxOf returns the network of a box, whose definitions are those of package enclosure.
func boxOf(m enclosure.Mounted, o Options) (b box, err error) {
	air, w := m.Air, 0.0
	var losses enclosure.Losses
	var fill enclosure.Fill
	var vb float64
	switch k := m.Box.(type) {
	case enclosure.InfiniteBaffle:
		return b, nil
	case enclosure.Closed:
		losses, fill, vb, w = k.Losses, k.Fill, k.Vb, 2*math.Pi*k.Reference
	case enclosure.Vented:
		losses, fill, vb, w = k.Losses, k.Fill, k.Vb, 2*math.Pi*k.Fb(air)
		b.mass, b.area = k.Vent.Mass(air), k.Vent.Area()
		jet := o.Jet
		if jet == 0 {
			// R = K·(4/3π)·ρ·û/S, at a stroke that no rounding is long against
			const slow, speed = 1e-9, 1
			jet = k.Vent.Loss(slow, speed, air) * b.area / (4 / (3 * math.Pi) * air.Density * speed)
		}
		b.jet = max(jet, 0) * air.Density / (2 * b.area * b.area)
	case enclosure.PassiveRadiator:
		losses, fill, vb, w = k.Losses, k.Fill, k.Vb, 2*math.Pi*k.Fb(air)
		r, n := k.Radiator, float64(k.Radiator.Count)
		b.area, b.radiator = r.Area(), true
		b.mass, b.spring, b.rp = r.Mmp/(n*r.Sp*r.Sp), 1/(n*r.Sp*r.Sp*r.Cmp), r.Rmp/(n*r.Sp*r.Sp)
	default:
		return b, fmt.Errorf("largesignal: a box %T has no differential equation here, want InfiniteBaffle, Closed, Vented or PassiveRadiator", m.Box)
	}
	cab := vb * (1 + (heatRatio-1)*fill.Isothermal) / air.Stiffness()
	b.yield = 1 / cab
	b.absorb = fill.Resistivity * fill.Depth * fill.Depth / (3 * vb)
	if losses.QL > 0 {
		b.leak = w * cab / losses.QL
	}
	if losses.QA > 0 {
		b.absorb += 1 / (w * cab * losses.QA)
	}
	if losses.QP > 0 {
		b.rp += 1 / (w * cab * losses.QP)
	}
	return b, nil
}
