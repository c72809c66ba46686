package export

import (
	"fmt"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/freq"
)

// CheckPrograms reports a program that is not that of its design: of before a change, of another
// way, or of the other polarity. The responses of both are compared from 10⁻⁴ to 0.45 of the
// sample rate. The document is valid.
func (d *Document) CheckPrograms() error {
	for _, w := range d.Ways {
		if w.Program != nil {
			if err := d.alike(fmt.Sprintf("way %q", w.Name), w.Program, w.Sections, w.Gain, w.Inverted, w.FIR); err != nil {
				return err
			}
		}
		for _, s := range w.Sets {
			if s.Program != nil {
				if err := d.alike(fmt.Sprintf("way %q, set %q", w.Name, s.Setting+": "+s.Name), s.Program, s.Sections, s.Gain, false, nil); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// mostOff is the largest difference of the responses of a program and of its design, relative to
// the largest magnitude of the design: short words may be off by a good part of it, another
// polarity is off by 2 and another filter by about 1.
const mostOff = 0.6

// alike compares a program with its design. The delay is the same and left out.
func (d *Document) alike(where string, p *dsp.Program, sections []Section, gain float64, inverted bool, filters []FIR) error {
	c, err := d.cascade(sections, gain)
	if err != nil {
		return fmt.Errorf("export: %s: %w", where, err)
	}
	design := freq.Series{c.WithPolarity(inverted)}
	for _, f := range filters {
		t, err := f.Filter(d.SampleRate)
		if err != nil {
			return fmt.Errorf("export: %s: %w", where, err)
		}
		design = append(design, t)
	}
	q := *p
	q.Delay = 0
	committed, err := q.Transfer()
	if err != nil {
		return fmt.Errorf("export: %s, program: %w", where, err)
	}
	g, err := freq.LogGrid(d.SampleRate*1e-4, d.SampleRate*0.45, 6)
	if err != nil {
		return fmt.Errorf("export: %s, program: %w", where, err)
	}
	want, got := design.ResponseTo(nil, g), committed.ResponseTo(nil, g)
	var most, off, at float64
	for i := range want {
		most = max(most, cmplx.Abs(want[i]))
		if e := cmplx.Abs(got[i] - want[i]); e > off {
			off, at = e, g.At(i)
		}
	}
	if off > mostOff*most {
		return fmt.Errorf("export: %s: response of the program is off from that of the design by %.3g at %.4g Hz, where the largest of the design is %.3g, want at most %g of that: it is of another design, or its words are too short",
			where, off, at, most, mostOff)
	}
	return nil
}
