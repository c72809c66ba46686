package signalpath

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Driver is the end of a path: what loads it, and what it makes of the volts at its terminals.
type Driver struct {
	Name      string
	Impedance freq.Transfer // Ω, in its box
	Pressure  freq.Transfer // Pa per volt at the terminals
	// Basis says what Pressure is; the zero value is what a [freq.Response] states of itself.
	Basis        freq.Basis
	Displacement freq.Transfer // m per volt at the terminals; nil: not known
	Radius       float64       // m, √(Sd/π), for the sound close to it; 0: sound is taken to fall as 1/r
	Re           float64       // Ω, resistance of the coil, for its thermal noise; 0: without
}

// basis returns what the pressure is.
func (d Driver) basis() freq.Basis {
	if r, ok := d.Pressure.(freq.Response); ok && d.Basis == (freq.Basis{}) {
		return r.Basis()
	}
	return d.Basis
}

// Validate reports what is missing, and a pressure that does not state where it is.
func (d Driver) Validate() error {
	if d.Impedance == nil {
		return fmt.Errorf("signalpath: driver %q has no impedance, want the load of the path", d.Name)
	}
	if r, ok := d.Impedance.(freq.Response); ok && r.Basis().Quantity != freq.Impedance {
		return fmt.Errorf("signalpath: load of driver %q is %v, want an impedance", d.Name, r.Basis())
	}
	if d.Pressure == nil {
		return fmt.Errorf("signalpath: driver %q has no sound pressure, want that per volt at its terminals", d.Name)
	}
	b := d.basis()
	if b.Quantity != freq.Pressure || b.Per != freq.PerTerminals {
		return fmt.Errorf("signalpath: response of driver %q is %v, want a pressure per volt at the terminals", d.Name, b)
	}
	if (b.Space != freq.HalfSpace && b.Space != freq.FullSpace) || !(b.Distance > 0) || math.IsInf(b.Distance, 0) {
		return fmt.Errorf("signalpath: response of driver %q is %v at %g m, want half or full space at a distance > 0", d.Name, b, b.Distance)
	}
	if r, ok := d.Pressure.(freq.Response); ok && b != r.Basis() {
		return fmt.Errorf("signalpath: response of driver %q is %v and is said to be %v, want one of both", d.Name, r.Basis(), b)
	}
	if err := quantity(d.Name, "displacement", d.Displacement, freq.Displacement); err != nil {
		return err
	}
	return notNegative(d.Name, value{"radius", "m", d.Radius}, value{"resistance", "Ω", d.Re})
}

// Path is one way from the source to its driver: the elements in the order in which the signal
// passes them. What goes in is volts if the first element takes volts, else samples.
type Path struct {
	Name     string
	Elements []Element
	Driver   Driver
	// SourceResistance is that of the device that feeds an analogue input, in ohm: it makes
	// thermal noise, and is loaded by the input.
	SourceResistance float64
	// Kelvin is the temperature of all resistances; 0: 293.15 K.
	Kelvin float64
}

// Digital reports whether the path takes samples.
func (p Path) Digital() bool { return len(p.Elements) > 0 && p.Elements[0].in().rate > 0 }

// Validate reports elements that are faulty or of one name, neighbours that do not go together,
// and a path that does not end in volts at a driver.
func (p Path) Validate() error {
	if p.Name == "" {
		return fmt.Errorf("signalpath: a path has no name, want that of its way")
	}
	if len(p.Elements) == 0 {
		return fmt.Errorf("signalpath: path %q has no elements, want at least an amplifier", p.Name)
	}
	seen := map[string]bool{}
	for i, e := range p.Elements {
		if err := byValue(e); err != nil {
			return fmt.Errorf("signalpath: element %d of path %q %w", i+1, p.Name, err)
		}
		if err := e.Validate(); err != nil {
			return fmt.Errorf("path %q: %w", p.Name, err)
		}
		if seen[e.Label()] {
			return fmt.Errorf("signalpath: path %q has two elements %q, want a name for each", p.Name, e.Label())
		}
		seen[e.Label()] = true
		if i > 0 {
			if err := join(p.Elements[i-1], e); err != nil {
				return fmt.Errorf("signalpath: path %q: %w", p.Name, err)
			}
		}
	}
	if last := p.Elements[len(p.Elements)-1]; last.out().rate != 0 {
		return fmt.Errorf("signalpath: path %q ends at %q with %v, want volts for its driver", p.Name, last.Label(), last.out())
	}
	if _, ladder := p.Elements[0].(passive); ladder && p.SourceResistance == 0 {
		return fmt.Errorf("signalpath: path %q begins with %q and has no source resistance, want one or a stage before it", p.Name, p.Elements[0].Label())
	}
	if err := notNegative(p.Name, value{"source resistance", "Ω", p.SourceResistance}, value{"temperature", "K", p.Kelvin}); err != nil {
		return err
	}
	if p.Digital() && p.SourceResistance != 0 {
		return fmt.Errorf("signalpath: path %q takes samples and has a source of %g Ω, want none", p.Name, p.SourceResistance)
	}
	if err := p.Driver.Validate(); err != nil {
		return fmt.Errorf("path %q: %w", p.Name, err)
	}
	return nil
}

// join reports whether one element can feed another.
func join(a, b Element) error {
	out, in := a.out(), b.in()
	switch {
	case out == in:
		return nil
	case out.rate == 0:
		return fmt.Errorf("%q takes %v and gets volts from %q, want an A/D converter between them", b.Label(), in, a.Label())
	case in.rate == 0:
		return fmt.Errorf("%q takes volts and gets %v from %q, want a D/A converter between them", b.Label(), out, a.Label())
	}
	return fmt.Errorf("%q takes %v and gets %v from %q, off by %+.4g %%, want a rate converter between them",
		b.Label(), in, out, a.Label(), (out.rate/in.rate-1)*100)
}

// With returns the path with the element of the same name replaced by e.
func (p Path) With(e Element) (Path, error) {
	if err := byValue(e); err != nil {
		return Path{}, fmt.Errorf("signalpath: element for path %q %w", p.Name, err)
	}
	i, err := p.index(e.Label())
	if err != nil {
		return Path{}, err
	}
	q := p
	q.Elements = append([]Element(nil), p.Elements...)
	q.Elements[i] = e
	return q, nil
}

func (p Path) index(name string) (int, error) {
	for i, e := range p.Elements {
		if e != nil && e.Label() == name {
			return i, nil
		}
	}
	return 0, fmt.Errorf("signalpath: path %q has no element %q", p.Name, name)
}

func (p Path) kelvin() float64 {
	if p.Kelvin == 0 {
		return 293.15
	}
	return p.Kelvin
}
