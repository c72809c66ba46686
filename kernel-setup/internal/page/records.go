package page

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
	"example.org/loudspeaker/speakerlib/report"
)

// Place is the cell that a record came from.
type Place struct {
	Cell int    // number from 1, counting all cells
	ID   string // the cell's id
}

// Requirement is a requirement and where it was evaluated.
type Requirement struct {
	report.Requirement
	Place  Place   // first
	Again  []Place // where it stands again with the same outcome
	Others int     // evaluations of the same requirement with another outcome
}

// Decision is a decision and where it was taken.
type Decision struct {
	report.Decision
	Place Place
}

// Dataset is a file that the study read and where it was read first.
type Dataset struct {
	report.Dataset
	Place Place
}

// Seed is a start value of random numbers and where it was used first.
type Seed struct {
	report.Seed
	Place Place
}

// Attachment is a file that the study hands on and where it was attached first.
type Attachment struct {
	report.File
	Place Place
}

// Records is what a study recorded, in the order of its cells.
type Records struct {
	Requirements []Requirement
	Decisions    []Decision
	Datasets     []Dataset    // each path once
	Seeds        []Seed       // each once
	Files        []Attachment // each name once, also without regard to case
}

// Failed returns the requirements that failed.
func (r Records) Failed() []Requirement {
	var failed []Requirement
	for _, q := range r.Requirements {
		if q.Status() == report.Fail {
			failed = append(failed, q)
		}
	}
	return failed
}

// Count returns how many requirements have a status.
func (r Records) Count(s report.Status) int {
	n := 0
	for _, q := range r.Requirements {
		if q.Status() == s {
			n++
		}
	}
	return n
}

// Collect gathers the records from the outputs of a notebook. A record that
// contradicts itself or another one is an error; all errors are joined.
//
// Requirements are the same if name, source, unit and limit are. One that is
// first not evaluated and later evaluated stands once, with its evaluation; one
// that is never evaluated stands once, with the last reason why. Evaluations
// with the same value, guard band and status stand once, with all places; others
// stand side by side, and each says so: a failure is never replaced by a later
// pass.
func Collect(n *nbformat.Notebook) (Records, error) {
	var r Records
	var errs []error
	for i, c := range n.Cells {
		place := Place{Cell: i + 1, ID: c.ID}
		for k, o := range c.Outputs {
			if err := r.addAll(o.Data, place); err != nil {
				errs = append(errs, fmt.Errorf("cell %d (id %q), output %d: %w", place.Cell, place.ID, k+1, err))
			}
		}
	}
	r.Requirements = merge(r.Requirements)
	for _, q := range r.Requirements {
		if q.Status() == report.Waived && !r.decided(q.DecisionID()) {
			errs = append(errs, fmt.Errorf("cell %d (id %q): requirement %q is waived by decision %q, which is not in the notebook",
				q.Place.Cell, q.Place.ID, q.Name(), q.DecisionID()))
		}
	}
	return r, errors.Join(errs...)
}

func (r *Records) addAll(data nbformat.Bundle, place Place) error {
	var errs []error
	add := func(mime string, read func(value []byte) error) {
		v, ok := data[mime]
		if !ok {
			return
		}
		value, err := nbformat.EncodeJSON(v)
		if err == nil {
			err = read(value)
		}
		if err != nil {
			errs = append(errs, err)
		}
	}
	add(report.RequirementMIME, func(value []byte) error {
		list, err := report.ReadRequirements(value)
		for _, q := range list {
			r.Requirements = append(r.Requirements, Requirement{Requirement: q, Place: place})
		}
		return err
	})
	add(report.DecisionMIME, func(value []byte) error {
		list, err := report.ReadDecisions(value)
		for _, d := range list {
			for _, e := range r.Decisions {
				if e.ID == d.ID {
					return fmt.Errorf("decision %q stands already in cell %d", d.ID, e.Place.Cell)
				}
			}
			r.Decisions = append(r.Decisions, Decision{d, place})
		}
		return err
	})
	add(report.DatasetMIME, func(value []byte) error {
		list, err := report.ReadDatasets(value)
		for _, d := range list {
			if err := r.addDataset(Dataset{d, place}); err != nil {
				return err
			}
		}
		return err
	})
	add(report.SeedMIME, func(value []byte) error {
		list, err := report.ReadSeeds(value)
		for _, s := range list {
			r.addSeed(Seed{s, place})
		}
		return err
	})
	add(report.FileMIME, func(value []byte) error {
		list, err := report.ReadFiles(value)
		for _, f := range list {
			if err := r.addFile(Attachment{f, place}); err != nil {
				return err
			}
		}
		return err
	})
	return errors.Join(errs...)
}

func (r *Records) addDataset(d Dataset) error {
	for _, e := range r.Datasets {
		if e.Path != d.Path {
			continue
		}
		if e.SHA256 != d.SHA256 {
			return fmt.Errorf("%s changed while the notebook ran: SHA-256 was %s in cell %d, is %s", d.Path, e.SHA256, e.Place.Cell, d.SHA256)
		}
		return nil
	}
	r.Datasets = append(r.Datasets, d)
	return nil
}

// addFile keeps names apart that some file systems take for the same.
func (r *Records) addFile(f Attachment) error {
	for _, e := range r.Files {
		switch {
		case !strings.EqualFold(e.Name, f.Name):
			continue
		case e.Name != f.Name:
			return fmt.Errorf("file %s and file %s of cell %d (id %q) differ in name only by the case of letters", f.Name, e.Name, e.Place.Cell, e.Place.ID)
		case e.Media != f.Media:
			return fmt.Errorf("file %s is %s here and %s in cell %d (id %q)", f.Name, f.Media, e.Media, e.Place.Cell, e.Place.ID)
		case e.SHA256() != f.SHA256():
			return fmt.Errorf("file %s has other content (SHA-256 %s) than in cell %d (id %q: %s)", f.Name, short(f.SHA256()), e.Place.Cell, e.Place.ID, short(e.SHA256()))
		}
		return nil
	}
	r.Files = append(r.Files, f)
	return nil
}

func (r *Records) addSeed(s Seed) {
	for _, e := range r.Seeds {
		if e.Seed == s.Seed {
			return
		}
	}
	r.Seeds = append(r.Seeds, s)
}

func (r Records) decided(id string) bool {
	for _, d := range r.Decisions {
		if d.ID == id {
			return true
		}
	}
	return false
}

// demand is what makes requirements the same.
type demand struct {
	name, source, limit string
	unit                report.Unit
	lower, upper        float64
}

func demandOf(q Requirement) demand {
	lower, upper := q.Limits()
	return demand{q.Name(), q.Source(), q.Limit(), q.Unit(), lower, upper}
}

// outcome is what makes evaluations of a requirement the same.
type outcome struct {
	demand       demand
	value, guard float64
	status       report.Status
	waivedBy     string
}

// merge joins what says the same, at the place of the first.
func merge(all []Requirement) []Requirement {
	valued := map[demand]bool{}
	for _, q := range all {
		if _, ok := q.Value(); ok {
			valued[demandOf(q)] = true
		}
	}
	var keep []Requirement
	at := map[outcome]int{} // place in keep
	outcomes := map[demand]int{}
	for _, q := range all {
		d := demandOf(q)
		v, ok := q.Value()
		if !ok && valued[d] {
			continue
		}
		o := outcome{demand: d, value: v, guard: q.Guard(), status: q.Status()}
		if q.Status() == report.Waived {
			o.waivedBy = q.DecisionID()
		}
		i, known := at[o]
		if !known {
			at[o] = len(keep)
			keep = append(keep, q)
			outcomes[d]++
			continue
		}
		first := &keep[i]
		if !ok {
			first.Requirement = q.Requirement // its reason
		}
		if q.Place != first.Place && !slices.Contains(first.Again, q.Place) {
			first.Again = append(first.Again, q.Place)
		}
	}
	for i := range keep {
		keep[i].Others = outcomes[demandOf(keep[i])] - 1
	}
	return keep
}
