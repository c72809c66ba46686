package largesignal

import "fmt"

// Method is how the equations are solved.
type Method int

// The methods, both of fourth order with a fixed step of one sample.
const (
	Auto Method = iota // RK4 where the coil is slow against the step, else ARK4
	RK4                // the classic Runge–Kutta method; explicit
	ARK4               // the additive one of Kennedy and Carpenter; the coil implicit
)

// String names the method.
func (m Method) String() string {
	switch m {
	case Auto:
		return "automatic"
	case RK4:
		return "RK4"
	case ARK4:
		return "ARK4"
	}
	return fmt.Sprintf("Method(%d)", int(m))
}

// The bound of stability of RK4 on the negative real axis is 2.785; up to quick the
// method is chosen by itself, where it also follows how a coil settles.
const (
	unstable = 2.785
	quick    = 0.5
)

// stiffness returns a bound of the fastest rate of the coil, 1/s: all resistances in
// series over the smallest inductance, or the ladder's own.
func (m *Model) stiffness() float64 {
	r := m.re + m.source
	low, own := m.le.least, 0.0
	for k := range m.coil.n {
		r += m.coil.r[k]
		own += m.coil.r[k] / m.coil.l[k]
	}
	if m.options.Heat != nil {
		r += m.re // up to a coil of twice its resistance
	}
	return r/(m.coil.le*low) + own
}

func (m *Model) method(h float64) Method {
	switch {
	case m.options.Method != Auto:
		return m.options.Method
	case m.stiffness()*h <= quick:
		return RK4
	}
	return ARK4
}
