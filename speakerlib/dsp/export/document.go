package export

import (
	"crypto/sha256"
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

// Format and Version identify the document. Version 2 adds the unit, filters of
// finite length, sets and programs; a reader takes 1 and 2.
const (
	Format  = "loudspeaker-coefficients"
	Version = 2
)

// WordFormat says how the coefficients are to be held.
type WordFormat string

// Float64 is IEEE 754 binary64: the coefficients as they were designed. What a
// processor holds is in the program of a way.
const Float64 WordFormat = "float64"

// Document is a release of coefficients.
type Document struct {
	Study      string // what the study is called
	Date       string // of the release, YYYY-MM-DD, given by the caller
	SampleRate float64
	Words      WordFormat
	Unit       Unit
	Ways       []Way
	Inputs     []Input // files that the study read
}

// Way is the chain of one way: sections, gain, filters of finite length, delay.
type Way struct {
	Name     string
	Inverted bool
	Gain     float64 // amplitude ratio > 0
	Delay    int     // whole samples
	Sections []Section
	FIR      []FIR
	// Program is the way as it is committed to a processor: its polarity, gain and
	// delay included, its sets not. Nil: it is not committed.
	Program *dsp.Program
	Sets    []Set
}

// Section is a second-order section and what it was designed as.
type Section struct {
	Design       string
	Coefficients digital.Biquad
}

// Set is what a way has besides for a setting that the listener or the installer
// chooses: the setting "placement" has the sets "wall" and "corner", say. Of each setting
// one is in use; a way without a set of that name has a wire there. It
// comes before the way's own chain.
type Set struct {
	Setting, Name string
	Gain          float64 // amplitude ratio > 0
	Sections      []Section
	Program       *dsp.Program // nil: not committed
}

// Input is a file by its path in the study's repository and the SHA-256 sum of
// its contents, in lower-case hexadecimal.
type Input struct{ Path, SHA256 string }

// Chain is a way's name and its cascade.
type Chain struct {
	Name    string
	Cascade *digital.Cascade
}

// New returns the document of chains that share a sample rate. It is validated.
func New(study, date string, chains []Chain, inputs []Input) (*Document, error) {
	if len(chains) == 0 {
		return nil, fmt.Errorf("export: document has no way, want at least 1")
	}
	d := &Document{Study: study, Date: date, Words: Float64, Inputs: append([]Input(nil), inputs...)}
	for i, c := range chains {
		if c.Cascade == nil {
			return nil, fmt.Errorf("export: way %q has no cascade", c.Name)
		}
		if i == 0 {
			d.SampleRate = c.Cascade.SampleRate()
		}
		if r := c.Cascade.SampleRate(); r != d.SampleRate {
			return nil, fmt.Errorf("export: way %q is at %g Hz, way %q at %g Hz, want one sample rate", c.Name, r, chains[0].Name, d.SampleRate)
		}
		d.Ways = append(d.Ways, Way{
			Name: c.Name, Inverted: c.Cascade.Inverted(), Gain: c.Cascade.Gain(), Delay: c.Cascade.Delay(), Sections: SectionsOf(c.Cascade),
		})
	}
	if err := d.Validate(); err != nil {
		return nil, err
	}
	return d, nil
}

// SectionsOf returns the sections of a cascade with their designs.
func SectionsOf(c *digital.Cascade) []Section {
	var out []Section
	for k := range c.Len() {
		out = append(out, Section{c.Design(k), c.At(k)})
	}
	return out
}

// Way returns the way of a name.
func (d *Document) Way(name string) (Way, error) {
	var names []string
	for _, w := range d.Ways {
		if w.Name == name {
			return w, nil
		}
		names = append(names, w.Name)
	}
	return Way{}, fmt.Errorf("export: document has no way %q, it has %q", name, names)
}

// Set returns the set of a way by its setting and name.
func (w Way) Set(setting, name string) (Set, error) {
	var names []string
	for _, s := range w.Sets {
		if s.Setting == setting && s.Name == name {
			return s, nil
		}
		names = append(names, s.Setting+": "+s.Name)
	}
	return Set{}, fmt.Errorf("export: way %q has no set %q, it has %q", w.Name, setting+": "+name, names)
}

// Cascade returns the sections, gain, polarity and delay of a way: equal, to the last
// bit, to those that the document was made from. Filters of finite length are apart
// ([FIR.Filter]).
func (d *Document) Cascade(name string) (*digital.Cascade, error) {
	w, err := d.Way(name)
	if err != nil {
		return nil, err
	}
	c, err := d.cascade(w.Sections, w.Gain)
	if err == nil {
		c, err = c.WithDelay(w.Delay)
	}
	if err != nil {
		return nil, fmt.Errorf("export: way %q: %w", name, err)
	}
	return c.WithPolarity(w.Inverted), nil
}

// SetCascade returns the sections and the gain of a set of a way.
func (d *Document) SetCascade(way, setting, name string) (*digital.Cascade, error) {
	w, err := d.Way(way)
	if err != nil {
		return nil, err
	}
	s, err := w.Set(setting, name)
	if err != nil {
		return nil, err
	}
	c, err := d.cascade(s.Sections, s.Gain)
	if err != nil {
		return nil, fmt.Errorf("export: way %q, set %q: %w", way, setting+": "+name, err)
	}
	return c, nil
}

func (d *Document) cascade(sections []Section, gain float64) (*digital.Cascade, error) {
	var s []digital.Section
	for _, q := range sections {
		s = append(s, digital.Given{SampleRate: d.SampleRate, Coefficients: q.Coefficients, Design: q.Design})
	}
	c, err := digital.NewCascade(d.SampleRate, s...)
	if err != nil {
		return nil, err
	}
	return c.WithGain(gain)
}

// InputsSHA256 returns one sum for all inputs: that of the lines
//
//	SHA256 + two spaces + path + LF
//
// in order, as the usual tools list sums of files. The document holds it from
// version 2 on.
func (d *Document) InputsSHA256() string {
	var b strings.Builder
	for _, in := range d.Inputs {
		b.WriteString(in.SHA256 + "  " + in.Path + "\n")
	}
	s := sha256.Sum256([]byte(b.String()))
	return hex.EncodeToString(s[:])
}

// version returns the lowest version that holds the document.
func (d *Document) version() int {
	if d.Unit != (Unit{}) {
		return 2
	}
	for _, w := range d.Ways {
		if len(w.FIR) > 0 || w.Program != nil || len(w.Sets) > 0 {
			return 2
		}
	}
	return 1
}

// Validate reports the first fault: a missing field, a number that is not finite
// or out of range, an unstable section, names or paths that occur twice, a program at
// another sample rate, with another delay, or beyond its own format.
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
	case strings.ContainsFunc(s, unicode.IsControl):
		return fmt.Errorf("export: %s %q has control characters", what, s)
	}
	return nil
}
