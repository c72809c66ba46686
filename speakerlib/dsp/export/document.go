package export

import (
	"encoding/hex"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"example.org/loudspeaker/speakerlib/digital"
)

// Format and Version identify the document. A reader refuses another version.
const (
	Format  = "loudspeaker-coefficients"
	Version = 1
)

// WordFormat says how the coefficients are to be held.
type WordFormat string

// Float64 is IEEE 754 binary64: the coefficients as they were designed.
const Float64 WordFormat = "float64"

// Document is a release of coefficients.
type Document struct {
	Study      string // what the study is called
	Date       string // of the release, YYYY-MM-DD, given by the caller
	SampleRate float64
	Words      WordFormat
	Ways       []Way
	Inputs     []Input // files that the study read
}

// Way is the chain of one way.
type Way struct {
	Name     string
	Inverted bool
	Gain     float64 // amplitude ratio > 0
	Delay    int     // whole samples
	Sections []Section
}

// Section is a second-order section and what it was designed as.
type Section struct {
	Design       string
	Coefficients digital.Biquad
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
		w := Way{Name: c.Name, Inverted: c.Cascade.Inverted(), Gain: c.Cascade.Gain(), Delay: c.Cascade.Delay()}
		for k := range c.Cascade.Len() {
			w.Sections = append(w.Sections, Section{c.Cascade.Design(k), c.Cascade.At(k)})
		}
		d.Ways = append(d.Ways, w)
	}
	if err := d.Validate(); err != nil {
		return nil, err
	}
	return d, nil
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

// Cascade returns the chain of a way: equal, to the last bit, to the one that
// the document was made from.
func (d *Document) Cascade(name string) (*digital.Cascade, error) {
	w, err := d.Way(name)
	if err != nil {
		return nil, err
	}
	var s []digital.Section
	for _, q := range w.Sections {
		s = append(s, digital.Given{SampleRate: d.SampleRate, Coefficients: q.Coefficients, Design: q.Design})
	}
	c, err := digital.NewCascade(d.SampleRate, s...)
	if err != nil {
		return nil, fmt.Errorf("export: way %q: %w", name, err)
	}
	if c, err = c.WithGain(w.Gain); err != nil {
		return nil, fmt.Errorf("export: way %q: %w", name, err)
	}
	if c, err = c.WithDelay(w.Delay); err != nil {
		return nil, fmt.Errorf("export: way %q: %w", name, err)
	}
	return c.WithPolarity(w.Inverted), nil
}

// Validate reports the first fault: a missing field, a number that is not finite
// or out of range, an unstable section, names or paths that occur twice.
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
	if len(d.Ways) == 0 {
		return fmt.Errorf("export: document has no way, want at least 1")
	}
	names := map[string]bool{}
	for _, w := range d.Ways {
		if err := checkText("name of a way", w.Name); err != nil {
			return err
		}
		if names[w.Name] {
			return fmt.Errorf("export: two ways are called %q, want different names", w.Name)
		}
		names[w.Name] = true
		if !(w.Gain > 0) || math.IsInf(w.Gain, 0) {
			return fmt.Errorf("export: way %q: gain is the ratio %g, want a finite value > 0", w.Name, w.Gain)
		}
		if w.Delay < 0 || w.Delay > digital.MaxDelay {
			return fmt.Errorf("export: way %q: delay is %d samples, want 0 to %d", w.Name, w.Delay, digital.MaxDelay)
		}
		for i, s := range w.Sections {
			if err := checkText("design", s.Design); err != nil && s.Design != "" {
				return fmt.Errorf("export: way %q, section %d of %d: %w", w.Name, i+1, len(w.Sections), err)
			}
			if err := s.Coefficients.Check(); err != nil {
				return fmt.Errorf("export: way %q, section %d of %d: %w", w.Name, i+1, len(w.Sections), err)
			}
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
