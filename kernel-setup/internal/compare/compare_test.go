package compare

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"image"
	"image/color"
	"image/png"
	"strings"
	"testing"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// study returns a small executed notebook with each kind of output.
func study() *nbformat.Notebook {
	count := 3
	return &nbformat.Notebook{
		Minor: 5,
		Metadata: map[string]any{
			"kernelspec":    map[string]any{"name": "loudspeaker", "language": "go"},
			"language_info": map[string]any{"name": "go", "version": "go1.26.0"},
		},
		Cells: []*nbformat.Cell{
			{Type: nbformat.Markdown, ID: "title", Source: "# A study"},
			{
				Type: nbformat.Code, ID: "box", Source: "%%\nnb.Show(figure)", ExecutionCount: &count,
				Metadata: map[string]any{"execution": map[string]any{"shell.execute_reply": "2026-01-01T00:00:00"}},
				Outputs: []nbformat.Output{
					{Type: nbformat.Stream, Name: "stdout", Text: "fb = 34.72 Hz, Vb = 14.9 L\n3 vents, SPL1W  87.25 dB\n"},
					{Type: nbformat.DisplayData, Data: nbformat.Bundle{
						"text/plain":    "curve",
						"text/html":     `<img src="data:image/svg+xml;base64,` + base64.StdEncoding.EncodeToString([]byte(svg)) + `">`,
						"image/svg+xml": svg,
						"image/png":     picture(0, 0),
					}},
					{Type: nbformat.DisplayData, Data: nbformat.Bundle{
						"text/plain": "f_3 fails: 36.2 Hz",
						"application/vnd.loudspeaker.requirement+json": map[string]any{
							"name": "low limit", "value": json.Number("35.4871234567"), "status": "pass", "count": json.Number("4"),
						},
					}},
				},
			},
		},
	}
}

const svg = `<svg width="400pt" viewBox="0 0 400 300"><path d="M10.5,20.25L30-40.125" style="stroke:#1f77b4"/><text x="12.5">0.02</text></svg>`

// picture is a PNG of 100 by 100 with n pixels brighter by step.
func picture(n int, step uint8) string {
	img := image.NewGray(image.Rect(0, 0, 100, 100))
	for i := range img.Pix {
		img.Pix[i] = 100
		if i < n {
			img.Pix[i] += step
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		panic(err)
	}
	return base64.StdEncoding.EncodeToString(b.Bytes())
}

func TestSameAndMachineMatters(t *testing.T) {
	for _, mode := range []Mode{Near, Exact} {
		fresh := study()
		count := 17
		fresh.Cells[1].ExecutionCount = &count
		fresh.Cells[1].Metadata = nil
		fresh.Metadata["kernelspec"] = map[string]any{"name": "loudspeaker-b", "language": "go"}
		fresh.Metadata["language_info"] = map[string]any{"name": "go", "version": "go1.27.1"}
		if d := Notebooks(study(), fresh, mode); len(d) > 0 {
			t.Errorf("mode %d: count, version, name and times differ: %v", mode, d)
		}
	}
}

// TestFaults changes one thing at a time. Each must be found in both modes,
// except what Near is there to allow.
func TestFaults(t *testing.T) {
	out := func(n *nbformat.Notebook, i int) *nbformat.Output { return &n.Cells[1].Outputs[i] }
	text := func(from, to string) func(*nbformat.Notebook) {
		return func(n *nbformat.Notebook) {
			o := out(n, 0)
			if !strings.Contains(o.Text, from) {
				panic("nothing to change: " + from)
			}
			o.Text = strings.Replace(o.Text, from, to, 1)
		}
	}
	figure := func(from, to string) func(*nbformat.Notebook) {
		return func(n *nbformat.Notebook) {
			if !strings.Contains(svg, from) {
				panic("nothing to change: " + from)
			}
			out(n, 1).Data["image/svg+xml"] = strings.Replace(svg, from, to, 1)
		}
	}
	const record = "application/vnd.loudspeaker.requirement+json"
	cases := []struct {
		name   string
		change func(n *nbformat.Notebook)
		near   bool // differs in mode Near, too
		says   string
	}{
		{"number changed", text("34.72", "34.74"), true, "34.74"},
		{"number changed a lot", text("34.72", "43.72"), true, "43.72"},
		{"number within one last place", text("34.72", "34.73"), false, "34.73"},
		{"number within one last place, down", text("87.25", "87.24"), false, "87.24"},
		{"other number of places", text("14.9", "15.01"), true, "15.01 L"},
		{"sign lost", text("34.72", "-34.72"), true, "-34.72"},
		{"count changed by one", text("3 vents", "4 vents"), true, "4 vents"},
		{"label changed", text("fb =", "fs ="), true, "fs ="},
		{"unit changed", text("14.9 L", "14.9 m"), true, "14.9 m"},
		{"digit in a name", text("SPL1W", "SPL2W"), true, "SPL2W"},
		{"only blanks", text("SPL1W  87", "SPL1W 87"), false, "SPL1W 87"},
		{"line lost", text("3 vents, SPL1W  87.25 dB\n", ""), true, "ends before"},
		{"other stream", func(n *nbformat.Notebook) { out(n, 0).Name = "stderr" }, true, "stream stderr"},
		{"outputs swapped", func(n *nbformat.Notebook) {
			o := n.Cells[1].Outputs
			o[0], o[2] = o[2], o[0]
		}, true, "display_data"},
		{"output lost", func(n *nbformat.Notebook) { n.Cells[1].Outputs = n.Cells[1].Outputs[:2] }, true, "number of outputs"},
		{"MIME type lost", func(n *nbformat.Notebook) { delete(out(n, 1).Data, "image/png") }, true, "image/png"},
		{"MIME type added", func(n *nbformat.Notebook) { out(n, 1).Data["text/markdown"] = "x" }, true, "text/markdown"},
		{"output became an error", func(n *nbformat.Notebook) {
			*out(n, 2) = nbformat.Output{Type: nbformat.Error, EName: "ERROR", EValue: "exit status 2"}
		}, true, "error"},
		{"cell id", func(n *nbformat.Notebook) { n.Cells[1].ID = "other" }, true, "other"},
		{"source", func(n *nbformat.Notebook) { n.Cells[1].Source += " " }, true, "source"},
		{"tag", func(n *nbformat.Notebook) { n.Cells[1].Metadata["tags"] = []any{"parameters"} }, true, "metadata"},
		{"cell lost", func(n *nbformat.Notebook) { n.Cells = n.Cells[:1] }, true, "number of cells"},
		{"language", func(n *nbformat.Notebook) {
			n.Metadata["language_info"] = map[string]any{"name": "python", "version": "go1.26.0"}
		}, true, "python"},

		{"path moved", figure("20.25", "20.35"), true, "geometry"},
		{"path moved a hair", figure("20.25", "20.29"), false, "20.29"},
		{"path number with joined sign", figure("30-40.125", "30-41.125"), true, "geometry"},
		{"path command", figure("L30", "M30"), true, "M30"},
		{"tick label within the room of geometry", figure(">0.02<", ">0.05<"), true, "0.05"},
		{"colour", figure("1f77b4", "1f77b5"), true, "1f77b5"},
		{"element lost", figure(`<text x="12.5">0.02</text>`, ""), true, ""},
		{"svg in html", func(n *nbformat.Notebook) {
			moved := strings.Replace(svg, "20.25", "21.25", 1)
			out(n, 1).Data["text/html"] = `<img src="data:image/svg+xml;base64,` + base64.StdEncoding.EncodeToString([]byte(moved)) + `">`
		}, true, "geometry"},
		{"svg in html, a hair", func(n *nbformat.Notebook) {
			moved := strings.Replace(svg, "20.25", "20.26", 1)
			out(n, 1).Data["text/html"] = `<img src="data:image/svg+xml;base64,` + base64.StdEncoding.EncodeToString([]byte(moved)) + `">`
		}, false, ""},

		{"ten pixels of ten thousand", func(n *nbformat.Notebook) { out(n, 1).Data["image/png"] = picture(10, 100) }, false, ""},
		{"eleven pixels of ten thousand", func(n *nbformat.Notebook) { out(n, 1).Data["image/png"] = picture(11, 100) }, true, "pixels"},
		{"all pixels by 8", func(n *nbformat.Notebook) { out(n, 1).Data["image/png"] = picture(10000, 8) }, false, ""},
		{"all pixels by 9", func(n *nbformat.Notebook) { out(n, 1).Data["image/png"] = picture(10000, 9) }, true, "pixels"},
		{"not a picture", func(n *nbformat.Notebook) { out(n, 1).Data["image/png"] = "AAAA" }, true, "not a PNG"},

		{"record: status", func(n *nbformat.Notebook) { out(n, 2).Data[record].(map[string]any)["status"] = "fail" }, true, "fail"},
		{"record: value", func(n *nbformat.Notebook) {
			out(n, 2).Data[record].(map[string]any)["value"] = json.Number("35.4872234567")
		}, true, ".value"},
		{"record: value, a ten-millionth", func(n *nbformat.Notebook) {
			out(n, 2).Data[record].(map[string]any)["value"] = json.Number("35.4871270000")
		}, false, ".value"},
		{"record: count", func(n *nbformat.Notebook) { out(n, 2).Data[record].(map[string]any)["count"] = json.Number("5") }, true, ".count"},
		{"record: null", func(n *nbformat.Notebook) { out(n, 2).Data[record].(map[string]any)["value"] = nil }, true, "null"},
		{"record: key lost", func(n *nbformat.Notebook) { delete(out(n, 2).Data[record].(map[string]any), "count") }, true, "count"},
	}
	for _, c := range cases {
		for _, mode := range []Mode{Near, Exact} {
			fresh := study()
			c.change(fresh)
			found := Notebooks(study(), fresh, mode)
			want := c.near || mode == Exact
			if (len(found) > 0) != want {
				t.Errorf("%s, mode %d: found %v, want a difference: %v", c.name, mode, found, want)
				continue
			}
			if c.says != "" && want {
				var all strings.Builder
				for _, d := range found {
					all.WriteString(d.String())
				}
				if mode == Near && !strings.Contains(all.String(), c.says) {
					t.Errorf("%s: message does not tell %q:\n%s", c.name, c.says, all.String())
				}
			}
		}
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		want, have string
		same       bool
	}{
		{"1.00", "1.01", true},
		{"1.00", "1.02", false},
		{"1.00", "0.99", true},
		{"1.2e-3", "1.3e-3", true},
		{"1.2e-3", "1.4e-3", false},
		{"1.2e-3", "1.2e-4", false},
		{"0.1", "0.09999", true},
		{"0.1", "0.0999", true},
		{"0.1", "0.09", true},   // one unit of the finer place
		{"0.10", "0.08", false}, // two
		{"0.001", "-0.001", false},
		{"0.00", "-0.00", true},
		{"12", "12", true},
		{"12", "13", false},
		{"12", "12.0", true},
		{"2", "1.9999999", true},
		{"123456789.123", "123456790.123", true}, // less than a millionth
		{"123456.123", "123457.123", false},
		{"−3.01", "-3.02", true},
		{"1e300", "2e300", true}, // one unit of the printed place
		{"1.5e300", "2.5e300", false},
	} {
		if _, same := closeNumbers(c.want, c.have); same != c.same {
			t.Errorf("%s against %s: same %v, want %v", c.want, c.have, same, c.same)
		}
	}
}

func TestTokens(t *testing.T) {
	for _, c := range []struct {
		text  string
		loose bool
		want  string // numbers in brackets
	}{
		{"fb = 34.72 Hz", false, "fb = [34.72] Hz"},
		{"-3 dB at −0.5, +6.02e-1.", false, "[-3] dB at [−0.5], [+6.02e-1]."},
		{"gonum v0.17.0, sha 5ab3, H1 x_2 10.1.2", false, "gonum v0.17.0, sha 5ab3, H1 x_2 10.1.2"},
		{"20-20k, 4.7kHz, 2026-01-02", false, "[20]-20k, 4.7kHz, [2026]-[01]-[02]"},
		{"a   b\t1", false, "a b [1]"},
		{"M10.5,20L30-40.125e-1.5", true, "M[10.5],[20]L[30][-40.125e-1][.5]"},
		{"#12ab34 5", true, "#12ab34 [5]"},
		{".5 (1) 7.", false, "[.5] ([1]) [7]."},
	} {
		var b strings.Builder
		for _, k := range tokens(c.text, c.loose) {
			if k.number {
				b.WriteString("[" + k.text + "]")
			} else {
				b.WriteString(k.text)
			}
		}
		if b.String() != c.want {
			t.Errorf("tokens(%q, %v) = %s, want %s", c.text, c.loose, b.String(), c.want)
		}
	}
}

func TestColoursOfDifferentModels(t *testing.T) {
	if farColours(color.Gray{100}, color.NRGBA{100, 100, 108, 255}) {
		t.Error("8 of 255 is not far")
	}
	if !farColours(color.Gray{100}, color.NRGBA{100, 100, 100, 200}) {
		t.Error("transparency counts")
	}
}
