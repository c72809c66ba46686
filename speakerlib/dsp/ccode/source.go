package ccode

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.org/loudspeaker/speakerlib/dsp"
)

// Way is the program of a way under a name, which becomes part of names in C.
type Way struct {
	Name    string
	Program *dsp.Program
}

// Info is what the files say of themselves. Nothing of it is looked at but for being
// printable and, in Prefix, a name in C.
type Info struct {
	Prefix string   // of all names and of the files
	Title  string   // what the study is called
	Date   string   // of the release, given by the caller
	Inputs string   // sum of the files that the study read, given by the caller
	Notes  []string // what else the reader is to know: that data are invented, say
}

// Files are a header and a source that includes it by HeaderName.
type Files struct {
	HeaderName, SourceName string
	Header, Source         []byte
}

// maxWays is the most ways of one source.
const maxWays = 256

// Print writes the programs as C. The text depends on its arguments alone.
//
// Of each way there is, with p for prefix and way:
//
//	p_sample                                    the type of a sample: int32_t (int64_t
//	                                            above 32 bits), float or double
//	p_state                                     the state of one channel
//	void p_init(p_state *)                      brings a channel to rest
//	void p_process(p_state *, p_sample *out,    runs n samples; out may be in
//	               const p_sample *in, size_t n)
//
// Samples of fixed point are words, value times 2^N.
func Print(info Info, ways []Way) (*Files, error) {
	if err := check(info, ways); err != nil {
		return nil, err
	}
	var h, c writer
	name := info.Prefix
	guard := strings.ToUpper(name) + "_H"
	h.comment(preamble(info, ways)...)
	h.line("#ifndef %s", guard)
	h.line("#define %s", guard)
	h.line("")
	h.line("#include <stddef.h>")
	h.line("#include <stdint.h>")
	h.line("")
	h.line("#ifdef __cplusplus")
	h.line(`extern "C" {`)
	h.line("#endif")
	c.comment(preamble(info, ways)...)
	c.line("#include \"%s.h\"", name)
	c.line("")
	c.helpers(ways)
	for _, w := range ways {
		p := newPrinter(name+"_"+w.Name, w.Program)
		p.header(&h, w)
		p.source(&c, w)
	}
	h.line("")
	h.line("#ifdef __cplusplus")
	h.line("}")
	h.line("#endif")
	h.line("#endif")
	return &Files{HeaderName: name + ".h", SourceName: name + ".c", Header: h.bytes(), Source: c.bytes()}, nil
}

func check(info Info, ways []Way) error {
	if !isName(info.Prefix) {
		return fmt.Errorf("ccode: prefix is %q, want a lower-case letter and up to 30 lower-case letters, digits and underscores", info.Prefix)
	}
	if len(ways) < 1 || len(ways) > maxWays {
		return fmt.Errorf("ccode: %d ways, want 1 to %d", len(ways), maxWays)
	}
	texts := append([]string{info.Title, info.Date, info.Inputs}, info.Notes...)
	seen := map[string]bool{}
	for i, w := range ways {
		if !isName(w.Name) || seen[w.Name] {
			return fmt.Errorf("ccode: way %d of %d is called %q, want a name of its own: a lower-case letter and up to 30 lower-case letters, digits and underscores", i+1, len(ways), w.Name)
		}
		seen[w.Name] = true
		if w.Program == nil {
			return fmt.Errorf("ccode: way %q has no program", w.Name)
		}
		if err := w.Program.Validate(); err != nil {
			return fmt.Errorf("ccode: way %q: %w", w.Name, err)
		}
		for _, s := range w.Program.Sections {
			texts = append(texts, s.Design)
		}
		for _, f := range w.Program.FIR {
			texts = append(texts, f.Design)
		}
	}
	for _, t := range texts {
		if !utf8.ValidString(t) || strings.ContainsFunc(t, func(r rune) bool { return !unicode.IsPrint(r) }) {
			return fmt.Errorf("ccode: text %q for a comment has characters that do not print, want none", t)
		}
	}
	return nil
}

func isName(s string) bool {
	if len(s) < 1 || len(s) > 31 || s[0] < 'a' || s[0] > 'z' {
		return false
	}
	return !strings.ContainsFunc(s, func(r rune) bool { return r != '_' && (r < 'a' || r > 'z') && (r < '0' || r > '9') })
}

func preamble(info Info, ways []Way) []string {
	text := []string{info.Title}
	if info.Date != "" {
		text = append(text, "Released "+info.Date+".")
	}
	if info.Inputs != "" {
		text = append(text, "Inputs: "+info.Inputs)
	}
	text = append(text, info.Notes...)
	text = append(text, "Printed from the committed programs of these ways; do not edit.")
	for _, w := range ways {
		text = append(text, "", fmt.Sprintf("%s: %.12g Hz, latency %.6g samples.", w.Name, w.Program.SampleRate, w.Program.Latency()), "  "+w.Program.Arithmetic.String())
		for i, s := range w.Program.Sections {
			line := fmt.Sprintf("  %d. %s: %v", i+1, s.Design, s.Structure)
			if s.Scale != 0 {
				line += fmt.Sprintf(", gain 2^%d of the design", s.Scale)
			}
			if s.Feedback > 0 {
				line += fmt.Sprintf(", error feedback of order %d", s.Feedback)
			}
			text = append(text, line)
		}
		if g := w.Program.Gain; g != nil {
			text = append(text, fmt.Sprintf("  gain %.9g", g.Float()))
		}
		for i, f := range w.Program.FIR {
			text = append(text, fmt.Sprintf("  FIR filter %d: %s", i+1, f.Design))
		}
		if w.Program.Delay > 0 {
			text = append(text, fmt.Sprintf("  delay %d samples", w.Program.Delay))
		}
	}
	return append(text, "", "A wrong filter can destroy drivers and hurt ears: try it at low level first.")
}
