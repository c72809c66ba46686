package export

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/digital"
)

// The document as it is on the wire. Pointers tell a missing field from zero; what
// a version does not have is left out of it.
type (
	wireDocument struct {
		Format     *string     `json:"format"`
		Version    *int        `json:"version"`
		Study      *string     `json:"study"`
		Date       *string     `json:"date"`
		SampleRate *float64    `json:"sample_rate_hz"`
		Words      *WordFormat `json:"word_format"`
		Unit       *wireUnit   `json:"unit,omitempty"`
		Ways       []wireWay   `json:"ways"`
		Inputs     []wireInput `json:"inputs"`
		InputsSum  *string     `json:"inputs_sha256,omitempty"`
	}
	wireUnit struct {
		Side   *string `json:"cabinet_side"`
		Serial *string `json:"serial"`
		Board  *string `json:"board"`
	}
	wireWay struct {
		Name     *string       `json:"name"`
		Polarity *polarity     `json:"polarity"`
		Gain     *float64      `json:"gain_ratio"`
		Delay    *int          `json:"delay_samples"`
		Sections []wireSection `json:"sections"`
		FIR      *[]wireFIR    `json:"fir,omitempty"`
		Program  *wireProgram  `json:"program,omitempty"`
		Sets     *[]wireSet    `json:"sets,omitempty"`
	}
	wireSection struct {
		Design *string  `json:"design"`
		B0     *float64 `json:"b0"`
		B1     *float64 `json:"b1"`
		B2     *float64 `json:"b2"`
		A1     *float64 `json:"a1"`
		A2     *float64 `json:"a2"`
	}
	wireFIR struct {
		Design *string   `json:"design"`
		Delay  *float64  `json:"latency_samples"`
		Taps   []float64 `json:"taps"`
	}
	wireSet struct {
		Setting  *string       `json:"setting"`
		Name     *string       `json:"name"`
		Gain     *float64      `json:"gain_ratio"`
		Sections []wireSection `json:"sections"`
		Program  *wireProgram  `json:"program,omitempty"`
		Default  *bool         `json:"default,omitempty"`
	}
	wireInput struct {
		Path   *string `json:"path"`
		SHA256 *string `json:"sha256"`
	}
	polarity string
)

const (
	normal   polarity = "normal"
	inverted polarity = "inverted"
)

// fields are the names that occur, to be matched exactly: encoding/json would
// take b0 for B0. A version knows the first of them.
var (
	fields = []string{
		"format", "version", "study", "date", "sample_rate_hz", "word_format", "ways", "inputs",
		"name", "polarity", "gain_ratio", "delay_samples", "sections",
		"design", "b0", "b1", "b2", "a1", "a2", "path", "sha256",
		// version 2
		"unit", "cabinet_side", "serial", "board", "inputs_sha256",
		"fir", "latency_samples", "taps", "sets", "setting", "program",
		"arithmetic", "signal", "coefficient", "accumulator_bits", "rounding", "overflow", "exponent_bits",
		"structure", "input_shift", "scale_bits", "feedback_order", "coefficients", "gain",
		"value", "word", "shift", "low", "low_bits", "values", "words", "lows",
		// version 3
		"default",
	}
	known = [Version]int{21, 53, len(fields)}
)

// wire returns the document as it is written.
func (d *Document) wire() wireDocument {
	format, version := Format, d.version()
	out := wireDocument{
		Format: &format, Version: &version, Study: &d.Study, Date: &d.Date,
		SampleRate: &d.SampleRate, Words: &d.Words, Ways: []wireWay{}, Inputs: []wireInput{},
	}
	for i := range d.Ways {
		w := &d.Ways[i]
		p := normal
		if w.Inverted {
			p = inverted
		}
		ww := wireWay{Name: &w.Name, Polarity: &p, Gain: &w.Gain, Delay: &w.Delay, Sections: wireSections(w.Sections)}
		if version > 1 {
			ww.FIR, ww.Sets, ww.Program = &[]wireFIR{}, &[]wireSet{}, wireProgramOf(w.Program)
			for k := range w.FIR {
				f := &w.FIR[k]
				*ww.FIR = append(*ww.FIR, wireFIR{&f.Design, &f.Delay, f.Taps})
			}
			for k := range w.Sets {
				s := &w.Sets[k]
				ws := wireSet{&s.Setting, &s.Name, &s.Gain, wireSections(s.Sections), wireProgramOf(s.Program), nil}
				if version > 2 {
					ws.Default = &s.Default
				}
				*ww.Sets = append(*ww.Sets, ws)
			}
		}
		out.Ways = append(out.Ways, ww)
	}
	for i := range d.Inputs {
		out.Inputs = append(out.Inputs, wireInput{&d.Inputs[i].Path, &d.Inputs[i].SHA256})
	}
	if version > 1 {
		side, sum := d.Unit.Side.String(), d.InputsSHA256()
		out.Unit, out.InputsSum = &wireUnit{&side, &d.Unit.Serial, &d.Unit.Board}, &sum
	}
	return out
}

func wireSections(sections []Section) []wireSection {
	out := []wireSection{}
	for k := range sections {
		s := &sections[k]
		c := &s.Coefficients
		out = append(out, wireSection{&s.Design, &c.B0, &c.B1, &c.B2, &c.A1, &c.A2})
	}
	return out
}

// missing tells of a field that is not there.
func missing(where, name string) error {
	return fmt.Errorf("export: %s has no field %s, or null", where, name)
}

// field is a name, and whether it is not there.
type field struct {
	name string
	gone bool
}

// require reports the first field that is not there.
func require(where string, fields ...field) error {
	for _, f := range fields {
		if f.gone {
			return missing(where, f.name)
		}
	}
	return nil
}

// document checks that nothing is missing that a version has.
func (in wireDocument) document(version int) (*Document, error) {
	later := version > 1
	if err := require("document", field{"study", in.Study == nil}, field{"date", in.Date == nil}, field{"sample_rate_hz", in.SampleRate == nil},
		field{"word_format", in.Words == nil}, field{"ways", in.Ways == nil}, field{"inputs", in.Inputs == nil},
		field{"unit", later && in.Unit == nil}, field{"inputs_sha256", later && in.InputsSum == nil}); err != nil {
		return nil, err
	}
	d := &Document{Study: *in.Study, Date: *in.Date, SampleRate: *in.SampleRate, Words: *in.Words}
	if u := in.Unit; u != nil {
		if err := require("unit", field{"cabinet_side", u.Side == nil}, field{"serial", u.Serial == nil}, field{"board", u.Board == nil}); err != nil {
			return nil, err
		}
		d.Unit = Unit{Side: -1, Serial: *u.Serial, Board: *u.Board}
		for i, s := range sides {
			if s == *u.Side {
				d.Unit.Side = Side(i)
			}
		}
		if d.Unit.Side < 0 {
			return nil, fmt.Errorf("export: cabinet_side is %q, want one of %q", *u.Side, sides)
		}
	}
	for i, w := range in.Ways {
		way, err := w.way(fmt.Sprintf("way %d", i+1), d.SampleRate, version)
		if err != nil {
			return nil, err
		}
		d.Ways = append(d.Ways, way)
	}
	for i, p := range in.Inputs {
		if err := require(fmt.Sprintf("input %d", i+1), field{"path", p.Path == nil}, field{"sha256", p.SHA256 == nil}); err != nil {
			return nil, err
		}
		d.Inputs = append(d.Inputs, Input{*p.Path, *p.SHA256})
	}
	return d, nil
}

func (w wireWay) way(where string, sampleRate float64, version int) (Way, error) {
	later := version > 1
	if err := require(where, field{"name", w.Name == nil}, field{"polarity", w.Polarity == nil}, field{"gain_ratio", w.Gain == nil},
		field{"delay_samples", w.Delay == nil}, field{"sections", w.Sections == nil}, field{"fir", later && w.FIR == nil}, field{"sets", later && w.Sets == nil}); err != nil {
		return Way{}, err
	}
	if *w.Polarity != normal && *w.Polarity != inverted {
		return Way{}, fmt.Errorf("export: %s: polarity is %q, want %q or %q", where, *w.Polarity, normal, inverted)
	}
	out := Way{Name: *w.Name, Inverted: *w.Polarity == inverted, Gain: *w.Gain, Delay: *w.Delay}
	where = fmt.Sprintf("way %q", out.Name)
	var err error
	if out.Sections, err = sectionsOf(where, w.Sections); err != nil {
		return Way{}, err
	}
	if w.Program != nil {
		if out.Program, err = w.Program.program(where+", program", sampleRate); err != nil {
			return Way{}, err
		}
	}
	if !later {
		return out, nil
	}
	for k, f := range *w.FIR {
		if err := require(fmt.Sprintf("%s, FIR filter %d", where, k+1), field{"design", f.Design == nil}, field{"latency_samples", f.Delay == nil}, field{"taps", f.Taps == nil}); err != nil {
			return Way{}, err
		}
		out.FIR = append(out.FIR, FIR{*f.Design, f.Taps, *f.Delay})
	}
	for k, s := range *w.Sets {
		if err := require(fmt.Sprintf("%s, set %d", where, k+1), field{"setting", s.Setting == nil}, field{"name", s.Name == nil},
			field{"gain_ratio", s.Gain == nil}, field{"sections", s.Sections == nil}, field{"default", version > 2 && s.Default == nil}); err != nil {
			return Way{}, err
		}
		set := Set{Setting: *s.Setting, Name: *s.Name, Gain: *s.Gain, Default: s.Default != nil && *s.Default}
		in := fmt.Sprintf("%s, set %q", where, set.Setting+": "+set.Name)
		if set.Sections, err = sectionsOf(in, s.Sections); err != nil {
			return Way{}, err
		}
		if s.Program != nil {
			if set.Program, err = s.Program.program(in+", program", sampleRate); err != nil {
				return Way{}, err
			}
		}
		out.Sets = append(out.Sets, set)
	}
	return out, nil
}

func sectionsOf(where string, in []wireSection) (out []Section, err error) {
	for k, s := range in {
		if err := require(fmt.Sprintf("%s, section %d", where, k+1), field{"design", s.Design == nil}, field{"b0", s.B0 == nil}, field{"b1", s.B1 == nil},
			field{"b2", s.B2 == nil}, field{"a1", s.A1 == nil}, field{"a2", s.A2 == nil}); err != nil {
			return nil, err
		}
		out = append(out, Section{*s.Design, digital.Biquad{B0: *s.B0, B1: *s.B1, B2: *s.B2, A1: *s.A1, A2: *s.A2}})
	}
	return out, nil
}
