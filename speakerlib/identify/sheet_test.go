package identify_test

import (
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/identify"
)

// A mass that is typed ten times too small makes a driver that may well exist. The sheet
// tells; and it is silent about a sample that differs from it as samples do.
func TestOffSheet(t *testing.T) {
	g := grid(t)
	d := woofer()
	said := driver.Sheet{Re: d.re * 1.05, Fs: d.fs * 1.15, Qes: d.qes * 0.9, Mms: d.mms * 1.1, Bl: d.bl(), Cms: d.cms() * 0.8}
	for factor, want := range map[float64]string{1: "", 0.1: "Mms is 1.52 and not 16.7 g", 10: "Bl is 23.6 and not 7.48 N/A"} {
		ms := massPair(t, g, rand.New(rand.NewPCG(2, 2)), d, 0.003, 6e-3, 0, 0)
		ms[1].Setup = identify.AddedMass{Mass: 6e-3 * factor}
		r, err := identify.Fit(ms, &identify.Settings{Sd: d.sd, Sheet: said})
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		for _, w := range r.Warnings {
			if w.Kind == identify.OffSheet {
				text = w.Text
			}
		}
		if (want == "") != (text == "") || !strings.Contains(text, want) {
			t.Errorf("mass times %g: warns %q, want %q", factor, text, want)
		}
	}
	// Each value alone.
	ms := massPair(t, g, rand.New(rand.NewPCG(2, 2)), d, 0.003, 6e-3, 0, 0)
	for want, sheet := range map[string]driver.Sheet{
		"Re is": {Re: 2 * d.re}, "Fs is": {Fs: 2 * d.fs}, "Qes is": {Qes: 2 * d.qes}, "Mms is": {Mms: 2 * d.mms}, "Bl is": {Bl: 2 * d.bl()}, "Cms is": {Cms: 2 * d.cms()},
	} {
		r, err := identify.Fit(ms, &identify.Settings{Sheet: sheet})
		if err != nil {
			t.Fatal(err)
		}
		if !slices.ContainsFunc(r.Warnings, func(w identify.Warning) bool { return w.Kind == identify.OffSheet && strings.Contains(w.Text, want) }) {
			t.Errorf("no warning with %q in %v", want, r.Warnings)
		}
	}
	_, err := identify.Fit(massPair(t, g, rand.New(rand.NewPCG(2, 2)), d, 0.003, 6e-3, 0, 0), &identify.Settings{Sheet: driver.Sheet{Mms: -1}})
	if err == nil || !strings.HasPrefix(err.Error(), "identify: sheet") {
		t.Errorf("error is %v, want one of the sheet", err)
	}
}
