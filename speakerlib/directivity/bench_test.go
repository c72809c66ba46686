package directivity_test

import (
	"testing"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/room"
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

// Power near a corner with the directivity of a set: 4608 directions beside the orbits, 61
// frequencies.
func BenchmarkPatternNearACorner(b *testing.B) {
	g := grid(b, 20, 640, 12)
	set := must[*directivity.Set](b)(directivity.Simulate(g, fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
		return pistonPair(d, 0.1), nil
	}, directivity.Orbits70()...))
	w := &room.Walls{Surfaces: [6]room.Surface{room.Front: room.Rigid{}, room.Left: room.Rigid{}, room.Floor: room.Rigid{}}, Air: medium}
	for b.Loop() {
		s := room.Source{At: room.Point{X: 0.4, Y: 0.5, Z: 0.79}, Pattern: set.Pattern(directivity.Interpolation{Method: directivity.Aligned})}
		if _, err := w.Radiated(s, g, "corner"); err != nil {
			b.Fatal(err)
		}
	}
}
