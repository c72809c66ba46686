package report

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Status is what has become of a requirement.
type Status int

// The statuses.
const (
	NotEvaluated Status = iota // no value yet: why is stated
	Pass                       // the value meets the limit with the guard band
	Fail                       // it does not
	Waived                     // it does not, and a decision accepts that
)

// String returns the status in the words of the record.
func (s Status) String() string {
	switch s {
	case NotEvaluated:
		return "not evaluated"
	case Pass:
		return "pass"
	case Fail:
		return "fail"
	case Waived:
		return "waived"
	}
	return fmt.Sprintf("Status(%d)", int(s))
}

// Bound is the kind of limit.
type Bound int

// The kinds of limit.
const (
	UpperLimit Bound = iota // at most
	LowerLimit              // at least
	BothLimits              // within
)

// String returns the kind of limit in the words of the record.
func (b Bound) String() string {
	switch b {
	case UpperLimit:
		return "at most"
	case LowerLimit:
		return "at least"
	case BothLimits:
		return "within"
	}
	return fmt.Sprintf("Bound(%d)", int(b))
}

// Requirement is a demand with its limit, and the value that a study found.
//
// Its status is computed, never set. The rule is guarded acceptance as in
// JCGM 106:2012, 8.3.2 (the number of the clause is from memory, not checked
// against its text): the margin is the distance of the value from the nearest
// limit, positive on the good side, and the requirement passes if and only if
// the margin is at least the guard band, so that what is uncertain by as much
// as the guard band has not passed by luck. Everything is compared in the
// printed unit, so that a record read back gives the same status.
//
// A Requirement is a value: the methods return a changed copy. What is wrong
// with it (a NaN, an unknown unit) is kept and told by [Requirement.Err]; such
// a requirement is never passed and has no record.
type Requirement struct {
	name, source string
	unit         Unit
	bound        Bound
	lower, upper float64 // in unit
	evaluated    bool
	value, guard float64 // in unit
	why          string  // not evaluated, because
	waivedBy     string
	err          error
}

// AtMost demands a value of at most limit, in SI units; source says who demands
// it and where, and unit how to show it: AtMost("vent air speed", "brief 3.4",
// "m/s peak", 20).
func AtMost(name, source string, unit Unit, limit float64) Requirement {
	return demand(name, source, unit, UpperLimit, math.Inf(-1), limit)
}

// AtLeast demands a value of at least limit, in SI units.
func AtLeast(name, source string, unit Unit, limit float64) Requirement {
	return demand(name, source, unit, LowerLimit, limit, math.Inf(1))
}

// Within demands a value from lower to upper, in SI units.
func Within(name, source string, unit Unit, lower, upper float64) Requirement {
	return demand(name, source, unit, BothLimits, lower, upper)
}

func demand(name, source string, unit Unit, b Bound, lower, upper float64) Requirement {
	q := Requirement{name: name, source: source, unit: unit, bound: b, lower: lower, upper: upper, why: "not yet evaluated"}
	p, err := unit.parse()
	switch {
	case name == "":
		q.err = fmt.Errorf("report: requirement has no name")
	case source == "":
		q.err = fmt.Errorf("report: requirement %q does not say who demands it, want a source", name)
	case err != nil:
		q.err = fmt.Errorf("report: requirement %q: %w", name, err)
	case b != LowerLimit && !finite(upper) || b != UpperLimit && !finite(lower):
		q.err = fmt.Errorf("report: requirement %q has the limits %g and %g, want finite values", name, lower, upper)
	case lower > upper:
		q.err = fmt.Errorf("report: requirement %q is within %g and %g, want the lower limit first", name, lower, upper)
	default:
		q.lower, q.upper = p.show(lower), p.show(upper)
	}
	return q
}

// Evaluate returns the requirement with the value that was found and the guard
// band to keep from the limit (its uncertainty; 0 if the value is exact), both
// in SI units.
func (q Requirement) Evaluate(value, guard float64) Requirement {
	if q.err != nil {
		return q
	}
	if !finite(value) {
		q.err = fmt.Errorf("report: requirement %q is evaluated as %g, want a finite value (if there is none, say why with NotEvaluated)", q.name, value)
		return q
	}
	if !(guard >= 0) || math.IsInf(guard, 0) {
		q.err = fmt.Errorf("report: requirement %q has a guard band of %g, want a finite value ≥ 0", q.name, guard)
		return q
	}
	p, err := q.unit.parse()
	if err != nil {
		panic("report: unit of a checked requirement is not read")
	}
	q.evaluated, q.value, q.guard, q.why = true, p.show(value), p.show(guard), ""
	return q
}

// NotEvaluated returns the requirement without a value, and why it has none.
func (q Requirement) NotEvaluated(why string) Requirement {
	if q.err == nil && why == "" {
		q.err = fmt.Errorf("report: requirement %q is not evaluated, want a reason why", q.name)
	}
	q.evaluated, q.value, q.guard, q.why = false, 0, 0, why
	return q
}

// WaivedBy returns the requirement waived by the decision of that name. It
// matters only where the value is there and fails: a requirement that passes
// still passes, and one without a value is still not evaluated.
func (q Requirement) WaivedBy(decision string) Requirement {
	if q.err == nil && decision == "" {
		q.err = fmt.Errorf("report: requirement %q is waived, want the name of the decision", q.name)
	}
	q.waivedBy = decision
	return q
}

// Err returns what is wrong with the requirement, or nil.
func (q Requirement) Err() error { return q.err }

// Name returns what is demanded.
func (q Requirement) Name() string { return q.name }

// Source returns who demands it.
func (q Requirement) Source() string { return q.source }

// Unit returns the unit in which the value is shown.
func (q Requirement) Unit() Unit { return q.unit }

// Bound returns the kind of limit.
func (q Requirement) Bound() Bound { return q.bound }

// Status returns the computed status.
func (q Requirement) Status() Status {
	switch {
	case q.err != nil || !q.evaluated:
		return NotEvaluated
	case q.margin() >= q.guard:
		return Pass
	case q.waivedBy != "":
		return Waived
	}
	return Fail
}

func (q Requirement) margin() float64 { return math.Min(q.upper-q.value, q.value-q.lower) }

// Value returns the value in the shown unit; ok is false if there is none.
func (q Requirement) Value() (v float64, ok bool) { return q.value, q.evaluated && q.err == nil }

// Margin returns the distance from the nearest limit in the shown unit,
// positive on the good side; ok is false if there is no value.
func (q Requirement) Margin() (v float64, ok bool) {
	if !q.evaluated || q.err != nil {
		return 0, false
	}
	return q.margin(), true
}

// Guard returns the guard band in the shown unit.
func (q Requirement) Guard() float64 { return q.guard }

// DecisionID returns the decision that waives the requirement, or "".
func (q Requirement) DecisionID() string { return q.waivedBy }

// Limits returns the lower and upper limit in the shown unit; the one that is
// not there is infinite.
func (q Requirement) Limits() (lower, upper float64) { return q.lower, q.upper }

// Limit says the limit in words: "at most 20 m/s peak".
func (q Requirement) Limit() string {
	switch q.bound {
	case LowerLimit:
		return "at least " + withUnit(q.lower, q.unit)
	case BothLimits:
		return four(q.lower) + " to " + withUnit(q.upper, q.unit)
	}
	return "at most " + withUnit(q.upper, q.unit)
}

// Why explains the status where the numbers alone do not: why there is no
// value, that a value meets the limit but not with its guard band, which
// decision waives it.
func (q Requirement) Why() string {
	if q.err != nil {
		return q.err.Error()
	}
	if !q.evaluated {
		return q.why
	}
	var parts []string
	if m := q.margin(); m >= 0 && m < q.guard {
		parts = append(parts, "within the guard band of the limit")
	}
	if q.Status() == Waived {
		parts = append(parts, "waived by decision "+q.waivedBy)
	}
	return strings.Join(parts, "; ")
}

// requirementJSON is the record. Numbers are in the printed unit.
type requirementJSON struct {
	Name     string   `json:"name"`
	Source   string   `json:"source"`
	Value    *float64 `json:"value"`
	Unit     Unit     `json:"unit"`
	Limit    *float64 `json:"limit"`
	Bound    string   `json:"bound"`
	Lower    *float64 `json:"lower"`
	Upper    *float64 `json:"upper"`
	Margin   *float64 `json:"margin"`
	Guard    *float64 `json:"guard"`
	Status   string   `json:"status"`
	Why      string   `json:"why"`
	WaivedBy string   `json:"waivedBy"`
}

// MIME implements [Record].
func (Requirement) MIME() string { return RequirementMIME }

// MarshalJSON implements [json.Marshaler]: the numbers of the record are in the
// printed unit, null where there is none.
func (q Requirement) MarshalJSON() ([]byte, error) {
	if q.err != nil {
		return nil, q.err
	}
	if q.name == "" {
		return nil, fmt.Errorf("report: requirement is empty, want one made by AtMost, AtLeast or Within")
	}
	return json.Marshal(q.record())
}

func (q Requirement) record() requirementJSON {
	r := requirementJSON{
		Name: q.name, Source: q.source, Unit: q.unit, Bound: q.bound.String(),
		Status: q.Status().String(), Why: q.Why(), WaivedBy: q.waivedBy,
	}
	if q.bound != LowerLimit {
		r.Upper = &q.upper
	}
	if q.bound != UpperLimit {
		r.Lower = &q.lower
	}
	switch q.bound {
	case UpperLimit:
		r.Limit = &q.upper
	case LowerLimit:
		r.Limit = &q.lower
	}
	if q.evaluated {
		m := q.margin()
		r.Value, r.Guard, r.Margin = &q.value, &q.guard, &m
	}
	return r
}

// UnmarshalJSON implements [json.Unmarshaler]. It refuses a record whose status,
// margin or reason is not what follows from its numbers.
func (q *Requirement) UnmarshalJSON(b []byte) error {
	var r requirementJSON
	if err := strict(b, &r); err != nil {
		return fmt.Errorf("report: requirement record: %w", err)
	}
	got := Requirement{name: r.Name, source: r.Source, unit: r.Unit, lower: math.Inf(-1), upper: math.Inf(1), waivedBy: r.WaivedBy}
	switch {
	case r.Bound == UpperLimit.String() && r.Upper != nil && r.Lower == nil:
		got.bound = UpperLimit
	case r.Bound == LowerLimit.String() && r.Lower != nil && r.Upper == nil:
		got.bound = LowerLimit
	case r.Bound == BothLimits.String() && r.Lower != nil && r.Upper != nil:
		got.bound = BothLimits
	default:
		return fmt.Errorf("report: requirement record %q has the bound %q and limits that do not fit it", r.Name, r.Bound)
	}
	if r.Lower != nil {
		got.lower = *r.Lower
	}
	if r.Upper != nil {
		got.upper = *r.Upper
	}
	if _, err := r.Unit.parse(); err != nil || r.Name == "" || r.Source == "" || got.lower > got.upper {
		return fmt.Errorf("report: requirement record %q, want a name, a source, a known unit and ordered limits", r.Name)
	}
	if r.Value != nil {
		if r.Guard == nil || *r.Guard < 0 {
			return fmt.Errorf("report: requirement record %q has a value and no guard band ≥ 0", r.Name)
		}
		got.evaluated, got.value, got.guard = true, *r.Value, *r.Guard
	} else if got.why = r.Why; got.why == "" {
		return fmt.Errorf("report: requirement record %q has no value and does not say why", r.Name)
	}
	want, err := json.Marshal(got.record())
	if err != nil {
		return err
	}
	had, err := json.Marshal(r)
	if err != nil {
		return err
	}
	if string(had) != string(want) {
		return fmt.Errorf("report: requirement record contradicts itself: had %s, want %s", had, want)
	}
	*q = got
	return nil
}

// HTML implements [Record].
func (q Requirement) HTML() string { return Requirements{q}.HTML() }

// Text implements [Record].
func (q Requirement) Text() string { return Requirements{q}.Text() }

// Requirements is a list of requirements that is shown as one table. As a
// record it is an array under the MIME type of a requirement.
type Requirements []Requirement

// MIME implements [Record].
func (Requirements) MIME() string { return RequirementMIME }

// MarshalJSON implements [json.Marshaler].
func (r Requirements) MarshalJSON() ([]byte, error) {
	if len(r) == 0 {
		return []byte("[]"), nil
	}
	return json.Marshal([]Requirement(r))
}

// Err returns what is wrong with the first faulty requirement, or nil.
func (r Requirements) Err() error {
	for _, q := range r {
		if q.err != nil {
			return q.err
		}
	}
	return nil
}

// Count returns how many requirements have the status.
func (r Requirements) Count(s Status) int {
	n := 0
	for _, q := range r {
		if q.Status() == s {
			n++
		}
	}
	return n
}

// HTML implements [Record].
func (r Requirements) HTML() string { return r.sheet().html() }

// Text implements [Record].
func (r Requirements) Text() string { return r.sheet().text() }

func (r Requirements) sheet() sheet {
	s := sheet{head: []heading{
		{name: "requirement"}, {name: "limit"}, {name: "value", right: true},
		{name: "margin", right: true}, {name: "guard band", right: true}, {name: "status"}, {name: "source, remarks"},
	}}
	for _, q := range r {
		value, margin, guard := missing, missing, missing
		if m, ok := q.Margin(); ok {
			value, margin, guard = withUnit(q.value, q.unit), signed(m), four(q.guard)
		}
		remark := q.source
		if why := q.Why(); why != "" {
			remark += ": " + why
		}
		status := q.Status()
		s.rows = append(s.rows, []cell{
			{text: q.name}, {text: q.Limit(), style: "white-space:nowrap"}, {text: value}, {text: margin}, {text: guard},
			{text: status.mark() + " " + status.String(), style: status.style()}, {text: remark},
		})
	}
	return s
}

// mark is a sign that tells the statuses apart without colour.
func (s Status) mark() string {
	switch s {
	case Pass:
		return "✓"
	case Fail:
		return "✗"
	case Waived:
		return "△"
	}
	return "○"
}

func (s Status) style() string {
	switch s {
	case Pass:
		return "color:#00603f;white-space:nowrap"
	case Fail:
		return "color:#a3003f;font-weight:bold;white-space:nowrap"
	case Waived:
		return "color:#7a4a00;font-weight:bold;white-space:nowrap"
	}
	return "color:#555555;white-space:nowrap"
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// four prints four significant digits.
func four(v float64) string {
	return strings.Replace(strconv.FormatFloat(round4(v), 'g', -1, 64), "-", "−", 1)
}

// round4 rounds to four significant digits, so that 'g' with the shortest
// form does not switch to an exponent at 10 000.
func round4(v float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 3, 64), 64)
	if err != nil {
		return v
	}
	return r + 0 // no negative zero
}

func signed(v float64) string {
	if s := four(v); v > 0 {
		return "+" + s
	} else {
		return s
	}
}

func withUnit(v float64, u Unit) string {
	p, err := u.parse()
	if err != nil || p.shown == "" || p.shown == "1" {
		return four(v)
	}
	return four(v) + " " + p.shown
}
