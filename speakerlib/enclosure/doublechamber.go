package enclosure

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/air"
)

// DoubleChamber has two chambers behind the cone: the first, with the driver, a port
// Between them, and the second with its Outer port. A Direct port may lead out of
// the first chamber at the driver's place, too. Without Outer and Direct it is a
// closed box of two chambers.
//
// The place of the driver in the second chamber's [Column] is where Between ends, and
// that of the port in the first one's where it begins. QP of the first chamber is in
// Between, that of the second in Outer. The ports of its motion are those that there
// are of Outer, Direct and Between, in this order.
type DoubleChamber struct {
	First, Second Chamber
	Between       Port
	Outer, Direct Port // nil: none
}

// Validate implements [Box].
func (b DoubleChamber) Validate(m air.Medium) error {
	if b.Between == nil {
		return noPort("first")
	}
	if err := b.First.validate(m); err != nil {
		return err
	}
	if err := b.Second.validate(m); err != nil {
		return err
	}
	if err := b.Between.Validate(); err != nil {
		return err
	}
	if b.Direct != nil {
		if err := b.Direct.Validate(); err != nil {
			return err
		}
	}
	return validatePort(b.Outer, b.Second)
}

func noPort(which string) error {
	return fmt.Errorf("enclosure: the %s chamber has no port, want one", which)
}

func (b DoubleChamber) field(m air.Medium) field {
	f := &double{first: b.First.room(m), between: b.Between.way(m, false), second: newSide(b.Second, b.Outer, m)}
	f.outer, f.direct = -1, -1
	if b.Outer != nil {
		f.outer = len(f.openings)
		f.openings = append(f.openings, b.Outer.opening(true))
	}
	if b.Direct != nil {
		f.direct, f.way = len(f.openings), b.Direct.way(m, true)
		f.openings = append(f.openings, b.Direct.opening(true))
	}
	f.middle = len(f.openings)
	f.openings = append(f.openings, b.Between.opening(false))
	return f
}

type double struct {
	first                 room
	between, way          way // way: the direct one, may be nil
	second                side
	outer, direct, middle int // indices of the ports, −1: none
	openings              []opening
}

func (f *double) ports() []opening { return f.openings }

func (f *double) at(hz float64, added [mostPorts]float64) reaction {
	extra := func(k int) float64 {
		if k < 0 {
			return 0
		}
		return added[k]
	}
	// per unit of flow into the second chamber, and then of that into the first
	second := f.second.at(hz, extra(f.outer))
	p, u := f.between.matrix(hz).Back(second.z+complex(extra(f.middle)+f.first.rp, 0), 1)
	kept := u - 1 + second.stored
	p, in, stored, out := f.first.walk(hz, p, u)
	kept += stored
	out += second.out
	var r reaction
	if f.direct >= 0 {
		// the resistance is at the mouth; a pipe keeps some air, too
		begin, into := f.way.matrix(hz).Back(complex(extra(f.direct), 0), 1)
		mouth := p / begin
		in, out, kept = in+into*mouth, out+mouth, kept+(into-1)*mouth
		r.ports[f.direct] = -mouth / in
	}
	if f.outer >= 0 {
		r.ports[f.outer] = -second.port / in
	}
	r.ports[f.middle] = -1 / in
	r.z = p / in
	r.net = net(open, answer{out: out / in, stored: kept / in})
	return r
}
