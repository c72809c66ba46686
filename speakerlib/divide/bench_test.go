package divide_test

import (
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/divide"
)

// The demo's two ways over five directions: ladders, alignment, two fits of the sum.
func BenchmarkTask(b *testing.B) {
	task := demoTask(b)
	for b.Loop() {
		if _, err := task.Run(); err != nil {
			b.Fatal(err)
		}
	}
}

// 96 candidates of ideal halves: six frequencies, four slopes, two polarities, with
// and without delay.
func BenchmarkSearch(b *testing.B) {
	s := question(b, same(analog.LinkwitzRiley(2)), same(analog.Butterworth(3)), same(analog.LinkwitzRiley(4)), same(analog.LinkwitzRiley(8)))
	s.Frequencies = []float64{1500, 1800, 2100, 2500, 3000, 3500}
	s.Inverted, s.Delays, s.Lag = []bool{false, true}, []bool{true, false}, 60e-6
	s.Objectives = []divide.Objective{divide.Tilt, divide.GroupDelay}
	for b.Loop() {
		if _, err := s.Run(); err != nil {
			b.Fatal(err)
		}
	}
}
