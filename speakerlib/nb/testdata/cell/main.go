// A program that fails in a function that main calls: what a cell is.
package main

import (
	"errors"

	"example.org/loudspeaker/speakerlib/nb"
)

func load() int {
	return nb.Must(0, errors.New("no such luck"))
}

func main() {
	load()
}
