package driver

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/internal/text"
	"example.org/loudspeaker/speakerlib/quantity"
	"example.org/loudspeaker/speakerlib/si"
)

// largeUnit is a unit of a file of large-signal parameters.
type largeUnit struct {
	text  string
	scale float64 // to SI
}

// largeKind is what a file of large-signal parameters may hold. What is outside
// least … most is no loudspeaker's: most likely a unit is wrong.
type largeKind struct {
	key         string
	units       []largeUnit
	least, most float64
}

// The kinds. Bl may fall through 0 far from rest.
func largeKinds() []largeKind {
	return []largeKind{
		{"Bl", []largeUnit{{"N/A", 1}, {"Tm", 1}}, -200, 200},
		{"Kms", []largeUnit{{"N/m", 1}, {"N/mm", 1 / si.Millimetre}}, 10, 1e7},
		{"Le", []largeUnit{{"H", 1}, {"mH", si.Millihenry}, {"uH", si.Microhenry}, {"µH", si.Microhenry}}, 1e-9, 1},
	}
}

const milliampere = 1e-3

func largeVariables() []largeKind {
	return []largeKind{
		{"x", []largeUnit{{"m", 1}, {"cm", si.Centimetre}, {"mm", si.Millimetre}}, -0.1, 0.1},
		{"i", []largeUnit{{"A", 1}, {"mA", milliampere}}, -1000, 1000},
	}
}

func (k largeKind) unit(name []byte) (float64, string) {
	var names []string
	for _, u := range k.units {
		if u.text == string(name) {
			return u.scale, ""
		}
		names = append(names, u.text)
	}
	return 0, "a unit of " + k.key + ", one of " + strings.Join(names, " ")
}

// inSI returns v·scale. A submultiple divides by its exact inverse, so that 6 mm is
// the same float64 as 0.006.
func inSI(v, scale float64) float64 {
	if scale < 1 {
		return v / math.Round(1/scale)
	}
	return v * scale
}

// ReadLargeSignal reads large-signal parameters from text. A file has one to four
// blocks, each of a heading and lines of numbers:
//
//	table Bl N/A over x mm
//	  -6   5.31
//	   0   7.42
//	   6   5.62
//
//	polynomial Kms N/mm over x mm from -5 to 5
//	  1.03 0.012 0.0081
//
// A table has a place and a value a line, at increasing places. A polynomial has its
// coefficients in ascending powers of the variable in the unit stated, one or more a
// line, and the range in which they were measured in that unit. What there is:
//
//	Bl (N/A Tm)   Kms (N/m N/mm)   Le (H mH uH µH)
//	over x (m cm mm), the displacement from rest, positive outward;
//	Le also over i (A mA), the current
//
// # begins a comment, numbers have a decimal point, and each characteristic comes
// once, over a range around 0. Anything else is a [quantity.ParseError] with the
// line, and so are values that no loudspeaker has, of which a wrong unit is the usual
// cause: |x| above 0.1 m or a range of x below 0.1 mm, |Bl| above 200 N/A, Kms
// outside 10 to 10⁷ N/m, Le outside 1 nH to 1 H, |i| above 1000 A. What is read is
// valid. The name is that of the file in errors.
func ReadLargeSignal(r io.Reader, name string) (LargeSignal, error) {
	f := largeFile{lines: text.NewLines("driver", r, name, 0), name: name}
	for {
		ok, err := f.lines.Next()
		if err != nil {
			return LargeSignal{}, err
		}
		if !ok {
			break
		}
		if err := f.take(); err != nil {
			return LargeSignal{}, err
		}
	}
	if err := f.finish(); err != nil {
		return LargeSignal{}, err
	}
	if f.into == nil {
		return LargeSignal{}, &quantity.ParseError{Package: "driver", File: name, Had: "no large-signal parameter", Want: "a heading as: table Bl N/A over x mm"}
	}
	if err := f.found.Validate(); err != nil {
		return LargeSignal{}, fmt.Errorf("%w (%s)", err, name)
	}
	return f.found, nil
}

// largeFile is a file while it is read.
type largeFile struct {
	lines *text.Lines
	name  string
	found LargeSignal

	// The block that is being read.
	into              **Characteristic // nil before the first heading
	heading           int              // its line
	what, over        largeKind
	valueScale, scale float64
	polynomial        bool
	from, to          float64
	x, y              []float64 // y alone for the coefficients
}

func (f *largeFile) take() error {
	line, _, _ := bytes.Cut(f.lines.Content, []byte("#"))
	fields := bytes.Fields(line)
	if len(fields) == 0 {
		return nil
	}
	if word := string(fields[0]); word == "table" || word == "polynomial" {
		if err := f.finish(); err != nil {
			return err
		}
		return f.begin(fields)
	}
	if f.into == nil {
		return f.lines.Fail(f.column(fields[0]), text.Quoted(fields[0]), "a heading as: table Bl N/A over x mm")
	}
	if !f.polynomial && len(fields) != 2 {
		return f.lines.Fail(0, fmt.Sprintf("%d numbers", len(fields)), "a place and a value")
	}
	if f.polynomial && len(f.y)+len(fields) > maxCoefficients {
		return f.lines.Fail(0, "more coefficients", fmt.Sprintf("at most %d", maxCoefficients))
	}
	if len(f.y) >= maxKnots {
		return f.lines.Fail(0, "more points", fmt.Sprintf("at most %d", maxKnots))
	}
	var v [maxCoefficients]float64
	for i, field := range fields {
		var err error
		if v[i], err = f.number(field); err != nil {
			return err
		}
	}
	if f.polynomial {
		f.y = append(f.y, v[:len(fields)]...)
		return nil
	}
	x, y := inSI(v[0], f.scale), inSI(v[1], f.valueScale)
	if err := f.plausible(f.over, x, f.column(fields[0])); err != nil {
		return err
	}
	if err := f.plausible(f.what, y, 0); err != nil {
		return err
	}
	if n := len(f.x); n > 0 && x <= f.x[n-1] {
		return f.lines.Fail(f.column(fields[0]), fmt.Sprintf("%s = %s after a place as far or farther", f.over.key, fields[0]), "places that increase")
	}
	f.x, f.y = append(f.x, x), append(f.y, y)
	return nil
}

func (f *largeFile) begin(fields [][]byte) error {
	const want = "table Bl N/A over x mm, or: polynomial Bl N/A over x mm from -5 to 5"
	f.polynomial = string(fields[0]) == "polynomial"
	f.heading = f.lines.Number
	f.x, f.y = nil, nil
	if n := len(fields); n != 6 && n != 10 || string(fields[3]) != "over" || f.polynomial != (n == 10) ||
		n == 10 && (string(fields[6]) != "from" || string(fields[8]) != "to") {
		return f.lines.Fail(0, "the heading "+text.Quoted(bytes.Join(fields, []byte(" "))), want)
	}
	kinds, variables := largeKinds(), largeVariables()
	k := slices.IndexFunc(kinds, func(k largeKind) bool { return k.key == string(fields[1]) })
	if k < 0 {
		return f.lines.Fail(f.column(fields[1]), text.Quoted(fields[1]), "one of Bl Kms Le")
	}
	v := slices.IndexFunc(variables, func(k largeKind) bool { return k.key == string(fields[4]) })
	if v < 0 || variables[v].key == "i" && kinds[k].key != "Le" {
		return f.lines.Fail(0, fmt.Sprintf("%s over %s", fields[1], text.Quoted(fields[4])), "Bl, Kms or Le over x, or Le over i")
	}
	f.what, f.over = kinds[k], variables[v]
	var wrong string
	if f.valueScale, wrong = f.what.unit(fields[2]); wrong != "" {
		return f.lines.Fail(f.column(fields[2]), text.Quoted(fields[2]), wrong)
	}
	if f.scale, wrong = f.over.unit(fields[5]); wrong != "" {
		return f.lines.Fail(0, text.Quoted(fields[5]), wrong)
	}
	f.into = [][]**Characteristic{{&f.found.Bl}, {&f.found.Kms}, {&f.found.Le, &f.found.LeCurrent}}[k][v]
	if *f.into != nil {
		return f.lines.Fail(0, fmt.Sprintf("%s over %s a second time", f.what.key, f.over.key), "each once")
	}
	if !f.polynomial {
		return nil
	}
	for _, end := range []struct {
		field []byte
		to    *float64
	}{{fields[7], &f.from}, {fields[9], &f.to}} {
		v, err := f.number(end.field)
		if err != nil {
			return err
		}
		*end.to = inSI(v, f.scale)
		if err := f.plausible(f.over, *end.to, 0); err != nil {
			return err
		}
	}
	return nil
}

// finish ends the block that is being read.
func (f *largeFile) finish() error {
	if f.into == nil {
		return nil
	}
	fail := func(had, want string) error {
		return &quantity.ParseError{Package: "driver", File: f.name, Line: f.heading, Had: had, Want: want}
	}
	var err error
	if f.polynomial {
		c := make([]float64, len(f.y))
		for k, v := range f.y {
			c[k] = inSI(v, f.valueScale)
			for range k { // a coefficient per mm^k
				c[k] *= math.Round(1 / f.scale)
			}
		}
		*f.into, err = NewPolynomial(c, f.from, f.to)
	} else {
		*f.into, err = NewTable(f.x, f.y)
	}
	if err != nil {
		return fail(f.what.key+" that is no characteristic: "+strings.TrimPrefix(err.Error(), "driver: "), "one that is")
	}
	c := *f.into
	if !(c.from < 0 && c.to > 0) {
		return fail(fmt.Sprintf("%s = %g to %g in SI units", f.over.key, c.from, c.to), "places on both sides of 0, in the first column of a table")
	}
	if f.over.key == "x" && c.to-c.from < shortest {
		return fail(fmt.Sprintf("x over %g m only", c.to-c.from), fmt.Sprintf("a range of at least %g m: is the unit right?", shortest))
	}
	least, most := c.extremes()
	for _, y := range []float64{least, most} {
		if !(f.what.least <= y && y <= f.what.most) {
			return fail(fmt.Sprintf("%s of %g in SI units within its range", f.what.key, y), f.what.interval())
		}
	}
	return nil
}

// shortest is the shortest range of displacement that anybody measures, m.
const shortest = 1e-4

func (k largeKind) interval() string {
	return fmt.Sprintf("%s from %g to %g in SI units: is the unit right?", k.key, k.least, k.most)
}

func (f *largeFile) plausible(k largeKind, v float64, column int) error {
	if !(k.least <= v && v <= k.most) {
		return f.lines.Fail(column, fmt.Sprintf("%s of %g in SI units", k.key, v), k.interval())
	}
	return nil
}

func (f *largeFile) number(field []byte) (float64, error) {
	v, want := text.Number(field, '.')
	if want != "" {
		return 0, f.lines.Fail(f.column(field), text.Quoted(field), want)
	}
	return v, nil
}

// column returns where a field of the current line is.
func (f *largeFile) column(field []byte) int { return bytes.Index(f.lines.Content, field) + 1 }
