package driver_test

import (
	"errors"
	"fmt"
	"math"
	"os"
	"reflect"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/quantity"
)

func ExampleRead() {
	const file = `# an invented woofer
Re = 5.5 ohm
Fs = 41.5 Hz
Qms = 4.7
Qes = 0.39
Mms = 15.2 g
Sd = 138 cm2
Bl = 7.5 N/A    # this follows from the others
linear = 6 mm
`
	sheet, err := driver.Read(strings.NewReader(file), "woofer.txt")
	if err != nil {
		fmt.Println(err)
		return
	}
	p, found, err := sheet.Params(air.Room(), 0.05)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, d := range found {
		fmt.Println(d)
	}
	fmt.Printf("Qts %.2f, Vas %.1f L\n", p.Qts(), p.Vas(air.Room())*1000)
	// Output:
	// Bl is 7.5 N/A, and 7.476 N/A follows from Re, Fs, Qes, Mms (+0.32 %)
	// Qts 0.36, Vas 26.1 L
}

func readFile(t *testing.T, name string) driver.Sheet {
	t.Helper()
	f, err := os.Open("../../datasets/standmount/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	s, err := driver.Read(f, name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// same compares sheets up to the last bit of a value: 0.42 mH is 0.42 rounded,
// then divided.
func same(t *testing.T, name string, got, want driver.Sheet) {
	t.Helper()
	a, b := reflect.ValueOf(got), reflect.ValueOf(want)
	for i := range a.NumField() {
		if x, y := a.Field(i).Float(), b.Field(i).Float(); math.Abs(x-y) > 2.3e-16*y {
			t.Errorf("%s: %s is %v, want %v", name, a.Type().Field(i).Name, x, y)
		}
	}
}

// The sheets of the demo data are what the brief's drivers were invented to be.
func TestReadStandmount(t *testing.T) {
	same(t, "woofer", readFile(t, "woofer.txt"), driver.Sheet{Re: 5.5, Fs: 41.5, Qms: 4.7, Qes: 0.39, Mms: 0.0152, Sd: 0.0138,
		Le: 0.42e-3, Linear: 0.006, Damage: 0.011})
	same(t, "tweeter", readFile(t, "tweeter.txt"), driver.Sheet{Re: 4.9, Fs: 980, Qms: 1.6, Qes: 1.15, Mms: 0.34e-3, Sd: 7.1e-4,
		Le: 0.03e-3, Linear: 0.0003})
	for _, name := range []string{"woofer.txt", "tweeter.txt"} {
		s := readFile(t, name)
		p, found, err := s.Params(air.Room(), 0)
		if err != nil || len(found) != 0 {
			t.Errorf("%s: %v %v, want parameters without discrepancies", name, found, err)
		}
		if p.Coil != (driver.Inductor{Le: s.Le}) {
			t.Errorf("%s: coil %v", name, p.Coil)
		}
		// Cms = 1/((2πFs)²Mms), Bl = √(2πFs·Mms·Re/Qes), Rms = 2πFs·Mms/Qms.
		w := 2 * math.Pi * s.Fs
		for _, c := range []struct {
			name      string
			got, want float64
		}{
			{"Cms", p.Cms, 1 / (w * w * s.Mms)}, {"Bl", p.Bl, math.Sqrt(w * s.Mms * s.Re / s.Qes)}, {"Rms", p.Rms, w * s.Mms / s.Qms},
			{"Mms", p.Mms, s.Mms}, {"Sd", p.Sd, s.Sd}, {"Re", p.Re, s.Re},
		} {
			if math.Abs(c.got/c.want-1) > 1e-14 {
				t.Errorf("%s: %s is %v, want %v", name, c.name, c.got, c.want)
			}
		}
	}
}

func TestReadKeys(t *testing.T) {
	const file = `Re=1 ohm
Fs=2 Hz
Qms=3
Qes=4
Qts=5
Vas=6 L
Bl=7 Tm
Mms=8 g
Cms=9 mm/N
Rms=10 kg/s
Sd=11 cm2
eta0=0.12
SPL1W=83 dB
SPL2V83=84 dB
Le=15 mH
L2=16 mH
R2=17 ohm
linear=18 mm
damage=19 mm
`
	want := driver.Sheet{Re: 1, Fs: 2, Qms: 3, Qes: 4, Qts: 5, Vas: 0.006, Bl: 7, Mms: 0.008, Cms: 0.009, Rms: 10, Sd: 0.0011,
		Eta0: 0.12, SPL1W: 83, SPL2V83: 84, Le: 0.015, L2: 0.016, R2: 17, Linear: 0.018, Damage: 0.019}
	got, err := driver.Read(strings.NewReader(file), "all.txt")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "all", got, want)
}

func TestReadRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		text string
		line int
		had  string
		want string
	}{
		"empty":                  {"# nothing\n", 0, "no quantity", "at least one line"},
		"unknown key":            {"Re = 5.5 ohm\nBL = 7 N/A\n", 2, `the key "BL"`, "one of Re Sd"},
		"wrong unit":             {"Mms = 15.2 mm\n", 1, "a length for Mms", "a mass (kg)"},
		"no unit":                {"# x\n\nRe = 5.5\n", 3, "a plain number for Re", "a resistance"},
		"twice":                  {"Re = 5.5 ohm\nRe = 5.4 ohm\n", 2, `"Re" a second time, after line 1`, "once"},
		"negative":               {"Re = 5.5 ohm\nMms = -15.2 g\n", 2, "Mms = -0.0152 kg", "> 0"},
		"zero":                   {"Qms = 0\n", 1, "Qms = 0,", "> 0"},
		"NaN":                    {"Qms = NaN\n", 1, `"NaN"`, "a finite number"},
		"infinite":               {"Qms = inf\n", 1, `"inf"`, "a finite number"},
		"comma":                  {"Re = 5,5 ohm\n", 1, `"5,5"`, "decimal point"},
		"percent":                {"eta0 = 0.5 %\n", 1, `unit "%"`, "one of"},
		"truncated":              {"Re = 5.5 ohm\nFs = ", 2, `""`, "value unit"},
		"kilograms":              {"Re = 5.5 ohm\nMms = 15.2 kg\n", 2, "Mms = 15.2 kg", "to 5 kg: is the unit right?"},
		"micrograms":             {"Mms = 0.0000002 g\n", 1, "Mms = 1.99", "is the unit right?"},
		"square metres":          {"Sd = 138 m2\n", 1, "Sd = 138 m²", "to 1 m²: is the unit right?"},
		"kilohms":                {"Re = 5.5 kohm\n", 1, "Re = 5500 Ω", "is the unit right?"},
		"kilohertz":              {"Fs = 41.5 kHz\n", 1, "Fs = 41500 Hz", "is the unit right?"},
		"henries":                {"Le = 0.42 H\n", 1, "Le = 0.42 H", "is the unit right?"},
		"metres":                 {"linear = 6 m\n", 1, "linear = 6 m", "to 0.1 m: is the unit right?"},
		"litres as cubic metres": {"Vas = 26 m3\n", 1, "Vas = 26 m³", "is the unit right?"},
		"binary":                 {"Re = 5.5 ohm\n\x00\x01", 2, "byte 0x00", "text"},
	} {
		_, err := driver.Read(strings.NewReader(c.text), "sheet.txt")
		var e *quantity.ParseError
		if !errors.As(err, &e) {
			t.Errorf("%s: error %v, want a ParseError", name, err)
			continue
		}
		if e.File != "sheet.txt" || e.Line != c.line || !strings.Contains(e.Error(), c.had) || !strings.Contains(e.Want, c.want) {
			t.Errorf("%s: %v\n\twant line %d, had %q, want %q", name, e, c.line, c.had, c.want)
		}
	}
	for text, want := range map[string]string{
		"Le = 1 mH\nL2 = 1 mH\n":         "L2 and no R2",
		"R2 = 1 ohm\n":                   "R2 and no L2",
		"eta0 = 1.2\n":                   "eta0 of the sheet is 1.2",
		"linear = 6 mm\ndamage = 5 mm\n": "linear excursion limit is 0.006 m",
		"Re = 5.5 ohm\nlinear = 6 mm\n" + "damage = 5.9999 mm\n": "want at most that of damage",
	} {
		if _, err := driver.Read(strings.NewReader(text), "sheet.txt"); err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "sheet.txt") {
			t.Errorf("%q: error %v, want %q and the name of the file", text, err, want)
		}
	}
}

// What is read is valid, and reading it gives parameters or an error, never NaN.
func FuzzRead(f *testing.F) {
	f.Add("Re = 5.5 ohm\nFs = 41.5 Hz\nQms = 4.7\nQes = 0.39\nMms = 15.2 g\nSd = 138 cm2\nLe = 0.42 mH\n", 0.05)
	f.Add("Qts = 0.36\nRms = 1 kg/s\nBl = 7 Tm\nRe = 5 Ω\nFs = 40 Hz\nSPL2V83 = 87 dB # x", 0.0)
	f.Add("Qms = 1e-300\nQes=1e300\nFs=1e-200 Hz\nMms = 1e200 kg\nRe=1e-200 ohm\nSd=1 m2", 1.0)
	f.Fuzz(func(t *testing.T, text string, tol float64) {
		s, err := driver.Read(strings.NewReader(text), "fuzz")
		if err != nil {
			return
		}
		if err := s.Validate(); err != nil {
			t.Fatalf("read, but %v", err)
		}
		p, _, err := s.Params(air.Room(), tol)
		if err != nil {
			return
		}
		if err := p.Validate(); err != nil {
			t.Fatalf("%+v: %v", s, err)
		}
	})
}
