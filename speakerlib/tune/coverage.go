package tune

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/freq"
)

// CoverageError is a response that is not known over all of the band of a goal.
type CoverageError struct {
	Label       string
	First, Last float64 // what is known, Hz
	From, To    float64 // what is wanted, Hz
}

// Error says by how much it falls short, and where.
func (e *CoverageError) Error() string {
	s := fmt.Sprintf("tune: %q is known from %.6g to %.6g Hz, want %.6g to %.6g Hz:", e.Label, e.First, e.Last, e.From, e.To)
	if e.First > e.From {
		s += fmt.Sprintf(" %.4g Hz (a factor of %.3g) are missing below", e.First-e.From, e.First/e.From)
	}
	if e.Last < e.To {
		if e.First > e.From {
			s += " and"
		}
		s += fmt.Sprintf(" %.4g Hz (a factor of %.3g) are missing above", e.To-e.Last, e.To/e.Last)
	}
	return s
}

// covers returns a CoverageError for a grid that begins or ends inside the band by
// more than the step between its points there, as [freq.Curve.Mean] does.
func covers(g *freq.Grid, from, to float64, label string) error {
	n := g.Len()
	low, high := 1.0, 1.0
	if n > 1 {
		low, high = g.At(1)/g.At(0), g.At(n-1)/g.At(n-2)
	}
	if g.First() > from*low*(1+1e-9) || g.Last()*high*(1+1e-9) < to {
		return &CoverageError{Label: label, First: g.First(), Last: g.Last(), From: from, To: to}
	}
	return nil
}
