package nbformat

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The fixtures were written by Python's nbformat 5.5.0 (testdata/make.py) and
// by nbconvert 6.5.3 (testdata/executed.sh): writing them again must not
// change a byte.
func TestRoundTripOfPythonFiles(t *testing.T) {
	for _, name := range []string{"every.ipynb", "empty.ipynb", "executed.ipynb"} {
		want := read(t, name)
		n, err := Parse(want)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		got, err := n.Bytes()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		same(t, name, got, want)
	}
}

// parts.ipynb holds the same notebook in another form; nbformat reads it and
// writes every.ipynb (make.py asserts it).
func TestNormalisesAsPython(t *testing.T) {
	n, err := Parse(read(t, "parts.ipynb"))
	if err != nil {
		t.Fatal(err)
	}
	got, err := n.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	same(t, "parts.ipynb", got, read(t, "every.ipynb"))
}

// Python: json.dumps(x) of each value, Python 3.11.
func TestPythonNumbers(t *testing.T) {
	for in, want := range map[string]string{
		"0": "0", "-0": "0", "-0.0": "-0.0", "1E2": "100.0", "1.10": "1.1",
		"0.0001": "0.0001", "0.00001": "1e-05", "9999999999999998.0": "9999999999999998.0",
		"10000000000000000.0": "1e+16", "1e400": "", "2e-400": "0.0",
	} {
		got, err := pythonNumber(json.Number(in))
		if want == "" {
			if err == nil {
				t.Errorf("%s gives %s, want an error", in, got)
			}
			continue
		}
		if err != nil || got != want {
			t.Errorf("%s gives %q, %v, want %q", in, got, err, want)
		}
	}
}

func TestDropsTransientFields(t *testing.T) {
	in := `{"cells":[{"cell_type":"raw","id":"a","metadata":{"trusted":true,"keep":1},"source":""}],
		"metadata":{"orig_nbformat":4,"orig_nbformat_minor":2,"signature":"x","keep":2},"nbformat":4,"nbformat_minor":5}`
	n, err := Parse([]byte(in))
	if err != nil {
		t.Fatal(err)
	}
	out, err := n.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	for _, gone := range []string{"orig_nbformat", "signature", "trusted"} {
		if bytes.Contains(out, []byte(gone)) {
			t.Errorf("%s is written", gone)
		}
	}
	if bytes.Count(out, []byte("keep")) != 2 {
		t.Errorf("own metadata were lost: %s", out)
	}
}

// A later minor version may have fields that this package does not know.
func TestKeepsFieldsOfLaterVersions(t *testing.T) {
	in := `{"cells":[{"cell_type":"code","id":"a","metadata":{},"source":"","execution_count":null,"new":[1],
		"outputs":[{"output_type":"stream","name":"stdout","text":"","new":[2]}]}],"metadata":{},"nbformat":4,"nbformat_minor":6,"new":[3]}`
	n, err := Parse([]byte(in))
	if err != nil {
		t.Fatal(err)
	}
	out, err := n.Clone().Bytes()
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"1", "2", "3"} {
		if !strings.Contains(strings.Join(strings.Fields(string(out)), ""), `"new":[`+want+`]`) {
			t.Errorf("field with [%s] is lost in %s", want, out)
		}
	}
}

func TestReadRefuses(t *testing.T) {
	const code = `"cell_type":"code","id":"a","metadata":{},"source":"","execution_count":null,"outputs":`
	nb := func(cells string) string {
		return `{"cells":[` + cells + `],"metadata":{},"nbformat":4,"nbformat_minor":5}`
	}
	for _, c := range []struct{ name, in, want string }{
		{"empty", " \n", "empty"},
		{"truncated", "{\n \"cells\": [", "line 2, column 12: the file ends in the middle"},
		{"binary", "\x89PNG\r\n", "line 1, column 1: a byte that is not UTF-8"},
		{"byte order mark", "\xef\xbb\xbf{}", "byte order mark"},
		{"syntax", "{\n  \"cells\": nope}", "line 2, column 13"},
		{"two values", nb("") + "\n{}", "line 2, column 1: more text"},
		{"list", "[]", "want an object"},
		{"other JSON", `{"a":1}`, "not a notebook"},
		{"old format", `{"cells":[],"metadata":{},"nbformat":4,"nbformat_minor":4}`, "4.4, want 4.5"},
		{"format 3", `{"worksheets":[],"metadata":{},"nbformat":3,"nbformat_minor":0}`, "3.0"},
		{"unknown field", `{"cells":[],"metadata":{},"nbformat":4,"nbformat_minor":5,"x":1}`, `unknown field "x"`},
		{"no id", nb(`{"cell_type":"raw","metadata":{},"source":""}`), `cell 1: no "id"`},
		{"bad id", nb(`{"cell_type":"raw","id":"a b","metadata":{},"source":""}`), "want an id of 1 to 64"},
		{"same id", nb(`{"cell_type":"raw","id":"a","metadata":{},"source":""},{"cell_type":"raw","id":"a","metadata":{},"source":""}`), "cell 1 has the same id"},
		{"cell type", nb(`{"cell_type":"heading","id":"a","metadata":{},"source":""}`), "want code, markdown or raw"},
		{"source", nb(`{"cell_type":"raw","id":"a","metadata":{},"source":[1]}`), `"source" is a list, want a string or a list of strings`},
		{"no outputs", nb(`{"cell_type":"code","id":"a","metadata":{},"source":"","execution_count":null}`), `no "outputs"`},
		{"count", nb(`{` + strings.Replace(code, "null", "1.5", 1) + `[]}`), "want a whole number"},
		{"output type", nb(`{` + code + `[{"output_type":"pyout"}]}`), `output 1: output_type is "pyout"`},
		{"bundle", nb(`{` + code + `[{"output_type":"display_data","metadata":{},"data":{"text/plain":{}}}]}`), "text/plain is an object"},
		{"tag", nb(`{"cell_type":"raw","id":"a","metadata":{"tags":["x,y"]},"source":""}`), `the tag "x,y"`},
		{"surrogate", nb(`{"cell_type":"raw","id":"a","metadata":{},"source":"\\\ud83d"}`), "half a surrogate pair"},
		{"number", nb(`{"cell_type":"raw","id":"a","metadata":{"x":1e999},"source":""}`), "outside the range"},
	} {
		_, err := Parse([]byte(c.in))
		if err == nil {
			t.Errorf("%s: accepted, want an error", c.name)
		} else if !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %q, want it to say %q", c.name, err, c.want)
		}
	}
	// Of several mistakes in an object the first by name is named, every time.
	for _, c := range []struct{ in, want string }{
		{nb(`{` + code + `[{"output_type":"display_data","metadata":{},"data":{"text/z":{},"text/a":{},"text/m":1}}]}`), "text/a is an object"},
		{nb(`{"cell_type":"raw","id":"a","metadata":{},"source":"","attachments":{"z":1,"a":2,"m":3}}`), `attachment "a"`},
		{nb(`{"cell_type":"raw","id":"a","metadata":{"z":3e999,"a":1e999,"m":2e999},"source":""}`), "1e999"},
	} {
		for range 8 {
			if _, err := Parse([]byte(c.in)); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Fatalf("the error is %v, want one with %q", err, c.want)
			}
		}
	}
	if _, err := Parse([]byte(nb(`{"cell_type":"raw","id":"a","metadata":{},"source":"\ud83d\udd0a \\ud83d"}`))); err != nil {
		t.Errorf("a whole surrogate pair and an escaped backslash are refused: %v", err)
	}
}

func TestTagsKernelAndClone(t *testing.T) {
	n, err := Parse(read(t, "every.ipynb"))
	if err != nil {
		t.Fatal(err)
	}
	if n.KernelName() != "loudspeaker" {
		t.Errorf("kernel %q", n.KernelName())
	}
	var c *Cell
	for _, k := range n.Cells {
		if k.HasTag("parameters") {
			c = k
		}
	}
	if c == nil || c.ID != "tail-newline" {
		t.Fatalf("the cell tagged parameters was not found")
	}
	before, _ := n.Bytes()
	d := n.Clone()
	for _, k := range d.Cells {
		k.Source, k.Outputs, k.ExecutionCount = "gone", nil, nil
		delete(k.Metadata, "tags")
	}
	after, _ := n.Bytes()
	same(t, "the original after a change of its clone", after, before)
}

func FuzzParse(f *testing.F) {
	for _, name := range []string{"every.ipynb", "parts.ipynb", "empty.ipynb"} {
		data, err := os.ReadFile(filepath.Join("testdata", name))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(`{"cells":[{"cell_type":"raw","id":"a","metadata":{},"source":"\ud83d"}],"metadata":{},"nbformat":4,"nbformat_minor":5}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		n, err := Parse(data)
		if err != nil {
			if err.Error() == "" {
				t.Error("an error without a message")
			}
			return
		}
		once, err := n.Bytes()
		if err != nil {
			t.Fatalf("read but not written: %v", err)
		}
		again, err := Parse(once)
		if err != nil {
			t.Fatalf("written but not read: %v\n%s", err, once)
		}
		twice, err := again.Bytes()
		if err != nil || !bytes.Equal(once, twice) {
			t.Fatalf("the second writing differs: %v\n%s\n%s", err, once, twice)
		}
	})
}

func read(t *testing.T, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func same(t *testing.T, what string, got, want []byte) {
	t.Helper()
	if bytes.Equal(got, want) {
		return
	}
	g, w := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			t.Errorf("%s: line %d is %q, want %q", what, i+1, g[i], w[i])
			return
		}
	}
	t.Errorf("%s: %d lines, want %d", what, len(g), len(w))
}
