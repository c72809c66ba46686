package dsp

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/signal"
)

// Source is a place where rounding adds noise.
type Source struct {
	// Section is its index; len(Sections) stands for the gain, and what is above for
	// the FIR filters in order.
	Section int
	Sum     string // the variable whose sum is rounded
	// Variance of the error in full scale², white, and its mean in full scale.
	Variance, Mean float64
	// Power is what comes of it at the output, in full scale².
	Power float64
}

// Noise is the noise that a program makes by rounding, after the linear model: every
// rounding adds white noise, independent of the signal and of all others, that
// goes through what is left of the program (Jackson 1970; Oppenheim and Schafer).
// It holds for signals that move over many steps (to some tenths of a decibel; to 1.5 dB
// for the lattice, whose roundings are alike); without one, what remains are limit
// cycles.
//
// With q the step of the signal and k the bits that are dropped, all values of which are as
// likely, rounding to the nearest with a half up and truncation towards −∞ add q²/12·(1 − 4⁻ᵏ);
// with a half to even q²/12·(1 + 2·4⁻ᵏ), since that half goes either way; and truncation towards
// zero q²/6·(2 − 3·2⁻ᵏ + 4⁻ᵏ), which follows the signal's sign and is high by up to some 4 dB.
//
// Floating point adds to every product 0.18·4⁻ᵖ of its power, p = 24 or 53 being the
// bits of the significand: the mean of 4ᵉ/12·4^(1−p) over significands that are as
// likely as their reciprocal, with the power that white noise at the input causes
// there. Of a sum it is the power less that of the smaller operand, because a sum
// that is smaller than both is exact (of the same kind as 1 − 4⁻ᵏ above). This is good
// to some 5 dB, on the high side where sums cancel. Numbers below the normal range are
// left out.
type Noise struct {
	Sources []Source
	// Power is the sum at the output, in full scale², without Offset.
	Power float64
	// Offset is the mean of the output, in full scale: what truncation leaves of
	// direct current.
	Offset float64

	chain *chain
	fir   []*fir.Filter
}

// Noise computes the noise at the output. Input is the power of white noise at the
// input in full scale², which matters for floating point only, whose noise rises with
// the signal; 0 is silence, in which it has none.
func (p *Program) Noise(input float64) (*Noise, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if !(input >= 0) || math.IsInf(input, 0) {
		return nil, fmt.Errorf("dsp: noise at the input has the power %g, want a finite value ≥ 0", input)
	}
	n := &Noise{chain: newChain(p)}
	for _, f := range p.FIR {
		t, err := f.Filter(p.SampleRate)
		if err != nil {
			return nil, err
		}
		n.fir = append(n.fir, t)
	}
	c := n.chain
	var state *mat.Dense
	if c.n > 0 && !p.Arithmetic.fixed() {
		state = gramian(c.a, c.b)
	}
	power := func(v []float64) float64 {
		s := v[c.n] * v[c.n]
		if state != nil {
			s += quadratic(v[:c.n], state, v[:c.n])
		}
		return s * input
	}
	for i, l := range c.locals {
		for _, r := range l.rows {
			s := Source{Section: i, Sum: r.name}
			if i == len(p.Sections) {
				s.Sum = "gain"
			}
			if p.Arithmetic.fixed() {
				s.Mean, s.Variance = fixedError(r.row, p.Arithmetic)
			}
			for _, f := range r.products {
				s.Variance += p.Arithmetic.relative() * power(c.global(i, f))
			}
			for _, f := range r.sums {
				least := math.Min(power(c.global(i, f[0])), power(c.global(i, f[1])))
				s.Variance += p.Arithmetic.relative() * math.Max(0, power(c.global(i, f[2]))-least)
			}
			n.Sources = append(n.Sources, s)
		}
	}
	through := power(append(append([]float64(nil), c.c...), c.d))
	for i, f := range p.FIR {
		s := Source{Section: len(p.Sections) + 1 + i, Sum: "FIR"}
		if p.Arithmetic.fixed() {
			s.Mean, s.Variance = fixedError(f.Row(p.Arithmetic), p.Arithmetic)
		} else {
			// The sums on the way are those of white noise at the filter's input.
			var lane [4]float64
			var sum float64
			for k, h := range f.values() {
				lane[k%4] += h * h
				sum += h*h + lane[k%4]
			}
			s.Variance = p.Arithmetic.relative() * through * sum
			through *= lane[0] + lane[1] + lane[2] + lane[3]
		}
		n.Sources = append(n.Sources, s)
	}
	n.total()
	return n, nil
}

// relative is the variance of a rounding of floating point relative to the power of
// what is rounded: 4^(1−p)/12 times the mean of 1/m² over significands m of density
// 1/(m·ln 2) in 1 … 2, which is 3/(8·ln 2).
func (a Arithmetic) relative() float64 {
	digits := 24
	if a.Signal.Number == Binary64 {
		digits = 53
	}
	return math.Ldexp(3/(8*math.Ln2)/12, 2-2*digits)
}

// fixedError returns mean and variance of the rounding of a row.
func fixedError(r Row, a Arithmetic) (mean, variance float64) {
	k := r.dropped()
	if k == 0 {
		return 0, 0
	}
	q := a.Signal.Step()
	mean, variance, _ = a.Rounding.moments()
	last := math.Ldexp(1, -k)
	switch a.Rounding {
	case HalfUp:
		mean, variance = last/2, variance*(1-last*last)
	case HalfEven:
		variance *= 1 + 2*last*last
	case Floor:
		mean, variance = -(1-last)/2, variance*(1-last*last)
	case TowardZero:
		variance *= 1 - 1.5*last + last*last/2
	}
	mean, variance = mean*q, variance*q*q
	if r.LowBits > 0 { // the low products are cut to the accumulator's last bit
		a := math.Ldexp(q, -r.Fraction)
		mean, variance = mean-a/2, variance+a*a/12
	}
	return mean, variance
}

// response is the impulse response from a source to the output of the chain: some
// samples, then c·aᵏ·tail.
type response struct {
	head []float64
	tail []float64
}

func (c *chain) response(i, r int) response {
	states, direct := c.injection(i, r)
	out := response{[]float64{direct}, states}
	for range c.locals[i].rows[r].row.Feedback { // times 1 − z⁻¹
		// h[0], h[1]−h[0], …; the first of the tail joins the head.
		head := append(append([]float64(nil), out.head...), floats.Dot(c.c, out.tail))
		for k := len(head) - 1; k > 0; k-- {
			head[k] -= head[k-1]
		}
		next := times(c.a, out.tail)
		floats.Sub(next, out.tail)
		out = response{head, next}
	}
	return out
}

// total sums powers and offset at the output.
func (n *Noise) total() {
	c := n.chain
	var observe *mat.Dense
	if c.n > 0 {
		observe = gramian(mat.DenseCopyOf(c.a.T()), c.c)
	}
	after := make([][]float64, len(n.fir)+1)
	for i := range after {
		after[i] = autocorrelation(n.fir[i:])
	}
	index := 0
	for i, l := range c.locals {
		gain := n.atZero(i)
		for r := range l.rows {
			s := &n.Sources[index]
			index++
			if s.Variance == 0 && s.Mean == 0 {
				continue
			}
			s.Power = s.Variance * c.energy(c.response(i, r), observe, after[0])
			n.Power += s.Power
			if l.rows[r].row.Feedback == 0 {
				n.Offset += s.Mean * gain[r]
			}
		}
	}
	for i := range n.fir {
		s := &n.Sources[index]
		index++
		s.Power = s.Variance * after[i+1][0]
		n.Power += s.Power
		dc := s.Mean
		for _, f := range n.fir[i+1:] {
			dc *= floats.Sum(f.Taps())
		}
		n.Offset += dc
	}
}

// atZero returns the gains at direct current from the rows of section i to the output.
func (n *Noise) atZero(i int) []float64 {
	c := n.chain
	rows := make([]complex128, len(c.locals[i].rows))
	c.locals[i].respond(1, rows, nil)
	k := 1.
	for j := i + 1; j < len(c.locals); j++ {
		k *= real(c.locals[j].respond(1, nil, nil))
	}
	for _, f := range n.fir {
		k *= floats.Sum(f.Taps())
	}
	out := make([]float64, len(rows))
	for r := range rows {
		out[r] = k * real(rows[r])
	}
	return out
}

// energy returns Σ (h∗g)² of a response h and a filter g of the autocorrelation r,
// which is Σ over m of r_h[m]·r[m].
func (c *chain) energy(h response, observe *mat.Dense, r []float64) float64 {
	k := len(h.head)
	g := append([]float64(nil), h.head...) // up to the length of r
	v := h.tail
	var sum float64
	for m := range r {
		var rh float64
		if c.n > 0 {
			rh = quadratic(h.tail, observe, v)
			g = append(g, floats.Dot(c.c, v))
		} else {
			g = append(g, 0)
		}
		for i := 0; i < k; i++ {
			rh += h.head[i] * g[i+m]
		}
		if m == 0 {
			sum += rh * r[0]
		} else {
			sum += 2 * rh * r[m]
		}
		if m+1 < len(r) && c.n > 0 {
			v = times(c.a, v)
			if floats.Norm(v, 1) == 0 && m > k {
				break
			}
		}
	}
	return sum
}

// autocorrelation returns that of filters in a row, from 0 on: the inverse transform of
// Π|H|². Of none it is 1.
func autocorrelation(filters []*fir.Filter) []float64 {
	taps := 1
	for _, f := range filters {
		taps += f.Len() - 1
	}
	n := signal.FastLength(2 * taps)
	fft := fourier.NewFFT(n)
	product := make([]complex128, n/2+1)
	for k := range product {
		product[k] = 1
	}
	x := make([]float64, n)
	for _, f := range filters {
		clear(x[copy(x, f.Taps()):])
		for k, h := range fft.Coefficients(nil, x) {
			product[k] *= complex(power(h), 0)
		}
	}
	fft.Sequence(x, product)
	floats.Scale(1/float64(n), x)
	return x[:taps]
}

// Density returns the power density at the output in full scale²/Hz, one-sided, as a
// curve: its integral from 0 to half the sample rate is Power.
func (n *Noise) Density(g *freq.Grid, label string) (freq.Curve, error) {
	if g == nil {
		return freq.Curve{}, fmt.Errorf("dsp: density of noise on a grid that is nil, want one")
	}
	p := n.chain.program
	if g.Last() > p.SampleRate/2*(1+1e-12) {
		return freq.Curve{}, fmt.Errorf("dsp: grid goes to %g Hz, want at most %g Hz, half the sample rate of the program", g.Last(), p.SampleRate/2)
	}
	out := make([]float64, g.Len())
	for i := range out {
		out[i] = n.at(g.At(i)) * 2 / p.SampleRate
	}
	return freq.NewCurve(g, out, label, "FS²/Hz", freq.Basis{})
}

// at returns Σ variance·|G|² at a frequency.
func (n *Noise) at(hz float64) float64 {
	c := n.chain
	s, cos := math.Sincos(2 * math.Pi * hz / c.program.SampleRate)
	z := complex(cos, s)
	shaped := 2 * math.Sin(math.Pi*hz/c.program.SampleRate) // |1 − z⁻¹|
	var sum float64
	index := 0
	for i := range c.locals {
		l := &c.locals[i]
		rows := make([]complex128, len(l.rows))
		h := l.respond(z, rows, nil)
		sum *= power(h)
		for r, v := range rows {
			sum += n.Sources[index].Variance * power(v) * math.Pow(shaped, 2*float64(l.rows[r].row.Feedback))
			index++
		}
	}
	for _, f := range n.fir {
		sum = sum*power(f.At(hz)) + n.Sources[index].Variance
		index++
	}
	return sum
}

func power(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
