package enclosure

import (
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
)

// field is the air around a cone: what it does at a frequency per unit of the
// cone's volume velocity. added are resistances in series with its ports, Pa·s/m³.
type field interface {
	at(hz float64, added [mostPorts]float64) reaction
	ports() []opening
}

// mostPorts is how many ports a box has at most, equal ones as one.
const mostPorts = 3

// reaction is the answer of a field per unit of volume velocity of the cone,
// outward.
type reaction struct {
	z     complex128            // pressure in front less that behind, Pa·s/m³
	net   complex128            // volume velocity to the outside, all together
	ports [mostPorts]complex128 // volume velocity of each port, outward
}

// opening is a port as seen from outside of it.
type opening struct {
	area    float64                                       // m², all together
	outside bool                                          // leads out, not into another chamber
	loss    func(hz, speed float64, m air.Medium) float64 // resistance added at a peak speed, Pa·s/m³; nil: none
}

// at implements field.
func (n network) at(hz float64, added [mostPorts]float64) reaction {
	if n.cab == 0 {
		return reaction{net: 1}
	}
	s := complex(0, 2*math.Pi*hz)
	box := s * complex(n.cab, 0)
	box /= 1 + box*complex(n.ra, 0)
	y := box + complex(n.leak, 0)
	var port complex128
	if n.mass > 0 {
		port = 1 / (complex(n.rp+added[0], 0) + s*complex(n.mass, 0) + complex(n.spring, 0)/s)
		y += port
	}
	z := 1 / y
	return reaction{z: z, net: box * z, ports: [mostPorts]complex128{-port * z}}
}

func (n network) ports() []opening {
	if n.mass == 0 {
		return nil
	}
	o := opening{area: n.area, outside: true}
	if n.spring == 0 {
		o.loss = n.vent.Loss
	}
	return []opening{o}
}

// quantity is one of the transfers of a motion.
type quantity int

const (
	impedance quantity = iota
	current
	cone
	coneFlow
	ventFlow
	pressure
	portFlow
	portAir
	portExcursion
)

// solver is the circuit of a driver in a field, ready to be solved at a frequency.
type solver struct {
	driver  driver.Params
	coil    driver.Coil
	dc      float64
	density float64
	field   field
	open    []opening
}

// solver returns the circuit of a valid box. Parts that are valid one by one and
// together beyond what float64 holds are an error: they are tried in the audible band.
func (m Mounted) solver() (*solver, error) {
	f := m.Box.field(m.Air)
	s := &solver{driver: m.Driver, coil: m.coil(), dc: m.Driver.Re + m.Source, density: m.Air.Density, field: f, open: f.ports()}
	for _, hz := range []float64{20, 1000} {
		r := f.at(hz, [mostPorts]float64{})
		sum := r.z + r.net + r.ports[0] + r.ports[1] + r.ports[2]
		if !finite(real(sum), imag(sum), s.dc) {
			return nil, beyond()
		}
	}
	return s, nil
}

// motional returns the mechanical impedance with the air, N·s/m, and what the air
// does.
func (s *solver) motional(hz float64, added [mostPorts]float64) (complex128, reaction) {
	d := &s.driver
	w := 2 * math.Pi * hz
	r := s.field.at(hz, added)
	spring := complex(0, -1/(w*d.Cms))
	if d.Suspension != nil {
		spring /= d.Suspension.Relative(hz)
	}
	return complex(d.Rms, w*d.Mms) + spring + complex(d.Sd*d.Sd, 0)*r.z, r
}

// value returns a quantity at a frequency, given the coil's impedance there.
func (s *solver) value(q quantity, port int, hz float64, zc complex128, added [mostPorts]float64) complex128 {
	zm, r := s.motional(hz, added)
	bl := s.driver.Bl
	total := (complex(s.dc, 0)+zc)*zm + complex(bl*bl, 0)
	switch q {
	case impedance:
		return total / zm
	case current:
		return zm / total
	}
	jw := complex(0, 2*math.Pi*hz)
	u := complex(bl*s.driver.Sd, 0) / total
	switch q {
	case cone:
		return complex(bl, 0) / (jw * total)
	case coneFlow:
		return u
	case pressure:
		return jw * complex(s.density/(2*math.Pi), 0) * u * r.net
	case ventFlow:
		sum := complex128(0)
		for k, o := range s.open {
			if o.outside {
				sum += r.ports[k]
			}
		}
		return u * sum
	}
	u *= r.ports[port]
	switch q {
	case portAir:
		u /= complex(s.open[port].area, 0)
	case portExcursion:
		u /= jw * complex(s.open[port].area, 0)
	}
	return u
}

// solved is a transfer of a driver in a field, point by point.
type solved struct {
	*solver
	quantity quantity
	port     int
}

// ResponseTo implements [freq.Transfer].
func (t *solved) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = t.coil.ImpedanceTo(freq.Dst(dst, g.Len()), g)
	var none [mostPorts]float64
	for i, zc := range dst {
		dst[i] = t.value(t.quantity, t.port, g.At(i), zc, none)
	}
	return dst
}

// CheckGrid implements [freq.Sampled].
func (t *solved) CheckGrid(g *freq.Grid) error { return checkGrid(g, t.coil, t.driver.Suspension) }

// waves returns the motion in a field that is no ratio of polynomials.
func (m Mounted) waves() (*Motion, error) {
	s, err := m.solver()
	if err != nil {
		return nil, err
	}
	of := func(q quantity, port int) freq.Transfer { return &solved{solver: s, quantity: q, port: port} }
	out := &Motion{
		Impedance: of(impedance, 0), Current: of(current, 0), Cone: of(cone, 0), ConeFlow: of(coneFlow, 0),
		VentFlow: of(ventFlow, 0), VentAir: freq.Gain(0), Pressure: of(pressure, 0),
	}
	for k := range s.open {
		out.Ports = append(out.Ports, PortMotion{Flow: of(portFlow, k), Air: of(portAir, k), Excursion: of(portExcursion, k)})
	}
	if len(out.Ports) > 0 {
		out.VentAir = out.Ports[0].Air
	}
	return out, nil
}
