package nb

import (
	"encoding/json"
	"fmt"

	"example.org/loudspeaker/speakerlib/report"
)

// Picture is what [Show] shows; the figures of package figure are pictures.
type Picture interface {
	SVG() ([]byte, error)
	PNG() ([]byte, error)
	Alt() string               // says in words what is to be seen
	Size() (width, height int) // in CSS pixels
}

// Show shows pictures, one output each: as SVG, as PNG for front ends that show
// no SVG of a notebook that is not trusted, and as words.
func Show(pictures ...Picture) {
	if len(pictures) == 0 {
		fail(fmt.Errorf("nb: Show has no picture"))
	}
	for _, p := range pictures {
		vector, err := p.SVG()
		MustOK(err)
		raster, err := p.PNG()
		MustOK(err)
		width, height := p.Size()
		send(bundle{svg: string(vector), png: raster, plain: p.Alt()},
			map[string]any{png: map[string]int{"width": width, "height": height}})
	}
}

// Table shows a table.
func Table(t report.Table) {
	send(bundle{page: t.HTML(), plain: t.Text()}, nil)
}

// Rows shows a slice of structs as a table: [report.NewTable] says how fields
// become columns.
func Rows[T any](caption string, rows []T) {
	Table(Must(report.NewTable(caption, rows)))
}

// Require shows requirements as one table, and records them for the report. One
// that fails does not end the cell; one that is faulty (a NaN, an unknown unit)
// does.
func Require(requirements ...report.Requirement) {
	switch len(requirements) {
	case 0:
		fail(fmt.Errorf("nb: Require has no requirement"))
	case 1:
		showRecord(requirements[0])
	default:
		showRecord(report.Requirements(requirements))
	}
}

// Decide shows a decision and records it for the report.
func Decide(d report.Decision) { showRecord(d) }

// Seed shows and records a seed of random numbers, and returns it. name says
// what is drawn from it.
func Seed(name string, seed uint64) uint64 {
	showRecord(report.Seed{Name: name, Seed: seed})
	return seed
}

// showRecord shows a record. The pipe carries no JSON objects, so the record
// is the text of the JSON.
func showRecord(r report.Record) {
	b, err := json.Marshal(r)
	if err != nil {
		// The message alone, without the wrapping of package json.
		for inner := err; inner != nil; {
			err = inner
			u, ok := inner.(interface{ Unwrap() error })
			if !ok {
				break
			}
			inner = u.Unwrap()
		}
		fail(err)
	}
	send(bundle{r.MIME(): string(b), page: r.HTML(), plain: r.Text()}, nil)
}
