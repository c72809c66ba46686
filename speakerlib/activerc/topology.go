package activerc

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
)

// Topology is the circuit of a section.
type Topology int

// The topologies. ByRule leaves the choice to [Choose].
const (
	ByRule Topology = iota
	// FirstOrder is a passive RC network with a buffer or gain behind it (low-pass, high-pass),
	// the all-pass of one amplifier, or the inverting amplifier with an RC network in each arm
	// (shelves, and gains below 1).
	FirstOrder
	// SallenKey is the low-pass or high-pass of second order around an amplifier of gain ≥ 1
	// that does not invert.
	SallenKey
	// MultipleFeedback is the inverting low-pass, high-pass or band-pass of second order around
	// one amplifier.
	MultipleFeedback
	// BandpassSum adds a multiple-feedback band-pass to the direct signal: peaks and dips that
	// are unity far away, notches and all-passes. Two amplifiers.
	BandpassSum
	// BridgedT relocates a resonance with one amplifier, a bridged T in each of its arms.
	BridgedT
	// StateVariable is two integrators and a summing amplifier: any low-pass, band-pass or
	// high-pass with three amplifiers, and with a fourth any section of second order whose
	// numerator has no zeros on both sides of 0.
	StateVariable
)

// String returns the name of the topology.
func (t Topology) String() string {
	names := [...]string{"by rule", "first order", "Sallen–Key", "multiple feedback", "band-pass and sum", "bridged T", "state variable"}
	if t < 0 || int(t) >= len(names) {
		return fmt.Sprintf("Topology(%d)", int(t))
	}
	return names[t]
}

// Choose returns the topology of a section by these rules (common practice, no source):
// Sallen–Key for low-passes and high-passes of gain ≥ 1 up to a Q of 3, whose capacitors or
// resistors are then in the ratio 4·Q² = 36; multiple feedback for gains below 1 and for Q up
// to 6, and for band-passes up to a Q of 10 and a gain of 1.6·Q²
// (with equal capacitors it ends at 2·Q²); the sum with a band-pass up to the same Q for
// what is the same far below and far above; the bridged T where it can relocate a resonance;
// and the state variable for the rest, since its Q hangs on ratios of resistors alone and
// asks least of the amplifier.
func Choose(s analog.Section) (Topology, error) {
	if err := sane(s); err != nil {
		return ByRule, err
	}
	if s.D2 == 0 {
		return FirstOrder, nil
	}
	s, _ = positive(s)
	_, q := resonance(s.D2, s.D1, s.D0)
	switch kindOf(s) {
	case lowpass, highpass:
		gain := s.N0 / s.D0
		if kindOf(s) == highpass {
			gain = s.N2 / s.D2
		}
		switch {
		case gain > 1-sameGain && q <= 3:
			return SallenKey, nil
		case q <= 6:
			return MultipleFeedback, nil
		}
	case bandpass:
		if q <= 10 && s.N1/s.D1 <= 1.6*q*q {
			return MultipleFeedback, nil
		}
	case general:
		if q <= 10 && alike(s) {
			return BandpassSum, nil
		}
		if bridgeable(s) == nil {
			return BridgedT, nil
		}
	}
	return StateVariable, nil
}

// sameGain is how near two gains are that no value of a series can tell apart.
const sameGain = 1e-9

// alike reports a section of the same gain far below and far above.
func alike(s analog.Section) bool {
	return s.N2 != 0 && math.Abs(s.N0/s.D0-s.N2/s.D2) <= sameGain*math.Abs(s.N2/s.D2)
}

type kind int

const (
	lowpass kind = iota
	bandpass
	highpass
	general
)

func kindOf(s analog.Section) kind {
	switch {
	case s.N2 == 0 && s.N1 == 0:
		return lowpass
	case s.N2 == 0 && s.N0 == 0:
		return bandpass
	case s.N1 == 0 && s.N0 == 0:
		return highpass
	}
	return general
}

// positive returns the section with D2 (or D1) of 1 and a numerator that begins above 0, and
// whether that turned it over.
func positive(s analog.Section) (analog.Section, bool) {
	k := s.D2
	if k == 0 {
		k = s.D1
	}
	s = analog.Section{N2: s.N2 / k, N1: s.N1 / k, N0: s.N0 / k, D2: s.D2 / k, D1: s.D1 / k, D0: s.D0 / k}
	for _, n := range []float64{s.N0, s.N2, s.N1} {
		if n > 0 {
			return s, false
		}
		if n < 0 {
			s.N2, s.N1, s.N0 = -s.N2, -s.N1, -s.N0
			return s, true
		}
	}
	return s, false
}

// ratio is a ratio of polynomials in s, coefficients of ascending powers.
type ratio struct{ n, d [4]float64 }

func ratioOf(s analog.Section) ratio {
	return ratio{n: [4]float64{s.N0, s.N1, s.N2}, d: [4]float64{s.D0, s.D1, s.D2}}
}

func (r ratio) at(w float64) complex128 {
	return complex(r.n[0]-r.n[2]*w*w, w*(r.n[1]-r.n[3]*w*w)) / complex(r.d[0]-r.d[2]*w*w, w*(r.d[1]-r.d[3]*w*w))
}

// layout is a topology for a section: the places of its values, and what follows from them.
type layout struct {
	slots []slot
	// ideal is the transfer with ideal amplifiers.
	ideal func(v []float64) ratio
	// inverts says that ideal is the negative of the section, which begins above 0.
	inverts bool
	// enumerate tries combinations of values near solutions.
	enumerate func(b bin, try func(v []float64))
	// build returns the circuit; its amplifiers have no model yet.
	build func(v []float64) (parts []Part, opamps []Opamp)
}

type slot struct {
	name string
	kind Kind
}

func slots(names ...string) []slot {
	s := make([]slot, len(names))
	for i, n := range names {
		s[i] = slot{n, Resistor}
		if n[0] == 'C' {
			s[i].kind = Capacitor
		}
	}
	return s
}

// bind returns the layout of the topology for a section that begins above 0.
func (t Topology) bind(s analog.Section) (*layout, error) {
	if t < FirstOrder || t > StateVariable {
		return nil, fmt.Errorf("activerc: topology is %d, want one of those that are named", int(t))
	}
	if t != FirstOrder && s.D2 == 0 {
		return nil, fmt.Errorf("activerc: section is of first order, want second for %v", t)
	}
	if t == FirstOrder && s.D2 != 0 {
		return nil, fmt.Errorf("activerc: section is of second order, want first for %v", t)
	}
	switch t {
	case FirstOrder:
		return firstOrder(s)
	case SallenKey:
		return sallenKey(s)
	case MultipleFeedback:
		return multipleFeedback(s)
	case BandpassSum:
		return bandpassSum(s)
	case BridgedT:
		return bridgedT(s)
	}
	return stateVariable(s)
}

// bin holds the values that a search may take, in ascending order.
type bin struct {
	r, c []float64
	last []float64 // the workspace of list
}

// list returns the values as a slice that the next call writes over: a combination is tried
// without an allocation.
func (b bin) list(v ...float64) []float64 { return append(b.last[:0], v...) }

// of returns the values of a kind.
func (b bin) of(k Kind) []float64 {
	if k == Resistor {
		return b.r
	}
	return b.c
}

// near returns the k values of an ascending list that are nearest to x, none if x is more
// than a tenth outside.
func near(list []float64, x float64, k int) []float64 {
	if !(x > list[0]/1.1 && x < list[len(list)-1]*1.1) {
		return nil
	}
	i := nearest(list, x)
	lo := i - k/2
	if k%2 == 0 && list[i] < x {
		lo++
	}
	lo = max(0, min(lo, len(list)-k))
	return list[lo:min(len(list), lo+k)]
}

// dividers returns pairs a, b with b/a near rho, the nearest first and at most k; of pairs that
// are as good as each other to some 1e-4 those about 10 kΩ come first.
func (b bin) dividers(rho float64, k int) [][2]float64 {
	var pairs [][2]float64
	var off []float64
	for _, a := range b.r {
		for _, c := range near(b.r, rho*a, 1) {
			e := math.Abs(math.Log(c/(a*rho))) + 1e-4*math.Abs(math.Log(a*c/1e8))
			i := len(off)
			for i > 0 && off[i-1] > e {
				i--
			}
			if i >= k {
				continue
			}
			pairs, off = append(pairs, [2]float64{}), append(off, 0)
			copy(pairs[i+1:], pairs[i:])
			copy(off[i+1:], off[i:])
			pairs[i], off[i] = [2]float64{a, c}, e
			if len(off) > k {
				pairs, off = pairs[:k], off[:k]
			}
		}
	}
	return pairs
}

// base returns the value nearest to 10 kΩ, for resistors of which only ratios count.
func (b bin) base() float64 { return b.r[nearest(b.r, 10e3)] }

func resistor(name string, a, b Node, v float64) Part { return Part{name, Resistor, a, b, v} }

func capacitor(name string, a, b Node, v float64) Part { return Part{name, Capacitor, a, b, v} }
