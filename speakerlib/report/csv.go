package report

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"reflect"
	"strconv"
	"strings"
)

// header is the name of a column with its coherent SI unit: "V_b (m³)".
func (c column) header() string {
	p, err := c.unit.parse()
	if err != nil {
		panic("report: unit of a checked column is not read")
	}
	if p.si == "" {
		return c.name
	}
	return c.name + " (" + p.si + ")"
}

// WriteCSV writes the table as comma-separated values (RFC 4180, with line
// feeds): a header line with names and SI units, numbers in SI units in the
// shortest form that reads back to the same bits, an empty cell for what is
// missing, true and false. [ReadCSV] gives the same rows back.
func (t Table) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	line := make([]string, len(t.columns))
	for i, c := range t.columns {
		line[i] = c.header()
	}
	if err := out.Write(line); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	for n := range t.rows {
		for i, c := range t.columns {
			line[i] = c.full(n)
		}
		if len(line) == 1 && line[0] == "" {
			return fmt.Errorf("report: row %d of table %q is one empty cell, which a CSV file does not keep", n+1, t.caption)
		}
		if err := out.Write(line); err != nil {
			return fmt.Errorf("report: %w", err)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("report: %w", err)
	}
	return nil
}

// full returns row n of the column at full precision.
func (c column) full(n int) string {
	switch c.kind {
	case words:
		return c.words[n]
	case flags:
		return strconv.FormatBool(c.flags[n])
	}
	switch {
	case c.missing[n]:
		return ""
	case c.kind == wholes:
		return strconv.FormatInt(c.wholes[n], 10)
	}
	return strconv.FormatFloat(c.numbers[n], 'g', -1, 64)
}

// ReadCSV reads what [Table.WriteCSV] wrote of a slice of T. The header must be
// that of T, in its order; fields of T must be strings, bools, numbers, or
// pointers to numbers.
func ReadCSV[T any](r io.Reader, name string) ([]T, error) {
	typ := reflect.TypeFor[T]()
	if typ.Kind() != reflect.Struct {
		return nil, fmt.Errorf("report: rows of %v, want structs", typ)
	}
	columns, err := columnsOf(typ)
	if err != nil {
		return nil, err
	}
	in := csv.NewReader(r)
	in.FieldsPerRecord = len(columns)
	head, err := in.Read()
	if err != nil {
		return nil, fmt.Errorf("report: %s: header: %w", name, err)
	}
	for i, c := range columns {
		if head[i] != c.header() {
			return nil, fmt.Errorf("report: %s: column %d is %q, want %q", name, i+1, head[i], c.header())
		}
	}
	var rows []T
	for {
		line, err := in.Read()
		if err == io.EOF {
			return rows, nil
		}
		if err != nil {
			return nil, fmt.Errorf("report: %s: %w", name, err)
		}
		var row T
		v := reflect.ValueOf(&row).Elem()
		for i, c := range columns {
			f, err := v.FieldByIndexErr(c.index)
			if err == nil {
				err = set(f, line[i])
			}
			if err != nil {
				at, column := in.FieldPos(i)
				return nil, fmt.Errorf("report: %s:%d:%d: column %q: %w", name, at, column, c.name, err)
			}
		}
		rows = append(rows, row)
	}
}

// set parses text into a field.
func set(f reflect.Value, text string) error {
	if f.Kind() == reflect.Pointer {
		if text == "" {
			return nil
		}
		f.Set(reflect.New(f.Type().Elem()))
		f = f.Elem()
	}
	switch f.Kind() {
	case reflect.String:
		f.SetString(text)
	case reflect.Bool:
		b, err := strconv.ParseBool(text)
		if err != nil {
			return fmt.Errorf("had %q, want true or false", text)
		}
		f.SetBool(b)
	case reflect.Float32, reflect.Float64:
		v, err := strconv.ParseFloat(text, f.Type().Bits())
		if err != nil || math.IsNaN(v) {
			return fmt.Errorf("had %q, want a number", text)
		}
		f.SetFloat(v)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		if f.CanInterface() {
			if _, is := f.Interface().(fmt.Stringer); is {
				return fmt.Errorf("a %v is written by its String method and cannot be read back", f.Type())
			}
		}
		v, err := strconv.ParseInt(text, 10, f.Type().Bits())
		if err != nil {
			return fmt.Errorf("had %q, want an integer", text)
		}
		f.SetInt(v)
	default:
		return fmt.Errorf("a %v cannot be read back", f.Type())
	}
	return nil
}

// splitHeader takes a header apart into name and unit: the unit is what stands
// in the last parentheses, if it is one.
func splitHeader(h string) (name string, unit Unit) {
	if i := strings.LastIndex(h, " ("); i > 0 && strings.HasSuffix(h, ")") {
		u := Unit(h[i+2 : len(h)-1])
		if _, err := u.parse(); err == nil {
			return h[:i], u
		}
	}
	return h, ""
}
