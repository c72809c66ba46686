package signalpath

import (
	"fmt"
	"math"
	"reflect"
	"slices"

	"example.org/loudspeaker/speakerlib/freq"
)

// Element is a part of a path: [Amplifier], [ADC], [Processor], [RateConverter], [DAC],
// [OutputFilter], [Cable], [SeriesCapacitor] or [Resistor].
type Element interface {
	// Label returns the name of the element, which is its own within a path.
	Label() string
	// Validate reports values that the element cannot have.
	Validate() error

	in() terminal
	out() terminal
}

// byValue reports an element that is nil or a pointer: what an element must not exceed, its
// offset and its clock are found by its type, which is that of a value.
func byValue(e Element) error {
	if e == nil {
		return fmt.Errorf("is nil, want one")
	}
	if reflect.TypeOf(e).Kind() == reflect.Pointer {
		return fmt.Errorf("is a %T, want the value and not a pointer to it", e)
	}
	return nil
}

// terminal is what goes in or comes out of an element: volts, or samples at a rate.
type terminal struct{ rate float64 } // Hz; 0: volts

func (t terminal) String() string {
	if t.rate == 0 {
		return "volts"
	}
	return fmt.Sprintf("samples at %g Hz", t.rate)
}

// block is an element whose output does not act back on its input.
type block interface {
	Element
	// transfer is the response from the input to the output without a load, without the
	// pure delay.
	transfer(g *freq.Grid) ([]complex128, error)
	// noise is the density at the output without a load, for the transfer there.
	noise(g *freq.Grid, h []complex128) ([]float64, error)
	// delay is the pure delay.
	delay() latency
}

// latency is a pure delay: samples at a rate, and seconds besides.
type latency struct{ samples, rate, seconds float64 }

func (l latency) total() float64 {
	if l.rate == 0 {
		return l.seconds
	}
	return l.samples/l.rate + l.seconds
}

// feeder is a block with an analogue output.
type feeder interface {
	output(g *freq.Grid) ([]complex128, error)
} // Ω

// taker is a block with an analogue input.
type taker interface{ input() float64 } // S

// passive is a ladder of arms.
type passive interface {
	Element
	arms(g *freq.Grid) []arm
}

// arm is an impedance in the way of the signal, or across it.
type arm struct {
	name   string
	across bool
	z      []complex128 // Ω; its real part makes thermal noise
}

// value is a value with its name in an error.
type value struct {
	what, unit string
	v          float64
}

func positive(name string, values ...value) error {
	for _, v := range values {
		if !(v.v > 0) || math.IsInf(v.v, 0) {
			return fmt.Errorf("signalpath: %s of %q is %g %s, want a finite value > 0", v.what, name, v.v, v.unit)
		}
	}
	return nil
}

func notNegative(name string, values ...value) error {
	for _, v := range values {
		if !(v.v >= 0) || math.IsInf(v.v, 0) {
			return fmt.Errorf("signalpath: %s of %q is %g %s, want a finite value ≥ 0", v.what, name, v.v, v.unit)
		}
	}
	return nil
}

func finite(name string, v value) error {
	if math.IsNaN(v.v) || math.IsInf(v.v, 0) {
		return fmt.Errorf("signalpath: %s of %q is %g %s, want a finite value", v.what, name, v.v, v.unit)
	}
	return nil
}

func named(name string) error {
	if name == "" {
		return fmt.Errorf("signalpath: an element has no name, want one that is its own")
	}
	return nil
}

// about wraps an error about a part of an element.
func about(name string, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("signalpath: %q: %w", name, err)
}

// quantity reports a response that states another quantity than is wanted. What states none, a
// filter or a model, is taken at its word.
func quantity(name, what string, t freq.Transfer, want ...freq.Quantity) error {
	r, ok := t.(freq.Response)
	if !ok || slices.Contains(want, r.Basis().Quantity) {
		return nil
	}
	return fmt.Errorf("signalpath: %s of %q is %v, want %v", what, name, r.Basis(), freq.Basis{Quantity: want[0]})
}

// evaluate returns a transfer on a grid, ones if there is none.
func evaluate(name string, t freq.Transfer, g *freq.Grid) ([]complex128, error) {
	if t == nil {
		h := make([]complex128, g.Len())
		for i := range h {
			h[i] = 1
		}
		return h, nil
	}
	if err := freq.CheckGrid(t, g); err != nil {
		return nil, about(name, err)
	}
	h := t.ResponseTo(nil, g)
	for i, v := range h {
		if m := math.Hypot(real(v), imag(v)); math.IsNaN(m) || math.IsInf(m, 0) {
			return nil, fmt.Errorf("signalpath: response of %q is %v at %g Hz, want a finite value", name, v, g.At(i))
		}
	}
	return h, nil
}
