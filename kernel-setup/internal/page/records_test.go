package page

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
	"example.org/loudspeaker/speakerlib/report"
)

func recordCell(t *testing.T, id string, records ...report.Record) *nbformat.Cell {
	t.Helper()
	c := &nbformat.Cell{Type: nbformat.Code, ID: id}
	for _, r := range records {
		raw, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		v, err := nbformat.DecodeJSON(raw)
		if err != nil {
			t.Fatal(err)
		}
		c.Outputs = append(c.Outputs, nbformat.Output{Type: nbformat.DisplayData, Data: nbformat.Bundle{r.MIME(): v}})
	}
	return c
}

func TestCollect(t *testing.T) {
	demand := report.AtMost("vent air speed", "brief", "m/s peak", 20)
	point := report.AtMost("−6 dB point", "brief", "Hz", 35.5)
	data := report.Dataset{Path: "datasets/a.txt", SHA256: strings.Repeat("0", 64), Bytes: 3}
	n := &nbformat.Notebook{Minor: 5, Cells: []*nbformat.Cell{
		{Type: nbformat.Markdown, ID: "m"},
		recordCell(t, "brief", demand, point),               // the demands, without values
		recordCell(t, "a", demand.Evaluate(25, 0), data),    // fails
		recordCell(t, "b", demand.Evaluate(15, 0), data),    // a later pass does not undo the failure
		recordCell(t, "c", report.Seed{Name: "s", Seed: 1}), //
		recordCell(t, "d", report.Seed{Name: "s", Seed: 1}), // the same
		recordCell(t, "e", report.Seed{Name: "s", Seed: 1<<64 - 1}),
	}}
	// gonb sends text: a record may stand as a string that holds its JSON.
	raw, err := json.Marshal(data)
	if err != nil {
		t.Fatal(err)
	}
	n.Cells = append(n.Cells, &nbformat.Cell{Type: nbformat.Code, ID: "f", Outputs: []nbformat.Output{
		{Type: nbformat.DisplayData, Data: nbformat.Bundle{report.DatasetMIME: string(raw)}},
	}})
	r, err := Collect(n)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, q := range r.Requirements {
		got = append(got, q.Place.ID+" "+q.Name()+" "+q.Status().String())
	}
	want := "brief −6 dB point not evaluated; a vent air speed fail; b vent air speed pass"
	if strings.Join(got, "; ") != want {
		t.Errorf("requirements %q, want %q", got, want)
	}
	if len(r.Failed()) != 1 || r.Failed()[0].Place.Cell != 3 || r.Count(report.Pass) != 1 {
		t.Errorf("failed %v", r.Failed())
	}
	if len(r.Datasets) != 1 || r.Datasets[0].Place.ID != "a" {
		t.Errorf("datasets %v, want one, of cell a", r.Datasets)
	}
	if len(r.Seeds) != 2 || r.Seeds[1].Seed.Seed != 1<<64-1 {
		t.Errorf("seeds %v, want 1 and 2⁶⁴−1", r.Seeds)
	}
}

// What a chapter evaluates and the last one lists again is one requirement; what
// comes out otherwise the second time is not.
func TestCollectMergesWhatSaysTheSame(t *testing.T) {
	speed := report.AtMost("vent air speed", "brief", "m/s peak", 20)
	noise := report.AtMost("idle noise", "brief", "dB(A)", 0)
	other := report.AtMost("vent air speed", "a later brief", "m/s peak", 20)
	decision := report.Decision{ID: "D1", Question: "q", Alternatives: []report.Alternative{{Name: "a"}, {Name: "b"}}, Choice: "a", Reason: "r", Revision: "1", Date: "2025-01-31"}
	r, err := Collect(&nbformat.Notebook{Minor: 5, Cells: []*nbformat.Cell{
		recordCell(t, "a", noise, speed.Evaluate(15, 0.5)),
		recordCell(t, "b", speed.Evaluate(15, 0.5), speed.Evaluate(15, 0.5)), // the same
		recordCell(t, "c", speed.Evaluate(15, 0.6)),                          // another guard band
		recordCell(t, "d", speed.Evaluate(25, 0.5)),                          // another value, fails
		recordCell(t, "e", decision, speed.Evaluate(25, 0.5).WaivedBy("D1")), // the same, waived
		recordCell(t, "f", other.Evaluate(15, 0.5)),                          // another source
		recordCell(t, "g", noise.NotEvaluated("needs a model of the amplifier")),
		recordCell(t, "h", speed.Evaluate(15, 0.5)),
	}})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, q := range r.Requirements {
		line := fmt.Sprintf("%s, %s: %v, %d others, in %s", q.Name(), q.Source(), q.Status(), q.Others, q.Place.ID)
		for _, p := range q.Again {
			line += " " + p.ID
		}
		got = append(got, line)
	}
	want := []string{
		"idle noise, brief: not evaluated, 0 others, in a g",
		"vent air speed, brief: pass, 3 others, in a b h",
		"vent air speed, brief: pass, 3 others, in c",
		"vent air speed, brief: fail, 3 others, in d",
		"vent air speed, brief: waived, 3 others, in e",
		"vent air speed, a later brief: pass, 0 others, in f",
	}
	if !slices.Equal(got, want) {
		t.Errorf("had\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
	if why := r.Requirements[0].Why(); why != "needs a model of the amplifier" {
		t.Errorf("not evaluated because %q, want the last reason", why)
	}
	if r.Count(report.Pass) != 3 || len(r.Failed()) != 1 {
		t.Errorf("%d pass and %d fail, want 3 and 1", r.Count(report.Pass), len(r.Failed()))
	}
}

func TestCollectFiles(t *testing.T) {
	table := report.File{Name: "sections.csv", Media: "text/csv", Content: []byte("1,2\n")}
	document := report.File{Name: "sections.json", Media: "application/json", Content: []byte("{}")}
	raw, err := json.Marshal(table)
	if err != nil {
		t.Fatal(err)
	}
	r, err := Collect(&nbformat.Notebook{Minor: 5, Cells: []*nbformat.Cell{
		recordCell(t, "a", table), recordCell(t, "b", document, table),
		{Type: nbformat.Code, ID: "c", Outputs: []nbformat.Output{{Type: nbformat.DisplayData, Data: nbformat.Bundle{report.FileMIME: string(raw)}}}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, f := range r.Files {
		got = append(got, f.Name+" "+string(f.Content)+" "+f.Place.ID)
	}
	if want := "sections.csv 1,2\n a; sections.json {} b"; strings.Join(got, "; ") != want {
		t.Errorf("files %q, want %q", got, want)
	}
}

func TestCollectRefuses(t *testing.T) {
	raw := func(mime, text string) *nbformat.Cell {
		v, err := nbformat.DecodeJSON([]byte(text))
		if err != nil {
			t.Fatal(err)
		}
		return &nbformat.Cell{Type: nbformat.Code, ID: "raw", Outputs: []nbformat.Output{{Type: nbformat.DisplayData, Data: nbformat.Bundle{mime: v}}}}
	}
	sum := func(digit string) report.Dataset {
		return report.Dataset{Path: "datasets/a.txt", SHA256: strings.Repeat(digit, 64), Bytes: 3}
	}
	file := func(name, media, content string) report.File {
		return report.File{Name: name, Media: media, Content: []byte(content)}
	}
	decision := report.Decision{ID: "D1", Question: "q", Alternatives: []report.Alternative{{Name: "a"}, {Name: "b"}}, Choice: "a", Reason: "r", Revision: "1", Date: "2025-01-31"}
	for _, c := range []struct {
		name  string
		cells []*nbformat.Cell
		want  string
	}{
		{"changed file", []*nbformat.Cell{recordCell(t, "a", sum("0")), recordCell(t, "b", sum("1"))}, `cell 2 (id "b"), output 1: datasets/a.txt changed`},
		{"decision twice", []*nbformat.Cell{recordCell(t, "a", decision), recordCell(t, "b", decision)}, `"D1" stands already in cell 1`},
		{"other content", []*nbformat.Cell{recordCell(t, "a", file("x.csv", "text/csv", "1")), recordCell(t, "b", file("x.csv", "text/csv", "2"))},
			`cell 2 (id "b"), output 1: file x.csv has other content (SHA-256 d4735e3a265e) than in cell 1 (id "a": 6b86b273ff34)`},
		{"other media type", []*nbformat.Cell{recordCell(t, "a", file("x.csv", "text/csv", "1"), file("x.csv", "text/plain", "1"))},
			`cell 1 (id "a"), output 2: file x.csv is text/plain here and text/csv in cell 1 (id "a")`},
		{"other case", []*nbformat.Cell{recordCell(t, "a", file("x.csv", "text/csv", "1")), recordCell(t, "b", file("X.csv", "text/csv", "1"))},
			`differ in name only by the case`},
		{"wrong sum", []*nbformat.Cell{raw(report.FileMIME, `{"name":"x.csv","media":"text/csv","sha256":"00","bytes":1,"content":"MQ=="}`)}, "has SHA-256"},
		{"name with a folder", []*nbformat.Cell{raw(report.FileMIME, `{"name":"../x.csv","media":"text/csv","sha256":"6b86b273ff34fce19d6b804eff5a3f5747ada4eaa22f1d49c01e52ddb7875b4b","bytes":1,"content":"MQ=="}`)}, "without a folder"},
		{"waived by nothing", []*nbformat.Cell{recordCell(t, "a", report.AtMost("x", "s", "Hz", 1).Evaluate(2, 0).WaivedBy("D9"))}, `waived by decision "D9", which is not in the notebook`},
		{"not JSON of a record", []*nbformat.Cell{raw(report.SeedMIME, `3`)}, `cell 1 (id "raw"), output 1`},
		{"pass that is none", []*nbformat.Cell{raw(report.RequirementMIME, `{"name":"x","source":"s","value":2,"unit":"Hz","limit":1,"bound":"at most","lower":null,"upper":1,"margin":-1,"guard":0,"status":"pass","why":"","waivedBy":""}`)}, "contradicts itself"},
	} {
		_, err := Collect(&nbformat.Notebook{Minor: 5, Cells: c.cells})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want it to say %q", c.name, err, c.want)
		}
	}
}
