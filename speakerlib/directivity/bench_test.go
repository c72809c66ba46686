package directivity_test

import (
	"testing"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
)

// The 70 directions of 481 frequencies, all averages.
func BenchmarkAverages(b *testing.B) {
	g := grid(b, 20, 20e3, 48)
	set := must[*directivity.Set](b)(directivity.Simulate(g, fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
		return pistonPair(d, 0.1), nil
	}, directivity.Orbits70()...))
	for b.Loop() {
		if _, err := set.Averages(directivity.Reading{}); err != nil {
			b.Fatal(err)
		}
	}
}
