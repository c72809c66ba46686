package export

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"

	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/signal"
)

// FIR is a filter of finite length.
type FIR struct {
	Design string
	Taps   []float64
	Delay  float64 // the latency that the design states, in samples
}

// FIROf returns a filter as the document holds it.
func FIROf(f *fir.Filter) FIR { return FIR{f.String(), f.Taps(), f.Samples()} }

// Filter returns the filter at a sample rate in hertz.
func (f FIR) Filter(sampleRate float64) (*fir.Filter, error) {
	return fir.New(sampleRate, f.Taps, f.Delay, f.Design)
}

func (f FIR) validate(sampleRate float64) error {
	if err := checkText("design", f.Design); err != nil && f.Design != "" {
		return err
	}
	if !(f.Delay >= 0) || math.IsInf(f.Delay, 0) {
		return fmt.Errorf("delay is %g samples, want a finite value ≥ 0", f.Delay)
	}
	_, err := f.Filter(sampleRate)
	return err
}

// WriteWAV writes the taps as a WAV file of one channel: a sample is a tap. With
// signal.Float64 it is exact; integers are rounded, and refuse taps beyond ±1.
func (f FIR) WriteWAV(w io.Writer, sampleRate float64, e signal.Encoding) error {
	if err := f.validate(sampleRate); err != nil {
		return fmt.Errorf("export: FIR filter: %w", err)
	}
	c, err := signal.NewClip(sampleRate, f.Taps)
	if err != nil {
		return fmt.Errorf("export: FIR filter: %w", err)
	}
	return signal.WriteWAV(w, c, e)
}

// WriteCSV writes the taps as a table with a header row, one row a tap:
//
//	sample, time_s, amplitude
//
// time_s being that of the tap at the sample rate. Numbers have the fewest digits that
// read back to the same bits.
func (f FIR) WriteCSV(w io.Writer, sampleRate float64) error {
	if err := f.validate(sampleRate); err != nil {
		return fmt.Errorf("export: FIR filter: %w", err)
	}
	c := csv.NewWriter(w)
	// The writer keeps its first error until the end.
	_ = c.Write([]string{"sample", "time_s", "amplitude"})
	for i, v := range f.Taps {
		_ = c.Write([]string{strconv.Itoa(i), shortest(float64(i) / sampleRate), shortest(v)})
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return nil
}

// shortest writes a number with the fewest digits that read back to the same bits.
func shortest(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
