package tune_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/tune"
)

// A vented box with a leak is taken to a sixth-order Butterworth at 36 Hz: its four
// poles are cancelled, and two orders are left that keep the cone still below.
func ExampleAcoustic_For() {
	target, err := analog.Design(analog.Highpass{Fc: 36}, analog.Butterworth(6))
	if err != nil {
		fmt.Println(err)
		return
	}
	box := enclosure.Vented{Vb: 0.015, Vent: tube, Losses: enclosure.Losses{QL: 7}}
	e, err := tune.Acoustic{Target: target, SampleRate: 48000}.For(enclosure.Mounted{Driver: cone, Box: box, Air: room})
	if err != nil {
		fmt.Println(err)
		return
	}
	for i := range e.Cascade.Len() {
		fmt.Println(e.Cascade.Design(i))
	}
	g, err := freq.LogGrid(10, 400, 96)
	if err != nil {
		fmt.Println(err)
		return
	}
	db, hz := e.Boost(g)
	fmt.Printf("at most %+.1f dB, at %.0f Hz; falls with order %d\n", db, hz, e.Protection)
	// Output:
	// high-pass 36 Hz, Q 0.70711
	// poles moved from 39.873 Hz, Q 0.58501 to 36 Hz, Q 1.9319
	// poles moved from 43.8322 Hz, Q 0.81393 to 36 Hz, Q 0.51764
	// at most +6.6 dB, at 37 Hz; falls with order 2
}
