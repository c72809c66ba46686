package report

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"
)

func tuning() Decision {
	return Decision{
		ID: "D1", Question: "How low is the vent tuned?",
		Alternatives: []Alternative{
			{"49 Hz, as it is", []Quantity{{"−6 dB at", 45.5, "Hz"}, {"excursion", 0.0078125, "mm peak"}}},
			{"38.5 Hz", []Quantity{{"−6 dB at", 35, "Hz"}, {"vent length", 0.21875, "mm"}}},
		},
		Choice: "38.5 Hz", Reason: "the only one that reaches 35.5 Hz & fits the depth",
		Requirements: []string{"−6 dB point", "vent air speed"}, Revision: "A", Date: "2025-03-01",
	}
}

func TestDecisionReadsBackEqual(t *testing.T) {
	b, err := json.Marshal(tuning())
	if err != nil {
		t.Fatal(err)
	}
	got, err := ReadDecisions(b)
	if err != nil || len(got) != 1 || !reflect.DeepEqual(got[0], tuning()) {
		t.Errorf("read back %+v, %v, want %+v", got, err, tuning())
	}
	const want = `"alternatives":[{"name":"49 Hz, as it is","figures":[{"name":"−6 dB at","value":45.5,"unit":"Hz"},{"name":"excursion","value":7.8125,"unit":"mm peak"}]}`
	if !strings.Contains(string(b), want) {
		t.Errorf("%s is not in\n%s", want, b)
	}
}

func TestDecisionIsComplete(t *testing.T) {
	for name, spoil := range map[string]func(*Decision){
		"no ID":            func(d *Decision) { d.ID = "" },
		"no question":      func(d *Decision) { d.Question = " " },
		"no reason":        func(d *Decision) { d.Reason = "" },
		"no revision":      func(d *Decision) { d.Revision = "" },
		"date":             func(d *Decision) { d.Date = "1.3.2025" },
		"impossible date":  func(d *Decision) { d.Date = "2025-02-30" },
		"one alternative":  func(d *Decision) { d.Alternatives = d.Alternatives[1:] },
		"same names":       func(d *Decision) { d.Alternatives[0].Name = "38.5 Hz" },
		"unknown choice":   func(d *Decision) { d.Choice = "40 Hz" },
		"unit":             func(d *Decision) { d.Alternatives[0].Figures[0].Unit = "furlong" },
		"nameless figure":  func(d *Decision) { d.Alternatives[0].Figures[0].Name = "" },
		"not a number":     func(d *Decision) { d.Alternatives[0].Figures[0].Value = math.NaN() },
		"empty in touches": func(d *Decision) { d.Requirements = []string{""} },
		"release":          func(d *Decision) { d.Release = "3" },
		"signed twice":     func(d *Decision) { d.Signed = []Signature{{Acoustics, "2025-03-01"}, {Acoustics, "2025-03-02"}} },
		"signed before":    func(d *Decision) { d.Signed = []Signature{{Acoustics, "2025-02-28"}} },
		"signed when":      func(d *Decision) { d.Signed = []Signature{{Acoustics, "soon"}} },
		"signed by whom":   func(d *Decision) { d.Signed = []Signature{{6, "2025-03-01"}} },
	} {
		d := tuning()
		spoil(&d)
		if b, err := json.Marshal(d); err == nil {
			t.Errorf("%s: has the record %s", name, b)
		}
	}
}

func TestDecisionIsShown(t *testing.T) {
	for _, form := range []string{tuning().Text(), tuning().HTML()} {
		for _, want := range []string{"D1", "How low", "excursion", "mm peak", "7.812", "218.8", "–", "◀ chosen", "vent air speed", "2025-03-01"} {
			if !strings.Contains(form, want) {
				t.Errorf("%q is not in\n%s", want, form)
			}
		}
	}
	if page := tuning().HTML(); !strings.Contains(page, "35.5 Hz &amp; fits") {
		t.Errorf("markup is not escaped:\n%s", page)
	}
}
