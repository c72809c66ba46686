// Package quantity reads lists of named quantities with units: a brief, a data
// sheet, a cabinet, a box of parts.
package quantity

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/internal/text"
	"example.org/loudspeaker/speakerlib/si"
)

// Unit is the SI unit of a quantity.
type Unit int

// The units. Decibels stay decibels, because only their user knows what they are
// relative to.
const (
	One Unit = iota
	Decibel
	Hertz
	Second
	Metre
	SquareMetre
	CubicMetre
	Kilogram
	MetrePerSecond
	Ohm
	Henry
	Farad
	Volt
	Ampere
	Watt
	Pascal
	NewtonPerAmpere
	MetrePerNewton
	KilogramPerSecond
	Kelvin
	KelvinPerWatt
	JoulePerKelvin
)

var units = [...]struct{ unit, quantity string }{
	{"1", "a plain number"}, {"dB", "a level"}, {"Hz", "a frequency"}, {"s", "a time"}, {"m", "a length"},
	{"m²", "an area"}, {"m³", "a volume"}, {"kg", "a mass"}, {"m/s", "a speed"}, {"Ω", "a resistance"},
	{"H", "an inductance"}, {"F", "a capacitance"}, {"V", "a voltage"}, {"A", "a current"}, {"W", "a power"},
	{"Pa", "a pressure"}, {"N/A", "a force factor"}, {"m/N", "a compliance"}, {"kg/s", "a mechanical resistance"},
	{"K", "a temperature"}, {"K/W", "a thermal resistance"}, {"J/K", "a heat capacity"},
}

// String returns the symbol of the unit.
func (u Unit) String() string {
	if u < 0 || int(u) >= len(units) {
		return fmt.Sprintf("Unit(%d)", int(u))
	}
	return units[u].unit
}

// written are the units as files may write them: what one of them is in SI. The
// only one with an offset is degC.
var written = []struct {
	text  string
	unit  Unit
	scale float64
}{
	{"dB", Decibel, 1},
	{"Hz", Hertz, 1}, {"kHz", Hertz, si.Kilohertz},
	{"s", Second, 1}, {"ms", Second, si.Millisecond}, {"us", Second, si.Microsecond}, {"µs", Second, si.Microsecond},
	{"m", Metre, 1}, {"cm", Metre, si.Centimetre}, {"mm", Metre, si.Millimetre},
	{"m2", SquareMetre, 1}, {"m²", SquareMetre, 1}, {"cm2", SquareMetre, si.SquareCentimetre}, {"cm²", SquareMetre, si.SquareCentimetre},
	{"m3", CubicMetre, 1}, {"m³", CubicMetre, 1}, {"L", CubicMetre, si.Litre},
	{"kg", Kilogram, 1}, {"g", Kilogram, si.Gram}, {"mg", Kilogram, si.Milligram},
	{"m/s", MetrePerSecond, 1},
	{"ohm", Ohm, 1}, {"Ω", Ohm, 1}, {"mohm", Ohm, si.Milliohm}, {"kohm", Ohm, si.Kiloohm},
	{"H", Henry, 1}, {"mH", Henry, si.Millihenry}, {"uH", Henry, si.Microhenry}, {"µH", Henry, si.Microhenry},
	{"F", Farad, 1}, {"uF", Farad, si.Microfarad}, {"µF", Farad, si.Microfarad}, {"nF", Farad, si.Nanofarad},
	{"V", Volt, 1}, {"mV", Volt, si.Millivolt}, {"uV", Volt, si.Microvolt}, {"µV", Volt, si.Microvolt},
	{"A", Ampere, 1}, {"W", Watt, 1},
	{"Pa", Pascal, 1}, {"kPa", Pascal, si.Kilopascal}, {"uPa", Pascal, si.Micropascal}, {"µPa", Pascal, si.Micropascal},
	{"N/A", NewtonPerAmpere, 1}, {"Tm", NewtonPerAmpere, 1},
	{"m/N", MetrePerNewton, 1}, {"mm/N", MetrePerNewton, si.MillimetrePerNewton},
	{"kg/s", KilogramPerSecond, 1},
	{"K", Kelvin, 1}, {"degC", Kelvin, 1}, {"K/W", KelvinPerWatt, 1}, {"J/K", JoulePerKelvin, 1},
}

// ParseError points at what cannot be read.
type ParseError = text.ParseError

// Quantity is one line of a list.
type Quantity struct {
	Key   string
	Value float64 // in SI, or in dB
	Unit  Unit
	Note  string // the comment behind it
	Line  int
}

// List is a list of named quantities.
type List struct {
	name  string
	list  []Quantity
	index map[string]int
}

// maxQuantities is the most lines "key = value" that are read.
const maxQuantities = 1 << 14

// Read reads lines
//
//	key = value unit   # note
//
// with a point as decimal mark. Keys are letters, digits and _, and come once;
// # begins a comment; a value without unit is a plain number. The units are
//
//	dB  Hz kHz  s ms us µs  m cm mm  m2 m² cm2 cm²  m3 m³ L  kg g mg  m/s
//	ohm Ω mohm kohm  H mH uH µH  F uF µF nF  V mV uV µV  A  W  Pa kPa uPa µPa
//	N/A Tm  m/N mm/N  kg/s  K degC  K/W  J/K
//
// and values become SI. Anything else is a [ParseError].
func Read(r io.Reader, name string) (*List, error) {
	q := &List{name: name, index: map[string]int{}}
	l := text.NewLines("quantity", r, name, 0)
	for {
		ok, err := l.Next()
		if err != nil {
			return nil, err
		}
		if !ok {
			break
		}
		if err := q.take(l); err != nil {
			return nil, err
		}
	}
	if len(q.list) == 0 {
		return nil, &ParseError{Package: "quantity", File: name, Had: "no quantity", Want: "at least one line key = value unit"}
	}
	return q, nil
}

func (q *List) take(l *text.Lines) error {
	line, note, _ := bytes.Cut(l.Content, []byte("#"))
	if len(bytes.TrimSpace(line)) == 0 {
		return nil
	}
	left, right, ok := bytes.Cut(line, []byte("="))
	if !ok {
		return l.Fail(1, text.Quoted(bytes.TrimSpace(line)), "key = value unit")
	}
	key := bytes.TrimSpace(left)
	if len(key) == 0 || bytes.ContainsFunc(key, func(c rune) bool {
		return !(c == '_' || c >= '0' && c <= '9' || c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z')
	}) {
		return l.Fail(1, text.Quoted(key), "a key of letters, digits and _")
	}
	if k, twice := q.index[string(key)]; twice {
		return l.Fail(1, fmt.Sprintf("%q a second time, after line %d", key, q.list[k].Line), "each key once")
	}
	column := func(part []byte) int { return bytes.Index(l.Content[len(left)+1:], part) + len(left) + 2 }
	fields := bytes.Fields(right)
	if len(fields) == 0 || len(fields) > 2 {
		return l.Fail(len(left)+2, text.Quoted(bytes.TrimSpace(right)), "value unit")
	}
	v, want := text.Number(fields[0], '.')
	if want != "" {
		return l.Fail(column(fields[0]), text.Quoted(fields[0]), want)
	}
	got := Quantity{Key: string(key), Value: v, Note: string(bytes.TrimSpace(note)), Line: l.Number}
	if len(fields) == 2 {
		at := slices.IndexFunc(written, func(u struct {
			text  string
			unit  Unit
			scale float64
		}) bool {
			return u.text == string(fields[1])
		})
		if at < 0 {
			return l.Fail(len(left)+2+bytes.LastIndex(right, fields[1]), "the unit "+text.Quoted(fields[1]), "one of "+writtenUnits())
		}
		got.Unit = written[at].unit
		got.Value = scaled(v, written[at].scale)
		if written[at].text == "degC" {
			got.Value += si.ZeroCelsius
		}
		if math.IsInf(got.Value, 0) || got.Value == 0 && v != 0 && written[at].text != "degC" {
			return l.Fail(column(fields[0]), fmt.Sprintf("%s %s", text.Quoted(fields[0]), written[at].text), "a value that float64 can hold in "+got.Unit.String())
		}
	}
	if len(q.list) == maxQuantities {
		return l.Fail(0, "more quantities", fmt.Sprintf("at most %d", maxQuantities))
	}
	q.index[got.Key] = len(q.list)
	q.list = append(q.list, got)
	return nil
}

// scaled returns v·scale. A submultiple divides by its exact inverse, so that
// 6 mm is the same float64 as 0.006.
func scaled(v, scale float64) float64 {
	if scale < 1 {
		return v / math.Round(1/scale)
	}
	return v * scale
}

func writtenUnits() string {
	var names []string
	for _, u := range written {
		names = append(names, u.text)
	}
	return strings.Join(names, " ")
}

// Name returns the name of the file.
func (q *List) Name() string { return q.name }

// All returns the quantities in the order of the file.
func (q *List) All() []Quantity { return slices.Clone(q.list) }

// In returns the value of a quantity that must be there, in the unit. A quantity
// of another kind is an error.
func (q *List) In(key string, u Unit) (float64, error) {
	got, err := q.Quantity(key)
	if err != nil {
		return 0, err
	}
	if got.Unit != u {
		had, want := "?", "?"
		if got.Unit >= 0 && int(got.Unit) < len(units) {
			had = units[got.Unit].quantity
		}
		if u >= 0 && int(u) < len(units) {
			want = units[u].quantity
		}
		return 0, &ParseError{Package: "quantity", File: q.name, Line: got.Line,
			Had: fmt.Sprintf("%s for %s (%g %v)", had, key, got.Value, got.Unit), Want: fmt.Sprintf("%s (%v)", want, u)}
	}
	return got.Value, nil
}

// Quantity returns a quantity that must be there.
func (q *List) Quantity(key string) (Quantity, error) {
	k, ok := q.index[key]
	if !ok {
		return Quantity{}, &ParseError{Package: "quantity", File: q.name, Had: "no " + key, Want: "a line " + key + " = value unit"}
	}
	return q.list[k], nil
}
