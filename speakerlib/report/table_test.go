package report

import (
	"bytes"
	"math"
	"reflect"
	"strings"
	"testing"
)

type cause int

func (c cause) String() string { return [...]string{"excursion", "vent"}[c] }

type alignment struct {
	Name    string   `col:"alignment"`
	Tuning  float64  `col:"f_b" unit:"Hz" fmt:"%.1f"`
	Volume  float64  `col:"V_b" unit:"L"`
	Delay   float64  `col:"delay" unit:"µs"`
	Vent    *float64 `col:"vent length" unit:"mm" fmt:"%.0f"`
	Vents   int      `col:"vents"`
	Spare   *int64   `col:"spare"`
	Fits    bool     `col:"fits"`
	private int
	NotIn   string
}

func rows() []alignment {
	length, spare := 0.2185, int64(-3)
	return []alignment{
		{"QB3", 39.949999999999996, 15.2e-3, 1.23e-7, &length, 1, &spare, true, 0, ""},
		{`a "quoted", name` + "\nof two lines", 1.0 / 3, math.SmallestNonzeroFloat64, -math.MaxFloat64, nil, 0, nil, false, 0, ""},
		{"", math.Inf(1), 0, math.Pi * 1e-21, nil, -1, nil, true, 0, ""},
	}
}

func TestTableIsShownWithUnits(t *testing.T) {
	table, err := NewTable("Alignments", rows())
	if err != nil {
		t.Fatal(err)
	}
	if got := table.Names(); !reflect.DeepEqual(got, []string{"alignment", "f_b", "V_b", "delay", "vent length", "vents", "spare", "fits"}) {
		t.Errorf("columns %q", got)
	}
	text, page := table.Text(), table.HTML()
	for _, want := range []string{"Alignments", "39.9", "15.2", "218", "–", "∞", "−3", "yes", "no"} {
		if !strings.Contains(text, want) || !strings.Contains(page, want) {
			t.Errorf("%q is not in\n%s\n%s", want, text, page)
		}
	}
	for _, want := range []string{"f_b (Hz)", "V_b (L)", "vent length (mm)", "delay (µs)"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
	}
	if !strings.Contains(page, `V_b<br><span style="font-weight:normal;color:#555555">L</span>`) {
		t.Errorf("no unit in the header:\n%s", page)
	}
	if strings.Contains(page, `"quoted"`) {
		t.Errorf("not escaped:\n%s", page)
	}
}

func TestCSVReadsBackEqual(t *testing.T) {
	table, err := NewTable("Alignments", rows())
	if err != nil {
		t.Fatal(err)
	}
	var file bytes.Buffer
	if err := table.WriteCSV(&file); err != nil {
		t.Fatal(err)
	}
	if first, _, _ := strings.Cut(file.String(), "\n"); first != "alignment,f_b (Hz),V_b (m³),delay (s),vent length (m),vents,spare,fits" {
		t.Errorf("header %s", first)
	}
	written := file.String()
	got, err := ReadCSV[alignment](&file, "alignments.csv")
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, rows()) {
		t.Errorf("read back\n%+v, want\n%+v\nfrom\n%s", got, rows(), written)
	}
}

// A data frame and back, and then through a file: the numbers that gota itself
// would print as 0.000000 stay.
func TestFrameAndBack(t *testing.T) {
	table, err := NewTable("Alignments", rows())
	if err != nil {
		t.Fatal(err)
	}
	df, err := table.Frame()
	if err != nil {
		t.Fatal(err)
	}
	if r, c := df.Dims(); r != 3 || c != 8 {
		t.Fatalf("frame of %d × %d", r, c)
	}
	back, err := FromFrame("Alignments", df, map[string]Column{"V_b": {Unit: "L"}, "f_b": {Format: "%.1f"}})
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(back.Text(), "V_b (L)") {
		t.Errorf("not shown in litres:\n%s", back.Text())
	}
	var file bytes.Buffer
	if err := back.WriteCSV(&file); err != nil {
		t.Fatal(err)
	}
	got, err := ReadCSV[alignment](&file, "alignments.csv")
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(got, rows()) {
		t.Errorf("read back\n%+v, want\n%+v", got, rows())
	}
	if _, err := FromFrame("", df, map[string]Column{"V_b": {Unit: "mm"}}); err == nil {
		t.Error("a volume is shown in millimetres")
	}
	if _, err := FromFrame("", df, map[string]Column{"Vb": {}}); err == nil {
		t.Error("a column that is not there is told how to be shown")
	}
	if err := df.Rename("V_b (L)", "V_b (m³)").Err; err != nil {
		t.Fatal(err)
	}
	if _, err := FromFrame("", df.Rename("V_b (L)", "V_b (m³)"), nil); err == nil {
		t.Error("a frame in litres is taken as one in cubic metres")
	}
}

func TestTablesRefuse(t *testing.T) {
	try := func(name string, err error) {
		t.Helper()
		if err == nil || !strings.HasPrefix(err.Error(), "report: ") {
			t.Errorf("%s: error %v", name, err)
		}
	}
	bad := rows()
	bad[1].Volume = math.NaN()
	_, err := NewTable("", bad)
	try("NaN", err)
	bad = rows()
	nan := math.NaN()
	bad[1].Vent = &nan
	_, err = NewTable("", bad)
	try("NaN in a pointer", err)
	_, err = NewTable("", []struct{ X int }{{1}})
	try("no tags", err)
	_, err = NewTable("", []int{1})
	try("no structs", err)
	_, err = NewTable("", []struct {
		X []int `col:"x"`
	}{})
	try("a slice", err)
	_, err = NewTable("", []struct {
		X, Y int `col:"x"`
	}{})
	try("twice the same name", err)
	_, err = NewTable("", []struct {
		x int `col:"x"`
	}{{1}})
	try("unexported", err)
	_, err = NewTable("", []struct {
		X float64 `col:"x" unit:"furlong"`
	}{})
	try("unit", err)
	_, err = NewTable("", []struct {
		X float64 `col:"x" fmt:"%d"`
	}{})
	try("format of another kind", err)
	_, err = NewTable("", []struct {
		X float64 `col:"x" fmt:"%.1f %.1f"`
	}{})
	try("two verbs", err)
	_, err = NewTable("", []struct {
		X int `col:"x" unit:"mm"`
	}{})
	try("integers in a multiple", err)
	_, err = NewTable("", []*alignment{nil})
	try("nil row", err)
	_, err = NewTable("", []struct {
		X string `col:"x"`
	}{{"a\rb"}})
	try("carriage return", err)
	one, err := NewTable("", []struct {
		X *int `col:"x"`
	}{{nil}})
	if err != nil {
		t.Fatal(err)
	}
	try("one empty cell", one.WriteCSV(&bytes.Buffer{}))
}

func TestNamedValuesAreWords(t *testing.T) {
	type row struct {
		Cause cause `col:"cause"`
	}
	table, err := NewTable("", []*row{{0}, {1}})
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(table.Text(), "vent") {
		t.Errorf("no cause in\n%s", table.Text())
	}
	if _, err := ReadCSV[row](strings.NewReader("cause\nvent\n"), "x"); err == nil {
		t.Error("a name was read back as a number")
	}
}

func TestFaultyCSVIsPointedAt(t *testing.T) {
	type row struct {
		X float64 `col:"x" unit:"mm"`
		N int     `col:"n"`
		B bool    `col:"b"`
	}
	const head = "x (m),n,b\n"
	if got, err := ReadCSV[row](strings.NewReader(head+"1e-3,2,true\n"), "f"); err != nil || len(got) != 1 || got[0] != (row{1e-3, 2, true}) {
		t.Fatalf("good file: %+v, %v", got, err)
	}
	for _, c := range [][2]string{
		{"", "header"},
		{"x (mm),n,b\n", `"x (m)"`},
		{"x (m),n\n", "wrong number of fields"},
		{head + "1,2\n", "wrong number of fields"},
		{head + "1,2,true\nNaN,2,true\n", "f:3:1"},
		{head + ",2,true\n", "f:2:1"},
		{head + "1,2.5,true\n", "f:2:3"},
		{head + "1,2,maybe\n", "f:2:5"},
		{head + "\"1,2,true\n", "quote"},
	} {
		if got, err := ReadCSV[row](strings.NewReader(c[0]), "f"); err == nil || !strings.Contains(err.Error(), c[1]) {
			t.Errorf("%q: %+v, error %v, want one with %s", c[0], got, err, c[1])
		}
	}
}

// What rounds to zero has no sign, and what does not keeps its own.
func TestZeroHasNoSign(t *testing.T) {
	type row struct {
		A float64 `col:"a" fmt:"%.1f"`
	}
	table, err := NewTable("Zeros", []row{{-0.04}, {-0.06}})
	if err != nil {
		t.Fatal(err)
	}
	if text := table.Text(); strings.Contains(text, "−0.0") || !strings.Contains(text, "0.0") || !strings.Contains(text, "−0.1") {
		t.Errorf("%s", text)
	}
}
