package identify_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.org/loudspeaker/speakerlib/identify"
	"example.org/loudspeaker/speakerlib/report"
)

func TestBatch(t *testing.T) {
	g := grid(t)
	r := rand.New(rand.NewPCG(5, 5))
	var samples []identify.Sample
	var fs []float64
	for i := range 8 {
		d := woofer()
		d.coil = both(inductor(0.2e-3), rung(0.4e-3, 6))
		d.fs *= 1 + 0.02*r.NormFloat64()
		d.mms *= 1 + 0.01*r.NormFloat64()
		if i == 5 {
			d.mms *= 1.2 // the wrong cone
		}
		fs = append(fs, d.fs)
		samples = append(samples, identify.Sample{Name: fmt.Sprintf("unit %d", i+1), Measurements: massPair(t, g, r, d, 0.003, 6e-3, 0, 0)})
	}
	samples = append(samples, identify.Sample{Name: "broken"})
	rows, spreads, err := identify.Batch(samples, &identify.Settings{Sd: woofer().sd})
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 9 || rows[8].Result != nil || rows[8].Remark == "" || rows[8].Fs != nil {
		t.Errorf("%d rows, the last %+v, want 9, the last without a result", len(rows), rows[8])
	}
	found := map[identify.Symbol]identify.Spread{}
	for _, s := range spreads {
		found[s.Symbol] = s
	}
	var mean, square float64
	for _, f := range fs {
		mean += f / 8
	}
	for _, f := range fs {
		square += (f - mean) * (f - mean)
	}
	deviation := math.Sqrt(square / 7)
	if s := found[identify.Fs]; s.Samples != 8 || math.Abs(s.Mean/mean-1) > 1e-3 || math.Abs(s.Deviation/deviation-1) > 0.02 {
		t.Errorf("spread of Fs is %+v, want mean %g and deviation %g of 8", s, mean, deviation)
	}
	if s := found[identify.Mms]; s.Outliers != "unit 6" {
		t.Errorf("outliers of Mms are %q, want unit 6", s.Outliers)
	}
	if _, ok := found[identify.Vas]; ok {
		t.Error("there is a spread of Vas without air, want none")
	}
	for _, table := range []func() (report.Table, error){
		func() (report.Table, error) { return report.NewTable("samples", rows) },
		func() (report.Table, error) { return report.NewTable("spread", spreads) },
	} {
		tb, err := table()
		if err != nil {
			t.Fatal(err)
		}
		t.Log("\n" + tb.Text())
	}
	if _, _, err := identify.Batch(nil, nil); err == nil {
		t.Error("no samples are taken")
	}
	if _, _, err := identify.Batch(samples[:1:1], nil); err != nil {
		t.Error(err)
	}
	if _, _, err := identify.Batch([]identify.Sample{samples[0], samples[0]}, nil); err == nil {
		t.Error("two samples of one name are taken")
	}
}
