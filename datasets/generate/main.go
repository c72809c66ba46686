// Command generate makes the demo measurements of datasets/standmount.
//
// The loudspeaker is invented. The files look like what a measuring rig writes:
// rounded, noisy, gated, with the time of flight in the phase. The model behind
// them is richer than that of the library (the list is in datasets/README.md)
// and shares no code with it, so that a study that reads the files does not find
// its own assumptions again.
//
//	go run ./datasets/generate             # from the root of the repository
//	go run ./datasets/generate -to DIR     # somewhere else
//
// The same files come out, byte for byte, on every run: the noise has fixed
// seeds, and everything is printed with fewer digits than rounding could change.
package main

import (
	"flag"
	"fmt"
	"os"
)

func main() {
	to := flag.String("to", "datasets", "the folder to write standmount/ and SHA256SUMS into")
	flag.Parse()
	if err := generate(*to); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}
