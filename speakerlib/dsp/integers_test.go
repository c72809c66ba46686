package dsp

import (
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/internal/testtable"
)

func integers(t *testing.T, s string) []int64 {
	t.Helper()
	var out []int64
	for _, f := range strings.Fields(s) {
		v, err := strconv.ParseInt(f, 10, 64)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

// Coefficient words and what runs on them, against integers.py, which knows nothing of
// networks and rows.
func TestAgainstIntegers(t *testing.T) {
	a := Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 64}
	b, err := digital.Highpass{F0: 40, Q: 0.7}.Biquad(48000)
	if err != nil {
		t.Fatal(err)
	}
	ran := 0
	for _, r := range testtable.Read(t, "testdata/integers.csv") {
		feedback := int(r.Number(t, "feedback"))
		for _, s := range Structures() {
			if s.String() != r["structure"] {
				continue
			}
			ran++
			n, err := newSection(b, "", s, a, false, 0, 0, feedback)
			if err != nil {
				t.Fatal(err)
			}
			for i, w := range integers(t, r["words"]) {
				if n.Coefficients[i].Word != w {
					t.Errorf("%v: %s is the word %d, want %d", s, s.Names()[i], n.Coefficients[i].Word, w)
				}
			}
			p := &Program{SampleRate: 48000, Arithmetic: a, Sections: []Section{n}}
			want := integers(t, r["output"])
			for i, v := range p.NewRunner().ProcessWords(nil, integers(t, r["input"])) {
				if v != want[i] {
					t.Errorf("%v, feedback %d: sample %d is %d, want %d", s, feedback, i, v, want[i])
					break
				}
			}
		}
	}
	if ran != 5 {
		t.Errorf("%d rows of the table were run, want 5", ran)
	}
}
