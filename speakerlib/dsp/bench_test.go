package dsp

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
)

// tenSections are ten sections of unity at most, as a way has them.
func tenSections() []digital.Section {
	var out []digital.Section
	for i := range 10 {
		f := []float64{25, 40, 60, 110, 230, 500, 1100, 2300, 6000, 12000}[i]
		out = append(out, digital.Peak{F0: f, Gain: 0.8, Q: 1 + float64(i%3)})
	}
	return out
}

func benchProgram(b testing.TB, a Arithmetic, s Structure) *Program {
	p := &Program{SampleRate: 96000, Arithmetic: a}
	for _, d := range tenSections() {
		q, err := d.Biquad(p.SampleRate)
		if err != nil {
			b.Fatal(err)
		}
		n, err := newSection(q, d.String(), s, a, false, 0, 0, 0)
		if err != nil {
			b.Fatal(err)
		}
		p.Sections = append(p.Sections, n)
	}
	return p
}

// BenchmarkFloat64Stereo is ten sections over 10 s of stereo at 96 kHz; the same in
// SciPy is testdata/sosfilt_bench.py.
func BenchmarkFloat64Stereo(b *testing.B) {
	const n = 960000
	p := benchProgram(b, Arithmetic{Signal: Float64(), Coefficient: Float64()}, TransposedII)
	rng := rand.New(rand.NewPCG(1, 1))
	src, dst := make([][]float64, 2), make([][]float64, 2)
	for c := range src {
		src[c], dst[c] = make([]float64, n), make([]float64, n)
		for i := range src[c] {
			src[c][i] = rng.NormFloat64()
		}
	}
	runners := []*Runner{p.NewRunner(), p.NewRunner()}
	b.Run("one core", func(b *testing.B) {
		for b.Loop() {
			for c := range runners {
				runners[c].Process(dst[c], src[c])
			}
		}
		b.ReportMetric(10*float64(b.N)/b.Elapsed().Seconds(), "×real-time")
	})
	b.Run("channels side by side", func(b *testing.B) {
		for b.Loop() {
			ProcessChannels(runners, dst, src)
		}
		b.ReportMetric(10*float64(b.N)/b.Elapsed().Seconds(), "×real-time")
	})
}

// BenchmarkFixed is one channel of ten sections, in times real time at 96 kHz.
func BenchmarkFixed(b *testing.B) {
	const n = 96000
	rng := rand.New(rand.NewPCG(1, 1))
	src, dst := make([]float64, n), make([]float64, n)
	for i := range src {
		src[i] = rng.Float64() - 0.5
	}
	for _, c := range []struct {
		a Arithmetic
		s Structure
	}{
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}, DirectI},
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}, TransposedII},
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}, StateVariable},
		{Arithmetic{Signal: Fixed(0, 31), Coefficient: Fixed(1, 30), Accumulator: 72}, DirectI},
		{Arithmetic{Signal: Fixed(0, 31), Coefficient: Fixed(1, 30), Accumulator: 72}, StateVariable},
		{Arithmetic{Signal: Float32(), Coefficient: Float32()}, TransposedII},
	} {
		b.Run(fmt.Sprintf("%v, accumulator %d, %v", c.a.Signal, c.a.Accumulator, c.s), func(b *testing.B) {
			r := benchProgram(b, c.a, c.s).NewRunner()
			for b.Loop() {
				r.Process(dst, src)
			}
			b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "×real-time")
		})
	}
}
