package radiation_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
)

// still is the air of the reference tables.
var still = air.Medium{Density: 1.2, SpeedOfSound: 343}

// hz is the frequency at which a radius has a ka.
func hz(ka, radius float64) float64 { return ka * 343 / (2 * math.Pi * radius) }

func rad(deg float64) float64 { return deg * math.Pi / 180 }

// reference reads a table of testdata, each row by its column's name.
func reference(t testing.TB, name string) []row {
	t.Helper()
	f, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []row
	for _, r := range records[1:] {
		m := row{}
		for i, column := range records[0] {
			m[column] = r[i]
		}
		rows = append(rows, m)
	}
	return rows
}

type row map[string]string

func (r row) number(t testing.TB, column string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("column %q: %v", column, err)
	}
	return x
}
