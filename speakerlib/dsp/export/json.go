package export

import (
	"bytes"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
)

//go:embed schema-1.json schema-2.json schema-3.json
var schemas embed.FS

// Schema returns the JSON Schema (draft 2020-12) of the documents of a version.
func Schema(version int) (string, error) {
	b, err := schemas.ReadFile(fmt.Sprintf("schema-%d.json", version))
	if err != nil {
		return "", fmt.Errorf("export: no schema of version %d, want 1 to %d", version, Version)
	}
	return string(b), nil
}

// MaxBytes is the largest document that [ReadJSON] takes: 16 MiB, some hundred
// thousand sections.
const MaxBytes = 16 << 20

// WriteJSON writes a valid document, in the lowest version that holds it, so that a
// reader of version 1 takes what it can. Numbers have the fewest digits that read back
// to the same bits. The same document gives the same bytes.
func (d *Document) WriteJSON(w io.Writer) error {
	if err := d.Validate(); err != nil {
		return err
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	if err := e.Encode(d.wire()); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	if b.Len() > MaxBytes {
		return fmt.Errorf("export: document has %d bytes, want at most %d, which is what is read", b.Len(), MaxBytes)
	}
	_, err := w.Write(b.Bytes())
	return err
}

// ReadJSON reads a document of at most [MaxBytes] and validates it. It refuses
// another format or version, fields that are unknown, missing, or there twice,
// inputs that do not have the sum that is stated, and anything after the document.
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
		return nil, fmt.Errorf("export: document has no field version, want 1 to %d", Version)
	case *head.Version < 1 || *head.Version > Version:
		return nil, fmt.Errorf("export: version is %d, want 1 to %d", *head.Version, Version)
	}
	if err := checkNames(data, *head.Version); err != nil {
		return nil, err
	}
	var in wireDocument
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&in); err != nil {
		return nil, describe(data, err)
	}
	d, err := in.document(*head.Version)
	if err != nil {
		return nil, err
	}
	if err := d.Validate(); err != nil {
		return nil, err
	}
	if sum := d.InputsSHA256(); in.InputsSum != nil && *in.InputsSum != sum {
		return nil, fmt.Errorf("export: inputs_sha256 is %q, the inputs have %s: the list was changed", *in.InputsSum, sum)
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

// checkNames walks the document and reports a field that its version does not know or
// that is there twice in its object, with its place, and from version 2 on a null.
func checkNames(data []byte, version int) error {
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
			if !slices.Contains(fields[:known[version-1]], name) {
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
		if token == nil && version > 1 {
			line, column := place(data, dec.InputOffset())
			return fmt.Errorf("export: line %d, column %d: null, want a value", line, column)
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
