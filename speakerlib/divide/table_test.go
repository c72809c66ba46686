package divide_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/divide"
	"example.org/loudspeaker/speakerlib/report"
	"example.org/loudspeaker/speakerlib/tune"
)

// What a study tells comes as rows of tables, angles in degrees.
func TestRowsAreTables(t *testing.T) {
	text := func(rows report.Table, err error) string {
		if err != nil {
			t.Fatal(err)
		}
		return rows.Text()
	}
	for name, got := range map[string]string{
		"rungs":     text(report.NewTable("x", []tune.Rung{{Sections: 2, RMS: 0.1, Gain: 0.5}})),
		"seen":      text(report.NewTable("x", []tune.Seen{{Name: "axis"}})),
		"lobes":     text(report.NewTable("x", []crossover.Lobe{{Hz: 2000, Tilt: math.Pi / 18, Lower3: math.Inf(-1)}})),
		"elevation": text(report.NewTable("x", []crossover.Elevation{{Angle: 0.1}})),
		"positions": text(report.NewTable("x", []crossover.PositionMatch{{Position: "axis"}})),
		"stretches": text(report.NewTable("x", []crossover.Stretch{{Position: "axis"}})),
		"tries":     text(report.NewTable("x", []divide.Try{{Enough: 0.25}})),
		"nulls":     text(report.NewTable("x", []divide.Null{{Between: "a and b"}})),
		"points":    text(report.NewTable("x", []divide.Point{{Hz: 2000, Tilt: math.Pi / 18, Used: 0.5, Excursion: 1e-4}})),
		"tallies":   text(report.NewTable("x", []divide.Tally{{Bound: "tilt"}})),
	} {
		if strings.Count(got, "\n") < 2 {
			t.Errorf("%s: %q", name, got)
		}
		if name == "points" && (!strings.Contains(got, "°") || !strings.Contains(got, "+10.0")) {
			t.Errorf("%s: %q, want +10.0 degrees", name, got)
		}
	}
}
