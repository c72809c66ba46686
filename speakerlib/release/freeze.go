package release

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"example.org/loudspeaker/speakerlib/dsp/export"
	"example.org/loudspeaker/speakerlib/report"
)

// Freezing is what a freeze takes.
type Freezing struct {
	Date         string // YYYY-MM-DD
	Signed       []report.Signature
	Requirements report.Requirements // evaluated with these coefficients
	Decisions    []report.Decision   // at least those that waive
}

// Freeze returns the release frozen: what it holds changes no more. Every requirement
// must pass or be waived by one of the decisions, and somebody must sign. A decision that
// is about no release is about this one from now on. Either all ways are committed to
// programs or none.
func (r *Release) Freeze(f Freezing) (*Release, error) {
	if r.record.state == Frozen {
		return nil, fmt.Errorf("release: revision %s is frozen already", r.record.revision)
	}
	var committed []string
	for _, w := range r.document.Ways {
		if w.Program != nil {
			committed = append(committed, w.Name)
		}
	}
	if n := len(r.document.Ways); len(committed) != 0 && len(committed) != n {
		return nil, fmt.Errorf("release: of %d ways %q are committed to a program, want all or none", n, committed)
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
