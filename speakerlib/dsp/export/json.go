package export

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"

	"example.org/loudspeaker/speakerlib/digital"
)

//go:embed schema.json
var schema string

// Schema returns the JSON Schema (draft 2020-12) of the documents.
func Schema() string { return schema }

// MaxBytes is the largest document that [ReadJSON] takes: 16 MiB, some hundred
// thousand sections.
const MaxBytes = 16 << 20

// The document as it is on the wire. Pointers tell a missing field from zero.
type (
	wireDocument struct {
		Format     *string     `json:"format"`
		Version    *int        `json:"version"`
		Study      *string     `json:"study"`
		Date       *string     `json:"date"`
		SampleRate *float64    `json:"sample_rate_hz"`
		Words      *WordFormat `json:"word_format"`
		Ways       []wireWay   `json:"ways"`
		Inputs     []wireInput `json:"inputs"`
	}
	wireWay struct {
		Name     *string       `json:"name"`
		Polarity *polarity     `json:"polarity"`
		Gain     *float64      `json:"gain_ratio"`
		Delay    *int          `json:"delay_samples"`
		Sections []wireSection `json:"sections"`
	}
	wireSection struct {
		Design *string  `json:"design"`
		B0     *float64 `json:"b0"`
		B1     *float64 `json:"b1"`
		B2     *float64 `json:"b2"`
		A1     *float64 `json:"a1"`
		A2     *float64 `json:"a2"`
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
// take b0 for B0.
var fields = []string{
	"format", "version", "study", "date", "sample_rate_hz", "word_format", "ways", "inputs",
	"name", "polarity", "gain_ratio", "delay_samples", "sections",
	"design", "b0", "b1", "b2", "a1", "a2", "path", "sha256",
}

// WriteJSON writes a valid document. Numbers have the fewest digits that read
// back to the same bits. The same document gives the same bytes.
func (d *Document) WriteJSON(w io.Writer) error {
	if err := d.Validate(); err != nil {
		return err
	}
	format, version := Format, Version
	out := wireDocument{
		Format: &format, Version: &version, Study: &d.Study, Date: &d.Date,
		SampleRate: &d.SampleRate, Words: &d.Words, Ways: []wireWay{}, Inputs: []wireInput{},
	}
	for i := range d.Ways {
		way := &d.Ways[i]
		p := normal
		if way.Inverted {
			p = inverted
		}
		ww := wireWay{Name: &way.Name, Polarity: &p, Gain: &way.Gain, Delay: &way.Delay, Sections: []wireSection{}}
		for k := range way.Sections {
			s := &way.Sections[k]
			c := &s.Coefficients
			ww.Sections = append(ww.Sections, wireSection{&s.Design, &c.B0, &c.B1, &c.B2, &c.A1, &c.A2})
		}
		out.Ways = append(out.Ways, ww)
	}
	for i := range d.Inputs {
		out.Inputs = append(out.Inputs, wireInput{&d.Inputs[i].Path, &d.Inputs[i].SHA256})
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(out); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// ReadJSON reads a document of at most [MaxBytes] and validates it. It refuses
// another format or version, fields that are unknown, missing, or there twice,
// and anything after the document.
func ReadJSON(r io.Reader) (*Document, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("export: %w", err)
	}
	if len(data) > MaxBytes {
		return nil, fmt.Errorf("export: document has more than %d bytes, which is the most", MaxBytes)
	}
	var head struct {
		Format  *string `json:"format"`
		Version *int    `json:"version"`
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, describe(data, err)
	}
	switch {
	case head.Format == nil:
		return nil, fmt.Errorf("export: document has no field format, want %q", Format)
	case *head.Format != Format:
		return nil, fmt.Errorf("export: format is %q, want %q", *head.Format, Format)
	case head.Version == nil:
		return nil, fmt.Errorf("export: document has no field version, want %d", Version)
	case *head.Version != Version:
		return nil, fmt.Errorf("export: version is %d, want %d", *head.Version, Version)
	}
	if err := checkNames(data); err != nil {
		return nil, err
	}
	var in wireDocument
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&in); err != nil {
		return nil, describe(data, err)
	}
	d, err := in.document()
	if err != nil {
		return nil, err
	}
	if err := d.Validate(); err != nil {
		return nil, err
	}
	return d, nil
}

// describe adds line and column to an error of encoding/json.
func describe(data []byte, err error) error {
	var offset int64 = -1
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syntax):
		offset = syntax.Offset
	case errors.As(err, &kind):
		offset = kind.Offset
	}
	if offset < 0 {
		return fmt.Errorf("export: %w", err)
	}
	line, column := place(data, offset)
	return fmt.Errorf("export: line %d, column %d: %w", line, column, err)
}

func place(data []byte, offset int64) (line, column int) {
	before := data[:min(offset, int64(len(data)))]
	return bytes.Count(before, []byte{'\n'}) + 1, len(before) - bytes.LastIndexByte(before, '\n') - 1
}

// checkNames walks the document and reports a field that is unknown or there
// twice in its object, with its place.
func checkNames(data []byte) error {
	dec := json.NewDecoder(bytes.NewReader(data))
	type level struct {
		object bool
		key    bool // a name comes next
		seen   []string
	}
	var stack []level
	for {
		token, err := dec.Token()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return describe(data, err)
		}
		top := len(stack) - 1
		if d, ok := token.(json.Delim); ok && (d == '}' || d == ']') {
			stack = stack[:top]
			if top--; top >= 0 && stack[top].object {
				stack[top].key = true
			}
			continue
		}
		if top >= 0 && stack[top].object && stack[top].key {
			name, _ := token.(string)
			if !slices.Contains(fields, name) {
				line, column := place(data, dec.InputOffset())
				return fmt.Errorf("export: line %d, column %d: unknown field %q", line, column, name)
			}
			if slices.Contains(stack[top].seen, name) {
				line, column := place(data, dec.InputOffset())
				return fmt.Errorf("export: line %d, column %d: field %q is there twice", line, column, name)
			}
			stack[top].seen = append(stack[top].seen, name)
			stack[top].key = false
			continue
		}
		if d, ok := token.(json.Delim); ok {
			stack = append(stack, level{object: d == '{', key: d == '{'})
			continue
		}
		if top >= 0 && stack[top].object {
			stack[top].key = true
		}
	}
}

// document checks that nothing is missing.
func (in wireDocument) document() (*Document, error) {
	missing := func(where, name string) error {
		return fmt.Errorf("export: %s has no field %s, or null", where, name)
	}
	switch {
	case in.Study == nil:
		return nil, missing("document", "study")
	case in.Date == nil:
		return nil, missing("document", "date")
	case in.SampleRate == nil:
		return nil, missing("document", "sample_rate_hz")
	case in.Words == nil:
		return nil, missing("document", "word_format")
	case in.Ways == nil:
		return nil, missing("document", "ways")
	case in.Inputs == nil:
		return nil, missing("document", "inputs")
	}
	d := &Document{Study: *in.Study, Date: *in.Date, SampleRate: *in.SampleRate, Words: *in.Words}
	for i, w := range in.Ways {
		where := fmt.Sprintf("way %d", i+1)
		switch {
		case w.Name == nil:
			return nil, missing(where, "name")
		case w.Polarity == nil:
			return nil, missing(where, "polarity")
		case *w.Polarity != normal && *w.Polarity != inverted:
			return nil, fmt.Errorf("export: %s: polarity is %q, want %q or %q", where, *w.Polarity, normal, inverted)
		case w.Gain == nil:
			return nil, missing(where, "gain_ratio")
		case w.Delay == nil:
			return nil, missing(where, "delay_samples")
		case w.Sections == nil:
			return nil, missing(where, "sections")
		}
		way := Way{Name: *w.Name, Inverted: *w.Polarity == inverted, Gain: *w.Gain, Delay: *w.Delay}
		for k, s := range w.Sections {
			for _, f := range []struct {
				name string
				gone bool
			}{{"design", s.Design == nil}, {"b0", s.B0 == nil}, {"b1", s.B1 == nil}, {"b2", s.B2 == nil}, {"a1", s.A1 == nil}, {"a2", s.A2 == nil}} {
				if f.gone {
					return nil, missing(fmt.Sprintf("way %q, section %d", way.Name, k+1), f.name)
				}
			}
			way.Sections = append(way.Sections, Section{*s.Design, digital.Biquad{B0: *s.B0, B1: *s.B1, B2: *s.B2, A1: *s.A1, A2: *s.A2}})
		}
		d.Ways = append(d.Ways, way)
	}
	for i, p := range in.Inputs {
		if p.Path == nil {
			return nil, missing(fmt.Sprintf("input %d", i+1), "path")
		}
		if p.SHA256 == nil {
			return nil, missing(fmt.Sprintf("input %d", i+1), "sha256")
		}
		d.Inputs = append(d.Inputs, Input{*p.Path, *p.SHA256})
	}
	return d, nil
}
