package measure_test

import (
	"fmt"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/measure"
)

// What people read names every case, and the odd one out by its number.
func TestWords(t *testing.T) {
	for k := measure.Unsorted; k <= measure.NoLineEnd; k++ {
		if s := k.String(); strings.HasPrefix(s, "Kind(") {
			t.Errorf("kind %d has no name", int(k))
		}
	}
	for u := measure.One; u <= measure.Kelvin; u++ {
		if s := u.String(); s == "" || strings.HasPrefix(s, "Unit(") {
			t.Errorf("unit %d has no symbol", int(u))
		}
	}
	for c := measure.Ignored; c <= measure.Imaginary; c++ {
		if s := c.String(); strings.HasPrefix(s, "Column(") {
			t.Errorf("column %d has no name", int(c))
		}
	}
	for got, want := range map[string]string{
		measure.Kind(99).String():     "Kind(99)",
		measure.Unit(99).String():     "Unit(99)",
		measure.Column(99).String():   "Column(99)",
		measure.PhaseRadians.String(): "phase_rad",
		measure.Kelvin.String():       "K",
		fmt.Sprint(measure.Check{From: 300, To: 15e3, Residual: -44.42, Delay: -0.15e-6, Gain: 1, Left: -57}): "sum against both, 300 … 15000 Hz: residual -44.4 dB, relative delay -0.15 µs, level +0.00 dB; residual with both taken out -57.0 dB",
		fmt.Sprint(measure.Join{From: 260, To: 420, Gain: 0.5, Delay: 1e-3, Level: 0.1, Phase: 0.0174532925}): "joined over 260 … 420 Hz: lower part -6.02 dB and +1000.0 µs, left over 0.10 dB and 1.0°",
		(&measure.ParseError{Package: "measure", File: "a", Had: "b", Want: "c"}).Error():                     "measure: a: had b, want c",
		(&measure.ParseError{Package: "measure", File: "a", Line: 2, Had: "b", Want: "c"}).Error():            "measure: a:2: had b, want c",
		(&measure.ParseError{Package: "measure", File: "a", Line: 2, Column: 3, Had: "b", Want: "c"}).Error(): "measure: a:2:3: had b, want c",
	} {
		if got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	tb, err := measure.ReadResponse(strings.NewReader("20 80 0\n"), `C:\data\woofer.axis.txt`, levelPhase)
	if err != nil || tb.Label() != "woofer.axis" || tb.Name() != `C:\data\woofer.axis.txt` {
		t.Errorf("label %q of %q (%v)", tb.Label(), tb.Name(), err)
	}
	long := strings.Repeat("x", 100)
	if _, err := measure.ReadResponse(strings.NewReader("20 "+long+" 0\n"), "f", levelPhase); err == nil || strings.Contains(err.Error(), long) {
		t.Errorf("error %v, want a shortened quotation", err)
	}
}

// Settings are kept up to a limit, and those that matter are never lost silently.
func TestSettingsAreLimited(t *testing.T) {
	var many strings.Builder
	for i := range 300 {
		fmt.Fprintf(&many, "# key%d: %d\n", i, i)
	}
	tb, err := measure.ReadResponse(strings.NewReader(many.String()+"20 80 0\n"), "f", levelPhase)
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := tb.Setting("key255"); !ok {
		t.Error("setting 255 is lost")
	}
	if _, ok := tb.Setting("key256"); ok {
		t.Error("setting 256 is kept")
	}
	if _, err := measure.ReadResponse(strings.NewReader(many.String()+"# drive_V: 2\n20 80 0\n"), "f", levelPhase); err == nil || !strings.Contains(err.Error(), "more settings than are kept") {
		t.Errorf("error %v, want that the drive could not be kept", err)
	}
}
