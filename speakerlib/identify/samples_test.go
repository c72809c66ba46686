package identify_test

import (
	"fmt"
	"math"
	"os"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
	"example.org/loudspeaker/speakerlib/measure"
)

// Eight samples of one make, of which the sixth has a suspension 28 % too stiff
// (datasets/README.md): it is told by name in what the stiffness makes, and its mass
// and force factor are not. The others spread as they were made: 0.8 % in mass, 1.2 % in
// force factor, 1 % in resistance, within what eight samples tell (a factor of two).
func TestFolderOfSamples(t *testing.T) {
	read := func(name string) freq.Response {
		f, err := os.Open("../../datasets/standmount/samples/" + name)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		tb, err := measure.ReadImpedance(f, name, measure.Format{})
		if err != nil {
			t.Fatal(err)
		}
		r, err := tb.Stated()
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	var list []identify.Sample
	for k := 1; k <= 8; k++ {
		name := fmt.Sprintf("woofer-%02d", k)
		list = append(list, identify.Sample{Name: name, Measurements: []identify.Measurement{
			{Impedance: read(name + "-free-air.txt"), Setup: identify.FreeAir{}},
			{Impedance: read(name + "-added-mass.txt"), Setup: identify.AddedMass{Mass: 10e-3, Accuracy: 0.003}},
		}})
	}
	rows, spread, err := identify.Batch(list, &identify.Settings{Sd: 138e-4, Air: air.Room(), To: 600})
	if err != nil {
		t.Fatal(err)
	}
	if o := rows[5].Outliers; !strings.Contains(o, "Fs") || !strings.Contains(o, "Cms") || strings.Contains(o, "Mms") || strings.Contains(o, "Bl") {
		t.Errorf("sample 6 is an outlier in %q, want Fs and Cms but not Mms and Bl", o)
	}
	for i, r := range rows {
		if i != 5 && (strings.Contains(r.Outliers, "Fs") || strings.Contains(r.Outliers, "Cms")) {
			t.Errorf("%s is an outlier in %q", r.Name, r.Outliers)
		}
	}
	for symbol, sigma := range map[identify.Symbol]float64{identify.Mms: 0.008, identify.Bl: 0.012, identify.Re: 0.01} {
		for _, s := range spread {
			if s.Symbol == symbol && math.Abs(math.Log(s.Relative/sigma)) > math.Ln2 {
				t.Errorf("%s spreads by %.2g %%, made with %.2g %%", s.Symbol, 100*s.Relative, 100*sigma)
			}
		}
	}
}
