package signalpath_test

import (
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
)

// A path is a stage of a way's chain; testdata/tweeter.cir has its voltage at the terminals.
func TestPathIsAStageOfAChain(t *testing.T) {
	rows := readTable(t, "testdata/tweeter_ac_ngspice.txt", 13)
	g := gridOf(t, rows)
	chain := crossover.Chain{Name: "tweeter", Stages: freq.Series{tweeterPath().Transfer(), freq.Gain(0.5)}, Inverted: true}
	got := must(freq.Evaluate(chain, g, "chain", freq.Basis{}))(t)
	for i, r := range rows {
		want := complex(r[9], r[10]) * -0.5
		if cmplx.Abs(got.At(i)/want-1) > 1e-9 {
			t.Fatalf("at %g Hz %v, want %v", r[0], got.At(i), want)
		}
	}
	p := demoWay(t)
	if err := freq.CheckGrid(p.Transfer(), must(freq.NewGrid([]float64{100, 60000}))(t)); err == nil {
		t.Error("a grid beyond half the sample rate is no error")
	}
}
