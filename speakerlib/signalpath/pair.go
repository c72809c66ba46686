package signalpath

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
)

// PairRow compares an element of the left loudspeaker with that of the right.
type PairRow struct {
	Left    string  `col:"left"`
	Right   string  `col:"right"`
	Lead    float64 `col:"left later by" unit:"[samples]" fmt:"%g"`
	Skew    float64 `col:"unknown skew" unit:"µs" fmt:"%.3g"` // either way
	Drift   float64 `col:"drift" unit:"µs/s" fmt:"%.3g"`      // at most, of clocks that are not one, by their tolerances
	Exact   bool    `col:"sample exact"`
	Finding string  `col:"finding"` // "alike", or what is not
}

// Pair compares two paths element by element: left and right are sample exact if both have the
// same kinds of elements with equal sample rates, whole samples and coefficients, converters on
// one clock, and nothing asynchronous that is not locked. Coefficients are compared bit by bit
// where they are a *digital.Cascade; of other filters it has to be one and the same (freq.Same).
// Analogue parts are as exact as their tolerances, which it does not see. Stated delays of amplifiers are looked at too. A
// last row "all" has the sums, its samples being those of the rate of the first element that
// has any to tell.
//
// Skew is heard as a shift of the image: 10 µs is the least that listeners notice between the ears
// (common practice, no source), 3.4 mm of path.
func Pair(left, right Path) ([]PairRow, error) {
	for _, p := range []Path{left, right} {
		if err := p.Validate(); err != nil {
			return nil, err
		}
	}
	if len(left.Elements) != len(right.Elements) {
		return nil, fmt.Errorf("signalpath: left has %d elements and right %d, want as many", len(left.Elements), len(right.Elements))
	}
	all := PairRow{Left: "all", Right: "all", Finding: "alike", Exact: true}
	var rows []PairRow
	var base float64 // Hz, of the samples of the sum
	for i, l := range left.Elements {
		row := compare(l, right.Elements[i])
		if b, ok := l.(block); ok && row.Lead != 0 {
			rate := b.delay().rate
			if base == 0 {
				base = rate
			}
			all.Lead += row.Lead / rate * base
		}
		all.Skew += row.Skew
		all.Drift = max(all.Drift, row.Drift)
		if !row.Exact && all.Exact {
			all.Exact, all.Finding = false, fmt.Sprintf("%s: %s", row.Left, row.Finding)
		}
		rows = append(rows, row)
	}
	return append(rows, all), nil
}

func compare(l, r Element) PairRow {
	row := PairRow{Left: l.Label(), Right: r.Label(), Finding: "alike", Exact: true}
	fault := func(format string, args ...any) {
		if row.Exact {
			row.Exact, row.Finding = false, fmt.Sprintf(format, args...)
		}
	}
	if l.in() != r.in() || l.out() != r.out() || fmt.Sprintf("%T", l) != fmt.Sprintf("%T", r) {
		fault("%T from %v to %v against %T from %v to %v", l, l.in(), l.out(), r, r.in(), r.out())
		return row
	}
	if b, ok := l.(block); ok {
		a, c := b.delay(), r.(block).delay()
		if row.Lead = a.samples - c.samples; row.Lead != 0 {
			fault("left is %g samples late, right %g", a.samples, c.samples)
		}
	}
	switch a := l.(type) {
	case Processor:
		b := r.(Processor)
		if !sameFilters(a.Filters, b.Filters) {
			fault("filters differ")
		}
	case ADC:
		b := r.(ADC)
		clocks(&row, a.Clock, b.Clock, fault)
		if !sameFilters(a.Filter, b.Filter) {
			fault("filters differ")
		}
	case DAC:
		b := r.(DAC)
		clocks(&row, a.Clock, b.Clock, fault)
		if !sameFilters(a.Filter, b.Filter) || a.Hold != b.Hold {
			fault("filters differ")
		}
	case Amplifier:
		if b := r.(Amplifier); a.Delay != b.Delay {
			fault("left is %g s late, right %g", a.Delay, b.Delay)
		}
	case RateConverter:
		b := r.(RateConverter)
		if !sameFilters(a.Filter, b.Filter) {
			fault("filters differ")
		}
		if row.Skew = max(a.Skew, b.Skew); row.Skew > 0 {
			fault("asynchronous, within ±%.3g µs", row.Skew*1e6)
		}
	}
	return row
}

// clocks compares two clocks.
func clocks(row *PairRow, a, b Clock, fault func(string, ...any)) {
	switch {
	case a.Name == "" || b.Name == "":
		fault("clock not stated")
	case a.Name != b.Name:
		row.Drift = a.Tolerance + b.Tolerance
		fault("clocks %q and %q are not one", a.Name, b.Name)
	}
}

func sameFilters(a, b freq.Transfer) bool {
	if a == nil || b == nil {
		return a == nil && b == nil
	}
	c, ok := a.(*digital.Cascade)
	d, too := b.(*digital.Cascade)
	if ok && too {
		return c.Equal(d)
	}
	return freq.Same(a, b)
}
