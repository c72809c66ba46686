package export

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
)

// WriteCSV writes a valid document as a table, one row a section, with a header
// row:
//
//	way, sample_rate_hz, polarity, gain_ratio, delay_samples, section, b0, b1, b2, a1, a2, design
//
// A way without sections has one row with section 0 of a wire (b0 = 1). Numbers
// have the fewest digits that read back to the same bits; decimal point, comma
// as the separator, lines end in LF.
func (d *Document) WriteCSV(w io.Writer) error {
	if err := d.Validate(); err != nil {
		return err
	}
	c := csv.NewWriter(w)
	// The writer keeps its first error until the end.
	_ = c.Write([]string{"way", "sample_rate_hz", "polarity", "gain_ratio", "delay_samples", "section", "b0", "b1", "b2", "a1", "a2", "design"})
	num := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	for _, way := range d.Ways {
		p := normal
		if way.Inverted {
			p = inverted
		}
		head := []string{way.Name, num(d.SampleRate), string(p), num(way.Gain), strconv.Itoa(way.Delay)}
		if len(way.Sections) == 0 {
			_ = c.Write(append(head[:5:5], "0", "1", "0", "0", "0", "0", "wire"))
		}
		for i, s := range way.Sections {
			q := s.Coefficients
			_ = c.Write(append(head[:5:5], strconv.Itoa(i+1), num(q.B0), num(q.B1), num(q.B2), num(q.A1), num(q.A2), s.Design))
		}
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return nil
}
