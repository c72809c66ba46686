package export

import (
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
)

// Validate reports the first fault: a missing field, a number that is not finite
// or out of range, an unstable section, names or paths that occur twice, settings with two
// defaults or with another one in another way, a program at another sample rate, with
// another delay, or beyond its own format. Whether a program is that of its design is for
// [Document.CheckPrograms] to say.
func (d *Document) Validate() error {
	if err := checkText("study", d.Study); err != nil {
		return err
	}
	if t, err := time.Parse(time.DateOnly, d.Date); err != nil || t.Format(time.DateOnly) != d.Date {
		return fmt.Errorf("export: date is %q, want YYYY-MM-DD", d.Date)
	}
	if !(d.SampleRate > 0) || math.IsInf(d.SampleRate, 0) {
		return fmt.Errorf("export: sample rate is %g Hz, want a finite value > 0", d.SampleRate)
	}
	if d.Words != Float64 {
		return fmt.Errorf("export: word format is %q, want %q", d.Words, Float64)
	}
	if err := d.Unit.validate(); err != nil {
		return err
	}
	if len(d.Ways) == 0 {
		return fmt.Errorf("export: document has no way, want at least 1")
	}
	for i, w := range d.Ways {
		if err := checkText("name of a way", w.Name); err != nil {
			return err
		}
		if slices.ContainsFunc(d.Ways[:i], func(v Way) bool { return v.Name == w.Name }) {
			return fmt.Errorf("export: two ways are called %q, want different names", w.Name)
		}
		if err := d.validateWay(w); err != nil {
			return err
		}
	}
	if err := d.validateDefaults(); err != nil {
		return err
	}
	paths := map[string]bool{}
	for _, in := range d.Inputs {
		if err := checkText("path of an input", in.Path); err != nil {
			return err
		}
		if paths[in.Path] {
			return fmt.Errorf("export: input %q is listed twice", in.Path)
		}
		paths[in.Path] = true
		if b, err := hex.DecodeString(in.SHA256); err != nil || len(b) != 32 || strings.ToLower(in.SHA256) != in.SHA256 {
			return fmt.Errorf("export: SHA-256 of input %q is %q, want 64 lower-case hexadecimal digits", in.Path, in.SHA256)
		}
	}
	return nil
}

func (d *Document) validateWay(w Way) error {
	where := fmt.Sprintf("way %q", w.Name)
	if err := validateChain(where, w.Gain, w.Sections); err != nil {
		return err
	}
	if w.Delay < 0 || w.Delay > digital.MaxDelay {
		return fmt.Errorf("export: %s: delay is %d samples, want 0 to %d", where, w.Delay, digital.MaxDelay)
	}
	for i, f := range w.FIR {
		if err := f.validate(d.SampleRate); err != nil {
			return fmt.Errorf("export: %s, FIR filter %d of %d: %w", where, i+1, len(w.FIR), err)
		}
	}
	if p := w.Program; p != nil {
		if err := d.validateProgram(where, p); err != nil {
			return err
		}
		if p.Delay != w.Delay || len(p.FIR) != len(w.FIR) {
			return fmt.Errorf("export: %s: program has a delay of %d samples and %d FIR filters, the design %d and %d, want the same", where, p.Delay, len(p.FIR), w.Delay, len(w.FIR))
		}
	}
	for i, s := range w.Sets {
		for _, f := range []struct{ name, value string }{{"setting", s.Setting}, {"name of a set", s.Name}} {
			if err := checkText(f.name, f.value); err != nil {
				return fmt.Errorf("%w (%s)", err, where)
			}
		}
		in := fmt.Sprintf("%s, set %q", where, s.Setting+": "+s.Name)
		if slices.ContainsFunc(w.Sets[:i], func(o Set) bool { return o.Setting == s.Setting && o.Name == s.Name }) {
			return fmt.Errorf("export: %s is there twice, want different names", in)
		}
		if err := validateChain(in, s.Gain, s.Sections); err != nil {
			return err
		}
		if p := s.Program; p != nil {
			if err := d.validateProgram(in, p); err != nil {
				return err
			}
			if p.Delay != 0 || len(p.FIR) != 0 {
				return fmt.Errorf("export: %s: program has a delay of %d samples and %d FIR filters, want none in a set", in, p.Delay, len(p.FIR))
			}
		}
	}
	return nil
}

func validateChain(where string, gain float64, sections []Section) error {
	if !(gain > 0) || math.IsInf(gain, 0) {
		return fmt.Errorf("export: %s: gain is the ratio %g, want a finite value > 0", where, gain)
	}
	for i, s := range sections {
		if err := checkText("design", s.Design); err != nil && s.Design != "" {
			return fmt.Errorf("export: %s, section %d of %d: %w", where, i+1, len(sections), err)
		}
		if err := s.Coefficients.Check(); err != nil {
			return fmt.Errorf("export: %s, section %d of %d: %w", where, i+1, len(sections), err)
		}
	}
	return nil
}

// maxScale is the largest scale of a section in bits: the range of float64.
const maxScale = 1100

func (d *Document) validateProgram(where string, p *dsp.Program) error {
	if p.SampleRate != d.SampleRate {
		return fmt.Errorf("export: %s: program is at %g Hz, document at %g Hz, want one sample rate", where, p.SampleRate, d.SampleRate)
	}
	if err := p.Validate(); err != nil {
		return fmt.Errorf("export: %s: %w", where, err)
	}
	for i, s := range p.Sections {
		if err := checkText("design", s.Design); err != nil && s.Design != "" {
			return fmt.Errorf("%w (%s, program)", err, where)
		}
		if s.Scale < -maxScale || s.Scale > maxScale {
			return fmt.Errorf("export: %s, program, section %d of %d is scaled by %d bits, want −%d to %d", where, i+1, len(p.Sections), s.Scale, maxScale, maxScale)
		}
	}
	for _, f := range p.FIR {
		if err := checkText("design", f.Design); err != nil && f.Design != "" {
			return fmt.Errorf("%w (%s, program)", err, where)
		}
	}
	return nil
}

// checkText wants something to read on one line.
func checkText(what, s string) error {
	switch {
	case s == "":
		return fmt.Errorf("export: %s is empty", what)
	case len(s) > 1000:
		return fmt.Errorf("export: %s has %d bytes, want at most 1000", what, len(s))
	case !utf8.ValidString(s):
		return fmt.Errorf("export: %s %q is not valid UTF-8", what, s)
	case strings.ContainsFunc(s, func(r rune) bool { return unicode.IsControl(r) || unicode.In(r, unicode.Zl, unicode.Zp) }):
		return fmt.Errorf("export: %s %q has control characters or ends of lines", what, s)
	}
	return nil
}
