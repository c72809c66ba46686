package export

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
)

// Format and Version identify the document. Version 2 adds the unit, filters of
// finite length, sets and programs, version 3 the defaults of settings; a reader takes
// 1 to 3.
const (
	Format  = "loudspeaker-coefficients"
	Version = 3
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
	// Default says that a unit is shipped with this set in use. Of each setting at most one
	// set of a way is the default, and it is the same position in all ways: a way that has a
	// set of that name has it as its default, a way without one a wire. None: it is not stated.
	Default bool
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

// Turned returns the document with all ways louder by an amplitude ratio > 0, such as a
// variant for listening that is to be as loud as another. Programs of the ways, which
// are of before, are left out: commit the design anew. Those of sets stay.
func (d *Document) Turned(ratio float64) (*Document, error) {
	if !(ratio > 0) || math.IsInf(ratio, 0) {
		return nil, fmt.Errorf("export: document turned by the ratio %g, want a finite value > 0", ratio)
	}
	out := *d
	out.Ways = slices.Clone(d.Ways)
	for i := range out.Ways {
		out.Ways[i].Gain *= ratio
		out.Ways[i].Program = nil
	}
	if err := out.Validate(); err != nil { // such as a gain that is too small to be one
		return nil, err
	}
	return &out, nil
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
	if d.hasDefault() {
		return 3
	}
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
