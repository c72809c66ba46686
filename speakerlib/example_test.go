package speakerlib_test

import (
	"fmt"
	"log"
	"os"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/si"
)

// must ends an example that fails.
func must[T any](v T, err error) T {
	if err != nil {
		log.Fatal(err)
	}
	return v
}

func Example() {
	woofer := driver.Params{Re: 5.5, Bl: 7.48, Mms: 15.2 * si.Gram, Cms: 0.968e-3, Rms: 0.843, Sd: 138 * si.SquareCentimetre}
	cabinet := enclosure.Book{Gross: 15.2 * si.Litre, VentWall: 3 * si.Millimetre}
	vent := enclosure.Vent{Diameter: 52 * si.Millimetre, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	tuned := must(cabinet.Tune(40, vent, air.Room()))
	motion := must(enclosure.Mounted{Driver: woofer, Box: tuned.Box, Air: air.Room()}.Motion())
	bass := must(freq.Evaluate(motion.Pressure, must(freq.LogGrid(10, 400, 48)), "bass", enclosure.PressureBasis()))
	level := bass.SPL(2.83) // half space, 1 m
	fmt.Printf("A vent of %.0f mm leaves %.2f L net.\n", tuned.Box.Vent.Length/si.Millimetre, tuned.Box.Vb/si.Litre)
	fmt.Printf("At 2.83 V: %.1f dB from 100 to 200 Hz, ", must(level.Mean(100, 200)))
	fmt.Printf("6 dB less at %.1f Hz.\n", must(level.LowCorner(100, 200, 6)))
	// Output:
	// A vent of 235 mm leaves 14.58 L net.
	// At 2.83 V: 90.3 dB from 100 to 200 Hz, 6 dB less at 38.9 Hz.
}

// The README shows the example above, line by line.
func TestReadmeShowsTheExample(t *testing.T) {
	source, err := os.ReadFile("example_test.go")
	if err != nil {
		t.Fatal(err)
	}
	readme, err := os.ReadFile("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, body, ok := strings.Cut(string(source), "func Example() {\n")
	if !ok {
		t.Fatal("there is no example")
	}
	body, _, _ = strings.Cut(body, "\t// Output:")
	for line := range strings.Lines(body) {
		if line = strings.TrimSpace(line); !strings.Contains(string(readme), line) {
			t.Errorf("README.md lacks the line %q of the example", line)
		}
	}
}
