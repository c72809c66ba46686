package signal

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"

	"example.org/loudspeaker/speakerlib/internal/text"
)

// ParseError points at what cannot be read in a text file.
type ParseError = text.ParseError

// TextColumn is what a column of a text file holds.
type TextColumn int

// The columns, with their names in a "# columns:" line.
const (
	TextIgnored TextColumn = iota // ignored
	Seconds                       // time_s
	Millis                        // time_ms
	Amplitude                     // amplitude
)

var textColumns = [...]string{"ignored", "time_s", "time_ms", "amplitude"}

// String returns the name in a "# columns:" line.
func (c TextColumn) String() string {
	if c < 0 || int(c) >= len(textColumns) {
		return fmt.Sprintf("TextColumn(%d)", int(c))
	}
	return textColumns[c]
}

// TextFormat says what a text file holds. The zero value takes it from the file.
type TextFormat struct {
	Columns      []TextColumn // nil: from the "# columns:" line
	SampleRate   float64      // Hz; 0: the setting sample_rate_Hz, or the times
	DecimalComma bool         // the decimal mark is a comma, which then does not separate
	Limits       Limits
}

// Text is what a text file of samples holds.
type Text struct {
	Clip     *Clip
	Start    float64 // time of the first sample in seconds; 0 without a column of times
	Settings map[string]string
}

// ReadText reads a table of samples over time, such as an impulse response: one
// channel for each column "amplitude", with a column of times or without. Comment
// lines begin with one of * # ; " or //. Two of them count, unless the format says
// it: "# columns: time_s amplitude" (see [TextColumn]) and "# sample_rate_Hz:
// 48000"; all "# key: value" are kept as settings. Tabs, spaces, semicolons and
// (unless DecimalComma) commas separate.
//
// The times must be equally spaced, to 2 % of the sample period (what printed
// digits leave), and agree with a sample rate that is stated to a part in 1000; else
// the file is refused, and nothing is interpolated. Without times the sample rate
// must be stated. Errors are [ParseError] and name line, what was had and wanted.
func ReadText(r io.Reader, name string, f TextFormat) (*Text, error) {
	limits, err := f.Limits.filled()
	if err != nil {
		return nil, err
	}
	if !(f.SampleRate >= 0) || math.IsInf(f.SampleRate, 0) {
		return nil, fmt.Errorf("signal: TextFormat.SampleRate is %g Hz, want a finite value > 0, or 0 for that of the file", f.SampleRate)
	}
	mark, separators := byte('.'), " \t;,"
	if f.DecimalComma {
		mark, separators = ',', " \t;"
	}
	t := &Text{Settings: map[string]string{}}
	lines := text.NewLines("signal", r, name, limits.MaxBytes)
	columns := f.Columns
	var channels [][]float64
	var times []float64
	samples := 0
	for {
		more, err := lines.Next()
		if err != nil {
			return nil, err
		}
		if !more {
			break
		}
		line := bytes.TrimSpace(lines.Content)
		if len(line) == 0 {
			continue
		}
		if strings.IndexByte("*#;\"", line[0]) >= 0 || bytes.HasPrefix(line, []byte("//")) {
			key, value, ok := bytes.Cut(bytes.TrimLeft(line, "*#;\"/ \t"), []byte(":"))
			if !ok || line[0] != '#' || samples > 0 || len(t.Settings) >= maxSettings {
				continue
			}
			k, v := string(bytes.TrimSpace(key)), string(bytes.TrimSpace(value))
			if _, twice := t.Settings[k]; twice && (k == "columns" || k == "sample_rate_Hz") {
				return nil, lines.Fail(1, "a second "+k, "one")
			}
			t.Settings[k] = v
			if k == "columns" && f.Columns == nil {
				for _, c := range strings.Fields(v) {
					found := -1
					for i, known := range textColumns {
						if known == c {
							found = i
						}
					}
					if found < 0 {
						return nil, lines.Fail(1, text.Quoted([]byte(c)), "columns of "+strings.Join(textColumns[:], " "))
					}
					columns = append(columns, TextColumn(found))
				}
			}
			continue
		}
		if channels == nil {
			n, clocks := 0, 0
			for _, c := range columns {
				switch c {
				case Amplitude:
					n++
				case Seconds, Millis:
					clocks++
				case TextIgnored:
				default:
					return nil, fmt.Errorf("signal: TextFormat.Columns has %v, want the columns of the package", c)
				}
			}
			if n == 0 || n > MaxChannels || clocks > 1 {
				return nil, lines.Fail(1, fmt.Sprintf("data after the columns %v", columns),
					fmt.Sprintf(`a line "# columns: …" or TextFormat.Columns with 1 … %d amplitudes and at most one time`, MaxChannels))
			}
			channels = make([][]float64, n)
		}
		fields := bytes.FieldsFunc(line, func(r rune) bool { return strings.ContainsRune(separators, r) })
		if len(fields) != len(columns) {
			want := fmt.Sprintf("%d as the columns", len(columns))
			if bytes.IndexByte(line, ',') >= 0 {
				want += " (if the comma is the decimal mark, set TextFormat.DecimalComma)"
			}
			return nil, lines.Fail(1, fmt.Sprintf("%d fields", len(fields)), want)
		}
		if samples += len(channels); samples > limits.MaxSamples {
			return nil, lines.Fail(1, fmt.Sprintf("more than %d samples", limits.MaxSamples), "at most that (Limits.MaxSamples)")
		}
		k := 0
		for i, c := range columns {
			if c == TextIgnored {
				continue
			}
			v, want := text.Number(fields[i], mark)
			if want == "" && (math.IsNaN(v) || math.IsInf(v, 0)) {
				want = "a finite number"
			}
			if want != "" {
				return nil, lines.Fail(1+bytes.Index(lines.Content, fields[i]), text.Quoted(fields[i]), want)
			}
			switch c {
			case Amplitude:
				channels[k] = append(channels[k], v)
				k++
			case Millis:
				times = append(times, v/1000)
			default:
				times = append(times, v)
			}
		}
	}
	if channels == nil {
		return nil, &ParseError{Package: "signal", File: name, Had: "no samples", Want: "at least 1"}
	}
	rate, err := textRate(name, f, t, times, mark)
	if err != nil {
		return nil, err
	}
	if times != nil {
		t.Start = times[0]
	}
	t.Clip = &Clip{sampleRate: rate, channels: channels}
	return t, nil
}

// maxSettings is the most settings that are kept of a file.
const maxSettings = 256

// textRate returns the sample rate that is stated or that the times have.
func textRate(name string, f TextFormat, t *Text, times []float64, mark byte) (float64, error) {
	fail := func(had, want string) error {
		return &ParseError{Package: "signal", File: name, Had: had, Want: want}
	}
	stated := f.SampleRate
	if s, ok := t.Settings["sample_rate_Hz"]; ok && stated == 0 {
		v, want := text.Number([]byte(s), mark)
		if want != "" || !(v > 0) || math.IsInf(v, 0) {
			return 0, fail(fmt.Sprintf("sample_rate_Hz: %q", s), "a number > 0")
		}
		stated = v
	}
	if times == nil {
		if stated == 0 {
			return 0, fail("neither times nor a sample rate", `a line "# sample_rate_Hz: …", TextFormat.SampleRate or a column of times`)
		}
		return stated, nil
	}
	n := len(times) - 1
	if n == 0 {
		if stated == 0 {
			return 0, fail("one sample and no sample rate", "more samples, or the sample rate")
		}
		return stated, nil
	}
	period := (times[n] - times[0]) / float64(n)
	if !(period > 0) || math.IsInf(1/period, 0) || math.IsInf(period, 0) {
		return 0, fail(fmt.Sprintf("times from %g to %g s", times[0], times[n]), "times that rise")
	}
	for i, x := range times {
		if want := times[0] + float64(i)*period; !(math.Abs(x-want) <= 0.02*period) {
			return 0, fail(fmt.Sprintf("sample %d at %g s", i, x), fmt.Sprintf("%g s: times equally spaced", want))
		}
	}
	if stated == 0 {
		return 1 / period, nil
	}
	switch ratio := stated * period; {
	case math.Abs(ratio-1) <= 1e-3:
		return stated, nil
	case math.Abs(ratio/1000-1) <= 1e-3:
		return 0, fail(fmt.Sprintf("times %g s apart at a stated sample rate of %g Hz", period, stated), fmt.Sprintf("%g s: perhaps the times are milliseconds (time_ms)", 1/stated))
	case math.Abs(ratio*1000-1) <= 1e-3:
		return 0, fail(fmt.Sprintf("times %g s apart at a stated sample rate of %g Hz", period, stated), fmt.Sprintf("%g s: perhaps the times are seconds (time_s), or the rate is not in Hz", 1/stated))
	default:
		return 0, fail(fmt.Sprintf("times %g s apart at a stated sample rate of %g Hz", period, stated), fmt.Sprintf("%g s", 1/stated))
	}
}
