package si_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/si"
)

func Example() {
	vb := 15.2 * si.Litre
	fmt.Printf("%g m³ is %.1f L\n", vb, vb/si.Litre)
	// Output: 0.0152 m³ is 15.2 L
}
