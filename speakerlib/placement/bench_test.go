package placement_test

import (
	"testing"

	"example.org/loudspeaker/speakerlib/placement"
)

// Three places in a corner, 121 points, five starts for one shelf and five for two.
func BenchmarkDerive(b *testing.B) {
	g := grid(b, 20, 640, 24)
	goal := placement.Goal{Reference: near(b, g, 0, 0), Places: corner(b, g), From: 25, To: 400, SampleRate: fs}
	for b.Loop() {
		if _, err := placement.Derive("corner", goal); err != nil {
			b.Fatal(err)
		}
	}
}
