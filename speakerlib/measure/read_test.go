package measure_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"strings"
	"testing"
	"testing/iotest"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
	"pgregory.net/rapid"
)

var (
	levelPhase = measure.Format{Columns: []measure.Column{measure.Frequency, measure.LevelDB, measure.PhaseDegrees}}
	levelOnly  = measure.Format{Columns: []measure.Column{measure.Frequency, measure.LevelDB}}
	ratio      = freq.Basis{}
)

func Example() {
	const file = `# columns: frequency_Hz level_dB phase_deg
1000	6.0206	0
2000	0	-90
`
	t, err := measure.ReadResponse(strings.NewReader(file), "two-points.txt", measure.Format{})
	if err != nil {
		fmt.Println(err)
		return
	}
	r, err := t.Response(freq.Basis{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f at %g Hz\n", r.At(0), r.Grid().At(0))
	_, err = measure.ReadResponse(strings.NewReader(file+"4000\t-1,5\t-170\n"), "two-points.txt", measure.Format{})
	fmt.Println(err)
	// Output:
	// (2.000+0.000i) at 1000 Hz
	// measure: two-points.txt:4: had 4 fields, want 3: frequency_Hz level_dB phase_deg (the comma separates: line 2 told the decimal mark)
}

// As rigs write it: each of these is one and the same table.
func TestSpellings(t *testing.T) {
	for name, c := range map[string]struct {
		text   string
		format measure.Format
	}{
		"tab":                   {"20.5\t80.25\t-10\n1000\t81\t20\n", levelPhase},
		"spaces":                {"  20.5   80.25 -10 \n 1000 81 20\n", levelPhase},
		"comma":                 {"20.5,80.25,-10\n1000,81,20\n", levelPhase},
		"comma and space":       {"20.5, 80.25, -10\n1000, 81, 20\n", levelPhase},
		"semicolon":             {"20.5;80.25;-10\n1000;81;20\n", levelPhase},
		"separator at the end":  {"20.5;80.25;-10;\n1000;81;20;\n", levelPhase},
		"decimal comma, tab":    {"20,5\t80,25\t-10\n1000\t81\t20\n", levelPhase},
		"decimal comma, space":  {"20,5 80,25 -10,0\n1000 81 20\n", levelPhase},
		"decimal comma, semi":   {"20,5; 80,25; -10\n1000;81;20\n", levelPhase},
		"integers, then commas": {"20.5,80.25,-10\n1000,81,20\n", levelPhase},
		"CRLF":                  {"20.5\t80.25\t-10\r\n1000\t81\t20\r\n", levelPhase},
		"CR":                    {"20.5\t80.25\t-10\r1000\t81\t20\r", levelPhase},
		"no last line end":      {"20.5\t80.25\t-10\n1000\t81\t20", levelPhase},
		"BOM":                   {"\xef\xbb\xbf20.5\t80.25\t-10\n1000\t81\t20\n", levelPhase},
		"BOM before comment":    {"\xef\xbb\xbf# x\n20.5\t80.25\t-10\n1000\t81\t20\n", levelPhase},
		"comments": {"* a 1 2 3\n# b\n; c;;;\n\"d\",\"e\"\n// f\n\n  # indented\n20.5\t80.25\t-10\n# between\n1000\t81\t20\n# end\n",
			levelPhase},
		"Latin-1 in a comment": {"# 20 \xb0C\n20.5\t80.25\t-10\n1000\t81\t20\n", levelPhase},
		"scientific":           {"2.05e1\t+8.025E+01\t-1e1\n1.0e+03\t81.\t2e1\n", levelPhase},
		"wrapped another way":  {"20.5\t80.25\t350\n1000\t81\t-340\n", levelPhase},
		"title":                {"Frequency Level Phase\n20.5\t80.25\t-10\n1000\t81\t20\n", with(levelPhase, func(f *measure.Format) { f.Skip = 1 })},
		"header": {"# columns: frequency_Hz level_dB phase_deg\n20.5\t80.25\t-10\n1000\t81\t20\n",
			measure.Format{}},
		"kilohertz, other order": {"# columns: phase_deg ignored level_dB frequency_kHz\n-10 n/a 80.25 .0205\n20 x 81 1\n", measure.Format{}},
		"stated decimal comma":   {"20,5 80,25 -10\n1000 81 20\n", with(levelPhase, func(f *measure.Format) { f.Decimal = measure.DecimalComma })},
	} {
		tb, err := measure.ReadResponse(iotest.OneByteReader(strings.NewReader(c.text)), name, c.format)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		r, err := tb.Response(ratio)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if got := r.Grid().Hz(); len(got) != 2 || math.Abs(got[0]-20.5) > 1e-12 || got[1] != 1000 {
			t.Errorf("%s: frequencies %v, want 20.5 and 1000", name, got)
			continue
		}
		for i, want := range []complex128{cmplx.Rect(level.Ratio(80.25), -math.Pi/18), cmplx.Rect(level.Ratio(81), math.Pi/9)} {
			if cmplx.Abs(r.At(i)-want) > 1e-9*cmplx.Abs(want) {
				t.Errorf("%s: row %d is %v, want %v", name, i, r.At(i), want)
			}
		}
	}
}

func with(f measure.Format, change func(*measure.Format)) measure.Format {
	change(&f)
	return f
}

func TestRadiansMagnitudeAndParts(t *testing.T) {
	for text, want := range map[string]complex128{
		"# columns: frequency_Hz magnitude phase_rad\n100 2 1.5707963267948966\n": 2i,
		"# columns: frequency_Hz real imaginary\n100 3 -4\n":                      3 - 4i,
		"# columns: frequency_Hz level_dB phase_rad\n100 0 0\n":                   1,
		"# columns: frequency_Hz magnitude phase_deg\n100 2 180\n":                -2,
	} {
		tb, err := measure.ReadResponse(strings.NewReader(text), "x", measure.Format{})
		if err != nil {
			t.Fatal(err)
		}
		r, err := tb.Response(ratio)
		if err != nil || cmplx.Abs(r.At(0)-want) > 1e-15*4 {
			t.Errorf("%q gives %v (%v), want %v", text, r.At(0), err, want)
		}
	}
}

// Each bad file gives an error at its place, with what was had and wanted.
func TestRefusals(t *testing.T) {
	const good = "20\t80\t0\n"
	for name, c := range map[string]struct {
		text         string
		format       measure.Format
		line, column int
		had, want    string
	}{
		"empty":               {"", levelPhase, 0, 0, "no row", "at least one"},
		"comments only":       {"# a\n# b\n", levelPhase, 0, 0, "no row", "at least one"},
		"no layout":           {good, measure.Format{}, 1, 0, "no line \"# columns", "Format.Columns"},
		"unknown column":      {"# columns: frequency_Hz loudness\n", measure.Format{}, 1, 0, `"loudness"`, "columns"},
		"two frequencies":     {"# columns: frequency_Hz frequency_kHz level_dB\n", measure.Format{}, 1, 0, "frequency_kHz", "columns"},
		"real with phase":     {"# columns: frequency_Hz real phase_deg\n", measure.Format{}, 1, 0, "imaginary", "columns"},
		"columns twice":       {"# columns: frequency_Hz level_dB\n# columns: frequency_Hz level_dB\n", measure.Format{}, 2, 0, "second line of columns", "one"},
		"text":                {good + "30\tloud\t0\n", levelPhase, 2, 4, `"loud"`, "a number"},
		"title":               {"Hz\tdB\tdeg\n" + good, levelPhase, 1, 1, `"Hz"`, "a number"},
		"NaN":                 {good + "30\tNaN\t0\n", levelPhase, 2, 4, `"NaN"`, "finite"},
		"infinite":            {good + "30\t-Inf\t0\n", levelPhase, 2, 4, `"-Inf"`, "finite"},
		"1.#INF":              {good + "30\t1.#INF\t0\n", levelPhase, 2, 4, `"1.#INF"`, "finite"},
		"too large":           {good + "30\t1e999\t0\n", levelPhase, 2, 4, `"1e999"`, "float64"},
		"D exponent":          {good + "30\t8.0D+01\t0\n", levelPhase, 2, 4, `"8.0D+01"`, "not D"},
		"hexadecimal":         {good + "0x1p4\t80\t0\n", levelPhase, 2, 1, `"0x1p4"`, "decimal number"},
		"underscore":          {good + "1_000\t80\t0\n", levelPhase, 2, 1, `"1_000"`, "a number"},
		"lone sign":           {good + "30\t-\t0\n", levelPhase, 2, 4, `"-"`, "a number"},
		"no exponent":         {good + "30\t8e\t0\n", levelPhase, 2, 4, `"8e"`, "a number"},
		"negative frequency":  {good + "-30\t80\t0\n", levelPhase, 2, 1, `"-30"`, "≥ 0"},
		"missing phase":       {good + "30\t80\n", levelPhase, 2, 0, "2 fields", "3: frequency_Hz level_dB phase_deg"},
		"phase too many":      {good, levelOnly, 1, 0, "3 fields", "2: frequency_Hz level_dB"},
		"cut in the last row": {good + "30\t8", levelPhase, 2, 0, "2 fields", "3"},
		"empty field":         {"20;;0\n", levelPhase, 1, 4, "empty", "a number"},
		"only a separator":    {good + ";;\n,,\n", levelPhase, 3, 0, ",,", "3 numbers"},
		"grouped digits":      {"1.234,5\t80\t0\n", levelPhase, 1, 0, "1.234,5", "no digit grouping"},
		"comma is everything": {"20,5,80,25,0,0\n", levelPhase, 1, 0, "20,5,80,25,0,0", "3 numbers"},
		"comma after point":   {"20.5\t80\t0\n30,5\t80\t0\n", levelPhase, 2, 0, "4 fields", "3"},
		"point after comma":   {"20,5\t80\t0\n30.5\t80\t0\n", levelPhase, 2, 1, `"30.5"`, "decimal comma"},
		"absurd level":        {good + "30\t4000\t0\n", levelPhase, 2, 4, `"4000"`, "±400 dB"},
		"UTF-16 little":       {"\xff\xfe2\x000\x00", levelPhase, 1, 1, "UTF-16", "UTF-8"},
		"UTF-16 big":          {"\xfe\xff\x002\x000", levelPhase, 1, 1, "UTF-16", "UTF-8"},
		"UTF-16 unmarked":     {"2\x000\x00\t\x008\x00", levelPhase, 1, 2, "UTF-16", "UTF-8"},
		"binary":              {good + "\x7fELF\x02\x01\x01\x00", levelPhase, 2, 1, "0x7f", "text"},
		"NUL":                 {good + "30\t80\x00\t0\n", levelPhase, 2, 6, "0x00", "text"},
		"long line":           {good + "# " + strings.Repeat("x", measure.MaxLine+10) + "\n", levelPhase, 2, 0, "more bytes", "65536"},
		"bytes":               {strings.Repeat(good, 100), with(levelPhase, func(f *measure.Format) { f.MaxBytes = 100 }), 0, 0, "more than 100 bytes", "MaxBytes"},
		"rows":                {"1 0 0\n2 0 0\n3 0 0\n", with(levelPhase, func(f *measure.Format) { f.MaxRows = 2 }), 3, 0, "more than 2 rows", "MaxRows"},
		"setting twice":       {"# drive_V: 1\n# drive_V: 2\n" + good, levelPhase, 2, 0, "drive_V: 2 after drive_V: 1", "one value"},
		"setting no number":   {"# drive_V: loud\n" + good, levelPhase, 0, 0, `drive_V: "loud"`, "a number"},
		"setting zero":        {"# usable_from_Hz: 0\n" + good, levelPhase, 0, 0, "usable_from_Hz", "> 0"},
		"impedance level":     {"# impedance\n" + good, levelPhase, 2, 0, "a level in dB", "ohm"},
		"impedance of zero":   {"# impedance\n# columns: frequency_Hz magnitude_ohm phase_deg\n20 0 0\n", measure.Format{}, 3, 4, `"0"`, "impedance > 0"},
		"impedance below":     {"# impedance\n# columns: frequency_Hz magnitude_ohm phase_deg\n20 -5 0\n", measure.Format{}, 3, 4, `"-5"`, "is the column a phase"},
		"negative magnitude":  {"# columns: frequency_Hz magnitude phase_deg\n20 -5 0\n", measure.Format{}, 2, 4, `"-5"`, "magnitude ≥ 0"},
	} {
		read := measure.ReadResponse
		if strings.HasPrefix(c.text, "# impedance") {
			read = measure.ReadImpedance
		}
		_, err := read(strings.NewReader(c.text), "bad.txt", c.format)
		var e *measure.ParseError
		if !errors.As(err, &e) {
			t.Errorf("%s: error %v, want a ParseError", name, err)
			continue
		}
		if e.File != "bad.txt" || e.Line != c.line || e.Column != c.column || !strings.Contains(e.Had, c.had) || !strings.Contains(e.Want, c.want) {
			t.Errorf("%s: %v\n\twant line %d, column %d, had %q, want %q", name, e, c.line, c.column, c.had, c.want)
		}
	}
}

func TestBadFormats(t *testing.T) {
	for want, f := range map[string]measure.Format{
		"Reference is -1":            {Reference: -1},
		"Drive is NaN":               {Drive: math.NaN()},
		"Decimal is 9":               {Decimal: 9},
		"want ≥ 0":                   {MaxRows: -1},
		"want a frequency":           {Columns: []measure.Column{measure.LevelDB}},
		"column 2 is Column(77)":     {Columns: []measure.Column{measure.Frequency, 77}},
		"want real with imaginary":   {Columns: []measure.Column{measure.Frequency, measure.Real}},
		"want one of a kind":         {Columns: []measure.Column{measure.Frequency, measure.LevelDB, measure.Magnitude}},
		"want a frequency and a lev": {Columns: []measure.Column{}},
	} {
		if _, err := measure.ReadResponse(strings.NewReader("1 2 3\n"), "x", f); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

func TestReadErrorIsPassedOn(t *testing.T) {
	_, err := measure.ReadResponse(io.MultiReader(strings.NewReader("20 80 0\n30 80 0\n"), iotest.ErrReader(io.ErrUnexpectedEOF)), "x", levelPhase)
	if !errors.Is(err, io.ErrUnexpectedEOF) || !strings.Contains(err.Error(), "after line 2") {
		t.Errorf("error %v, want the reader's with its place", err)
	}
}

// What is out of order is told, left as it is, and mended only by a method.
func TestFindings(t *testing.T) {
	read := func(text string) *measure.Table {
		tb, err := measure.ReadResponse(strings.NewReader(text), "odd.txt", levelPhase)
		if err != nil {
			t.Fatal(err)
		}
		return tb
	}
	tb := read("0 1 0\n10 1 0\n30 2 0\n20 3 0\n20 4 0\n10 5 0\n40 6 0")
	if got, want := fmt.Sprint(tb.Findings()), "[zero frequency, 1 times, first in line 1: a frequency of 0 Hz, which has no place on a logarithmic axis "+
		"unsorted frequencies, 2 times, first in line 4: 20 Hz after 30 Hz "+
		"doubled frequencies, 1 times, first in line 5: 20 Hz a second time "+
		"no end of the last line, 1 times, first in line 7: the last line has no end: the file may be cut]"; got != want {
		t.Errorf("findings\n%s, want\n%s", got, want)
	}
	if fmt.Sprint(tb.Hertz()) != "[0 10 30 20 20 10 40]" {
		t.Errorf("rows %v were changed", tb.Hertz())
	}
	refused := func(tb *measure.Table, want string) {
		t.Helper()
		if _, err := tb.Response(ratio); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
		if _, err := tb.Level(); err == nil {
			t.Error("levels without an error")
		}
	}
	refused(tb, "odd.txt:1: had a frequency of 0 Hz")
	above, err := tb.Between(1, 100)
	if err != nil {
		t.Fatal(err)
	}
	refused(above, "odd.txt:4: had 20 Hz after 30 Hz, want ascending frequencies > 0, or Table.Sorted")
	sorted := above.Sorted()
	if fmt.Sprint(sorted.Hertz()) != "[10 10 20 20 30 40]" {
		t.Errorf("sorted %v", sorted.Hertz())
	}
	refused(sorted, "10 Hz a second time, want ascending frequencies > 0, or Table.Single")
	for w, want := range map[measure.Which]string{measure.FirstRow: "[1 3 2 6]", measure.LastRow: "[5 4 2 6]"} {
		c, err := sorted.Single(w).Level()
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprint(c.Values()); got != want {
			t.Errorf("levels %s, want %s", got, want)
		}
		r, err := sorted.Single(w).Response(ratio)
		if err != nil || r.Len() != 4 {
			t.Errorf("%d points (%v), want 4", r.Len(), err)
		}
	}
	if _, err := tb.Between(50, 60); err == nil {
		t.Error("an empty band without an error")
	}
	if f := read("10 1 0\n20 2 0\n").Findings(); len(f) != 0 {
		t.Errorf("findings %v in a good table", f)
	}
	z, err := measure.ReadImpedance(strings.NewReader("# columns: frequency_Hz magnitude_ohm phase_deg\n10 5 91\n20 5 89\n"), "z", measure.Format{})
	if err != nil || len(z.Findings()) != 1 || z.Findings()[0].Kind != measure.NegativeResistance {
		t.Errorf("findings %v (%v), want a negative resistance", z.Findings(), err)
	}
}

func TestBasisIsStatedAndKept(t *testing.T) {
	const head = "# quantity: sound pressure\n# space: half space\n# distance_m: 1\n# per: terminals\n# reference_Pa: 20e-6\n# drive_V: 2\n# note: 3\n# columns: frequency_Hz level_dB phase_deg\n"
	tb, err := measure.ReadResponse(strings.NewReader(head+"100 94 0\n"), "folder/p.txt", measure.Format{})
	if err != nil {
		t.Fatal(err)
	}
	r, err := tb.Stated()
	if err != nil {
		t.Fatal(err)
	}
	// 94 dB re 20 µPa are 1.0024 Pa; at 2 V, per volt half of it.
	if want := level.Pascal(94) / 2; math.Abs(real(r.At(0))/want-1) > 1e-14 || r.Label() != "p" {
		t.Errorf("%q is %v Pa/V, want %g", r.Label(), r.At(0), want)
	}
	want := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 1}
	if r.Basis() != want {
		t.Errorf("basis %v, want %v", r.Basis(), want)
	}
	if v, ok := tb.Setting("note"); !ok || v != "3" {
		t.Errorf("setting %q", v)
	}
	for wanted, b := range map[string]freq.Basis{
		"space full space, want half space":      {Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1},
		"distance_m 2, want 1":                   {Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 2},
		"per per volt at the input":              {Quantity: freq.Pressure, Per: freq.PerInput, Space: freq.HalfSpace, Distance: 1},
		"quantity velocity, want sound pressure": {Quantity: freq.Velocity, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 1},
	} {
		if _, err := tb.Response(b); err == nil || !strings.Contains(err.Error(), wanted) {
			t.Errorf("error %v, want one with %q", err, wanted)
		}
	}
	bare, err := measure.ReadResponse(strings.NewReader("100 94 0\n"), "bare.txt", levelPhase)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := bare.Stated(); err == nil || !strings.Contains(err.Error(), "no settings quantity") {
		t.Errorf("error %v, want that nothing is stated", err)
	}
	if _, err := bare.Response(want); err == nil || !strings.Contains(err.Error(), "no reference") {
		t.Errorf("error %v, want that there is no reference", err)
	}
	stated, err := measure.ReadResponse(strings.NewReader("100 94 0\n"), "bare.txt", with(levelPhase, func(f *measure.Format) { f.Reference = 20e-6 }))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := stated.Response(want); err == nil || !strings.Contains(err.Error(), "no drive") {
		t.Errorf("error %v, want that there is no drive", err)
	}
	level, err := measure.ReadResponse(strings.NewReader("100 94\n"), "level.txt", levelOnly)
	if err != nil || level.HasPhase() {
		t.Fatalf("%v, or a phase", err)
	}
	if _, err := level.Response(ratio); err == nil || !strings.Contains(err.Error(), "no phase") {
		t.Errorf("error %v, want that there is no phase", err)
	}
	if c, err := level.Level(); err != nil || c.At(0) != 94 {
		t.Errorf("level %v (%v), want 94", c.Values(), err)
	}
	if _, err := level.Response(freq.Basis{Quantity: freq.Impedance}); err == nil {
		t.Error("a response taken for an impedance")
	}
	wrong, err := measure.ReadResponse(strings.NewReader("# space: attic\n100 94 0\n"), "w", levelPhase)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := wrong.Response(ratio); err == nil || !strings.Contains(err.Error(), `space: "attic", want one of`) {
		t.Errorf("error %v, want the spaces", err)
	}
}

// Written and read back, a response is equal to the last bit.
func TestWriteReadIdentity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 40).Draw(t, "n")
		hz := make([]float64, n)
		f := rapid.Float64Range(1e-3, 100).Draw(t, "first")
		for i := range hz {
			hz[i] = f
			f *= 1 + rapid.Float64Range(1e-12, 2).Draw(t, "step")
			f = math.Nextafter(f, math.Inf(1))
		}
		g, err := freq.NewGrid(hz)
		if err != nil {
			t.Fatal(err)
		}
		part := rapid.Float64Range(-1e30, 1e30)
		v := make([]complex128, n)
		for i := range v {
			v[i] = complex(part.Draw(t, "re"), part.Draw(t, "im"))
		}
		b := freq.Basis{
			Quantity: freq.Quantity(rapid.IntRange(int(freq.Dimensionless), int(freq.Voltage)).Draw(t, "quantity")),
			Per:      freq.Reference(rapid.IntRange(0, 3).Draw(t, "per")),
			Space:    freq.Space(rapid.IntRange(0, 3).Draw(t, "space")),
			Distance: rapid.SampledFrom([]float64{0, 1, 2.6}).Draw(t, "distance"),
		}
		want, err := freq.NewResponse(g, v, "x", b)
		if err != nil {
			t.Fatal(err)
		}
		var file bytes.Buffer
		if err := measure.Write(&file, want); err != nil {
			t.Fatal(err)
		}
		read := measure.ReadResponse
		if b.Quantity == freq.Impedance {
			read = measure.ReadImpedance
		}
		tb, err := read(&file, "x.txt", measure.Format{})
		if err != nil {
			t.Fatal(err)
		}
		got, err := tb.Response(b)
		if err != nil {
			t.Fatal(err)
		}
		if !got.Grid().Equal(g) || got.Basis() != b || got.Label() != "x" {
			t.Fatalf("%v, %v, %q", got.Grid(), got.Basis(), got.Label())
		}
		for i := range v {
			if got.At(i) != v[i] {
				t.Fatalf("row %d: %v, want %v", i, got.At(i), v[i])
			}
		}
	})
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("disk full") }

func TestWriteError(t *testing.T) {
	g, _ := freq.NewGrid([]float64{1})
	r, _ := freq.NewResponse(g, []complex128{1}, "x", ratio)
	if err := measure.Write(full{}, r); err == nil || !strings.Contains(err.Error(), "disk full") {
		t.Errorf("error %v, want that the disk is full", err)
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{
		"20 80 0\n", "20,5\t80,25\t-10\r\n", "# columns: frequency_Hz real imaginary\n1;2;3\n", "\xef\xbb\xbf* x\r20 1e5 0",
		"# drive_V: 2\n# quantity: sound pressure\n0 0 0\n5 4 3\n5 4 3\n2 1 0", "1.234,5 1 1\n", "9007199254740993 1e-320 .5e+22\n",
	} {
		f.Add([]byte(s), false)
		f.Add([]byte(s), true)
	}
	f.Fuzz(func(t *testing.T, data []byte, impedance bool) {
		read := measure.ReadResponse
		columns := []measure.Column{measure.Frequency, measure.Magnitude, measure.PhaseDegrees}
		if impedance {
			read = measure.ReadImpedance
		}
		for _, format := range []measure.Format{{}, {Columns: columns}, {Columns: columns, Decimal: measure.DecimalComma}} {
			a, err := read(bytes.NewReader(data), "fuzz", format)
			b, again := read(iotest.HalfReader(bytes.NewReader(data)), "fuzz", format)
			if fmt.Sprint(err) != fmt.Sprint(again) {
				t.Fatalf("read in other pieces: %v, and before %v", again, err)
			}
			if err != nil {
				var e *measure.ParseError
				if !errors.As(err, &e) {
					t.Fatalf("%v is no ParseError", err)
				}
				continue
			}
			if a.Len() == 0 || a.Len() != b.Len() {
				t.Fatalf("%d and %d rows", a.Len(), b.Len())
			}
			basis, err := a.Basis()
			if err != nil {
				continue
			}
			for _, tb := range []*measure.Table{a, a.Sorted().Single(measure.FirstRow)} {
				r, err := tb.Response(basis)
				if err != nil {
					continue
				}
				for i := range r.Len() {
					if v := r.At(i); cmplx.IsNaN(v) || cmplx.IsInf(v) {
						t.Fatalf("%v at %g Hz", v, r.Grid().At(i))
					}
				}
			}
		}
	})
}

// The largest limit is a limit like any other.
func TestLargestByteLimit(t *testing.T) {
	in := "# columns: frequency_Hz level_dB\n20 80\n30 81\n"
	tb, err := measure.ReadResponse(strings.NewReader(in), "x.txt", measure.Format{MaxBytes: math.MaxInt64})
	if err != nil || tb.Len() != 2 {
		t.Errorf("had %v, %v, want 2 rows", tb, err)
	}
}

// A unit may take a number out of range.
func TestFrequencyBeyondRange(t *testing.T) {
	_, err := measure.ReadResponse(strings.NewReader("# columns: frequency_kHz level_dB\n1e307 80\n"), "x.txt", measure.Format{})
	if err == nil || !strings.Contains(err.Error(), `x.txt:2:1: had "1e307", want a finite frequency`) {
		t.Errorf("1e307 kHz: %v", err)
	}
}
