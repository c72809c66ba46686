package level_test

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/level"
)

// testdata/weighting.txt: the formulas of IEC 61672-1 in 30 digits (command in the script),
// and the table that the standard prints to a tenth of a decibel (from memory).
func TestWeightingsFollowTheStandard(t *testing.T) {
	src, err := os.ReadFile("testdata/weighting.txt")
	if err != nil {
		t.Fatal(err)
	}
	rows := 0
	for _, line := range strings.Split(string(src), "\n") {
		words := strings.Fields(line)
		if len(words) != 5 || words[0] == "#" {
			continue
		}
		var v [5]float64
		for i, w := range words {
			if v[i], err = strconv.ParseFloat(w, 64); err != nil {
				t.Fatal(err)
			}
		}
		rows++
		for _, c := range []struct {
			w              level.Weighting
			exact, printed float64
		}{{level.A, v[1], v[2]}, {level.C, v[3], v[4]}, {level.Z, 0, 0}} {
			got := level.DB(c.w.Ratio(v[0]))
			if math.Abs(got-c.exact) > 1e-9 {
				t.Errorf("%v at %.5g Hz is %.12g dB, want %.12g", c.w, v[0], got, c.exact)
			}
			if math.Abs(got-c.printed) > 0.0501 {
				t.Errorf("%v at %.5g Hz is %.3f dB, printed %.1f", c.w, v[0], got, c.printed)
			}
		}
	}
	if rows != 34 {
		t.Errorf("%d rows, want 34", rows)
	}
	if got := level.A.String() + level.C.String() + level.Z.String(); got != "ACZ" {
		t.Errorf("letters are %s", got)
	}
}
