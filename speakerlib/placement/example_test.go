package placement_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/placement"
	"example.org/loudspeaker/speakerlib/room"
)

// A loudspeaker that is voiced away from walls, 0.79 m above the floor, and what it needs at
// 0.3 to 0.5 m from a wall. The cancellations of the wall stay.
func ExampleDerive() {
	g, err := freq.LogGrid(20, 640, 24)
	if err != nil {
		fmt.Println(err)
		return
	}
	floor := room.Walls{Surfaces: [6]room.Surface{room.Floor: room.Rigid{}}, Air: air.Room()}
	free, err := placement.Near("free", &floor, room.Source{At: room.Point{Z: 0.79}}, g)
	if err != nil {
		fmt.Println(err)
		return
	}
	goal := placement.Goal{Reference: free, From: 25, To: 400, SampleRate: 96000}
	wall := floor
	wall.Surfaces[room.Front] = room.Rigid{}
	for _, x := range []float64{0.3, 0.4, 0.5} {
		p, err := placement.Near(fmt.Sprintf("%g m", x), &wall, room.Source{At: room.Point{X: x, Z: 0.79}}, g)
		if err != nil {
			fmt.Println(err)
			return
		}
		goal.Places = append(goal.Places, p)
	}
	s, err := placement.Derive("wall", goal)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, shelf := range s.Shelves {
		fmt.Println(shelf)
	}
	fmt.Printf("rms of what the wall adds: %.2f dB, with the setting %.2f dB\n", s.Before, s.RMS)
	for _, r := range s.Residual {
		fmt.Printf("%s: %+.1f dB at %.0f Hz to %+.1f dB at %.0f Hz\n", r.Place, r.Low, r.LowAt, r.High, r.HighAt)
	}
	// Output:
	// low shelf 108.1 Hz, -2.98 dB, Q 0.707
	// rms of what the wall adds: 2.00 dB, with the setting 0.35 dB
	// 0.3 m: -1.6 dB at 370 Hz to +1.2 dB at 196 Hz
	// 0.4 m: -1.6 dB at 329 Hz to +0.4 dB at 113 Hz
	// 0.5 m: -1.0 dB at 293 Hz to +0.7 dB at 392 Hz
}
