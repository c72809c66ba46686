package diffraction_test

import (
	"math"
	"path/filepath"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/internal/testtable"
)

// still is the air of the reference tables.
var still = air.Medium{Density: 1.2, SpeedOfSound: 343}

// reference reads a table of testdata.
func reference(t testing.TB, name string) []testtable.Row {
	t.Helper()
	return testtable.Read(t, filepath.Join("testdata", name))
}

func pow(x, y float64) float64 { return math.Pow(x, y) }
