package dsp

import (
	"math"
	"sync"
)

// Runner runs a program over the samples of one channel, bit for bit as a processor
// of its arithmetic does. It keeps its state from call to call and belongs to one
// goroutine. Running does not allocate.
type Runner struct {
	program *Program
	core    core
}

// core is a runner in one kind of number.
type core interface {
	process(dst, src []float64)
	reset()
}

// NewRunner returns a runner at rest. It panics if the program is not valid.
func (p *Program) NewRunner() *Runner {
	if p.Validate() != nil {
		panic("dsp: runner of a program that is not valid")
	}
	r := &Runner{program: p}
	switch p.Arithmetic.Signal.Number {
	case Binary32:
		r.core = newFloatCore[float32](p)
	case Binary64:
		r.core = newFloatCore[float64](p)
	default:
		r.core = newFixedCore(p)
	}
	return r
}

// Reset brings the runner to rest.
func (r *Runner) Reset() { r.core.reset() }

// Process runs src, in full scale, into dst (nil allocates, another length panics),
// which may be the same slice, and returns dst. What goes in is rounded to the
// signal's format: in fixed point to the nearest, half up, and to the nearest end of
// the range beyond it; not a number is 0. In floating point one that is not finite stays
// in the states until Reset. What comes out is exact but for words of more than 53 bits.
func (r *Runner) Process(dst, src []float64) []float64 {
	if dst == nil {
		dst = make([]float64, len(src))
	}
	if len(dst) != len(src) {
		panic("dsp: dst and src differ in length")
	}
	r.core.process(dst, src)
	return dst
}

// ProcessWords is Process for the words of fixed point: value times 2^N. It panics
// for another kind of number. Words beyond the format are taken to its nearest end.
func (r *Runner) ProcessWords(dst, src []int64) []int64 {
	if dst == nil {
		dst = make([]int64, len(src))
	}
	if len(dst) != len(src) {
		panic("dsp: dst and src differ in length")
	}
	c, ok := r.core.(*fixedCore)
	if !ok {
		panic("dsp: words of a program in floating point")
	}
	for i, v := range src {
		dst[i] = c.step(min(max(v, c.lo), c.hi))
	}
	return dst
}

// ProcessChannels runs channels side by side, a goroutine each: runner, dst and src
// i belong together, as in [Runner.Process]. It starts goroutines and so allocates
// a little for each call: blocks of some thousand samples make that nothing.
func ProcessChannels(runners []*Runner, dst, src [][]float64) {
	if len(dst) != len(runners) || len(src) != len(runners) {
		panic("dsp: runners, dst and src differ in length")
	}
	var wait sync.WaitGroup
	for i := 1; i < len(runners); i++ {
		wait.Go(func() { runners[i].Process(dst[i], src[i]) })
	}
	if len(runners) > 0 {
		runners[0].Process(dst[0], src[0])
	}
	wait.Wait()
}

// ring is a delay of whole samples.
type ring[T any] struct {
	line []T
	at   int
}

func (r *ring[T]) step(v T) T {
	if len(r.line) == 0 {
		return v
	}
	r.line[r.at], v = v, r.line[r.at]
	if r.at++; r.at == len(r.line) {
		r.at = 0
	}
	return v
}

// toWord rounds a sample in steps of its format to a word.
func toWord(v, flo, fhi float64, lo, hi int64) int64 {
	v = math.Floor(v + 0.5)
	switch {
	case v <= flo:
		return lo
	case v >= fhi:
		return hi
	case v != v:
		return 0
	}
	return int64(v)
}
