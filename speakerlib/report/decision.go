package report

import (
	"encoding/json"
	"fmt"
	"html"
	"slices"
	"strings"
	"time"
)

// Decision is the record of a choice: the question, the alternatives with
// their figures, which one was taken and why, and the requirements it touches.
type Decision struct {
	ID           string // a short name that waivers refer to: "D2"
	Question     string
	Alternatives []Alternative // at least two
	Choice       string        // the name of one of them
	Reason       string
	Requirements []string // the names of the requirements that it touches
	Revision     string   // of the study
	Date         string   // YYYY-MM-DD, of the revision: given, never the clock's
	// Release is the SHA-256 sum of the coefficients that the choice is about, 64
	// lower-case hexadecimal digits; empty: of none.
	Release string
	Signed  []Signature // who agreed, by role; none: nobody yet
}

// Alternative is one of the things that could have been chosen.
type Alternative struct {
	Name    string
	Figures []Quantity
}

// Quantity is a named value in SI units and the unit in which it is shown.
type Quantity struct {
	Name  string
	Value float64
	Unit  Unit
}

// Validate reports what is missing or wrong.
func (d Decision) Validate() error {
	for _, f := range []struct{ name, value string }{
		{"ID", d.ID}, {"question", d.Question}, {"reason", d.Reason}, {"revision", d.Revision},
	} {
		if strings.TrimSpace(f.value) == "" {
			return fmt.Errorf("report: decision %q has no %s", d.ID, f.name)
		}
	}
	if _, err := time.Parse(time.DateOnly, d.Date); err != nil {
		return fmt.Errorf("report: decision %s has the date %q, want YYYY-MM-DD", d.ID, d.Date)
	}
	if len(d.Alternatives) < 2 {
		return fmt.Errorf("report: decision %s has %d alternatives, want at least 2", d.ID, len(d.Alternatives))
	}
	var names []string
	for _, a := range d.Alternatives {
		if a.Name == "" || slices.Contains(names, a.Name) {
			return fmt.Errorf("report: decision %s has an alternative named %q, want names that differ", d.ID, a.Name)
		}
		names = append(names, a.Name)
		for _, q := range a.Figures {
			if q.Name == "" || !finite(q.Value) {
				return fmt.Errorf("report: decision %s, alternative %q has the figure %q = %g, want a name and a finite value", d.ID, a.Name, q.Name, q.Value)
			}
			if _, err := q.Unit.parse(); err != nil {
				return fmt.Errorf("report: decision %s, figure %q: %w", d.ID, q.Name, err)
			}
		}
	}
	if !slices.Contains(names, d.Choice) {
		return fmt.Errorf("report: decision %s chooses %q, want one of %q", d.ID, d.Choice, names)
	}
	if slices.Contains(d.Requirements, "") {
		return fmt.Errorf("report: decision %s touches a requirement without a name", d.ID)
	}
	if d.Release != "" && !isSHA256(d.Release) {
		return fmt.Errorf("report: decision %s is about the release %q, want 64 lower-case hexadecimal digits", d.ID, d.Release)
	}
	if err := CheckSignatures(d.Signed, d.Date); err != nil {
		return fmt.Errorf("%w (decision %s)", err, d.ID)
	}
	return nil
}

// decisionJSON is the record. The values of figures are in their printed unit.
type decisionJSON struct {
	ID           string            `json:"id"`
	Question     string            `json:"question"`
	Alternatives []alternativeJSON `json:"alternatives"`
	Choice       string            `json:"choice"`
	Reason       string            `json:"reason"`
	Requirements []string          `json:"requirements"`
	Revision     string            `json:"revision"`
	Date         string            `json:"date"`
	Release      string            `json:"release,omitempty"`
	Signed       []Signature       `json:"signed,omitempty"`
}

type alternativeJSON struct {
	Name    string         `json:"name"`
	Figures []quantityJSON `json:"figures"`
}

type quantityJSON struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
	Unit  Unit    `json:"unit"`
}

// MIME implements [Record].
func (Decision) MIME() string { return DecisionMIME }

// MarshalJSON implements [json.Marshaler]: values are in their printed unit.
func (d Decision) MarshalJSON() ([]byte, error) {
	if err := d.Validate(); err != nil {
		return nil, err
	}
	out := decisionJSON{
		ID: d.ID, Question: d.Question, Choice: d.Choice, Reason: d.Reason,
		Requirements: append([]string{}, d.Requirements...), Revision: d.Revision, Date: d.Date, Release: d.Release, Signed: d.Signed,
	}
	for _, a := range d.Alternatives {
		alt := alternativeJSON{Name: a.Name, Figures: []quantityJSON{}}
		for _, q := range a.Figures {
			alt.Figures = append(alt.Figures, quantityJSON{q.Name, q.shown(), q.Unit})
		}
		out.Alternatives = append(out.Alternatives, alt)
	}
	return json.Marshal(out)
}

// UnmarshalJSON implements [json.Unmarshaler]. Values come back in SI units,
// within one rounding of what was written.
func (d *Decision) UnmarshalJSON(b []byte) error {
	var r decisionJSON
	if err := strict(b, &r); err != nil {
		return fmt.Errorf("report: decision record: %w", err)
	}
	got := Decision{
		ID: r.ID, Question: r.Question, Choice: r.Choice, Reason: r.Reason,
		Requirements: r.Requirements, Revision: r.Revision, Date: r.Date, Release: r.Release, Signed: r.Signed,
	}
	for _, a := range r.Alternatives {
		alt := Alternative{Name: a.Name}
		for _, q := range a.Figures {
			p, err := q.Unit.parse()
			if err != nil {
				return fmt.Errorf("report: decision record %s, figure %q: %w", r.ID, q.Name, err)
			}
			alt.Figures = append(alt.Figures, Quantity{q.Name, p.hide(q.Value), q.Unit})
		}
		got.Alternatives = append(got.Alternatives, alt)
	}
	if err := got.Validate(); err != nil {
		return err
	}
	*d = got
	return nil
}

// shown is the value in the printed unit; the unit has been validated.
func (q Quantity) shown() float64 {
	p, err := q.Unit.parse()
	if err != nil {
		panic("report: unit of a checked decision is not read")
	}
	return p.show(q.Value)
}

// sheet lists the alternatives: a column for each figure that any of them has.
func (d Decision) sheet() sheet {
	s := sheet{head: []heading{{name: "alternative"}}}
	type key struct {
		name string
		unit Unit
	}
	var keys []key
	for _, a := range d.Alternatives {
		for _, q := range a.Figures {
			if k := (key{q.Name, q.Unit}); !slices.Contains(keys, k) {
				keys = append(keys, k)
				shown := string(q.Unit)
				if p, err := q.Unit.parse(); err == nil {
					shown = p.shown
				}
				s.head = append(s.head, heading{q.Name, shown, true})
			}
		}
	}
	s.head = append(s.head, heading{name: ""})
	for _, a := range d.Alternatives {
		row := []cell{{text: a.Name}}
		for _, k := range keys {
			text := missing
			for _, q := range a.Figures {
				if (key{q.Name, q.Unit}) == k {
					if v, err := q.Unit.Show(q.Value); err == nil {
						text = four(v)
					}
				}
			}
			row = append(row, cell{text: text})
		}
		mark := cell{}
		if a.Name == d.Choice {
			mark = cell{"◀ chosen", "font-weight:bold;white-space:nowrap"}
		}
		s.rows = append(s.rows, append(row, mark))
	}
	return s
}

// HTML implements [Record].
func (d Decision) HTML() string {
	e := html.EscapeString
	b := `<div style="border-left:4px solid #1f4e79;padding:2px 12px">` + "\n"
	b += "<p><b>Decision " + e(d.ID) + ".</b> " + e(d.Question) + "</p>\n"
	b += d.sheet().html()
	b += "<p><b>Choice:</b> " + e(d.Choice) + ". <b>Reason:</b> " + e(d.Reason) + "</p>\n"
	if len(d.Requirements) > 0 {
		b += "<p><b>Touches:</b> " + e(strings.Join(d.Requirements, "; ")) + "</p>\n"
	}
	return b + small(d.foot()) + "</div>\n"
}

// Text implements [Record].
func (d Decision) Text() string {
	b := "Decision " + d.ID + ": " + d.Question + "\n" + d.sheet().text()
	b += "Choice: " + d.Choice + "\nReason: " + d.Reason + "\n"
	if len(d.Requirements) > 0 {
		b += "Touches: " + strings.Join(d.Requirements, "; ") + "\n"
	}
	foot := d.foot()
	return b + strings.ToUpper(foot[:1]) + foot[1:] + "\n"
}

// foot says of what the decision is, and who signed it.
func (d Decision) foot() string {
	s := "revision " + d.Revision + ", " + d.Date
	if d.Release != "" {
		s += "; release " + d.Release
	}
	for i, l := range d.Signed {
		if i == 0 {
			s += "; signed by "
		} else {
			s += "; "
		}
		s += l.String()
	}
	return s
}
