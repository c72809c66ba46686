package release

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp/export"
	"example.org/loudspeaker/speakerlib/freq"
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

// Active returns the chains of the ways: sections and gain as one stage, delay and
// polarity apart.
func (r *Release) Active() crossover.Active {
	var out crossover.Active
	for _, w := range r.document.Ways {
		c, err := r.document.Cascade(w.Name)
		if err == nil {
			c, err = c.WithDelay(0)
		}
		if err != nil {
			panic("release: cascade of a checked document is refused")
		}
		out.Ways = append(out.Ways, crossover.Chain{
			Name: w.Name, Stages: freq.Series{c.WithPolarity(false)},
			Delay: float64(w.Delay) / r.document.SampleRate, Inverted: w.Inverted,
		})
	}
	return out
}

// Correct returns the release with the one correction that it may have, under the date of
// the correction. The correction's sections come after those that a way has; delays
// are moved together so that the smallest stays what it was, and latency with it.
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
	delays := make([]int, len(d.Ways))
	least, moved := digital.MaxDelay, digital.MaxDelay
	used := 0
	var chains []export.Chain
	for i, w := range d.Ways {
		own, err := d.Cascade(w.Name)
		if err != nil {
			return nil, err
		}
		delays[i] = w.Delay
		for _, k := range c.Ways {
			if k.Name != w.Name {
				continue
			}
			used++
			delays[i] += k.Samples
			if own, err = own.Then(k.Cascade); err != nil {
				return nil, err
			}
		}
		least, moved = min(least, w.Delay), min(moved, delays[i])
		chains = append(chains, export.Chain{Name: w.Name, Cascade: own})
	}
	if used != len(c.Ways) {
		return nil, fmt.Errorf("release: correction of %d ways fits %d of the %d in the coefficients: names differ", len(c.Ways), used, len(d.Ways))
	}
	for i := range chains {
		var err error
		if chains[i].Cascade, err = chains[i].Cascade.WithDelay(delays[i] - moved + least); err != nil {
			return nil, err
		}
	}
	next, err := export.New(d.Study, date, chains, d.Inputs)
	if err != nil {
		return nil, err
	}
	return newRelease(next, record{state: Corrected, revision: r.record.revision, parent: r.SHA256(), because: r.record.because})
}

// Freezing is what a freeze takes.
type Freezing struct {
	Date         string // YYYY-MM-DD
	Signed       []report.Signature
	Requirements report.Requirements // evaluated with these coefficients
	Decisions    []report.Decision   // at least those that waive
}

// Freeze returns the release frozen: what it holds changes no more. Every requirement
// must pass or be waived by one of the decisions, and somebody must sign. A decision that
// is about no release is about this one from now on.
func (r *Release) Freeze(f Freezing) (*Release, error) {
	if r.record.state == Frozen {
		return nil, fmt.Errorf("release: revision %s is frozen already", r.record.revision)
	}
	next := r.record
	next.state = Frozen
	next.frozen = f.Date
	next.signed = slices.Clone(f.Signed)
	next.requirements = slices.Clone(f.Requirements)
	next.decisions = nil
	for _, d := range f.Decisions {
		if d.Release == "" {
			d.Release = r.SHA256()
		}
		next.decisions = append(next.decisions, d)
	}
	if err := next.checkFrozen(r.SHA256()); err != nil {
		return nil, err
	}
	return &Release{text: r.text, document: r.document, record: next}, nil
}

// checkFrozen reports what keeps a record from being that of a frozen release of a
// sum.
func (r record) checkFrozen(sum string) error {
	if _, err := time.Parse(time.DateOnly, r.frozen); err != nil || r.frozen < r.date {
		return fmt.Errorf("release: freeze on %q of coefficients of %s, want YYYY-MM-DD, that day or later", r.frozen, r.date)
	}
	if len(r.signed) == 0 {
		return fmt.Errorf("release: nobody signs revision %s, want at least one role", r.revision)
	}
	if err := report.CheckSignatures(r.signed, r.date); err != nil {
		return err
	}
	for _, s := range r.signed {
		if s.Date > r.frozen {
			return fmt.Errorf("release: %v signs on %s, after the freeze on %s", s.Role, s.Date, r.frozen)
		}
	}
	ids := map[string]bool{}
	for _, d := range r.decisions {
		if err := d.Validate(); err != nil {
			return err
		}
		if d.Release != sum {
			return fmt.Errorf("release: decision %s is about the release %s, want %s", d.ID, d.Release, sum)
		}
		if ids[d.ID] {
			return fmt.Errorf("release: two decisions are called %s, want names that differ", d.ID)
		}
		ids[d.ID] = true
	}
	if len(r.requirements) == 0 {
		return fmt.Errorf("release: revision %s is frozen without requirements, want those that it was judged by", r.revision)
	}
	if err := r.requirements.Err(); err != nil {
		return err
	}
	var open []string
	for _, q := range r.requirements {
		switch s := q.Status(); {
		case s == report.Waived && !ids[q.DecisionID()]:
			open = append(open, fmt.Sprintf("%q is waived by decision %s, which is not among those given", q.Name(), q.DecisionID()))
		case s == report.Fail || s == report.NotEvaluated:
			open = append(open, fmt.Sprintf("%q: %v", q.Name(), s))
		}
	}
	if len(open) > 0 {
		return fmt.Errorf("release: revision %s is not ready: %s; want each passed, or waived by a decision", r.revision, strings.Join(open, "; "))
	}
	return nil
}

// Next returns a draft of another revision that begins from a frozen release with other
// coefficients, or the same, and the decision that asks for it.
func (r *Release) Next(d *export.Document, revision string, because report.Decision) (*Release, error) {
	if r.record.state != Frozen {
		return nil, fmt.Errorf("release: revision %s is a %v one, want it frozen before the next", r.record.revision, r.record.state)
	}
	if revision == r.record.revision {
		return nil, fmt.Errorf("release: the next revision is called %s too, want another name", revision)
	}
	if because.Release == "" {
		because.Release = r.SHA256()
	}
	if err := because.Validate(); err != nil {
		return nil, err
	}
	if because.Release != r.SHA256() {
		return nil, fmt.Errorf("release: decision %s is about the release %s, want %s", because.ID, because.Release, r.SHA256())
	}
	return newRelease(d, record{revision: revision, parent: r.SHA256(), because: &because})
}

// Because returns the decision that asked for this revision; nil for the first.
func (r *Release) Because() *report.Decision {
	if r.record.because == nil {
		return nil
	}
	d := *r.record.because
	return &d
}
