package placement_test

import (
	"testing"

	"example.org/loudspeaker/speakerlib/dsp"

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

// 27 combinations of three controls before a way of four sections in fixed point, sums inside and all.
func BenchmarkHeadroom(b *testing.B) {
	g := grid(b, 10, 40e3, 24)
	c, w := bass(b), woofer(b)
	tone := placement.Control{Name: "tone", Neutral: 1}
	for _, slope := range []float64{-0.25, 0, 0.25} {
		f := must[*placement.Tilted](b)(placement.Tilt{PerOctave: slope, Pivot: 700, From: 30, To: 16e3, SampleRate: fs}.Filter(g))
		tone.Positions = append(tone.Positions, placement.Position{Name: f.Response.Label(), Cascade: f.Cascade})
	}
	c.Controls = append(c.Controls, tone)
	c = must[*placement.Controls](b)(c.Committed(words, dsp.Options{}))
	for b.Loop() {
		if _, err := c.Headroom(g, w); err != nil {
			b.Fatal(err)
		}
	}
}
