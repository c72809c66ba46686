package report_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/report"
)

// JCGM 100:2008, the example of H.1 (end gauges, from memory): standard uncertainties of 25, 9.7, 2.9 and 16.6 nm
// combine to 32 nm.
func TestGuardBand(t *testing.T) {
	if u := report.GuardBand(25, 9.7, 2.9, 16.6); math.Abs(u/2-32) > 0.5 {
		t.Errorf("combined %g nm, want 32", u/2)
	}
	if u := report.GuardBand(3, -4); u != 10 {
		t.Errorf("3 and 4 expand to %g, want 10", u)
	}
	if u := report.GuardBand(); u != 0 {
		t.Errorf("nothing expands to %g, want 0", u)
	}
	if !math.IsNaN(report.GuardBand(1, math.NaN())) {
		t.Error("NaN is hidden")
	}
	// The standard deviation of numbers spread evenly over −6 … 6.
	var sum float64
	const n = 100000
	for i := range n {
		x := -6 + 12*(float64(i)+0.5)/n
		sum += x * x
	}
	if a := report.Uniform(-6); math.Abs(a-math.Sqrt(sum/n)) > 1e-9 {
		t.Errorf("±6 is a standard uncertainty of %g, want %g", a, math.Sqrt(sum/n))
	}
}
