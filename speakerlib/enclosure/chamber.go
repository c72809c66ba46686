package enclosure

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/twoport"
)

// Column is a chamber with standing waves along its longest inner dimension, as a
// line of that length with closed ends, of area Vb/Length. Driver and port are at
// the distances given from one and the same end. The zero Column is none: the
// pressure is the same in the whole chamber.
//
// Waves across the line are not in it: it is for frequencies below c/(2·width). Its
// modes are at n·c/(2·Length); a driver or a port at a pressure node of a mode, as
// in the middle for n = 1, does not see it. Walls are rigid and lossless; a [Fill]
// damps the modes.
type Column struct {
	Length       float64 // m; 0: no waves
	Driver, Port float64 // m from one end
}

// Validate reports a place outside the column.
func (c Column) Validate() error {
	if !(c.Length >= 0) || math.IsInf(c.Length, 0) {
		return fmt.Errorf("enclosure: column is %g m long, want a finite value ≥ 0", c.Length)
	}
	for _, x := range []float64{c.Driver, c.Port} {
		if !(x >= 0 && x <= c.Length) {
			return fmt.Errorf("enclosure: column has driver and port at %g and %g m, want places within its %g m", c.Driver, c.Port, c.Length)
		}
	}
	return nil
}

// Mode returns the frequency of mode n ≥ 1 of the empty column, n·c/(2·Length), Hz.
func (c Column) Mode(n int, m air.Medium) float64 {
	return float64(n) * m.SpeedOfSound / (2 * c.Length)
}

// Chamber is a volume of air that a driver and a port, or two ports, look into. The
// losses are stated at Reference, usually its tuning: the leak is at the driver's
// place, the absorption wherever the air yields, and QP at the chamber's port.
type Chamber struct {
	Vb        float64 // net volume, m³
	Losses    Losses
	Reference float64 // Hz; needed if there are losses
	Fill      Fill
	Column    Column
}

func (c Chamber) validate(m air.Medium) error {
	if err := checkVolume(c.Vb, m); err != nil {
		return err
	}
	if err := c.Losses.validate(); err != nil {
		return err
	}
	if c.Losses != (Losses{}) && !positive(c.Reference) {
		return fmt.Errorf("enclosure: losses of a chamber are stated at %g Hz, want a finite frequency > 0", c.Reference)
	}
	if err := c.Column.Validate(); err != nil {
		return err
	}
	check := c.Fill.lumped
	if c.Column.Length > 0 {
		check = c.Fill.Validate
	}
	if err := check(); err != nil {
		return err
	}
	if r := c.room(m); !finite(r.cab, r.ra, r.leak, r.rp, r.inertance) || r.cab == 0 {
		return beyond()
	}
	return nil
}

// room is a chamber in some air.
type room struct {
	cab, ra, leak, rp float64
	length            float64 // of the column, m; 0: lumped
	near, far, mid    float64 // column beyond the driver, beyond the port, and between them, m
	inertance         float64 // of the column per metre, kg/m⁵
	flow              float64 // resistance of the column per metre, Pa·s/m⁴
}

func (c Chamber) room(m air.Medium) room {
	n := c.Losses.of(c.Fill.felt(c.Vb)/m.Stiffness(), 2*math.Pi*c.Reference)
	r := room{cab: n.cab, ra: n.ra, leak: n.leak, rp: n.rp}
	l := c.Column.Length
	if l == 0 {
		r.ra += c.Fill.resistance(c.Vb)
		return r
	}
	d, p := c.Column.Driver, c.Column.Port
	if d > p {
		d, p = l-d, l-p
	}
	r.length, r.near, r.far, r.mid = l, d, l-p, p-d
	r.inertance, r.flow = m.Density*l/c.Vb, c.Fill.Resistivity*l/c.Vb
	return r
}

// walk goes from the port's place, with the pressure p there and the flow u into
// the port, to the driver's place: pressure, flow into the chamber, and how much
// of that stays in the air and how much goes out by the leak.
func (r *room) walk(hz float64, p, u complex128) (p1, u1, stored, leaked complex128) {
	w := 2 * math.Pi * hz
	y := complex(0, w*r.cab)
	y /= 1 + y*complex(r.ra, 0)
	if r.length == 0 {
		stored = y * p
	} else {
		y /= complex(r.length, 0)
		z := complex(r.flow, w*r.inertance)
		gamma := cmplx.Sqrt(z * y)
		zc := z / gamma
		if r.far > 0 {
			sh, ch := twoport.SinhCosh(gamma * complex(r.far, 0))
			stored = p * sh / (ch * zc)
		}
		if r.mid > 0 {
			p1, u1 = twoport.Line(zc, gamma*complex(r.mid, 0)).Back(p, u+stored)
			p, stored = p1, u1-u
		}
		if r.near > 0 {
			sh, ch := twoport.SinhCosh(gamma * complex(r.near, 0))
			stored += p * sh / (ch * zc)
		}
	}
	leaked = complex(r.leak, 0) * p
	return p, u + stored + leaked, stored, leaked
}

// matrix returns the two-port from the driver's place to the port's.
func (r *room) matrix(hz float64) twoport.Matrix {
	var m twoport.Matrix
	m.A, m.C, _, _ = r.walk(hz, 1, 0)
	m.B, m.D, _, _ = r.walk(hz, 0, 1)
	return m
}

// side is a chamber beside a cone with its way out.
type side struct {
	room room
	way  way // nil: closed
}

// answer is that of a side per unit of flow into it.
type answer struct {
	z      complex128 // pressure, Pa·s/m³
	port   complex128 // flow out of the port
	out    complex128 // flow to the outside, port and leak
	stored complex128 // 1 − out
}

func (s *side) at(hz, added float64) answer {
	p, u := complex128(1), complex128(0)
	var kept complex128
	if s.way != nil {
		p, u = s.way.matrix(hz).Back(complex(added+s.room.rp, 0), 1)
		kept = u - 1
	}
	p, in, stored, leaked := s.room.walk(hz, p, u)
	a := answer{z: p / in, out: leaked / in, stored: (stored + kept) / in}
	if s.way != nil {
		a.port = 1 / in
		a.out += a.port
	}
	return a
}

// net returns the flow that two sides send out for a flow into the front one and
// out of the rear one, from the smaller terms of the two that say the same.
func net(front, rear answer) complex128 {
	if cmplx.Abs(front.out) < 0.5 {
		return front.out - rear.out
	}
	return rear.stored - front.stored
}

// open is the side of a cone that faces the outside.
var open = answer{out: 1}

// Cabinet is a chamber behind the cone with a port, or closed. With a [Vent] or a
// [Radiator] as its port and without a [Column] it is the same as [Vented] and
// [PassiveRadiator].
type Cabinet struct {
	Chamber Chamber
	Port    Port // nil: closed
}

// Validate implements [Box].
func (b Cabinet) Validate(m air.Medium) error {
	if err := b.Chamber.validate(m); err != nil {
		return err
	}
	return validatePort(b.Port, b.Chamber)
}

func (b Cabinet) field(m air.Medium) field {
	f := &cabinet{side: newSide(b.Chamber, b.Port, m)}
	if b.Port != nil {
		f.openings = []opening{b.Port.opening(true)}
	}
	return f
}

type cabinet struct {
	side     side
	openings []opening
}

func (f *cabinet) ports() []opening { return f.openings }

func (f *cabinet) at(hz float64, added [mostPorts]float64) reaction {
	a := f.side.at(hz, added[0])
	return reaction{z: a.z, net: net(open, a), ports: [mostPorts]complex128{-a.port}}
}
