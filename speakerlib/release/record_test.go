package release_test

import (
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/release"
)

// Whatever record stands beside the document, nothing panics, errors name a room, and
// what is accepted is written and read back in its state.
func FuzzRead(f *testing.F) {
	next, err := frozen(f).Next(document(f), "B", decision("D8"))
	if err != nil {
		f.Fatal(err)
	}
	documents := map[string]bool{}
	for _, r := range []*release.Release{draft(f), corrected(f), frozen(f), next} {
		rec, doc := files(f, r)
		documents[doc] = true
		f.Add(rec)
	}
	f.Add(`{"format":"loudspeaker-release","version":1,"state":"frozen"}`)
	f.Add(`{}`)
	f.Fuzz(func(t *testing.T, rec string) {
		for doc := range documents {
			r, err := release.Read(strings.NewReader(rec), strings.NewReader(doc))
			if err != nil {
				if room, _, ok := strings.Cut(err.Error(), ": "); !ok || room != "release" && room != "report" && room != "export" {
					t.Fatalf("error %v", err)
				}
				continue
			}
			again, same := files(t, r)
			if same != doc {
				t.Fatal("document differs")
			}
			b, err := release.Read(strings.NewReader(again), strings.NewReader(doc))
			if err != nil || b.State() != r.State() || b.SHA256() != r.SHA256() {
				t.Fatalf("read back: %v\n%s\n%s", err, rec, again)
			}
			if _, err := r.Correct(correction(t), "2031-12-31"); (err == nil) != (r.State() == release.Draft) {
				t.Fatalf("%v corrected: %v", r.State(), err)
			}
		}
	})
}
