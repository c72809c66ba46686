package driver_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/quantity"
)

const largeFile = `# an invented driver
table Bl N/A over x mm   # outward is positive
-6   5.31

 0   7.42
+6.0 5.62e0 # the last

polynomial Kms N/mm over x mm from -5 to 4
  1.03 0.012
  0.0081
polynomial Le mH over x cm from -0.5 to 0.4
  0.4 -0.2
table Le uH over i A
-2 380
0 400
2 390
`

// What the file says, in SI by hand.
func TestReadLargeSignal(t *testing.T) {
	for name, file := range map[string]string{
		"as it is": largeFile,
		"CRLF":     strings.ReplaceAll(largeFile, "\n", "\r\n"),
		"no end":   strings.TrimSpace(largeFile),
	} {
		l, err := driver.ReadLargeSignal(strings.NewReader(file), "large.txt")
		if err != nil {
			t.Fatal(name, err)
		}
		for _, c := range []struct {
			name string
			of   *driver.Characteristic
			x, y float64
		}{
			{"Bl", l.Bl, -6e-3, 5.31}, {"Bl", l.Bl, 0, 7.42}, {"Bl", l.Bl, 6e-3, 5.62},
			{"Kms", l.Kms, 0, 1030}, {"Kms", l.Kms, 2e-3, 1030 + 24 + 32.4}, {"Kms", l.Kms, -5e-3, 1030 - 60 + 202.5},
			{"Le", l.Le, 4e-3, 0.4e-3 - 0.08e-3}, {"Le", l.Le, -5e-3, 0.5e-3},
			{"Le(i)", l.LeCurrent, -2, 380e-6}, {"Le(i)", l.LeCurrent, 2, 390e-6},
		} {
			if v, in := c.of.At(c.x); !in || math.Abs(v/c.y-1) > 1e-14 {
				t.Errorf("%s: %s at %g is %v (measured: %v), want %v", name, c.name, c.x, v, in, c.y)
			}
		}
		if from, to := l.Kms.Range(); from != -5e-3 || to != 4e-3 {
			t.Errorf("%s: Kms from %v to %v", name, from, to)
		}
	}
}

func TestReadLargeSignalRefuses(t *testing.T) {
	for name, c := range map[string]struct {
		text, had, want string
		line            int
	}{
		"empty":           {"# nothing\n", "no large-signal parameter", "a heading", 0},
		"no heading":      {"1 2\n", `"1"`, "a heading", 1},
		"unknown":         {"table Rms kg/s over x mm\n", `"Rms"`, "Bl Kms Le", 1},
		"unknown over":    {"table Bl Tm over y mm\n", `Bl over "y"`, "over x", 1},
		"Bl over current": {"table Bl Tm over i A\n", `Bl over "i"`, "Le over i", 1},
		"unit":            {"table Kms mm/N over x mm\n", `"mm/N"`, "one of N/m N/mm", 1},
		"unit of x":       {"table Bl Tm over x inch\n", `"inch"`, "one of m cm mm", 1},
		"no unit":         {"table Bl over x\n", "the heading", "table Bl N/A over x mm", 1},
		"no range":        {"polynomial Bl Tm over x mm\n", "the heading", "from -5 to 5", 1},
		"range of table":  {"table Bl Tm over x mm from -5 to 5\n", "the heading", "table Bl N/A over x mm", 1},
		"words":           {"polynomial Bl Tm over x mm from -5 till 5\n", "the heading", "from -5 to 5", 1},
		"range":           {"polynomial Bl Tm over x mm from -5 to five\n", `"five"`, "a number", 1},
		"one number":      {"table Bl Tm over x mm\n-1 7\n3\n", "1 numbers", "a place and a value", 3},
		"three numbers":   {"table Bl Tm over x mm\n-1 7 8\n", "3 numbers", "a place and a value", 2},
		"comma":           {"table Bl Tm over x mm\n-1,5 7\n", `"-1,5"`, "decimal point", 2},
		"NaN":             {"table Bl Tm over x mm\n-1 NaN\n", `"NaN"`, "number", 2},
		"falling":         {"table Bl Tm over x mm\n1 7\n0 8\n", "x = 0 after", "increase", 3},
		"one point":       {"table Bl Tm over x mm\n0 7\n", "has 1 points", "one that is", 1},
		"no points":       {"table Bl Tm over x mm\ntable Kms N/m over x mm\n", "has 0 points", "one that is", 1},
		"no coefficients": {"polynomial Bl Tm over x mm from -1 to 1\n", "has 0 coefficients", "one that is", 1},
		"many":            {"polynomial Bl Tm over x mm from -1 to 1\n1 2 3 4 5 6 7 8 9 10\n1 2 3 4 5 6 7\n", "more coefficients", "at most 16", 3},
		"twice":           {largeFile + "table Bl Tm over x mm\n", "Bl over x a second time", "once", 17},
		"one side":        {"table Bl Tm over x mm\n0 7\n3 6\n", "x = 0 to 0.003", "both sides of 0", 1},
		"swapped columns": {"table Kms N/m over x mm\n3.1 -1\n4.2 0\n5 1\n", "Kms of -1", "is the unit right?", 2},
		"mm as m":         {"table Bl Tm over x m\n-6 5\n0 7\n6 5\n", "x of -6 in SI units", "is the unit right?", 2},
		"m as mm":         {"table Bl Tm over x mm\n-0.006 5\n0 7\n0.006 5\n", "over 1.2e-05 m only", "is the unit right?", 1},
		"H for mH":        {"table Le H over x mm\n-6 0.4e-10\n", "Le of 4e-11", "is the unit right?", 2},
		"range in m":      {"polynomial Bl Tm over x m from -6 to 6\n7\n", "x of -6", "is the unit right?", 1},
		"mm and m of Kms": {"polynomial Kms N/m over x mm from -5 to 5\n1.03\n", "Kms of 1.03", "is the unit right?", 1},
		"negative Kms":    {"polynomial Kms N/mm over x mm from -5 to 5\n1 -0.5\n", "Kms of -1500", "is the unit right?", 1},
		"huge":            {"polynomial Bl Tm over x mm from -5 to 5\n1 0 0 0 1e300\n", "terms up to", "one that is", 1},
		"binary":          {"table Bl Tm over x mm\n\x00\n", "byte 0x00", "text", 2},
	} {
		_, err := driver.ReadLargeSignal(strings.NewReader(c.text), "large.txt")
		var e *quantity.ParseError
		if !errors.As(err, &e) {
			t.Errorf("%s: error %v, want a ParseError", name, err)
			continue
		}
		if e.Package != "driver" || e.File != "large.txt" || e.Line != c.line || !strings.Contains(e.Had, c.had) || !strings.Contains(e.Want, c.want) {
			t.Errorf("%s: %v\n\twant line %d, had %q, want %q", name, e, c.line, c.had, c.want)
		}
	}
	// The one thing that the lines do not show.
	if _, err := driver.ReadLargeSignal(strings.NewReader("table Bl Tm over x mm\n-1 7\n0 0\n1 7\n"), "large.txt"); err == nil || !strings.Contains(err.Error(), "Bl(x) is 0 N/A at rest") || !strings.Contains(err.Error(), "large.txt") {
		t.Errorf("error %v", err)
	}
}

// What is read is valid and has limits, or none because the parameters are absurd.
func FuzzReadLargeSignal(f *testing.F) {
	f.Add(largeFile)
	f.Add("polynomial Bl Tm over x m from -1e-2 to 1e-2\n7 1e2 -4e4 1e5")
	f.Add("table Kms N/m over x cm\r\n-.1 1e3\r.1 1e3\n#")
	f.Add("table Le mH over i mA\n-1e-300 1\n1e-300 1\n")
	p, m := driver.Params{Re: 5.5, Bl: 7.4, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.84, Sd: 0.0138}, air.Room()
	f.Fuzz(func(t *testing.T, text string) {
		l, err := driver.ReadLargeSignal(strings.NewReader(text), "fuzz")
		if err != nil {
			return
		}
		if err := l.Validate(); err != nil {
			t.Fatalf("read, but %v", err)
		}
		list, err := l.DisplacementLimits(p, m)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range list {
			if !(d.X > 0 && d.X <= 0.1) {
				t.Fatalf("%q: limit %+v", text, d)
			}
		}
		for _, c := range []*driver.Characteristic{l.Bl, l.Kms, l.Le, l.LeCurrent} {
			if c == nil {
				continue
			}
			from, to := c.Range()
			for _, x := range []float64{from, 0, to, 1.5 * to, from + (to-from)/3} {
				if v, in := c.At(x); math.IsNaN(v) || math.IsInf(v, 0) || in != (x >= from && x <= to) {
					t.Fatalf("%q: %v at %v, measured: %v", text, v, x, in)
				}
			}
			_, _ = c.Centre((to - from) / 5)
		}
	})
}
