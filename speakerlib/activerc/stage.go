package activerc

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Options say how to realise a section. The zero value is a topology by rule, resistors of
// E96 from 1 kΩ to 100 kΩ, capacitors of E12 from 100 pF to 470 nF, an error of at most 0.002 or
// the least that they allow, and values that make up for what the amplifier does to the poles.
type Options struct {
	Topology   Topology
	Resistors  Range
	Capacitors Range
	// Enough is an error below which values are alike: of these, the resistors nearest to the
	// middle of their range are taken, since a lesser error is nothing beside what parts of
	// 1 % do, and extreme values are noise and strays. It is a relative deviation of the complex
	// response. 0 stands for 0.002, which is 0.017 dB; 1e-12 asks for the least error at any price.
	// That choice is not made by how the parts' tolerances show, since of circuits of one
	// topology and section that are alike they show alike, within a tenth.
	Enough float64
	// Limit is the largest error of the values with ideal amplifiers that is accepted; 0 stands
	// for 0.02, which is 0.17 dB.
	Limit float64
	// Uncorrected leaves the values as they would be with ideal amplifiers.
	Uncorrected bool
}

func (o Options) bin() (bin, error) {
	if o.Resistors == (Range{}) {
		o.Resistors = defaultR
	}
	if o.Capacitors == (Range{}) {
		o.Capacitors = defaultC
	}
	r, err := o.Resistors.Values()
	if err != nil {
		return bin{}, fmt.Errorf("%w (of resistors)", err)
	}
	c, err := o.Capacitors.Values()
	if err != nil {
		return bin{}, fmt.Errorf("%w (of capacitors)", err)
	}
	// 45 by 193, the default, takes some 0.1 s; this, some 10 s.
	const most = 1e8
	if n := float64(len(r)) * float64(len(c)) * float64(len(c)); n > most {
		return bin{}, fmt.Errorf("activerc: ranges have %d resistors and %d capacitors, which makes %.2g combinations of one and two, want at most %.0g: take a shorter range or a coarser series",
			len(r), len(c), n, most)
	}
	return bin{r: r, c: c}, nil
}

// Stage is a section as a circuit. It is immutable, and implements [freq.Transfer] with its
// real amplifiers.
type Stage struct {
	target   analog.Section
	topology Topology
	circuit  *Circuit
	ideal    ratio
	inverted bool
	err      float64
	tried    int
}

// Realise returns the circuit of a section: the topology of the options, or that of [Choose] and
// the state variable if that one does not come near enough, and values by a joint search over the series for the least error of the response,
//
//	max |H − H_t|/|H_t|  from a decade below to a decade above the corners
//
// (|H_t| at least a hundredth of its largest). It is the best of all combinations near solutions
// of the design equations, improved by moving any two values at a time: with up to five values
// that was the best of all combinations wherever all were tried, with ten it need not be. It
// takes 10 to 150 ms on one core, and is the same every time. The search has ideal
// amplifiers; where real ones move the poles of a section of second order by more than that
// error, it is made again beside the target until they are where they belong. What a slow
// amplifier does besides, far above the corner, stays.
//
// It is an error if the topology cannot have the section, if no values of the ranges come near
// it, or if the circuit is unstable with the amplifier. What an amplifier that is slow but
// stable does is in the response and in [Stage.Resonance].
func Realise(s analog.Section, a Amplifier, o Options) (*Stage, error) {
	if err := sane(s); err != nil {
		return nil, err
	}
	if err := a.Validate(); err != nil {
		return nil, err
	}
	for _, v := range []float64{o.Enough, o.Limit} {
		if !(v >= 0 && v <= 1) {
			return nil, fmt.Errorf("activerc: an error of the options is %g, want one within 0 … 1", v)
		}
	}
	b, err := o.bin()
	if err != nil {
		return nil, err
	}
	if o.Limit == 0 {
		o.Limit = 0.02
	}
	if o.Enough == 0 {
		o.Enough = 0.002
	}
	if o.Topology != ByRule {
		return realise(s, o.Topology, a, b, o)
	}
	t, err := Choose(s)
	if err != nil {
		return nil, err
	}
	st, err := realise(s, t, a, b, o)
	if err != nil && s.D2 != 0 && t != StateVariable {
		if other, no := realise(s, StateVariable, a, b, o); no == nil {
			return other, nil
		}
	}
	return st, err
}

// realise returns the stage of a topology. With a real amplifier it aims, up to three times, as
// far beside the poles of the section as the last values came out beside them, and keeps what
// comes nearest to them: off is 2Q·|Δf0/f0| + |ΔQ/Q|, what they do to the response near f0.
func realise(s analog.Section, t Topology, a Amplifier, b bin, o Options) (*Stage, error) {
	n, turned := positive(s)
	best, err := place(n, n, t, a, b, o)
	if err != nil {
		return nil, err
	}
	best.target, best.inverted = s, best.inverted != turned
	if a.GBW == 0 || o.Uncorrected || t == FirstOrder || t == BridgedT {
		return best, nil
	}
	f0, q := resonance(n.D2, n.D1, n.D0)
	last, aimF, aimQ, least := best, f0, q, math.Inf(1)
	for trial := 0; ; trial++ {
		_, got, err := last.Resonance()
		if err != nil {
			return nil, err
		}
		off := 2*q*math.Abs(got.F0/f0-1) + math.Abs(got.Q/q-1)
		if off < least {
			best, least = last, off
		}
		if off < o.Enough || trial == 3 {
			break
		}
		aimF *= f0 / got.F0
		aimQ *= q / got.Q
		aim := second(aimF, aimQ)
		// the same shares of low-pass, band-pass and high-pass of the loop
		aim.N2, aim.N1, aim.N0 = n.N2, n.N1/n.D1*aim.D1, n.N0/n.D0*aim.D0
		next, err := place(n, aim, t, a, b, o)
		if err != nil {
			break // no values there, or no stability: what is there stays
		}
		next.target, next.inverted = s, next.inverted != turned
		next.tried += last.tried
		last = next
	}
	best.tried = last.tried
	return best, nil
}

// place returns the stage with values for the section aimed at, which is n or beside it.
func place(n, aim analog.Section, t Topology, a Amplifier, b bin, o Options) (*Stage, error) {
	l, err := t.bind(aim)
	if err != nil {
		return nil, err
	}
	f0, q := resonance(aim.D2, aim.D1, aim.D0)
	if err := reachable(f0, b); err != nil {
		return nil, err
	}
	values, e, tried := l.search(ratioOf(aim), b, o.Enough)
	if values == nil {
		return nil, fmt.Errorf("activerc: no values within %g … %g Ω and %g … %g F solve %v of %.4g Hz, Q %.4g",
			b.r[0], b.r[len(b.r)-1], b.c[0], b.c[len(b.c)-1], t, f0, q)
	}
	got := l.ideal(values)
	if e > o.Limit {
		g0, gq := resonance(got.d[2], got.d[1], got.d[0])
		return nil, fmt.Errorf("activerc: nearest values for %v of %.4g Hz, Q %.4g give %.4g Hz, Q %.4g and are off by %.2g (%.2f dB), want at most %.2g",
			t, f0, q, g0, gq, e, level.DB(1+e), o.Limit)
	}
	parts, opamps := l.build(values)
	for i := range opamps {
		opamps[i].Amplifier = a
	}
	c, err := NewCircuit("out", opamps, parts...)
	if err != nil {
		return nil, err
	}
	if a.GBW > 0 {
		if err := c.Stable(); err != nil {
			return nil, fmt.Errorf("%w (%v of %.4g Hz, Q %.4g with a gain-bandwidth of %.4g Hz)", err, t, f0, q, a.GBW)
		}
	}
	st := &Stage{target: n, topology: t, circuit: c, ideal: got, inverted: l.inverts, tried: tried}
	w := c.workspace()
	for _, p := range newFinder(ratioOf(n), 0, 0, nil).points {
		w.solve(p.w)
		h := w.x[c.load]
		if l.inverts {
			h = -h
		}
		st.err = max(st.err, square(h-p.h)*p.inverse2)
	}
	st.err = math.Sqrt(st.err)
	return st, nil
}

// reachable reports a corner that no product of a resistance and a capacitance has.
func reachable(f0 float64, b bin) error {
	rc := 1 / (2 * math.Pi * f0)
	least, most := b.r[0]*b.c[0], b.r[len(b.r)-1]*b.c[len(b.c)-1]
	if rc > most {
		return fmt.Errorf("activerc: corner is %.4g Hz, want at least %.4g Hz for the largest values, %g Ω and %g F: their product is %.3g times too small",
			f0, 1/(2*math.Pi*most), b.r[len(b.r)-1], b.c[len(b.c)-1], rc/most)
	}
	if rc < least {
		return fmt.Errorf("activerc: corner is %.4g Hz, want at most %.4g Hz for the smallest values, %g Ω and %g F: their product is %.3g times too large",
			f0, 1/(2*math.Pi*least), b.r[0], b.c[0], least/rc)
	}
	return nil
}

// Target returns the section that was asked for.
func (s *Stage) Target() analog.Section { return s.target }

// Topology returns the topology.
func (s *Stage) Topology() Topology { return s.topology }

// Circuit returns the circuit.
func (s *Stage) Circuit() *Circuit { return s.circuit }

// Inverted reports whether the stage has the opposite polarity of its target.
func (s *Stage) Inverted() bool { return s.inverted }

// Error returns the error as [Realise] defines it, with the amplifiers as they are, and how many
// combinations were tried.
func (s *Stage) Error() (worst float64, tried int) { return s.err, s.tried }

// ResponseTo implements [freq.Transfer].
func (s *Stage) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	return s.circuit.ResponseTo(dst, g)
}

// Resonance is a pair of poles: f0 in hertz and Q. Of a section of first order Q is 0.
type Resonance struct{ F0, Q float64 }

// Resonance returns the poles of the section: those that the values give with ideal amplifiers,
// and the same with the real ones. A finite gain-bandwidth lowers f0 and mostly raises Q.
func (s *Stage) Resonance() (ideal, real Resonance, err error) {
	all, err := s.circuit.Poles()
	if err != nil {
		return ideal, real, err
	}
	n, _ := positive(s.target)
	if n.D2 == 0 {
		p := -s.ideal.d[0] / s.ideal.d[1]
		near := slices.MinFunc(all, func(a, b complex128) int {
			return cmp.Compare(cmplx.Abs(a-complex(p, 0)), cmplx.Abs(b-complex(p, 0)))
		})
		return Resonance{F0: -p / (2 * math.Pi)}, Resonance{F0: cmplx.Abs(near) / (2 * math.Pi)}, nil
	}
	// A denominator of third degree has a pole that a zero next to it cancels.
	one, two := roots(n.D1, n.D0)
	if d := s.ideal.d; d[3] == 0 {
		one, two = roots(d[1]/d[2], d[0]/d[2])
	} else {
		one, two = polished(d, one), polished(d, two)
	}
	if len(all) < 2 {
		return ideal, real, fmt.Errorf("activerc: circuit has the poles %v, want two at least", all)
	}
	least := math.Inf(1)
	var p, q complex128
	for i, a := range all {
		for j, b := range all {
			if off := cmplx.Abs(a-one) + cmplx.Abs(b-two); i != j && off < least {
				least, p, q = off, a, b
			}
		}
	}
	return resonanceOf(one, two), resonanceOf(p, q), nil
}

// roots returns those of s² + c1·s + c0.
func roots(c1, c0 float64) (one, two complex128) {
	d := cmplx.Sqrt(complex(c1*c1/4-c0, 0))
	far := -complex(c1/2, 0) - d
	return far, complex(c0, 0) / far // without cancellation
}

// polished returns the root of a polynomial near p, by Newton's method.
func polished(d [4]float64, p complex128) complex128 {
	for range 60 {
		var f, df complex128
		for k := 3; k >= 0; k-- {
			df = df*p + f
			f = f*p + complex(d[k], 0)
		}
		if df == 0 {
			break
		}
		step := f / df
		p -= step
		if cmplx.Abs(step) <= 1e-15*cmplx.Abs(p) {
			break
		}
	}
	return p
}

func resonanceOf(p, q complex128) Resonance {
	w2, sum := real(p*q), -real(p+q)
	w := math.Sqrt(math.Abs(w2))
	return Resonance{F0: w / (2 * math.Pi), Q: w / sum}
}
