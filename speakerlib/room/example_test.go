package room_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/room"
)

// A woofer on a stand, 0.4 m before the front wall and 1.2 m from the left one, heard 2.6 m away:
// which surface takes what away where. The depth is that of one reflection alone.
func ExampleField_Cancellations() {
	carpet, err := room.NewAbsorber(room.Band{Hz: 125, Alpha: 0.05}, room.Band{Hz: 500, Alpha: 0.2})
	if err != nil {
		fmt.Println(err)
		return
	}
	w := &room.Walls{Surfaces: [6]room.Surface{room.Front: room.Rigid{}, room.Left: room.Rigid{}, room.Floor: carpet}, Air: air.Room()}
	g, err := freq.LogGrid(20, 2000, 48)
	if err != nil {
		fmt.Println(err)
		return
	}
	f, err := w.Heard(room.Source{At: room.Point{X: 0.4, Y: 1.2, Z: 0.79}}, room.Point{X: 3, Y: 1.2, Z: 0.935}, 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	cancellations, err := f.Cancellations(g)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range cancellations {
		fmt.Printf("%-10v %.2f m longer, %.0f Hz, ×%.2f\n", c.Path, c.Extra, c.Hz, c.Depth)
	}
	// Output:
	// left wall  0.94 m longer, 183 Hz, ×0.26
	// front wall 0.80 m longer, 215 Hz, ×0.23
	// floor      0.52 m longer, 333 Hz, ×0.23
}
