package report

import (
	"encoding/json"
	"reflect"
	"strings"
	"testing"
)

// SHA-256 of "abc" (FIPS 180-4, example).
const abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"

func agreed() Decision {
	d := tuning()
	d.Release = abc
	d.Signed = []Signature{{Acoustics, "2025-03-01"}, {SignalProcessing, "2025-03-04"}}
	return d
}

func TestSignedDecisionReadsBackEqual(t *testing.T) {
	b, err := json.Marshal(agreed())
	if err != nil {
		t.Fatal(err)
	}
	got, err := ReadDecisions(b)
	if err != nil || len(got) != 1 || !reflect.DeepEqual(got[0], agreed()) {
		t.Errorf("read back %+v, %v, want %+v", got, err, agreed())
	}
	const want = `"date":"2025-03-01","release":"` + abc + `","signed":[{"role":"acoustics","date":"2025-03-01"},{"role":"signal processing","date":"2025-03-04"}]}`
	if !strings.HasSuffix(string(b), want) {
		t.Errorf("record is\n%s, want the end\n%s", b, want)
	}
	for _, c := range []struct{ old, new string }{
		{`"acoustics"`, `"A. N. Other"`},
		{`"role":"acoustics"`, `"role":"acoustics","name":"x"`},
		{`"signal processing"`, `"acoustics"`},
		{abc, abc[1:]},
		{"2025-03-04", "2025-02-30"},
	} {
		if d, err := ReadDecisions([]byte(strings.Replace(string(b), c.old, c.new, 1))); err == nil {
			t.Errorf("%s instead of %s is read as %+v", c.new, c.old, d)
		}
	}
}

// A decision without release and signatures has the record that it always had.
func TestUnsignedDecisionIsAsBefore(t *testing.T) {
	b, err := json.Marshal(tuning())
	if err != nil {
		t.Fatal(err)
	}
	if !strings.HasSuffix(string(b), `"revision":"A","date":"2025-03-01"}`) {
		t.Errorf("record is\n%s", b)
	}
	if !strings.HasSuffix(tuning().Text(), "\nRevision A, 2025-03-01\n") {
		t.Errorf("text is\n%s", tuning().Text())
	}
}

func TestSignaturesAreShown(t *testing.T) {
	const want = "evision A, 2025-03-01; release " + abc + "; signed by acoustics, 2025-03-01; signal processing, 2025-03-04"
	if got := agreed().Text(); !strings.HasSuffix(got, "\nR"+want+"\n") {
		t.Errorf("text is\n%s", got)
	}
	if got := agreed().HTML(); !strings.Contains(got, ">r"+want+"<") {
		t.Errorf("HTML is\n%s", got)
	}
	if got := Role(9).String(); got != "Role(9)" {
		t.Errorf("role 9 is %q", got)
	}
}
