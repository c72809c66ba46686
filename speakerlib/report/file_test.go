package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
)

// SHA-256 of "abc": FIPS 180-4, the example of one block in the document of
// examples that goes with it.
const abcSum = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

func TestFileReadsBackEqual(t *testing.T) {
	abc := File{Name: "coefficients.csv", Media: "text/csv", Content: []byte("abc")}
	b, err := json.Marshal(abc)
	if err != nil {
		t.Fatal(err)
	}
	want := `{"name":"coefficients.csv","media":"text/csv","sha256":"` + abcSum + `","bytes":3,"content":"YWJj"}`
	if string(b) != want {
		t.Errorf("had %s, want %s", b, want)
	}
	if text, want := abc.Text(), "file: coefficients.csv, 3 bytes, SHA-256 ba7816bf8f01…"; text != want {
		t.Errorf("text %q, want %q", text, want)
	}
	if html := abc.HTML(); !strings.Contains(html, ">"+abc.Text()+"<") {
		t.Errorf("HTML %q does not hold the text", html)
	}
	// Every byte, and the longest; also as kernels of text carry it.
	all := make([]byte, MaxFile)
	for i := range all {
		all[i] = byte(i)
	}
	long := File{Name: "a-1_b.2.tar.gz", Media: "text/plain; charset=utf-8", Content: all}
	for _, f := range []File{abc, long} {
		b, err := json.Marshal(f)
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(string(b))
		if err != nil {
			t.Fatal(err)
		}
		for _, value := range [][]byte{b, text, fmt.Appendf(nil, "[%s]", b)} {
			got, err := ReadFiles(value)
			if err != nil || len(got) != 1 || got[0].Name != f.Name || got[0].Media != f.Media || !bytes.Equal(got[0].Content, f.Content) {
				t.Errorf("%s did not read back equal (%v)", f.Name, err)
			}
		}
	}
}

func TestFaultyFileIsRefused(t *testing.T) {
	good := File{Name: "a.csv", Media: "text/csv", Content: []byte("abc")}
	for _, name := range []string{
		"", ".", "..", "a", ".a.csv", "a.", "a..csv", "a.csv.", "../a.csv", "/a.csv", "b/a.csv", `b\a.csv`, "c:a.csv", "-a.csv",
		"a b.csv", "a.csv\n", "a\x00.csv", "ä.csv", "a.c-v", "con.csv", "Lpt1.tar.gz", strings.Repeat("a", 97) + ".csv",
	} {
		f := good
		f.Name = name
		if b, err := json.Marshal(f); err == nil {
			t.Errorf("the name %q has the record %s", name, b)
		}
	}
	for _, media := range []string{"", "csv", "text/", "/csv", "text/csv; charset", "text csv", "text/csv\n", "form-data"} {
		f := good
		f.Media = media
		if b, err := json.Marshal(f); err == nil {
			t.Errorf("the media type %q has the record %s", media, b)
		}
	}
	for _, n := range []int{0, MaxFile + 1} {
		f := good
		f.Content = make([]byte, n)
		if _, err := json.Marshal(f); err == nil || !strings.Contains(err.Error(), fmt.Sprintf("a.csv has %d bytes, want 1 to 1048576", n)) {
			t.Errorf("%d bytes: %v", n, err)
		}
	}
	b, err := json.Marshal(good)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ old, new, want string }{
		{`YWJj`, `YWJk`, "has SHA-256 "},             // another content of the same length
		{abcSum, strings.ToUpper(abcSum), "SHA-256"}, //
		{`"bytes":3`, `"bytes":4`, "holds 3 bytes, but its record says 4"},
		{`YWJj`, `YWJ`, "report: record: "}, // no Base64
		{`"a.csv"`, `"../a.csv"`, "without a folder"},
		{`"bytes":3`, `"bytes":3,"mode":511`, "unknown field"},
		{`,"content":"YWJj"`, ``, "has 0 bytes"},
	} {
		bad := strings.Replace(string(b), c.old, c.new, 1)
		if bad == string(b) {
			t.Fatalf("%s is not in the record", c.old)
		}
		if got, err := ReadFiles([]byte(bad)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s read as %+v, %v, want an error with %q", bad, got, err, c.want)
		}
	}
}
