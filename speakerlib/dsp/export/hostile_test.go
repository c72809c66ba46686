package export_test

import (
	"bytes"
	"os"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/export"
)

// Each number, string and truth of a document by itself is replaced by the extremes of
// its kind. Nothing panics, errors are of this package, and what is accepted reads back
// equal and runs.
func TestAnyValueMayBeAnything(t *testing.T) {
	var texts []string
	for _, name := range []string{"testdata/release-2.json", "testdata/release-3.json"} {
		published, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		texts = append(texts, string(published))
	}
	for _, a := range arithmetics() {
		d := full(t, a, dsp.Options{})
		d.Ways = d.Ways[:1]
		d.Ways[0].Sections, d.Ways[0].Program.Sections = d.Ways[0].Sections[:1], d.Ways[0].Program.Sections[:2]
		d.Ways[0].Sets = nil
		texts = append(texts, string(write(t, d)))
	}
	value := regexp.MustCompile(`(?m)(": |^ +)(-?[0-9][-+.e0-9]*|"[^"]*"|true|false)(,?)$`)
	extremes := []string{"0", "-0", "1", "-1", "2", "62", "63", "64", "128", "0.5", "1e308", "-1e308", "5e-324", "9007199254740992", "9223372036854775807", "-9223372036854775808",
		`"9223372036854775807"`, `"-9223372036854775808"`, `""`, `"float64"`, `"Q0.1"`, `"Q62.0"`, `"Q1.61"`, `"Q0.61"`, "[]", "{}", "true"}
	accepted, all := 0, 0
	for _, text := range texts {
		for _, at := range value.FindAllStringSubmatchIndex(text, -1) {
			for _, v := range extremes {
				bad := text[:at[4]] + v + text[at[5]:]
				all++
				d, err := export.ReadJSON(strings.NewReader(bad))
				if err != nil {
					if !strings.HasPrefix(err.Error(), "export: ") {
						t.Fatalf("error %v", err)
					}
					continue
				}
				accepted++
				again, err := export.ReadJSON(bytes.NewReader(write(t, d)))
				if err != nil || !reflect.DeepEqual(d, again) {
					t.Fatalf("%s for %s reads back otherwise: %v", v, text[at[4]:at[5]], err)
				}
				for _, w := range d.Ways {
					if _, err := d.Cascade(w.Name); err != nil {
						t.Fatalf("%s for %s is valid, but %v", v, text[at[4]:at[5]], err)
					}
					if w.Program != nil {
						w.Program.NewRunner().Process(nil, []float64{1, -1, 0.5})
						if _, err := w.Program.Transfer(); err != nil {
							t.Fatalf("%s for %s is valid, but %v", v, text[at[4]:at[5]], err)
						}
					}
				}
			}
		}
	}
	if accepted < all/100 || accepted > all/2 {
		t.Errorf("%d of %d accepted", accepted, all)
	}
	t.Logf("%d of %d accepted", accepted, all)
}
