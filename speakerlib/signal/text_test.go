package signal_test

import (
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/signal"
)

func TestReadText(t *testing.T) {
	for _, c := range []struct {
		name, in string
		f        signal.TextFormat
		rate     float64
		start    float64
		frames   []float64
	}{
		{"a column and a rate", "# columns: amplitude\n# sample_rate_Hz: 48000\n0.5\n-1e-3\n", signal.TextFormat{}, 48000, 0, []float64{0.5, -1e-3}},
		{"times", "# columns: time_s amplitude amplitude\n-0.001;1;2\n0;3;4\n0.001;5;6\n", signal.TextFormat{}, 1000, -1e-3, []float64{1, 2, 3, 4, 5, 6}},
		{"milliseconds, comma", "* x\n0,00 0,5\n0,02 1,5\n0,04 2,5", signal.TextFormat{Columns: []signal.TextColumn{signal.Millis, signal.Amplitude}, DecimalComma: true}, 50000, 0, []float64{0.5, 1.5, 2.5}},
		// 1/48000 s = 20.8333… µs, printed to five digits.
		{"rounded times, stated rate", "0 1\n.00002083 2\n.00004167 3\n.0000625 4\n", signal.TextFormat{Columns: []signal.TextColumn{signal.Seconds, signal.Amplitude}, SampleRate: 48000}, 48000, 0, []float64{1, 2, 3, 4}},
		{"left out", "9 1\n9 2\n", signal.TextFormat{Columns: []signal.TextColumn{signal.TextIgnored, signal.Amplitude}, SampleRate: 8000}, 8000, 0, []float64{1, 2}},
	} {
		x, err := signal.ReadText(strings.NewReader(c.in), c.name, c.f)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got := x.Clip.SampleRate(); math.Abs(got/c.rate-1) > 1e-12 || x.Start != c.start || !slices.Equal(frames(x.Clip), c.frames) {
			t.Errorf("%s: %g Hz, %g s, %v; want %g, %g, %v", c.name, got, x.Start, frames(x.Clip), c.rate, c.start, c.frames)
		}
	}
}

func TestReadTextRefuses(t *testing.T) {
	two := signal.TextFormat{Columns: []signal.TextColumn{signal.Seconds, signal.Amplitude}}
	one := signal.TextFormat{Columns: []signal.TextColumn{signal.Amplitude}, SampleRate: 48000}
	at := two
	at.SampleRate = 1000
	few := one
	few.Limits.MaxSamples = 1
	for _, c := range []struct {
		name, in  string
		f         signal.TextFormat
		line      int
		had, want string
	}{
		{"nothing", "", one, 0, "no samples", "at least 1"},
		{"no columns", "1 2\n", signal.TextFormat{}, 1, "data after", "columns"},
		{"unknown column", "# columns: time volts\n", signal.TextFormat{}, 1, `"time"`, "amplitude"},
		{"word", "1\nx\n", one, 2, `"x"`, "number"},
		{"NaN", "NaN\n", one, 1, "NaN", "number"},
		{"overflow", "1e999\n", one, 1, "1e999", ""},
		{"decimal comma", "0,5\n", one, 1, "2 fields", "DecimalComma"},
		{"no rate", "1\n", signal.TextFormat{Columns: one.Columns}, 0, "neither times", "sample_rate_Hz"},
		{"bad rate", "# sample_rate_Hz: -3\n1\n", signal.TextFormat{Columns: one.Columns}, 0, "-3", "> 0"},
		{"uneven", "0 1\n1 1\n2.1 1\n3 1\n", two, 0, "sample 2 at 2.1 s", "2 s: times equally"},
		{"falling", "1 1\n0 1\n", two, 0, "from 1 to 0", "rise"},
		{"milliseconds for seconds", "0 1\n1 1\n2 1\n", at, 0, "times 1 s apart", "milliseconds"},
		{"seconds for milliseconds", "0 1\n.000001 1\n.000002 1\n", at, 0, "times 1e-06 s", "seconds (time_s)"},
		{"another rate", "0 1\n.002 1\n.004 1\n", at, 0, "times 0.002 s", "0.001 s"},
		{"too many", "1\n2\n", few, 2, "more than 1 samples", "MaxSamples"},
	} {
		_, err := signal.ReadText(strings.NewReader(c.in), c.name, c.f)
		var e *signal.ParseError
		if !errors.As(err, &e) || e.Line != c.line || !strings.Contains(e.Had, c.had) || !strings.Contains(e.Want, c.want) {
			t.Errorf("%s: %v; want line %d, %q, %q", c.name, err, c.line, c.had, c.want)
		}
	}
}

func FuzzReadText(f *testing.F) {
	f.Add("# columns: time_s amplitude\n0 1\n1 2\n", false)
	f.Add("# columns: amplitude\n# sample_rate_Hz: 48000\n0,5\n", true)
	f.Fuzz(func(t *testing.T, in string, comma bool) {
		x, err := signal.ReadText(strings.NewReader(in), "fuzz", signal.TextFormat{DecimalComma: comma})
		if err != nil {
			return
		}
		var all [][]float64
		for k := range x.Clip.Channels() {
			s, _ := x.Clip.Channel(k)
			all = append(all, s)
		}
		if _, err := signal.NewClip(x.Clip.SampleRate(), all...); err != nil {
			t.Fatal(err)
		}
	})
}
