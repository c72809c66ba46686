package dsp

import (
	"fmt"
	"math"
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
		{Arithmetic{Signal: Fixed(0, 31), Coefficient: Fixed(1, 30), Accumulator: 72}, false, 1},
		{Arithmetic{Signal: Fixed(0, 31), Coefficient: Fixed(1, 30), Accumulator: 80}, false, 2},
		{Arithmetic{Signal: Fixed(0, 31), Coefficient: Fixed(1, 28), Accumulator: 65, Exponent: 2}, false, 0},
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}, false, 1},
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56, Rounding: Floor}, false, 0},
		{Arithmetic{Signal: Fixed(0, 31), Coefficient: Fixed(1, 30), Accumulator: 72, Rounding: Floor}, false, 0},
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

// Sections alone run two samples at a time: to the last bit as they do one by one, which a
// gain of 1 makes them, in blocks of any length.
func TestSectionsAlone(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	src := make([]float64, 1001)
	for i := range src {
		src[i] = rng.NormFloat64()
	}
	for _, f := range []Format{Float32(), Float64()} {
		p := benchProgram(t, Arithmetic{Signal: f, Coefficient: f}, TransposedII)
		alone := p.NewRunner()
		var got []float64
		for at, n := 0, 1; at < len(src); at, n = at+n, n%17+2 {
			n = min(n, len(src)-at)
			got = append(got, alone.Process(nil, src[at:at+n])...)
		}
		q := *p
		q.Gain = &Gain{Coefficient: Coefficient{Value: 1}}
		for i, w := range q.NewRunner().Process(nil, src) {
			if math.Float64bits(got[i]) != math.Float64bits(w) {
				t.Fatalf("%v: sample %d is %g alone, %g with a gain of 1", f, i, got[i], w)
			}
		}
	}
}
