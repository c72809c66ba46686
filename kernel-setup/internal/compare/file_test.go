package compare

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
	"example.org/loudspeaker/speakerlib/report"
)

// handedOn is a notebook that hands files on, with the record as gonb leaves
// it: JSON in a string.
func handedOn(t *testing.T, files ...report.File) *nbformat.Notebook {
	t.Helper()
	record, err := json.Marshal(files)
	if err != nil {
		t.Fatal(err)
	}
	var said []string
	for _, f := range files {
		said = append(said, f.Text())
	}
	plain := strings.Join(said, "\n")
	return &nbformat.Notebook{Minor: 5, Cells: []*nbformat.Cell{{Type: nbformat.Code, ID: "files", Outputs: []nbformat.Output{{
		Type: nbformat.DisplayData,
		Data: nbformat.Bundle{report.FileMIME: string(record), "text/html": "<p>" + plain + "</p>", "text/plain": plain},
	}}}}}
}

// Coefficients of full precision have another check sum on another processor:
// mode Near looks at the numbers.
func TestFilesThatAreHandedOn(t *testing.T) {
	const text = `{"name": "woofer", "b": [1.2345678901234567, -2.5e-7], "delay": 8, "sha256": "0a1b"}`
	file := func(change ...string) report.File {
		return report.File{Name: "c.json", Media: "application/json", Content: []byte(strings.NewReplacer(change...).Replace(text))}
	}
	other := report.File{Name: "c.csv", Media: "text/csv", Content: []byte("way,b0\nwoofer,0.123456789012345\n")}
	binary := report.File{Name: "c.bin", Media: "application/octet-stream", Content: []byte{0xff, 1}}
	for name, c := range map[string]struct {
		want, have []report.File
		near       string // what Near says; "" for no difference
	}{
		"last digits":        {[]report.File{file(), other}, []report.File{file("01234567", "01239"), other}, ""},
		"more than a part":   {[]report.File{file()}, []report.File{file("1.2345", "1.2346")}, "1.2346"},
		"small coefficient":  {[]report.File{file()}, []report.File{file("2.5e-7", "2.7e-7")}, "2.7e-7"},
		"sign":               {[]report.File{file()}, []report.File{file("-2.5", "2.5")}, "2.5e-7"},
		"count":              {[]report.File{file()}, []report.File{file(`y": 8`, `y": 9`)}, `y": 9`},
		"word":               {[]report.File{file()}, []report.File{file("woofer", "tweeter")}, "tweeter"},
		"sum of an input":    {[]report.File{file()}, []report.File{file("0a1b", "0a1c")}, "0a1c"},
		"second file":        {[]report.File{file(), other}, []report.File{file(), {Name: "c.csv", Media: "text/csv", Content: []byte("way,b0\n")}}, "c.csv"},
		"name":               {[]report.File{other}, []report.File{{Name: "d.csv", Media: other.Media, Content: other.Content}}, "d.csv"},
		"media type":         {[]report.File{other}, []report.File{{Name: "c.csv", Media: "text/plain", Content: other.Content}}, "text/plain"},
		"a file less":        {[]report.File{file(), other}, []report.File{file()}, "c.json"},
		"content of no text": {[]report.File{binary}, []report.File{{Name: "c.bin", Media: binary.Media, Content: []byte{0xff, 2}}}, "SHA-256"},
	} {
		want, have := handedOn(t, c.want...), handedOn(t, c.have...)
		var said strings.Builder
		for _, d := range Notebooks(want, have, Near) {
			said.WriteString(d.String() + "\n")
		}
		if (said.Len() > 0) != (c.near != "") || !strings.Contains(said.String(), c.near) {
			t.Errorf("%s: Near says %q, want %q", name, said.String(), c.near)
		}
		if len(Notebooks(want, have, Exact)) == 0 {
			t.Errorf("%s: Exact finds nothing", name)
		}
	}
	for range 8 { // differences in reading order, every time
		want, have := handedOn(t, other), handedOn(t, other)
		for _, mime := range []string{"text/plain", "text/markdown", "text/html"} {
			want.Cells[0].Outputs[0].Data[mime], have.Cells[0].Outputs[0].Data[mime] = "something", "something else"
		}
		var said []string
		for _, d := range Notebooks(want, have, Near) {
			said = append(said, d.String())
		}
		if len(said) != 3 || !slices.IsSorted(said) {
			t.Fatalf("Near says %q, want three types in their order", said)
		}
	}
	// What stands around the files counts as always.
	want, have := handedOn(t, other), handedOn(t, other)
	have.Cells[0].Outputs[0].Data["text/plain"] = "something else"
	if len(Notebooks(want, have, Near)) == 0 {
		t.Error("another text beside the files is not found")
	}
}
