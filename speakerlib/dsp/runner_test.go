package dsp

import (
	"fmt"
	"math"
	"math/big"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/fir"
)

// someSections are sections of all kinds that occur: low frequencies, zeros on the
// unit circle, first order, real poles.
func someSections() []digital.Section {
	return []digital.Section{
		digital.Highpass{F0: 30, Q: 0.9}, digital.Peak{F0: 55, Gain: 0.6, Q: 3}, digital.LowShelf{F0: 120, Gain: 0.7, Q: 0.6},
		digital.Notch{F0: 900, Q: 4}, digital.FirstLowpass{F0: 9000}, digital.Lowpass{F0: 2300, Q: 0.4}, digital.FirstHighpass{F0: 9},
		digital.Allpass{F0: 400, Q: 0.8}, digital.Bandpass{F0: 2000, Q: 0.3},
	}
}

// program commits sections as they are, without choosing anything.
func program(t testing.TB, a Arithmetic, s Structure, split bool, feedback int, sections ...digital.Section) *Program {
	t.Helper()
	p := &Program{SampleRate: 96000, Arithmetic: a, Delay: 3}
	for _, d := range sections {
		b, err := d.Biquad(p.SampleRate)
		if err != nil {
			t.Fatal(err)
		}
		shift := 0
		if s.takesShift() {
			shift = -2
		}
		n, err := newSection(b, d.String(), s, a, split, 0, shift, feedback)
		if err != nil {
			if !strings.Contains(err.Error(), "before the binary point") {
				t.Fatal(err)
			}
			continue // not for this structure in this format
		}
		p.Sections = append(p.Sections, n)
	}
	if len(p.Sections) < len(sections)/2 {
		t.Fatalf("%d of %d sections are left", len(p.Sections), len(sections))
	}
	g, err := newGain(-0.83, a, split)
	if err != nil {
		t.Fatal(err)
	}
	p.Gain = &g
	f, err := fir.New(p.SampleRate, []float64{0.11, -0.52, 0.997, -0.52, 0.11, 1e-4, 0}, 2, "seven taps")
	if err != nil {
		t.Fatal(err)
	}
	x, err := newFIR(f, a, split)
	if err != nil {
		t.Fatal(err)
	}
	p.FIR = []FIR{x}
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	return p
}

// exact runs a fixed-point program by its definition, in integers without end:
// floor and modulo instead of shifts, one network after the other.
type exact struct {
	p     *Program
	state []map[int]*big.Int     // variables of each section
	e     []map[int]*[2]*big.Int // residues by variable
	fir   []*big.Int
	delay []*big.Int
}

func newExact(p *Program) *exact {
	x := &exact{p: p}
	for range p.Sections {
		x.state = append(x.state, map[int]*big.Int{})
		x.e = append(x.e, map[int]*[2]*big.Int{})
	}
	for range p.FIR[0].Taps {
		x.fir = append(x.fir, new(big.Int))
	}
	for range p.Delay {
		x.delay = append(x.delay, new(big.Int))
	}
	return x
}

// wrapped is v modulo 2^bits, in −2^(bits−1) … 2^(bits−1)−1.
func wrapped(v *big.Int, bits int) *big.Int {
	m := new(big.Int).Lsh(big.NewInt(1), uint(bits))
	r := new(big.Int).Mod(v, m)
	if r.Cmp(new(big.Int).Rsh(m, 1)) >= 0 {
		r.Sub(r, m)
	}
	return r
}

// floorDiv is ⌊v/2^n⌋.
func floorDiv(v *big.Int, n int) *big.Int {
	q, m := new(big.Int), new(big.Int)
	return func() *big.Int { q.DivMod(v, new(big.Int).Lsh(big.NewInt(1), uint(n)), m); return q }()
}

func (x *exact) row(r Row, v func(int) *big.Int, e *[2]*big.Int) *big.Int {
	a := x.p.Arithmetic
	low, acc := new(big.Int), new(big.Int)
	for _, t := range r.Terms {
		low.Add(low, new(big.Int).Mul(big.NewInt(t.Low), v(t.Variable)))
		acc.Add(acc, new(big.Int).Mul(big.NewInt(t.Word), v(t.Variable)))
	}
	acc.Add(acc, floorDiv(wrapped(low, a.Accumulator), r.LowBits))
	switch r.Feedback {
	case 1:
		acc.Add(acc, e[0])
	case 2:
		acc.Add(acc, e[0]).Add(acc, e[0]).Sub(acc, e[1])
	}
	acc = wrapped(acc, a.Accumulator)
	q := floorDiv(acc, r.Fraction)
	// Twice what was cut off, compared with a step.
	step := new(big.Int).Lsh(big.NewInt(1), uint(r.Fraction))
	rest := new(big.Int).Sub(acc, new(big.Int).Mul(q, step))
	half := new(big.Int).Lsh(rest, 1).Cmp(step)
	up := false
	switch a.Rounding {
	case HalfUp:
		up = half >= 0
	case HalfEven:
		up = half > 0 || half == 0 && q.Bit(0) == 1
	case TowardZero:
		up = acc.Sign() < 0 && rest.Sign() != 0
	}
	if up {
		q.Add(q, big.NewInt(1))
	}
	if r.Feedback > 0 {
		e[0], e[1] = new(big.Int).Sub(acc, new(big.Int).Mul(q, step)), e[0]
	}
	if a.Overflow == Wrap {
		return wrapped(q, a.Signal.Word())
	}
	hi := new(big.Int).Lsh(big.NewInt(1), uint(a.Signal.Word()-1))
	if q.Cmp(hi) >= 0 {
		return hi.Sub(hi, big.NewInt(1))
	}
	if hi.Neg(hi); q.Cmp(hi) < 0 {
		return hi
	}
	return q
}

func (x *exact) step(in int64) int64 {
	v := big.NewInt(in)
	for i, s := range x.p.Sections {
		n := s.Network(x.p.Arithmetic)
		vars := x.state[i]
		get := func(k int) *big.Int {
			if k == 0 {
				return v
			}
			if vars[k] == nil {
				vars[k] = new(big.Int)
			}
			return vars[k]
		}
		for _, r := range n.Rows {
			if x.e[i][r.Variable] == nil {
				x.e[i][r.Variable] = &[2]*big.Int{new(big.Int), new(big.Int)}
			}
			vars[r.Variable] = x.row(r, get, x.e[i][r.Variable])
		}
		out := get(n.Output)
		for _, m := range n.Moves {
			vars[m[0]] = get(m[1])
		}
		v = out
	}
	v = x.row(x.p.Gain.Row(x.p.Arithmetic), func(int) *big.Int { return v }, nil)
	x.fir = append([]*big.Int{v}, x.fir[:len(x.fir)-1]...)
	v = x.row(x.p.FIR[0].Row(x.p.Arithmetic), func(k int) *big.Int { return x.fir[k] }, nil)
	x.delay = append(x.delay, v)
	v, x.delay = x.delay[0], x.delay[1:]
	return v.Int64()
}

// words are an impulse, noise well within the range, and noise that overflows.
func words(f Format, n int) []int64 {
	rng := rand.New(rand.NewPCG(1, 2))
	lo, hi := f.span()
	out := make([]int64, n)
	out[0] = hi
	for i := n / 4; i < n/2; i++ {
		out[i] = int64((rng.Float64() - 0.5) * float64(hi) / 8)
	}
	for i := n / 2; i < n; i++ {
		out[i] = lo
		if i/37%2 == 0 || rng.Float64() < 0.1 {
			out[i] = hi
		}
	}
	return out
}

func TestFixedPointIsExact(t *testing.T) {
	arithmetics := []struct {
		Arithmetic
		split    bool
		feedback int
	}{
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}, false, 0},
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 46, Rounding: Floor}, false, 1}, // the sum wraps
		{Arithmetic{Signal: Fixed(2, 13), Coefficient: Fixed(1, 30), Accumulator: 64, Rounding: HalfEven, Overflow: Wrap}, false, 2},
		{Arithmetic{Signal: Fixed(0, 31), Coefficient: Fixed(1, 30), Accumulator: 72, Rounding: TowardZero}, false, 2},
		{Arithmetic{Signal: Fixed(4, 27), Coefficient: Fixed(2, 21), Accumulator: 64, Rounding: TowardZero}, true, 1},
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 80, Rounding: HalfEven, Exponent: 10}, true, 2},
		{Arithmetic{Signal: Fixed(0, 47), Coefficient: Fixed(3, 28), Accumulator: 128, Rounding: HalfUp, Overflow: Wrap}, true, 0},
		{Arithmetic{Signal: Fixed(0, 15), Coefficient: Fixed(0, 15), Accumulator: 40, Exponent: 4}, false, 0},
		{Arithmetic{Signal: Fixed(0, 31), Coefficient: Fixed(1, 30), Accumulator: 72}, false, 0},
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}, false, 1},
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 64}, false, 2},
		{Arithmetic{Signal: Fixed(0, 31), Coefficient: Fixed(1, 30), Accumulator: 67, Rounding: Floor}, false, 1},
		{Arithmetic{Signal: Fixed(3, 28), Coefficient: Fixed(1, 30), Accumulator: 100, Rounding: Floor}, false, 2},
		{Arithmetic{Signal: Fixed(0, 52), Coefficient: Fixed(1, 30), Accumulator: 84, Rounding: Floor}, false, 1},
	}
	for _, a := range arithmetics {
		for _, s := range Structures() {
			t.Run(fmt.Sprintf("%v %v split %v feedback %d", a.Arithmetic, s, a.split, a.feedback), func(t *testing.T) {
				sections := someSections()
				if a.Coefficient.Word() < 20 {
					sections = sections[3:6] // too coarse for the bass
				}
				p := program(t, a.Arithmetic, s, a.split, a.feedback, sections...)
				src := words(a.Signal, 700)
				got := p.NewRunner().ProcessWords(nil, src)
				want := newExact(p)
				saturated := 0
				lo, hi := a.Signal.span()
				for i, v := range src {
					w := want.step(v)
					if got[i] != w {
						t.Fatalf("sample %d: %d, want %d", i, got[i], w)
					}
					if w == lo || w == hi {
						saturated++
					}
				}
				if a.Overflow == Saturate && saturated == 0 {
					t.Log("nothing saturated at the output")
				}
			})
		}
	}
}

// rows runs a floating-point program by its definition.
func rows[T float32 | float64](p *Program, src []float64) []float64 {
	var out []float64
	state := make([][]T, len(p.Sections))
	line := make([]T, len(p.FIR[0].Taps))
	var delay []T
	for range p.Delay {
		delay = append(delay, 0)
	}
	eval := func(r Row, v []T) T {
		var acc T
		for k, t := range r.Terms {
			p := T(T(t.Value) * v[t.Variable])
			if k == 0 {
				acc = p
			} else {
				acc = T(acc + p)
			}
		}
		return acc
	}
	for _, in := range src {
		x := T(in)
		for i, s := range p.Sections {
			n := s.Network(p.Arithmetic)
			if state[i] == nil {
				state[i] = make([]T, len(n.Variables))
			}
			v := state[i]
			v[0] = x
			for _, r := range n.Rows {
				v[r.Variable] = eval(r, v)
			}
			x = v[n.Output]
			for _, m := range n.Moves {
				v[m[0]] = v[m[1]]
			}
		}
		x = eval(p.Gain.Row(p.Arithmetic), []T{x})
		copy(line[1:], line)
		line[0] = x
		var s [4]T
		for k, t := range p.FIR[0].Row(p.Arithmetic).Terms {
			s[k%4] = T(s[k%4] + T(T(t.Value)*line[t.Variable]))
		}
		delay = append(delay, T(T(s[0]+s[1])+T(s[2]+s[3])))
		out = append(out, float64(delay[0]))
		delay = delay[1:]
	}
	return out
}

func TestFloatingPointFollowsItsRows(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	src := make([]float64, 2000)
	for i := range src {
		src[i] = rng.NormFloat64()
	}
	for _, s := range Structures() {
		for _, f := range []Format{Float32(), Float64()} {
			p := program(t, Arithmetic{Signal: f, Coefficient: f}, s, false, 0, someSections()...)
			want := rows[float64]
			if f.Number == Binary32 {
				want = rows[float32]
			}
			w := want(p, src)
			for i, g := range p.NewRunner().Process(nil, src) {
				if math.Float64bits(g) != math.Float64bits(w[i]) {
					t.Fatalf("%v in %v: sample %d is %g, want %g", s, f, i, g, w[i])
				}
			}
		}
	}
}

func TestRunningDoesNotAllocate(t *testing.T) {
	src, dst := make([]float64, 64), make([]float64, 64)
	src[0] = 0.7
	for _, a := range []Arithmetic{
		{Signal: Float64(), Coefficient: Float64()}, {Signal: Float32(), Coefficient: Float32()},
		{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}, {Signal: Fixed(0, 31), Coefficient: Fixed(1, 30), Accumulator: 72},
	} {
		r := program(t, a, TransposedII, false, 0, someSections()...).NewRunner()
		if n := testing.AllocsPerRun(10, func() { r.Process(dst, src) }); n != 0 {
			t.Errorf("%v: %g allocations a block, want 0", a, n)
		}
	}
}

func TestResetAndBlocks(t *testing.T) {
	src := make([]float64, 100)
	src[0], src[50] = 0.5, -0.7
	for _, a := range []Arithmetic{
		{Signal: Float32(), Coefficient: Float32()}, {Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 64},
	} {
		p := program(t, a, DirectI, false, a.Accumulator/64, someSections()...)
		whole := p.NewRunner().Process(nil, src)
		r := p.NewRunner()
		r.Process(nil, src)
		r.Reset()
		other := p.NewRunner()
		first := append(r.Process(nil, src[:33]), r.Process(nil, src[33:])...)
		dst := [][]float64{make([]float64, 100), make([]float64, 100)}
		ProcessChannels([]*Runner{other, p.NewRunner()}, dst, [][]float64{src, src})
		for i := range whole {
			if whole[i] != first[i] || whole[i] != dst[0][i] || whole[i] != dst[1][i] {
				t.Fatalf("%v: sample %d is %g, after Reset and in blocks %g, in channels %g and %g", a, i, whole[i], first[i], dst[0][i], dst[1][i])
			}
		}
	}
}
