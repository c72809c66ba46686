package export

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"

	"example.org/loudspeaker/speakerlib/dsp"
)

// WriteCSV writes a valid document as a table, one row a section of the design, with a
// header row:
//
//	way, sample_rate_hz, polarity, gain_ratio, delay_samples, section, b0, b1, b2, a1, a2, design
//
// and, if a way has sets, two columns more, setting and set, which are empty for the
// way's own chain; if a setting has a default, also a column default: true or false of a
// set, empty for the way's own chain. A chain without sections has one row with section 0 of a wire
// (b0 = 1). Numbers have the fewest digits that read back to the same bits; decimal
// point, comma as the separator, lines end in LF. FIR filters have files of their own
// ([FIR.WriteCSV]), and so have programs ([Document.WriteProgramCSV]).
func (d *Document) WriteCSV(w io.Writer) error {
	if err := d.Validate(); err != nil {
		return err
	}
	head := []string{"way", "sample_rate_hz", "polarity", "gain_ratio", "delay_samples", "section", "b0", "b1", "b2", "a1", "a2", "design"}
	sets := false
	for _, way := range d.Ways {
		sets = sets || len(way.Sets) > 0
	}
	if sets {
		head = append(head, "setting", "set")
	}
	defaults := d.hasDefault()
	if defaults {
		head = append(head, "default")
	}
	c := csv.NewWriter(w)
	// The writer keeps its first error until the end.
	_ = c.Write(head)
	for _, way := range d.Ways {
		p := normal
		if way.Inverted {
			p = inverted
		}
		chain := func(p polarity, gain float64, delay int, sections []Section, setting, set, shipped string) {
			row := func(section int, q [5]string, design string) {
				r := []string{way.Name, shortest(d.SampleRate), string(p), shortest(gain), strconv.Itoa(delay), strconv.Itoa(section), q[0], q[1], q[2], q[3], q[4], design}
				if sets {
					r = append(r, setting, set)
				}
				if defaults {
					r = append(r, shipped)
				}
				_ = c.Write(r)
			}
			if len(sections) == 0 {
				row(0, [5]string{"1", "0", "0", "0", "0"}, "wire")
			}
			for i, s := range sections {
				q := s.Coefficients
				row(i+1, [5]string{shortest(q.B0), shortest(q.B1), shortest(q.B2), shortest(q.A1), shortest(q.A2)}, s.Design)
			}
		}
		chain(p, way.Gain, way.Delay, way.Sections, "", "", "")
		for _, s := range way.Sets {
			chain(normal, s.Gain, 0, s.Sections, s.Setting, s.Name, strconv.FormatBool(s.Default))
		}
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return nil
}

// WriteProgramCSV writes the programs of a valid document as a table, one row a
// coefficient, with a header row:
//
//	way, setting, set, part, structure, coefficient, word, shift, low, low_bits, value, input_shift, feedback_order
//
// and, if a setting has a default, a column more, default, as in [Document.WriteCSV].
// part is "section 1" and so on, "gain", or "fir 1" and so on. In fixed point the
// coefficient is word·2^−shift + low·2^−(shift + low_bits), in integers; in floating
// point value, with the fewest digits that read back to the same bits. Delay and
// arithmetic are in the JSON document. A document without a program is an error.
func (d *Document) WriteProgramCSV(w io.Writer) error {
	if err := d.Validate(); err != nil {
		return err
	}
	c := csv.NewWriter(w)
	head := []string{"way", "setting", "set", "part", "structure", "coefficient", "word", "shift", "low", "low_bits", "value", "input_shift", "feedback_order"}
	defaults := d.hasDefault()
	if defaults {
		head = append(head, "default")
	}
	// The writer keeps its first error until the end.
	_ = c.Write(head)
	programs := 0
	write := func(way, setting, set, shipped string, p *dsp.Program) {
		if p == nil {
			return
		}
		programs++
		row := func(part, structure, name string, q dsp.Coefficient, shift, inputShift, feedback int) {
			r := []string{way, setting, set, part, structure, name, "", "", "", "", "", strconv.Itoa(inputShift), strconv.Itoa(feedback)}
			if p.Arithmetic.Signal.Number == dsp.FixedPoint {
				r[6], r[7], r[8], r[9] = strconv.FormatInt(q.Word, 10), strconv.Itoa(q.Shift-shift), strconv.FormatInt(q.Low, 10), strconv.Itoa(q.LowBits)
			} else {
				r[10] = shortest(q.Value)
			}
			if defaults {
				r = append(r, shipped)
			}
			_ = c.Write(r)
		}
		for i, s := range p.Sections {
			for k, name := range s.Structure.Names() {
				row(fmt.Sprintf("section %d", i+1), structures[s.Structure], name, s.Coefficients[k], 0, s.InputShift, s.Feedback)
			}
		}
		if p.Gain != nil {
			row("gain", "", "gain", p.Gain.Coefficient, p.Gain.Shift, 0, 0)
		}
		for i, f := range p.FIR {
			for k, q := range f.Taps {
				row(fmt.Sprintf("fir %d", i+1), "", "h"+strconv.Itoa(k), q, 0, 0, 0)
			}
		}
	}
	for _, way := range d.Ways {
		write(way.Name, "", "", "", way.Program)
		for _, s := range way.Sets {
			write(way.Name, s.Setting, s.Name, strconv.FormatBool(s.Default), s.Program)
		}
	}
	if programs == 0 {
		return fmt.Errorf("export: no way has a program, want one to write")
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return nil
}
