package dsp

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/signal"
)

// Node is a sum of a program and how large it becomes.
type Node struct {
	Section int    // as in Source
	Sum     string // the variable
	// L1 is the largest magnitude that any input within ±1 can cause, Σ|f|; LInf that
	// of a sine of amplitude 1 once it lasts, max|F|, and Peak its frequency in hertz;
	// L2 the rms value that white noise of rms 1 causes, √(Σ f²). L2 ≤ LInf ≤ L1.
	L1, L2, LInf float64
	Peak         float64
	// Limit is the largest magnitude of the signal's format, and Accumulator that
	// of the accumulator in the unit of the signal, beyond which a sum wraps and no
	// saturation helps. Both are +Inf for floating point.
	Limit, Accumulator float64
}

// Headroom is how much room there is until the node overflows, by its L∞ norm: the
// largest amplitude of a lasting sine at the input.
func (n Node) Headroom() float64 { return n.Limit / n.LInf }

// maxRing is the longest impulse response that is summed for L1, in samples.
const maxRing = 1 << 22

// Headroom returns the norms from the input to every sum: of sections, gain and FIR
// filters, in order. A section that rings for more than 2²² samples is refused.
func (p *Program) Headroom() ([]Node, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	c := newChain(p)
	nodes := c.nodes()
	if err := c.sumRing(nodes); err != nil {
		return nil, err
	}
	return nodes, nil
}

// nodes fills in everything but L1.
func (c *chain) nodes() []Node {
	p := c.program
	a := p.Arithmetic
	var state *mat.Dense
	if c.n > 0 {
		state = gramian(c.a, c.b)
	}
	var nodes []Node
	add := func(section int, sum string, fraction int, v []float64) {
		n := Node{Section: section, Sum: sum, Limit: a.Signal.Limit(), Accumulator: math.Inf(1)}
		if a.fixed() {
			n.Accumulator = math.Ldexp(1, a.Accumulator-1-a.Signal.N-fraction)
		}
		if v != nil {
			n.L2 = math.Abs(v[c.n])
			if c.n > 0 {
				n.L2 = math.Sqrt(v[c.n]*v[c.n] + quadratic(v[:c.n], state, v[:c.n]))
			}
		}
		nodes = append(nodes, n)
	}
	for i, l := range c.locals {
		for r, x := range l.rows {
			name := x.name
			if i == len(p.Sections) {
				name = "gain"
			}
			add(i, name, x.row.Fraction, c.global(i, l.rows[r].result))
		}
	}
	for i, f := range p.FIR {
		add(len(p.Sections)+1+i, "FIR", f.Row(a).Fraction, nil)
	}
	for _, hz := range c.grid() {
		for i, v := range c.at(hz) {
			if m := cmplx.Abs(v); m > nodes[i].LInf {
				nodes[i].LInf, nodes[i].Peak = m, hz
			}
		}
	}
	if len(p.FIR) > 0 {
		c.evenly(nodes[len(nodes)-len(p.FIR):])
	}
	c.refine(nodes)
	return nodes
}

// evenly looks for the peaks of FIR filters, whose ripples are even in frequency: at
// more than eight points a ripple.
func (c *chain) evenly(nodes []Node) {
	fs := c.program.SampleRate
	taps := 1
	for _, f := range c.program.FIR {
		taps += len(f.Taps) - 1
	}
	fft := fourier.NewFFT(signal.FastLength(8 * taps))
	x := make([]float64, fft.Len())
	h := make([]float64, fft.Len()/2+1) // |H| up to each filter
	for k := range h {
		s, cos := math.Sincos(2 * math.Pi * fft.Freq(k))
		h[k] = 1
		for i := range c.locals {
			h[k] *= cmplx.Abs(c.locals[i].respond(complex(cos, s), nil, nil))
		}
	}
	for i, f := range c.program.FIR {
		clear(x[copy(x, f.values()):])
		for k, v := range fft.Coefficients(nil, x) {
			h[k] *= cmplx.Abs(v)
			if h[k] > nodes[i].LInf {
				nodes[i].LInf, nodes[i].Peak = h[k], fft.Freq(k)*fs
			}
		}
	}
}

// grid returns frequencies that miss no resonance: even in log tan(πf/fs), which is
// how second-order sections are even, and around each pole.
func (c *chain) grid() []float64 {
	fs := c.program.SampleRate
	hz := []float64{0, fs / 2}
	for x := -16.; x <= 8; x += 1. / 32 {
		hz = append(hz, math.Atan(math.Exp(x))*fs/math.Pi)
	}
	for _, s := range c.program.Sections {
		pole := s.Biquad().Poles()[0]
		f := math.Abs(cmplx.Phase(pole)) * fs / (2 * math.Pi)
		width := (1 - cmplx.Abs(pole)) * fs / (2 * math.Pi)
		for k := -4.; k <= 4; k += 0.25 {
			if v := f + k*width; v > 0 && v < fs/2 {
				hz = append(hz, v)
			}
		}
	}
	return hz
}

// at returns the responses from the input to all nodes.
func (c *chain) at(hz float64) []complex128 {
	s, cos := math.Sincos(2 * math.Pi * hz / c.program.SampleRate)
	z := complex(cos, s)
	x := complex(1, 0)
	var out []complex128
	for i := range c.locals {
		l := &c.locals[i]
		nodes := make([]complex128, len(l.rows))
		h := l.respond(z, nil, nodes)
		for _, v := range nodes {
			out = append(out, x*v)
		}
		x *= h
	}
	for _, f := range c.program.FIR {
		var h complex128
		for k := len(f.Taps) - 1; k >= 0; k-- {
			h = h/z + complex(f.Taps[k].Float(), 0)
		}
		x *= h
		out = append(out, x)
	}
	return out
}

// refine moves each peak to the top by golden steps in log f.
func (c *chain) refine(nodes []Node) {
	fs := c.program.SampleRate
	for i := range nodes {
		n := &nodes[i]
		if n.Peak <= 0 || n.Peak >= fs/2 {
			continue
		}
		f := func(x float64) float64 { return cmplx.Abs(c.at(min(n.Peak*math.Exp(x), fs/2))[i]) }
		lo, hi := -1./32, 1./32
		const gold = 0.6180339887498949
		for range 24 {
			a, b := hi-gold*(hi-lo), lo+gold*(hi-lo)
			if f(a) < f(b) {
				lo = a
			} else {
				hi = b
			}
		}
		if m := f((lo + hi) / 2); m > n.LInf {
			n.LInf, n.Peak = m, min(n.Peak*math.Exp((lo+hi)/2), fs/2)
		}
	}
}

// ring returns after how many samples the slowest pole has fallen to 2⁻⁴⁰, twice over
// for poles that add up.
func (c *chain) ring() (int, error) {
	var worst float64
	for _, s := range c.program.Sections {
		worst = math.Max(worst, s.Biquad().PoleRadius())
	}
	n := 64.
	if worst > 0 {
		n += 2 * 40 * math.Ln2 / -math.Log(worst)
	}
	for _, f := range c.program.FIR {
		n += float64(len(f.Taps))
	}
	if n > maxRing {
		return 0, fmt.Errorf("dsp: the slowest pole has the radius 1 %+.3g and rings for %.3g samples, want at most %d", worst-1, n, maxRing)
	}
	return int(n), nil
}

// sumRing sums the magnitudes of the impulse responses of all nodes, and the squares of
// those of FIR filters.
func (c *chain) sumRing(nodes []Node) error {
	n, err := c.ring()
	if err != nil {
		return err
	}
	m := newModel(c)
	out := make([]float64, n)
	x := 1.
	for k := range out {
		out[k] = m.step(x, nil)
		for i, v := range m.nodes {
			nodes[i].L1 += math.Abs(v)
		}
		x = 0
	}
	for i, f := range c.program.FIR {
		out = convolve(out, f.values())
		node := &nodes[len(m.nodes)+i]
		node.L1, node.L2 = floats.Norm(out, 1), floats.Norm(out, 2)
	}
	return nil
}

// convolve returns the convolution of a and b, by Fourier transform.
func convolve(a, b []float64) []float64 {
	n := len(a) + len(b) - 1
	fft := fourier.NewFFT(signal.FastLength(n))
	x, y := make([]float64, fft.Len()), make([]float64, fft.Len())
	copy(x, a)
	copy(y, b)
	p, q := fft.Coefficients(nil, x), fft.Coefficients(nil, y)
	for k := range p {
		p[k] *= q[k] / complex(float64(fft.Len()), 0)
	}
	return fft.Sequence(x, p)[:n]
}

// model runs sections and gain of a chain as a linear system, with errors added to
// its rows.
type model struct {
	c      *chain
	states [][maxStates]float64
	nodes  []float64
}

func newModel(c *chain) *model {
	n := 0
	for _, l := range c.locals {
		n += len(l.rows)
	}
	return &model{c: c, states: make([][maxStates]float64, len(c.locals)), nodes: make([]float64, n)}
}

// step takes a sample through and returns the output; errors, if any, are added to
// the rows.
func (m *model) step(x float64, errors []float64) float64 {
	index := 0
	for i := range m.c.locals {
		l := &m.c.locals[i]
		s := m.states[i]
		rows := len(l.rows)
		var e []float64
		if errors != nil {
			e = errors[index : index+rows]
		}
		value := func(f linear) float64 {
			v := f[l.n] * x
			for k := range l.n {
				v += f[k] * s[k]
			}
			for k, w := range e {
				v += f[l.n+1+k] * w
			}
			return v
		}
		for r := range l.rows {
			m.nodes[index+r] = value(l.rows[r].result)
		}
		for k, f := range l.next {
			m.states[i][k] = value(f)
		}
		x = value(l.out)
		index += rows
	}
	return x
}
