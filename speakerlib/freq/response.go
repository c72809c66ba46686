package freq

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"example.org/loudspeaker/speakerlib/level"
)

const tau = 2 * math.Pi

// Quantity is what a response is a response of.
type Quantity int

// The quantities of a study.
const (
	Dimensionless Quantity = iota // a ratio: filter, normalised response
	Pressure                      // sound pressure, Pa
	Impedance                     // electrical impedance, Ω
	Displacement                  // of a cone, m
	Velocity                      // of a cone or of the air in a vent, m/s
	VolumeFlow                    // volume velocity, m³/s
	Current                       // A
	Voltage                       // V
)

var quantities = [...]struct{ name, unit string }{
	{"ratio", "1"}, {"sound pressure", "Pa"}, {"impedance", "Ω"}, {"displacement", "m"},
	{"velocity", "m/s"}, {"volume velocity", "m³/s"}, {"current", "A"}, {"voltage", "V"},
}

// String returns the name of the quantity.
func (q Quantity) String() string {
	if q < 0 || int(q) >= len(quantities) {
		return fmt.Sprintf("Quantity(%d)", int(q))
	}
	return quantities[q].name
}

// Unit returns the SI unit of the quantity.
func (q Quantity) Unit() string {
	if q < 0 || int(q) >= len(quantities) {
		return "?"
	}
	return quantities[q].unit
}

// Reference is the input that a response is divided by.
type Reference int

// The references.
const (
	Absolute     Reference = iota // not divided
	PerTerminals                  // per volt at the terminals of the way
	PerInput                      // per volt at the input of the loudspeaker or chain
	PerFullScale                  // per digital full scale at the input of the chain
)

// String says the reference in words.
func (r Reference) String() string {
	switch r {
	case Absolute:
		return "absolute"
	case PerTerminals:
		return "per volt at the way's terminals"
	case PerInput:
		return "per volt at the input"
	case PerFullScale:
		return "per full scale at the input"
	}
	return fmt.Sprintf("Reference(%d)", int(r))
}

// Space is the space that a source radiates into.
type Space int

// The spaces.
const (
	NotRadiated Space = iota // not a sound pressure in a space
	HalfSpace                // 2π: in an infinite baffle
	FullSpace                // 4π: free field
	NearField                // close to the diaphragm or vent: no space yet
)

// String says the space in words.
func (s Space) String() string {
	switch s {
	case NotRadiated:
		return "not radiated"
	case HalfSpace:
		return "half space"
	case FullSpace:
		return "full space"
	case NearField:
		return "near field"
	}
	return fmt.Sprintf("Space(%d)", int(s))
}

// Basis states what a response is: no level means anything without it.
type Basis struct {
	Quantity Quantity
	Per      Reference
	Space    Space
	Distance float64 // metres from the reference point; 0 where it means nothing
}

// String says the basis in words, as a caption does.
func (b Basis) String() string {
	s := b.Quantity.String()
	if b.Per != Absolute {
		s += " " + b.Per.String()
	}
	if b.Space != NotRadiated {
		s += ", " + b.Space.String()
	}
	if b.Distance > 0 {
		s += fmt.Sprintf(", %g m", b.Distance)
	}
	return s
}

// Response is a complex response on a grid, with a label and a basis. It is
// immutable: Values returns a copy.
type Response struct {
	grid   *Grid
	values []complex128
	label  string
	basis  Basis
}

// NewResponse returns the response with a copy of the values, which must be
// finite and as many as the grid has frequencies.
func NewResponse(g *Grid, values []complex128, label string, b Basis) (Response, error) {
	if g == nil {
		return Response{}, fmt.Errorf("freq: response %q has no grid", label)
	}
	if len(values) != g.Len() {
		return Response{}, fmt.Errorf("freq: response %q has %d values, want %d as the grid (%v)", label, len(values), g.Len(), g)
	}
	for i, v := range values {
		if cmplx.IsNaN(v) || cmplx.IsInf(v) {
			return Response{}, fmt.Errorf("freq: response %q is %v at %g Hz, want finite values", label, v, g.At(i))
		}
	}
	return Response{grid: g, values: slices.Clone(values), label: label, basis: b}, nil
}

// Evaluate writes a transfer down on a grid. It refuses one that holds responses
// of another grid, or that is not finite somewhere.
func Evaluate(t Transfer, g *Grid, label string, b Basis) (Response, error) {
	if err := CheckGrid(t, g); err != nil {
		return Response{}, fmt.Errorf("%w (for %q)", err, label)
	}
	return NewResponse(g, t.ResponseTo(nil, g), label, b)
}

// Grid returns the grid.
func (r Response) Grid() *Grid { return r.grid }

// Len returns the number of points.
func (r Response) Len() int { return len(r.values) }

// At returns the value at point i.
func (r Response) At(i int) complex128 { return r.values[i] }

// Values returns a copy of the values.
func (r Response) Values() []complex128 { return slices.Clone(r.values) }

// Label returns the label.
func (r Response) Label() string { return r.label }

// Basis returns what the response is.
func (r Response) Basis() Basis { return r.basis }

// As returns the same response with another label.
func (r Response) As(label string) Response { r.label = label; return r }

// Stated returns the same response with another basis: for the one who knows
// what a conversion outside this package has made of it.
func (r Response) Stated(b Basis) Response { r.basis = b; return r }

// Magnitude returns |r|, in the unit of the quantity.
func (r Response) Magnitude() Curve {
	c := r.curve(r.basis.Quantity.Unit())
	for i, v := range r.values {
		c.values[i] = cmplx.Abs(v)
	}
	return c
}

// DB returns 20·log10 |r|/ref in decibels; ref is in the unit of the quantity
// and positive. For sound pressure levels at a drive of u volt rms the reference
// is level.Reference/u.
func (r Response) DB(ref float64) Curve {
	if !(ref > 0) {
		panic("freq: reference of a level is not positive")
	}
	c := r.curve("dB")
	level.OfComplex(c.values, r.values)
	offset := level.DB(ref)
	for i := range c.values {
		c.values[i] -= offset
	}
	return c
}

// SPL returns the sound pressure level in decibels re 20 µPa rms of a response per
// volt, at a drive in volts rms. The curve is no longer per volt, and its basis
// says so. It panics if the drive is not positive.
func (r Response) SPL(volts float64) Curve {
	if !(volts > 0) {
		panic("freq: drive of a level is not positive")
	}
	c := r.DB(level.Reference / volts)
	c.basis.Per = Absolute
	return c
}

// Phase returns the unwrapped phase in radians, which starts within ±π at the
// lowest frequency. Unwrapping needs a grid that is fine enough for the phase to
// turn by less than π from point to point.
func (r Response) Phase() Curve {
	c := r.curve("rad")
	var last, turns float64
	for i, v := range r.values {
		p := cmplx.Phase(v)
		if i > 0 {
			turns -= math.Round((p - last) / tau)
		}
		last = p
		c.values[i] = p + turns*tau
	}
	return c
}

// Mul returns r·s on their common grid, with the label and basis of r.
func (r Response) Mul(s Response) (Response, error) {
	return r.combine(s, "product of", func(a, b complex128) complex128 { return a * b })
}

// Add returns r + s on their common grid, with the label and basis of r. The
// two must state the same basis: pressures in half space at 1 m do not add to
// pressures in full space at 2 m.
func (r Response) Add(s Response) (Response, error) {
	if r.basis != s.basis {
		return Response{}, fmt.Errorf("freq: sum of %q (%v) and %q (%v): want the same basis", r.label, r.basis, s.label, s.basis)
	}
	return r.combine(s, "sum of", func(a, b complex128) complex128 { return a + b })
}

// Over returns the ratio r/s on their common grid. It is dimensionless if both
// state the same basis, and keeps the basis of r otherwise.
func (r Response) Over(s Response) (Response, error) {
	out, err := r.combine(s, "ratio of", func(a, b complex128) complex128 { return a / b })
	if err == nil && r.basis == s.basis {
		out.basis = Basis{}
	}
	return out, err
}

func (r Response) combine(s Response, what string, op func(a, b complex128) complex128) (Response, error) {
	if !r.grid.Equal(s.grid) {
		return Response{}, mismatch(fmt.Sprintf("%s %q and %q", what, r.label, s.label), r.grid, s.grid)
	}
	v := make([]complex128, len(r.values))
	for i := range v {
		v[i] = op(r.values[i], s.values[i])
	}
	return NewResponse(r.grid, v, r.label, r.basis)
}

func (r Response) curve(unit string) Curve {
	return Curve{grid: r.grid, values: make([]float64, len(r.values)), label: r.label, unit: unit, basis: r.basis}
}
