package quantity_test

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/quantity"
)

func ExampleRead() {
	const file = `# a cabinet
box_volume = 15.2 L    # before the tube
tuning = 49 Hz
`
	q, err := quantity.Read(strings.NewReader(file), "cabinet.txt")
	if err != nil {
		fmt.Println(err)
		return
	}
	v, err := q.In("box_volume", quantity.CubicMetre)
	fmt.Println(v, err)
	_, err = q.In("tuning", quantity.Metre)
	fmt.Println(err)
	// Output:
	// 0.0152 <nil>
	// quantity: cabinet.txt:3: had a frequency for tuning (49 Hz), want a length (m)
}

func TestUnits(t *testing.T) {
	for text, c := range map[string]struct {
		value float64
		unit  quantity.Unit
	}{
		"3": {3, quantity.One}, "-0.25": {-0.25, quantity.One}, "98.5 dB": {98.5, quantity.Decibel},
		"2.3 kHz": {2300, quantity.Hertz}, "41.5 Hz": {41.5, quantity.Hertz},
		"28 ms": {0.028, quantity.Second}, "18.7 us": {18.7e-6, quantity.Second}, "18.7 µs": {18.7e-6, quantity.Second}, "3 s": {3, quantity.Second},
		"6 mm": {0.006, quantity.Metre}, "52 mm": {0.052, quantity.Metre}, "7 cm": {0.07, quantity.Metre}, "1 m": {1, quantity.Metre},
		"138 cm2": {0.0138, quantity.SquareMetre}, "138 cm²": {0.0138, quantity.SquareMetre}, "2 m2": {2, quantity.SquareMetre}, "2 m²": {2, quantity.SquareMetre},
		"15.2 L": {0.0152, quantity.CubicMetre}, "1 m3": {1, quantity.CubicMetre}, "1 m³": {1, quantity.CubicMetre},
		"15.2 g": {0.0152, quantity.Kilogram}, "340 mg": {340e-6, quantity.Kilogram}, "7 kg": {7, quantity.Kilogram},
		"20 m/s":  {20, quantity.MetrePerSecond},
		"5.5 ohm": {5.5, quantity.Ohm}, "5.5 Ω": {5.5, quantity.Ohm}, "320 mohm": {0.32, quantity.Ohm}, "4.7 kohm": {4700, quantity.Ohm},
		"0.42 mH": {0.42e-3, quantity.Henry}, "30 uH": {30e-6, quantity.Henry}, "30 µH": {30e-6, quantity.Henry}, "1 H": {1, quantity.Henry},
		"6.8 uF": {6.8e-6, quantity.Farad}, "6.8 µF": {6.8e-6, quantity.Farad}, "3.3 nF": {3.3e-9, quantity.Farad}, "1 F": {1, quantity.Farad},
		"26 V": {26, quantity.Volt}, "5 mV": {0.005, quantity.Volt}, "5 uV": {5e-6, quantity.Volt}, "5 µV": {5e-6, quantity.Volt},
		"12 A": {12, quantity.Ampere}, "100 W": {100, quantity.Watt},
		"20 uPa": {20e-6, quantity.Pascal}, "20 µPa": {20e-6, quantity.Pascal}, "101.325 kPa": {101325, quantity.Pascal}, "2 Pa": {2, quantity.Pascal},
		"7.48 N/A": {7.48, quantity.NewtonPerAmpere}, "7.48 Tm": {7.48, quantity.NewtonPerAmpere},
		"0.97 mm/N": {0.97e-3, quantity.MetrePerNewton}, "1 m/N": {1, quantity.MetrePerNewton},
		"0.84 kg/s": {0.84, quantity.KilogramPerSecond},
		"293.15 K":  {293.15, quantity.Kelvin}, "20 degC": {293.15, quantity.Kelvin},
		"4.5 K/W": {4.5, quantity.KelvinPerWatt}, "380 J/K": {380, quantity.JoulePerKelvin},
	} {
		q, err := quantity.Read(strings.NewReader("x = "+text), "units.txt")
		if err != nil {
			t.Error(err)
			continue
		}
		got, err := q.In("x", c.unit)
		if err != nil || math.Abs(got-c.value) > 2e-16*math.Abs(c.value) {
			t.Errorf("%s is %v (%v), want %v", text, got, err, c.value)
		}
	}
}

func TestQuantitiesKeepOrderAndNotes(t *testing.T) {
	q, err := quantity.Read(strings.NewReader("\xef\xbb\xbfb=1 m# first\r\n\r\n# c\r\n  a_2   =   2\t kHz   #   second # too \r\n"), "q.txt")
	if err != nil {
		t.Fatal(err)
	}
	want := "[{b 1 m first 1} {a_2 2000 Hz second # too 4}]"
	if got := fmt.Sprint(q.All()); got != want || q.Name() != "q.txt" {
		t.Errorf("%s, want %s", got, want)
	}
	if _, err := q.Quantity("c"); err == nil || !strings.Contains(err.Error(), "q.txt: had no c, want a line c = value unit") {
		t.Errorf("error %v, want that c is not there", err)
	}
}

func TestQuantitiesRefuse(t *testing.T) {
	for name, c := range map[string]struct {
		text         string
		line, column int
		had, want    string
	}{
		"empty":       {"# nothing\n", 0, 0, "no quantity", "at least one"},
		"no equals":   {"a = 1\nbox 15.2 L\n", 2, 1, `"box 15.2 L"`, "key = value unit"},
		"no value":    {"box = # 1\n", 1, 6, `""`, "value unit"},
		"three":       {"box = 15.2 L more\n", 1, 6, `"15.2 L more"`, "value unit"},
		"key":         {"box volume = 1\n", 1, 1, `"box volume"`, "letters, digits and _"},
		"no key":      {" = 1\n", 1, 1, `""`, "letters"},
		"twice":       {"a = 1\nb = 2\na = 3\n", 3, 1, `"a" a second time, after line 1`, "once"},
		"comma":       {"box = 15,2 L\n", 1, 7, `"15,2"`, "decimal point"},
		"unit":        {"box = 15.2 litres\n", 1, 12, `unit "litres"`, "L"},
		"case":        {"f = 2 khz\n", 1, 7, `unit "khz"`, "kHz"},
		"unit alike":  {"m = 1 mm2\n", 1, 7, `unit "mm2"`, "cm2"},
		"NaN":         {"a = nan V\n", 1, 5, `"nan"`, "finite"},
		"glued":       {"a = 26V\n", 1, 5, `"26V"`, "a number"},
		"binary":      {"a = 1\x00\n", 1, 6, "0x00", "text"},
		"infinite":    {"a = 1e400 m\n", 1, 5, `"1e400"`, "float64"},
		"too large":   {"a = 1e307 kHz\n", 1, 5, `"1e307" kHz`, "float64 can hold in Hz"},
		"too small":   {"a = 1e-323 mg\n", 1, 5, `"1e-323" mg`, "float64 can hold in kg"},
		"two in one":  {"a = b = 1\n", 1, 4, `"b = 1"`, "value unit"},
		"UTF-16":      {"\xff\xfea\x00", 1, 1, "UTF-16", "UTF-8"},
		"minus alone": {"a = - V\n", 1, 5, `"-"`, "a number"},
	} {
		_, err := quantity.Read(strings.NewReader(c.text), "q.txt")
		var e *quantity.ParseError
		if !errors.As(err, &e) {
			t.Errorf("%s: error %v, want a ParseError", name, err)
			continue
		}
		if e.Line != c.line || e.Column != c.column || !strings.Contains(e.Had, c.had) || !strings.Contains(e.Want, c.want) {
			t.Errorf("%s: %v\n\twant line %d, column %d, had %q, want %q", name, e, c.line, c.column, c.had, c.want)
		}
	}
}

func FuzzRead(f *testing.F) {
	f.Add("a = 1 m # x\nb=2")
	f.Add("a = 1 degC\n\n#\nb = -1e3 dB")
	f.Fuzz(func(t *testing.T, text string) {
		q, err := quantity.Read(strings.NewReader(text), "fuzz")
		if err != nil {
			var e *quantity.ParseError
			if !errors.As(err, &e) {
				t.Fatalf("%v is no ParseError", err)
			}
			return
		}
		for _, v := range q.All() {
			if got, err := q.In(v.Key, v.Unit); err != nil || got != v.Value || math.IsNaN(got) || math.IsInf(got, 0) {
				t.Fatalf("%s: %v %v", v.Key, got, err)
			}
		}
	})
}
