package release

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/export"
	"example.org/loudspeaker/speakerlib/report"
)

// State is how far a release has come.
type State int

// The states.
const (
	Draft     State = iota // as the study exported it
	Corrected              // once, from the prototype
	Frozen                 // signed; it is changed no more
)

var states = [...]string{"draft", "corrected", "frozen"}

// String names the state.
func (s State) String() string {
	if s < 0 || int(s) >= len(states) {
		return fmt.Sprintf("State(%d)", int(s))
	}
	return states[s]
}

// Release is a revision of the coefficients of a loudspeaker. It is immutable: what
// changes it returns another one, as long as its state allows it.
type Release struct {
	text     []byte // the coefficient document
	document *export.Document
	record   record
}

// record is what a release knows besides the document.
type record struct {
	state        State
	revision     string
	date         string
	parent       string // the sum of the release that it comes from; empty: of none
	because      *report.Decision
	frozen       string // the date of the freeze
	signed       []report.Signature
	decisions    []report.Decision
	requirements report.Requirements
}

// New returns the draft of a document of coefficients. The date is that of the
// document.
func New(d *export.Document, revision string) (*Release, error) {
	return newRelease(d, record{revision: revision})
}

func newRelease(d *export.Document, r record) (*Release, error) {
	if d == nil {
		return nil, fmt.Errorf("release: no document of coefficients")
	}
	var b bytes.Buffer
	if err := d.WriteJSON(&b); err != nil {
		return nil, err
	}
	return fromText(b.Bytes(), r)
}

// fromText reads the document back, so that nobody else holds it.
func fromText(text []byte, r record) (*Release, error) {
	own, err := export.ReadJSON(bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	if err := own.CheckPrograms(); err != nil { // such as those of the ways in another order
		return nil, err
	}
	if strings.TrimSpace(r.revision) == "" {
		return nil, fmt.Errorf("release: revision is %q, want a name", r.revision)
	}
	r.date = own.Date
	return &Release{text: text, document: own, record: r}, nil
}

// State returns how far the release has come.
func (r *Release) State() State { return r.record.state }

// Revision returns the name of the revision.
func (r *Release) Revision() string { return r.record.revision }

// Date returns the date of the coefficients, YYYY-MM-DD.
func (r *Release) Date() string { return r.record.date }

// Parent returns the SHA-256 sum of the release that this one comes from, or "".
func (r *Release) Parent() string { return r.record.parent }

// Frozen returns the date of the freeze, YYYY-MM-DD, or "" before it.
func (r *Release) Frozen() string { return r.record.frozen }

// Signed returns who signed, by role; nobody before the freeze.
func (r *Release) Signed() []report.Signature { return slices.Clone(r.record.signed) }

// Decisions returns the decisions of the freeze.
func (r *Release) Decisions() []report.Decision { return slices.Clone(r.record.decisions) }

// Requirements returns the requirements as they stood at the freeze.
func (r *Release) Requirements() report.Requirements { return slices.Clone(r.record.requirements) }

// SHA256 returns the sum of the coefficient document, byte for byte as it is written,
// in 64 lower-case hexadecimal digits.
func (r *Release) SHA256() string {
	s := sha256.Sum256(r.text)
	return hex.EncodeToString(s[:])
}

// Document returns a copy of the coefficient document.
func (r *Release) Document() *export.Document {
	d, err := export.ReadJSON(bytes.NewReader(r.text))
	if err != nil {
		panic("release: document that was read is not read again")
	}
	return d
}

// Chosen is what is chosen of a setting: "placement", "wall".
type Chosen struct{ Setting, Name string }

// Active returns the chains of the ways as they play, with what is chosen of the
// settings: the program's coefficients where a way is committed to one, the design's
// otherwise; delay and polarity apart. Of a setting that is not mentioned no set is in
// use, its default neither: export.Set.Default states what a unit is shipped with and
// chooses nothing here.
func (r *Release) Active(chosen ...Chosen) (crossover.Active, error) {
	var out crossover.Active
	d := r.document
	for i, c := range chosen {
		has := func(w export.Way) bool {
			return slices.ContainsFunc(w.Sets, func(s export.Set) bool { return s.Setting == c.Setting && s.Name == c.Name })
		}
		if !slices.ContainsFunc(d.Ways, has) {
			return out, fmt.Errorf("release: no way has a set %q of the setting %q", c.Name, c.Setting)
		}
		if slices.ContainsFunc(chosen[:i], func(o Chosen) bool { return o.Setting == c.Setting }) {
			return out, fmt.Errorf("release: setting %q is chosen twice, want once", c.Setting)
		}
	}
	for _, w := range d.Ways {
		chain := crossover.Chain{Name: w.Name, Delay: float64(w.Delay) / d.SampleRate}
		for _, c := range chosen {
			s, err := w.Set(c.Setting, c.Name)
			if err != nil {
				continue // a wire
			}
			if s.Program != nil {
				t, err := s.Program.Transfer()
				if err != nil {
					return out, err
				}
				chain.Stages = append(chain.Stages, t)
				continue
			}
			t, err := d.SetCascade(w.Name, c.Setting, c.Name)
			if err != nil {
				return out, err
			}
			chain.Stages = append(chain.Stages, t)
		}
		own, filters := d.Cascade, w.FIR
		if p := w.Program; p != nil {
			own = func(string) (*digital.Cascade, error) { return p.Cascade() }
			filters = nil
			for _, f := range p.FIR {
				t, err := f.Filter(d.SampleRate)
				if err != nil {
					return out, err
				}
				filters = append(filters, export.FIROf(t))
			}
		}
		c, err := own(w.Name)
		if err != nil {
			return out, err
		}
		chain.Inverted = c.Inverted()
		if c, err = c.WithDelay(0); err != nil {
			return out, err
		}
		chain.Stages = append(chain.Stages, c.WithPolarity(false))
		for _, f := range filters {
			t, err := f.Filter(d.SampleRate)
			if err != nil {
				return out, err
			}
			chain.Stages = append(chain.Stages, t)
		}
		out.Ways = append(out.Ways, chain)
	}
	return out, nil
}

// Correct returns the release with the one correction that it may have, under the date of
// the correction. The correction's sections come after those that a way has; delays
// are moved together so that the smallest stays what it was, and latency with it. The
// programs of the ways, which are of before, are left out: commit the design anew
// ([Release.Commit]).
func (r *Release) Correct(c *Correction, date string) (*Release, error) {
	switch r.record.state {
	case Corrected:
		return nil, fmt.Errorf("release: revision %s was corrected on %s already, want one correction: look for what the model, the sample or the measurement has wrong", r.record.revision, r.record.date)
	case Frozen:
		return nil, fmt.Errorf("release: revision %s is frozen, want a new revision with its reason", r.record.revision)
	}
	d := r.document
	if c == nil || len(c.Ways) == 0 {
		return nil, fmt.Errorf("release: correction of no way")
	}
	if c.SampleRate != d.SampleRate {
		return nil, fmt.Errorf("release: correction at %g Hz, coefficients at %g Hz, want one sample rate", c.SampleRate, d.SampleRate)
	}
	if date < d.Date {
		return nil, fmt.Errorf("release: correction of %s of coefficients of %s, want that day or later", date, d.Date)
	}
	for i, k := range c.Ways {
		if slices.ContainsFunc(c.Ways[:i], func(o WayCorrection) bool { return o.Name == k.Name }) {
			return nil, fmt.Errorf("release: way %q is corrected twice, want once", k.Name)
		}
	}
	next := r.Document()
	next.Date = date
	least, moved := digital.MaxDelay, digital.MaxDelay
	used := 0
	for i := range next.Ways {
		w := &next.Ways[i]
		least = min(least, w.Delay)
		w.Program = nil
		for _, k := range c.Ways {
			if k.Name != w.Name {
				continue
			}
			used++
			own, err := d.Cascade(w.Name)
			if err != nil {
				return nil, err
			}
			if own, err = own.Then(k.Cascade); err != nil {
				return nil, err
			}
			w.Sections, w.Gain, w.Inverted = export.SectionsOf(own), own.Gain(), own.Inverted()
			w.Delay += k.Samples
		}
		moved = min(moved, w.Delay)
	}
	if used != len(c.Ways) {
		return nil, fmt.Errorf("release: correction of %d ways fits %d of the %d in the coefficients: names differ", len(c.Ways), used, len(d.Ways))
	}
	for i := range next.Ways {
		next.Ways[i].Delay += least - moved
	}
	return newRelease(next, record{state: Corrected, revision: r.record.revision, parent: r.SHA256(), because: r.record.because})
}

// Commit returns the release with the design of its ways committed to programs, in the
// order of the ways: what is measured, and frozen, is what plays. It replaces those
// that there are, and is refused of a frozen release.
func (r *Release) Commit(programs []*dsp.Program) (*Release, error) {
	if r.record.state == Frozen {
		return nil, fmt.Errorf("release: revision %s is frozen, want a new revision with its reason", r.record.revision)
	}
	if len(programs) != len(r.document.Ways) {
		return nil, fmt.Errorf("release: %d programs for %d ways, want one each", len(programs), len(r.document.Ways))
	}
	next := r.Document()
	for i, p := range programs {
		if p == nil {
			return nil, fmt.Errorf("release: way %q gets no program, want one", next.Ways[i].Name)
		}
		next.Ways[i].Program = p
	}
	return newRelease(next, r.record)
}

// Because returns the decision that asked for this revision; nil for the first.
func (r *Release) Because() *report.Decision {
	if r.record.because == nil {
		return nil
	}
	d := *r.record.because
	return &d
}
