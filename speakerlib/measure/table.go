package measure

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"path"
	"slices"
	"strconv"
	"strings"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/text"
	"example.org/loudspeaker/speakerlib/level"
)

// Kind is a kind of finding.
type Kind int

// The kinds of findings.
const (
	Unsorted           Kind = iota // frequencies that fall
	Doubled                        // a frequency that comes twice
	ZeroFrequency                  // 0 Hz
	NegativeResistance             // of an impedance
	NoLineEnd                      // after the last line
)

// String names the kind.
func (k Kind) String() string {
	switch k {
	case Unsorted:
		return "unsorted frequencies"
	case Doubled:
		return "doubled frequencies"
	case ZeroFrequency:
		return "zero frequency"
	case NegativeResistance:
		return "negative resistance"
	case NoLineEnd:
		return "no end of the last line"
	}
	return fmt.Sprintf("Kind(%d)", int(k))
}

// Finding is something odd in a file that was read nevertheless.
type Finding struct {
	Kind   Kind
	Count  int    // how often
	Line   int    // where first; 0: found by Sorted
	Detail string // the first, in words
}

// String tells the finding in words.
func (f Finding) String() string {
	if f.Line == 0 {
		return fmt.Sprintf("%v, %d times, after sorting: %s", f.Kind, f.Count, f.Detail)
	}
	return fmt.Sprintf("%v, %d times, first in line %d: %s", f.Kind, f.Count, f.Line, f.Detail)
}

// Table is what a file holds. It is immutable.
type Table struct {
	name                 string
	impedance            bool
	layout               layout
	hertz, first, second []float64 // second in radians if it is a phase
	settings             map[string]string
	reference, drive     float64
	timeZero             string
	findings             []Finding
}

func (t *Table) find(k Kind, line int, detail string) {
	for i := range t.findings {
		if t.findings[i].Kind == k {
			t.findings[i].Count++
			return
		}
	}
	t.findings = append(t.findings, Finding{Kind: k, Count: 1, Line: line, Detail: detail})
}

// Name returns the name of the file.
func (t *Table) Name() string { return t.name }

// Label returns the name without folders and extension.
func (t *Table) Label() string {
	base := path.Base(strings.ReplaceAll(t.name, "\\", "/"))
	return strings.TrimSuffix(base, path.Ext(base))
}

// Len returns the number of rows.
func (t *Table) Len() int { return len(t.hertz) }

// Hertz returns a copy of the frequencies, in the order of the rows.
func (t *Table) Hertz() []float64 { return slices.Clone(t.hertz) }

// HasPhase reports whether the table is complex.
func (t *Table) HasPhase() bool { return t.second != nil }

// Findings returns what is odd in the file.
func (t *Table) Findings() []Finding { return slices.Clone(t.findings) }

// Setting returns the value of a comment line "# key: value".
func (t *Table) Setting(key string) (value string, ok bool) {
	value, ok = t.settings[key]
	return value, ok
}

// The settings that the package knows.
const (
	keyQuantity  = "quantity"
	keySpace     = "space"
	keyDistance  = "distance_m"
	keyPer       = "per"
	keyReference = "reference_Pa"
	keyDrive     = "drive_V"
	keySet       = "set"
	keyUsable    = "usable_from_Hz"
)

func known(key string) bool {
	switch key {
	case keyQuantity, keySpace, keyDistance, keyPer, keyReference, keyDrive, keySet, keyUsable:
		return true
	}
	return false
}

// positive returns a setting as a number, 0 if there is none.
func (t *Table) positive(key string) (float64, error) {
	setting, ok := t.settings[key]
	if !ok {
		return 0, nil
	}
	v, want := text.Number([]byte(setting), '.')
	if want == "" && !(v > 0) {
		want = "a number > 0"
	}
	if want != "" {
		return 0, &ParseError{Package: "measure", File: t.name, Had: key + ": " + strconv.Quote(setting), Want: want}
	}
	return v, nil
}

func (t *Table) takeSettings() error {
	for _, c := range []struct {
		key string
		to  *float64
	}{{keyReference, &t.reference}, {keyDrive, &t.drive}} {
		v, err := t.positive(c.key)
		if err != nil {
			return err
		}
		if *c.to == 0 {
			*c.to = v
		}
	}
	if t.timeZero == "" {
		t.timeZero = t.settings[keySet]
	}
	if _, err := t.UsableFrom(); err != nil {
		return err
	}
	return nil
}

// UsableFrom returns the frequency from which the file says that it is usable,
// for example because of the length of a gate, from the setting
// "usable_from_Hz"; 0 if it does not say.
func (t *Table) UsableFrom() (float64, error) { return t.positive(keyUsable) }

// Basis returns what the file says that it holds, from its settings:
//
//	quantity:   sound pressure | impedance | …       (the names of freq.Quantity)
//	space:      half space | full space | near field
//	distance_m: 1
//	per:        terminals | input | full scale       (what the levels are divided by)
//
// and, not part of the basis: reference_Pa (of 0 dB), drive_V (rms, that was
// applied), set (whose time zero it has), usable_from_Hz. A file that states no
// quantity, or sound pressure without a space, is refused: state the basis
// yourself.
func (t *Table) Basis() (freq.Basis, error) {
	b, stated, err := t.stated()
	if err != nil {
		return freq.Basis{}, err
	}
	if !stated[keyQuantity] || b.Quantity == freq.Pressure && (!stated[keySpace] || !stated[keyPer]) {
		return freq.Basis{}, &ParseError{Package: "measure", File: t.name, Had: "no settings quantity, and of a sound pressure space and per",
			Want: "them in comment lines, or a basis that you state"}
	}
	return b, nil
}

func (t *Table) stated() (b freq.Basis, stated map[string]bool, err error) {
	stated = map[string]bool{}
	pick := func(key string, names []string) (int, error) {
		text, ok := t.settings[key]
		if !ok {
			return 0, nil
		}
		stated[key] = true
		if i := slices.Index(names, text); i >= 0 {
			return i, nil
		}
		return 0, &ParseError{Package: "measure", File: t.name, Had: key + ": " + strconv.Quote(text), Want: "one of " + strings.Join(names, ", ")}
	}
	var quantities []string
	for q := freq.Dimensionless; q <= freq.Voltage; q++ {
		quantities = append(quantities, q.String())
	}
	q, err := pick(keyQuantity, quantities)
	if err != nil {
		return b, nil, err
	}
	s, err := pick(keySpace, []string{freq.NotRadiated.String(), freq.HalfSpace.String(), freq.FullSpace.String(), freq.NearField.String()})
	if err != nil {
		return b, nil, err
	}
	p, err := pick(keyPer, pers)
	if err != nil {
		return b, nil, err
	}
	if b.Distance, err = t.positive(keyDistance); err != nil {
		return b, nil, err
	}
	stated[keyDistance] = b.Distance > 0
	b.Quantity, b.Space, b.Per = freq.Quantity(q), freq.Space(s), freq.Reference(p)
	return b, stated, nil
}

// pers are the values of the setting "per", by freq.Reference.
var pers = []string{"nothing", "terminals", "input", "full scale"}

// agrees reports where a stated basis contradicts the file.
func (t *Table) agrees(b freq.Basis) error {
	own, stated, err := t.stated()
	if err != nil {
		return err
	}
	for _, c := range []struct {
		key       string
		differs   bool
		had, want any
	}{
		{keyQuantity, own.Quantity != b.Quantity, b.Quantity, own.Quantity},
		{keySpace, own.Space != b.Space, b.Space, own.Space},
		{keyDistance, own.Distance != b.Distance, b.Distance, own.Distance},
		{keyPer, own.Per != b.Per, b.Per, own.Per},
	} {
		if stated[c.key] && c.differs {
			return fmt.Errorf("measure: %s: basis with %s %v, want %v as the file states", t.name, c.key, c.had, c.want)
		}
	}
	return nil
}

// Sorted returns the table with its rows in ascending order of frequency; rows of
// equal frequency stay in their order, and become a finding if they were apart.
func (t *Table) Sorted() *Table {
	at := make([]int, len(t.hertz))
	for i := range at {
		at[i] = i
	}
	slices.SortStableFunc(at, func(i, j int) int { return cmp.Compare(t.hertz[i], t.hertz[j]) })
	u := t.pick(at, Unsorted, Doubled)
	for i := 1; i < len(u.hertz); i++ {
		if u.hertz[i] == u.hertz[i-1] {
			u.find(Doubled, 0, fmt.Sprintf("%g Hz a second time", u.hertz[i]))
		}
	}
	return u
}

// Which says which row of several with the same frequency counts.
type Which int

// The choices.
const (
	FirstRow Which = iota
	LastRow
)

// Single returns the table with one row of those that have the same frequency:
// the first or the last in the order of the rows.
func (t *Table) Single(w Which) *Table {
	row := map[float64]int{}
	for i, f := range t.hertz {
		if _, twice := row[f]; !twice || w == LastRow {
			row[f] = i
		}
	}
	var at []int
	for i, f := range t.hertz {
		if row[f] == i {
			at = append(at, i)
		}
	}
	return t.pick(at, Doubled)
}

// Between returns the rows from lo to hi hertz, both included. With lo > 0 it
// takes away a row of 0 Hz.
func (t *Table) Between(lo, hi float64) (*Table, error) {
	var at []int
	for i, f := range t.hertz {
		if f >= lo && f <= hi {
			at = append(at, i)
		}
	}
	if len(at) == 0 {
		return nil, fmt.Errorf("measure: %s has no row from %g to %g Hz", t.name, lo, hi)
	}
	if lo > 0 {
		return t.pick(at, ZeroFrequency), nil
	}
	return t.pick(at), nil
}

// pick returns the rows at, without the findings that this mends.
func (t *Table) pick(at []int, mended ...Kind) *Table {
	u := *t
	take := func(v []float64) []float64 {
		if v == nil {
			return nil
		}
		w := make([]float64, len(at))
		for k, i := range at {
			w[k] = v[i]
		}
		return w
	}
	u.hertz, u.first, u.second = take(t.hertz), take(t.first), take(t.second)
	u.findings = slices.DeleteFunc(slices.Clone(t.findings), func(f Finding) bool { return slices.Contains(mended, f.Kind) })
	return &u
}

// grid returns the frequencies as a grid, or says what is in the way.
func (t *Table) grid() (*freq.Grid, error) {
	for i, f := range t.hertz {
		var what Kind
		var mend string
		switch {
		case f == 0:
			what, mend = ZeroFrequency, "Table.Between"
		case i > 0 && f < t.hertz[i-1]:
			what, mend = Unsorted, "Table.Sorted"
		case i > 0 && f == t.hertz[i-1]:
			what, mend = Doubled, "Table.Single"
		default:
			continue
		}
		for _, found := range t.findings {
			if found.Kind == what {
				return nil, &ParseError{Package: "measure", File: t.name, Line: found.Line, Had: found.Detail, Want: "ascending frequencies > 0, or " + mend + " to say what to do"}
			}
		}
		return nil, &ParseError{Package: "measure", File: t.name, Had: what.String(), Want: "ascending frequencies > 0, or " + mend + " to say what to do"}
	}
	return freq.NewGrid(t.hertz)
}

// Stated returns the response on the basis that the file states ([Table.Basis]).
func (t *Table) Stated() (freq.Response, error) {
	b, err := t.Basis()
	if err != nil {
		return freq.Response{}, err
	}
	return t.Response(b)
}

// Response returns the complex response. Levels are turned into the unit of the
// quantity by the reference, and a basis per volt divides by the drive: both from
// the format or the file, and an error if neither has them. A basis that
// contradicts the file is refused, and so are a table without phase and one whose
// frequencies are out of order.
func (t *Table) Response(b freq.Basis) (freq.Response, error) {
	fail := func(format string, args ...any) (freq.Response, error) {
		return freq.Response{}, fmt.Errorf("measure: %s: %s", t.name, fmt.Sprintf(format, args...))
	}
	if err := t.agrees(b); err != nil {
		return freq.Response{}, err
	}
	if t.second == nil {
		return fail("no phase, want a column of it: without phase, Table.Level is what there is")
	}
	if t.impedance != (b.Quantity == freq.Impedance) {
		return fail("basis of %v, want the kind of table that was read (ReadImpedance reads impedances)", b.Quantity)
	}
	g, err := t.grid()
	if err != nil {
		return freq.Response{}, err
	}
	scale := 1.0
	if t.layout.kind == LevelDB && b.Quantity != freq.Dimensionless {
		if t.reference == 0 {
			return fail("levels of %v and no reference, want Format.Reference or the setting %s", b.Quantity, keyReference)
		}
		scale = t.reference
	}
	if b.Per == freq.PerTerminals || b.Per == freq.PerInput {
		if t.drive == 0 {
			return fail("%v and no drive, want Format.Drive or the setting %s", b.Per, keyDrive)
		}
		scale /= t.drive
	}
	values := make([]complex128, len(t.hertz))
	for i := range values {
		a := t.first[i]
		switch t.layout.kind {
		case Real:
			values[i] = complex(a*scale, t.second[i]*scale)
			continue
		case LevelDB:
			a = level.Ratio(a)
		}
		values[i] = cmplx.Rect(a*scale, t.second[i])
	}
	return freq.NewResponse(g, values, t.Label(), b)
}

// Level returns the levels in dB as they stand in the file, or of the magnitudes
// that do, re 1 in their unit: all that can be had from a table without phase.
func (t *Table) Level() (freq.Curve, error) {
	b, _, err := t.stated()
	if err != nil {
		return freq.Curve{}, err
	}
	g, err := t.grid()
	if err != nil {
		return freq.Curve{}, err
	}
	v := slices.Clone(t.first)
	for i, a := range v {
		switch t.layout.kind {
		case Magnitude:
			v[i] = level.DB(a)
		case Real:
			v[i] = level.DB(math.Hypot(a, t.second[i]))
		}
	}
	return freq.NewCurve(g, v, t.Label(), "dB", b)
}
