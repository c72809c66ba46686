package ccode_test

import (
	"bytes"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/ccode"
)

func wire() *dsp.Program {
	return &dsp.Program{SampleRate: 48000, Arithmetic: dsp.Arithmetic{Signal: dsp.Float64(), Coefficient: dsp.Float64()}}
}

func TestPrintRefuses(t *testing.T) {
	bad := wire()
	bad.Delay = -1
	good := []ccode.Way{{Name: "woofer", Program: wire()}}
	for want, c := range map[string]struct {
		info ccode.Info
		ways []ccode.Way
	}{
		`prefix is "1a"`:                     {ccode.Info{Prefix: "1a"}, good},
		`prefix is "Loud"`:                   {ccode.Info{Prefix: "Loud"}, good},
		"0 ways, want 1 to 256":              {ccode.Info{Prefix: "a"}, nil},
		`way 1 of 1 is called "two ways"`:    {ccode.Info{Prefix: "a"}, []ccode.Way{{Name: "two ways", Program: wire()}}},
		`way 2 of 2 is called "woofer"`:      {ccode.Info{Prefix: "a"}, append(good, good[0])},
		`way "woofer" has no program`:        {ccode.Info{Prefix: "a"}, []ccode.Way{{Name: "woofer"}}},
		`way "woofer": dsp: delay is -1`:     {ccode.Info{Prefix: "a"}, []ccode.Way{{Name: "woofer", Program: bad}}},
		`text "a\nb" for a comment`:          {ccode.Info{Prefix: "a", Notes: []string{"a\nb"}}, good},
		`text "\xff" for a comment`:          {ccode.Info{Prefix: "a", Title: "\xff"}, good},
		"characters that do not print, want": {ccode.Info{Prefix: "a", Inputs: "a\x00"}, good},
	} {
		if _, err := ccode.Print(c.info, c.ways); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error is %v, want %q in it", err, want)
		}
	}
}

// Texts of others stay within their comments, and the same input gives the same text.
func TestCommentsHold(t *testing.T) {
	for _, hostile := range []string{`*/ int x; /* ??/ \`, `/*/ int x;`, `*\ int x;`, `???/ int x;`, `????/ int x;`, `**/*/ int x;`, `//**\/ int x;`} {
		commentsHold(t, hostile)
	}
}

func commentsHold(t *testing.T, hostile string) {
	t.Helper()
	c, err := digital.NewCascade(48000, digital.Given{SampleRate: 48000, Coefficients: digital.Biquad{B0: 1}, Design: hostile})
	if err != nil {
		t.Fatal(err)
	}
	var text [2][]byte
	for i := range text {
		r, err := dsp.Realise(dsp.Chain{Sections: c}, dsp.Arithmetic{Signal: dsp.Float32(), Coefficient: dsp.Float32()}, dsp.Options{})
		if err != nil {
			t.Fatal(err)
		}
		f, err := ccode.Print(ccode.Info{Prefix: "a", Title: hostile, Date: hostile, Inputs: "sha256 0123", Notes: []string{hostile, "invented"}}, []ccode.Way{{Name: "w", Program: r.Program}})
		if err != nil {
			t.Fatal(err)
		}
		text[i] = append(f.Header, f.Source...)
	}
	if !bytes.Equal(text[0], text[1]) {
		t.Error("two runs give two texts")
	}
	open := false
	for k := 0; k+1 < len(text[0]); k++ {
		switch pair := string(text[0][k : k+2]); {
		case pair == "/*" && open, pair == "*/" && !open, pair == "??":
			t.Fatalf("%q: %q within or without a comment: … %.60s", hostile, pair, text[0][k:])
		case pair == "/*":
			open = true
			k++
		case pair == "*/":
			open = false
			k++
		}
	}
	if i := bytes.Index(text[0], []byte("int x;")); i < 0 || bytes.Contains(text[0], []byte("\\")) {
		t.Errorf("text of others is not there, or has a backslash")
	}
	for _, want := range []string{"sha256 0123", "invented", "48000 Hz", "float32", "-ffp-contract=off"} {
		if !bytes.Contains(text[0], []byte(want)) {
			t.Errorf("files do not say %q", want)
		}
	}
}
