package report

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
)

// Table is a table of typed columns, made from a slice of structs by
// [NewTable], from a CSV file by way of [ReadCSV], or from a data frame by
// [FromFrame]. Numbers are kept in SI units at full precision; only what is
// shown is rounded and in the unit of the column.
//
// A number may be missing. It is never NaN inside: NaN is refused where a table
// is made from structs, unless the field is a pointer, whose nil is the missing
// value. Missing is shown as "–", is an empty cell in CSV and NaN in a data
// frame. Infinities are values: a limit that never binds.
type Table struct {
	caption string
	columns []column
	rows    int
}

// kind is what a column holds.
type kind int

const (
	words kind = iota
	numbers
	wholes
	flags
)

type column struct {
	name   string
	unit   Unit
	format string // of fmt, or "" for four significant digits
	kind   kind
	index  []int // the field

	words   []string
	numbers []float64
	wholes  []int64
	flags   []bool
	missing []bool // numbers and wholes
}

// NewTable returns the table of the fields of rows that have a `col` tag:
//
//	type row struct {
//		Tuning float64  `col:"f_b" unit:"Hz" fmt:"%.1f"`
//		Volume float64  `col:"V_b" unit:"L"`            // in m³ here, shown in litres
//		Depth  *float64 `col:"vent length" unit:"mm"`   // nil: there is none
//		Cause  string   `col:"limited by"`
//	}
//
// unit is a [Unit]; fmt is a format of package fmt for the shown number, four
// significant digits without it. Fields are strings, bools, integers, floats,
// pointers to integers and floats, or types with a String method. rows are
// structs or pointers to structs.
func NewTable[T any](caption string, rows []T) (Table, error) {
	t := Table{caption: caption, rows: len(rows)}
	var err error
	if t.columns, err = columnsOf(reflect.TypeFor[T]()); err != nil {
		return Table{}, err
	}
	for n, row := range rows {
		v := reflect.ValueOf(row)
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				return Table{}, fmt.Errorf("report: row %d of table %q is nil", n+1, caption)
			}
			v = v.Elem()
		}
		for i := range t.columns {
			c := &t.columns[i]
			f, err := v.FieldByIndexErr(c.index)
			if err != nil {
				return Table{}, fmt.Errorf("report: row %d of table %q, column %q: %w", n+1, caption, c.name, err)
			}
			if err := c.add(f); err != nil {
				return Table{}, fmt.Errorf("report: row %d of table %q, column %q: %w", n+1, caption, c.name, err)
			}
		}
	}
	return t, nil
}

// columnsOf reads the tags of a struct type.
func columnsOf(t reflect.Type) ([]column, error) {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct {
		return nil, fmt.Errorf("report: table of %v, want structs", t)
	}
	var columns []column
	for _, f := range reflect.VisibleFields(t) {
		name, tagged := f.Tag.Lookup("col")
		if !tagged {
			continue
		}
		c := column{name: name, unit: Unit(f.Tag.Get("unit")), format: f.Tag.Get("fmt"), index: f.Index}
		if !f.IsExported() {
			return nil, fmt.Errorf("report: column %q of %v is the unexported field %s, want an exported one", name, t, f.Name)
		}
		if name == "" || slices.ContainsFunc(columns, func(o column) bool { return o.name == name }) {
			return nil, fmt.Errorf("report: field %s of %v is the column %q, want names that differ", f.Name, t, name)
		}
		var known bool
		if c.kind, known = kindOf(f.Type); !known {
			return nil, fmt.Errorf("report: column %q of %v is a %v, want a string, bool, number, pointer to a number, or a type with a String method", name, t, f.Type)
		}
		if err := c.check(); err != nil {
			return nil, err
		}
		columns = append(columns, c)
	}
	if len(columns) == 0 {
		return nil, fmt.Errorf("report: no field of %v has a col tag", t)
	}
	return columns, nil
}

// check tries the unit and the format of a column.
func (c column) check() error {
	p, err := c.unit.parse()
	if err != nil {
		return fmt.Errorf("report: column %q: %w", c.name, err)
	}
	if c.unit != "" && (c.kind == words || c.kind == flags) {
		return fmt.Errorf("report: column %q is no number and has the unit %q", c.name, c.unit)
	}
	if c.kind == wholes && (p.exp != 0 || p.factor != 1) {
		return fmt.Errorf("report: column %q of integers has the unit %q, want one without a multiple", c.name, c.unit)
	}
	if c.format == "" {
		return nil
	}
	var tried string
	switch c.kind {
	case numbers:
		tried = fmt.Sprintf(c.format, 1.5)
	case wholes:
		tried = fmt.Sprintf(c.format, int64(1))
	default:
		return fmt.Errorf("report: column %q is no number and has the format %q", c.name, c.format)
	}
	if strings.Contains(tried, "%!") {
		return fmt.Errorf("report: column %q has the format %q, want one verb for a number (it gives %q)", c.name, c.format, tried)
	}
	return nil
}

func kindOf(t reflect.Type) (kind, bool) {
	if t.Implements(reflect.TypeFor[fmt.Stringer]()) {
		return words, true
	}
	if t.Kind() == reflect.Pointer {
		switch k, ok := kindOf(t.Elem()); {
		case ok && (k == numbers || k == wholes):
			return k, true
		}
		return 0, false
	}
	switch {
	case t.Kind() == reflect.String:
		return words, true
	case t.Kind() == reflect.Bool:
		return flags, true
	case t.Kind() == reflect.Float64 || t.Kind() == reflect.Float32:
		return numbers, true
	case reflect.Int <= t.Kind() && t.Kind() <= reflect.Int64:
		return wholes, true
	}
	return 0, false
}

// add appends a field.
func (c *column) add(f reflect.Value) error {
	switch c.kind {
	case words:
		s, ok := f.Interface().(fmt.Stringer)
		text := ""
		switch {
		case ok && f.Kind() == reflect.Pointer && f.IsNil():
			return fmt.Errorf("is nil")
		case ok:
			text = s.String()
		default:
			text = f.String()
		}
		if strings.Contains(text, "\r") {
			return fmt.Errorf("%q has a carriage return, which a CSV file does not keep", text)
		}
		c.words = append(c.words, text)
		return nil
	case flags:
		c.flags = append(c.flags, f.Bool())
		return nil
	}
	gone := false
	if f.Kind() == reflect.Pointer {
		if gone = f.IsNil(); gone {
			f = reflect.Zero(f.Type().Elem())
		} else {
			f = f.Elem()
		}
	}
	c.missing = append(c.missing, gone)
	if c.kind == wholes {
		c.wholes = append(c.wholes, f.Int())
		return nil
	}
	if math.IsNaN(f.Float()) {
		return fmt.Errorf("is NaN (a value that can be missing is a *float64 that is nil)")
	}
	c.numbers = append(c.numbers, f.Float())
	return nil
}

// Caption returns the caption.
func (t Table) Caption() string { return t.caption }

// Len returns the number of rows.
func (t Table) Len() int { return t.rows }

// Names returns the names of the columns.
func (t Table) Names() []string {
	names := make([]string, len(t.columns))
	for i, c := range t.columns {
		names[i] = c.name
	}
	return names
}

// HTML returns the table for reading, with units in the headers.
func (t Table) HTML() string { return t.sheet().html() }

// Text returns the table as aligned text.
func (t Table) Text() string { return t.sheet().text() }

func (t Table) sheet() sheet {
	s := sheet{caption: t.caption, rows: make([][]cell, t.rows)}
	for _, c := range t.columns {
		p, err := c.unit.parse()
		if err != nil {
			panic("report: unit of a checked column is not read")
		}
		s.head = append(s.head, heading{c.name, p.shown, c.kind == numbers || c.kind == wholes})
		for n := range s.rows {
			s.rows[n] = append(s.rows[n], cell{text: c.show(p, n)})
		}
	}
	return s
}

// show returns row n of the column as it is shown.
func (c column) show(p parsed, n int) string {
	var s string
	switch c.kind {
	case words:
		return c.words[n]
	case flags:
		if c.flags[n] {
			return "yes"
		}
		return "no"
	case wholes:
		if c.missing[n] {
			return missing
		}
		format := c.format
		if format == "" {
			format = "%d"
		}
		s = fmt.Sprintf(format, c.wholes[n])
	case numbers:
		if c.missing[n] {
			return missing
		}
		v := p.show(c.numbers[n])
		switch {
		case math.IsInf(v, 1):
			return "∞"
		case math.IsInf(v, -1):
			return "−∞"
		case c.format == "":
			return four(v)
		}
		s = fmt.Sprintf(c.format, v)
		if strings.HasPrefix(s, "-") && strings.Trim(s, "-0.") == "" {
			s = s[1:] // what rounds to 0 has no sign
		}
	}
	return strings.ReplaceAll(s, "-", "−")
}
