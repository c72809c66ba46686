package measure

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"

	"example.org/loudspeaker/speakerlib/internal/text"
)

// ReadResponse reads a table of a response: level, magnitude or real and
// imaginary part over frequency. The name is that of the file, for errors and
// as a label.
func ReadResponse(r io.Reader, name string, f Format) (*Table, error) {
	return read(r, name, f, false)
}

// ReadImpedance reads a table of an impedance: magnitude and phase or real and
// imaginary part, in ohm. A magnitude that is not positive is refused; a negative
// real part, which no passive load has, is reported as a finding.
func ReadImpedance(r io.Reader, name string, f Format) (*Table, error) {
	return read(r, name, f, true)
}

// MaxLevel is the largest magnitude of a level that is read, in dB.
const MaxLevel = 400

// most settings and bytes of settings that a table keeps.
const (
	maxSettings     = 256
	maxSettingBytes = 64 << 10
)

type reader struct {
	*text.Lines
	format    Format
	impedance bool
	layout    layout
	laidOut   bool
	mark      byte // decimal mark; 0: not known yet
	comma     bool // the comma separates
	marked    int  // line that told the mark
	table     *Table
	kept      int // bytes of settings
	fields    [][2]int
}

func read(r io.Reader, name string, f Format, impedance bool) (*Table, error) {
	if err := f.validate(); err != nil {
		return nil, err
	}
	rd := &reader{Lines: text.NewLines("measure", r, name, f.MaxBytes), format: f, impedance: impedance,
		table: &Table{name: name, impedance: impedance, reference: f.Reference, drive: f.Drive, timeZero: f.TimeZero, settings: map[string]string{}}}
	if f.Columns != nil {
		rd.layout, _ = newLayout(f.Columns) // validated
		rd.laidOut = true
	}
	switch f.Decimal {
	case DecimalPoint:
		rd.mark, rd.comma = '.', true
	case DecimalComma:
		rd.mark = ','
	}
	for {
		ok, err := rd.Next()
		if err != nil {
			return nil, err
		}
		if !ok {
			break
		}
		if rd.Number <= f.Skip {
			continue
		}
		if err := rd.line(); err != nil {
			return nil, err
		}
	}
	t := rd.table
	if len(t.hertz) == 0 {
		return nil, &ParseError{Package: "measure", File: name, Had: "no row of data", Want: "at least one"}
	}
	if !rd.Ended {
		t.find(NoLineEnd, rd.Number, "the last line has no end: the file may be cut")
	}
	t.layout = rd.layout
	if err := t.takeSettings(); err != nil {
		return nil, err
	}
	return t, nil
}

func (rd *reader) line() error {
	line := bytes.TrimLeft(rd.Content, " \t")
	if len(line) == 0 {
		return nil
	}
	if c := line[0]; c == '*' || c == '#' || c == ';' || c == '"' || bytes.HasPrefix(line, []byte("//")) {
		return rd.comment(line)
	}
	if !rd.laidOut {
		return rd.Fail(0, "data and no line \"# columns: …\" before it", "such a line, or Format.Columns")
	}
	return rd.row()
}

func (rd *reader) comment(line []byte) error {
	line = bytes.TrimLeft(line, "*#;\"/ \t")
	key, value, ok := bytes.Cut(line, []byte(":"))
	if !ok {
		return nil
	}
	k, v := strings.TrimSpace(string(key)), strings.TrimSpace(string(value))
	if k == "columns" {
		if rd.format.Columns != nil {
			return nil
		}
		if rd.laidOut {
			return rd.Fail(0, "a second line of columns", "one")
		}
		l, err := parseColumns(strings.Fields(v))
		if err != nil {
			return rd.Fail(0, err.Error(), "the columns of the table")
		}
		rd.layout, rd.laidOut = l, true
		return nil
	}
	t := rd.table
	if old, twice := t.settings[k]; twice {
		if old != v && known(k) {
			return rd.Fail(0, fmt.Sprintf("%s: %s after %s: %s", k, v, k, old), "one value")
		}
		return nil
	}
	rd.kept += len(k) + len(v)
	if len(t.settings) == maxSettings || rd.kept > maxSettingBytes {
		if known(k) {
			return rd.Fail(0, "more settings than are kept", fmt.Sprintf("at most %d of %d bytes", maxSettings, maxSettingBytes))
		}
		return nil
	}
	t.settings[k] = v
	return nil
}

// split cuts the line into fields. Spaces and tabs separate, and so does one
// semicolon, or comma if it is a separator, with or without spaces around it. A
// separator at the very end is nothing.
func (rd *reader) split(comma bool) (emptyAt int) {
	rd.fields = rd.fields[:0]
	b := rd.Content
	i, n := 0, len(b)
	for {
		for i < n && (b[i] == ' ' || b[i] == '\t') {
			i++
		}
		if i == n {
			return 0
		}
		start := i
		for i < n && b[i] != ' ' && b[i] != '\t' && b[i] != ';' && !(comma && b[i] == ',') {
			i++
		}
		if i == start {
			return i + 1
		}
		rd.fields = append(rd.fields, [2]int{start, i})
		for i < n && (b[i] == ' ' || b[i] == '\t') {
			i++
		}
		if i < n && (b[i] == ';' || comma && b[i] == ',') {
			i++
		}
	}
}

func (rd *reader) fits(comma bool) bool {
	if rd.split(comma) > 0 || len(rd.fields) != len(rd.layout.columns) {
		return false
	}
	mark := byte('.')
	if !comma {
		mark = ','
	}
	for k, f := range rd.fields {
		if rd.layout.columns[k] == Ignored {
			continue
		}
		if _, want := text.Number(rd.Content[f[0]:f[1]], mark); want != "" {
			return false
		}
	}
	return true
}

// decide finds the decimal mark from a line that has a comma.
func (rd *reader) decide() error {
	if bytes.IndexByte(rd.Content, ',') < 0 {
		return nil
	}
	separates, marks := rd.fits(true), rd.fits(false)
	switch {
	case separates && marks: // an ignored column can make both true
		return rd.Fail(0, text.Quoted(rd.Content)+", where the comma may separate or be the decimal mark", "Format.Decimal to say which")
	case marks:
		rd.mark, rd.comma, rd.marked = ',', false, rd.Number
	case separates:
		rd.mark, rd.comma, rd.marked = '.', true, rd.Number
	default:
		n := len(rd.layout.columns)
		return rd.Fail(0, text.Quoted(rd.Content), fmt.Sprintf("%d numbers, whether the comma separates them or is their decimal mark (no digit grouping)", n))
	}
	return nil
}

func (rd *reader) row() error {
	if rd.mark == 0 {
		if err := rd.decide(); err != nil {
			return err
		}
		if rd.mark == 0 && bytes.IndexByte(rd.Content, '.') >= 0 {
			rd.mark, rd.comma, rd.marked = '.', true, rd.Number
		}
	}
	mark := rd.mark
	if mark == 0 {
		mark = '.'
	}
	if at := rd.split(rd.comma); at > 0 {
		return rd.Fail(at, "an empty field", "a number")
	}
	l := &rd.layout
	if len(rd.fields) != len(l.columns) {
		had := fmt.Sprintf("%d fields", len(rd.fields))
		if len(rd.fields) == 1 {
			had = "1 field"
		}
		names := make([]string, len(l.columns))
		for i, c := range l.columns {
			names[i] = c.String()
		}
		want := fmt.Sprintf("%d: %s", len(l.columns), strings.Join(names, " "))
		if rd.comma && bytes.IndexByte(rd.Content, ',') >= 0 {
			want += fmt.Sprintf(" (the comma separates: %s)", rd.because())
		}
		return rd.Fail(0, had, want)
	}
	hertz, err := rd.number64(l.hertz, mark)
	if err != nil {
		return err
	}
	hertz *= l.scale
	if !(hertz >= 0) || math.IsInf(hertz, 0) {
		return rd.failField(l.hertz, "a finite frequency ≥ 0")
	}
	first, err := rd.number64(l.first, mark)
	if err != nil {
		return err
	}
	var second float64
	if l.second >= 0 {
		if second, err = rd.number64(l.second, mark); err != nil {
			return err
		}
		second *= l.radian
	}
	switch {
	case rd.impedance && l.kind == LevelDB:
		return rd.Fail(0, "a level in dB", "an impedance in ohm")
	case rd.impedance && l.kind == Magnitude && !(first > 0):
		return rd.failField(l.first, "an impedance > 0; is the column a phase, a real part, or a level in dB?")
	case l.kind == Magnitude && !(first >= 0):
		return rd.failField(l.first, "a magnitude ≥ 0")
	case l.kind == LevelDB && math.Abs(first) > MaxLevel:
		return rd.failField(l.first, fmt.Sprintf("a level within ±%d dB", MaxLevel))
	}
	t := rd.table
	if rd.impedance && l.second >= 0 {
		if l.kind == Real && first < 0 || l.kind == Magnitude && math.Cos(second) < 0 {
			t.find(NegativeResistance, rd.Number, fmt.Sprintf("a negative real part at %g Hz, which a passive load has not", hertz))
		}
	}
	limit := rd.format.MaxRows
	if limit == 0 {
		limit = DefaultMaxRows
	}
	if len(t.hertz) == limit {
		return rd.Fail(0, fmt.Sprintf("more than %d rows", limit), "at most that (Format.MaxRows)")
	}
	rd.order(hertz)
	t.hertz = append(t.hertz, hertz)
	t.first = append(t.first, first)
	if l.second >= 0 {
		t.second = append(t.second, second)
	}
	return nil
}

// order finds what is out of order.
func (rd *reader) order(hertz float64) {
	t := rd.table
	if hertz == 0 {
		t.find(ZeroFrequency, rd.Number, "a frequency of 0 Hz, which has no place on a logarithmic axis")
	}
	n := len(t.hertz)
	if n == 0 {
		return
	}
	if last := t.hertz[n-1]; hertz == last {
		t.find(Doubled, rd.Number, fmt.Sprintf("%g Hz a second time", hertz))
	} else if hertz < last {
		t.find(Unsorted, rd.Number, fmt.Sprintf("%g Hz after %g Hz", hertz, last))
	}
}

func (rd *reader) number64(field int, mark byte) (float64, error) {
	f := rd.fields[field]
	v, want := text.Number(rd.Content[f[0]:f[1]], mark)
	if want != "" {
		if rd.mark != 0 && rd.marked < rd.Number && bytes.ContainsAny(rd.Content[f[0]:f[1]], ".,") {
			want += " (" + rd.because() + ")"
		}
		return 0, rd.failField(field, want)
	}
	return v, nil
}

// because says what told the decimal mark.
func (rd *reader) because() string {
	if rd.marked == 0 {
		return "Format.Decimal told the decimal mark"
	}
	return fmt.Sprintf("line %d told the decimal mark", rd.marked)
}

func (rd *reader) failField(field int, want string) error {
	f := rd.fields[field]
	return rd.Fail(f[0]+1, text.Quoted(rd.Content[f[0]:f[1]]), want)
}
