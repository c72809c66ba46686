package signalpath_test

import (
	"testing"

	"example.org/loudspeaker/speakerlib/report"
	"example.org/loudspeaker/speakerlib/signalpath"
)

// Every kind of row is a table.
func TestRowsAreTables(t *testing.T) {
	must(report.NewTable("noise", []signalpath.NoiseRow{{}}))(t)
	must(report.NewTable("idle", []signalpath.IdleRow{{}}))(t)
	must(report.NewTable("levels", []signalpath.LevelRow{{}}))(t)
	must(report.NewTable("headroom", []signalpath.HeadroomRow{{}}))(t)
	must(report.NewTable("latency", []signalpath.LatencyRow{{}}))(t)
	must(report.NewTable("sensitivity", []signalpath.SensitivityRow{{}}))(t)
	must(report.NewTable("stress", []signalpath.StressRow{{}}))(t)
	must(report.NewTable("pair", []signalpath.PairRow{{}}))(t)
	must(report.NewTable("thump", []signalpath.ThumpRow{{}}))(t)
}
