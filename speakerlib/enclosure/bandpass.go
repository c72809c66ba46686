package enclosure

import (
	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/twoport"
)

// Bandpass4 is a bandpass of fourth order: a closed chamber behind the cone, and one
// with a port in front of it, which alone sounds (E. R. Geddes, "An Introduction to
// Band-Pass Loudspeaker Systems", J. Audio Eng. Soc. 37, 1989; L. R. Fincham, "A
// Bandpass Loudspeaker Enclosure", 63rd AES convention, 1979; both from memory).
// [AlignBandpass] has the symmetric ones.
//
// Its motion has the port's outward flow in phase with the cone far below the
// tuning. The cone's direct sound through the walls is not in it.
type Bandpass4 struct {
	Rear, Front Chamber
	Port        Port // of the front chamber
}

// Validate implements [Box].
func (b Bandpass4) Validate(m air.Medium) error {
	return validateBoth(m, b.Rear, nil, b.Front, b.Port)
}

func (b Bandpass4) field(m air.Medium) field {
	return &bandpass{rear: newSide(b.Rear, nil, m), front: newSide(b.Front, b.Port, m), openings: []opening{b.Port.opening(true)}}
}

// Bandpass6 is a bandpass of sixth order: both chambers have a port. In the parallel
// one both lead out; in the series one that of the rear chamber leads into the front
// chamber, where it ends beside the driver. The ports of its motion are the front
// chamber's and then the rear one's.
type Bandpass6 struct {
	Rear, Front         Chamber
	RearPort, FrontPort Port
	Series              bool // the rear port leads into the front chamber
}

// Validate implements [Box].
func (b Bandpass6) Validate(m air.Medium) error {
	if b.RearPort == nil {
		return noPort("rear")
	}
	return validateBoth(m, b.Rear, b.RearPort, b.Front, b.FrontPort)
}

func (b Bandpass6) field(m air.Medium) field {
	front := newSide(b.Front, b.FrontPort, m)
	openings := []opening{b.FrontPort.opening(true), b.RearPort.opening(!b.Series)}
	if b.Series {
		return &series{rear: b.Rear.room(m), coupler: b.RearPort.way(m, false), front: front, openings: openings}
	}
	return &bandpass{rear: newSide(b.Rear, b.RearPort, m), front: front, openings: openings}
}

func validateBoth(m air.Medium, rear Chamber, rearPort Port, front Chamber, frontPort Port) error {
	if frontPort == nil {
		return noPort("front")
	}
	if err := rear.validate(m); err != nil {
		return err
	}
	if err := front.validate(m); err != nil {
		return err
	}
	if err := validatePort(rearPort, rear); err != nil {
		return err
	}
	return validatePort(frontPort, front)
}

// bandpass is a cone between two chambers that do not see each other.
type bandpass struct {
	rear, front side
	openings    []opening
}

func (f *bandpass) ports() []opening { return f.openings }

func (f *bandpass) at(hz float64, added [mostPorts]float64) reaction {
	front, rear := f.front.at(hz, added[0]), f.rear.at(hz, added[1])
	return reaction{z: front.z + rear.z, net: net(front, rear), ports: [mostPorts]complex128{front.port, -rear.port}}
}

// series is a cone between two chambers with a port between them.
type series struct {
	rear     room
	coupler  way
	front    side
	openings []opening
}

func (f *series) ports() []opening { return f.openings }

// at solves, per unit of the cone's flow, with the two-port t from the cone's rear to
// the front and the admittance y of the front chamber,
//
//	−1 = t.C·p + t.D·u,  u + 1 = y·p
func (f *series) at(hz float64, added [mostPorts]float64) reaction {
	front := f.front.at(hz, added[0])
	t := f.rear.matrix(hz).Mul(f.coupler.matrix(hz)).Mul(twoport.Series(complex(added[1]+f.rear.rp, 0)))
	y := 1 / front.z
	p := (t.D - 1) / (t.C + t.D*y)
	in := y * p // into the front chamber, the cone's flow and the coupler's
	behind, _ := t.Back(p, in-1)
	leaked := complex(f.rear.leak, 0) * behind
	return reaction{z: p - behind, net: in*front.out + leaked, ports: [mostPorts]complex128{in * front.port, in - 1}}
}
