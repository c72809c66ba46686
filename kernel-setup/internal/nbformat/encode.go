package nbformat

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Bytes returns the file content that Python's nbformat writes for this
// notebook: json.dumps(indent=1, sort_keys=True, ensure_ascii=False) with
// multi-line strings as lists of lines, and a newline at the end. The notebook
// is validated first.
func (n *Notebook) Bytes() ([]byte, error) {
	if err := n.Validate(); err != nil {
		return nil, err
	}
	top := object(n.extra)
	top["nbformat"] = 4
	top["nbformat_minor"] = n.Minor
	meta := object(n.Metadata)
	drop(meta, "orig_nbformat", "orig_nbformat_minor", "signature")
	top["metadata"] = meta
	cells := make([]any, len(n.Cells))
	for i, c := range n.Cells {
		cells[i] = c.tree()
	}
	top["cells"] = cells
	out, err := appendJSON(nil, top, 0)
	if err != nil {
		return nil, fmt.Errorf("nbformat: %w", err)
	}
	return append(out, '\n'), nil
}

// EncodeJSON writes one JSON value as Bytes writes those within a notebook:
// keys sorted, indented by one, no newline at the end.
func EncodeJSON(v any) ([]byte, error) {
	out, err := appendJSON(nil, v, 0)
	if err != nil {
		return nil, fmt.Errorf("nbformat: %w", err)
	}
	return out, nil
}

// object copies a map; nil gives an empty one.
func object(m map[string]any) map[string]any {
	out := make(map[string]any, len(m)+4)
	maps.Copy(out, m)
	return out
}

func (c *Cell) tree() map[string]any {
	t := object(c.extra)
	t["cell_type"] = string(c.Type)
	t["id"] = c.ID
	meta := object(c.Metadata)
	drop(meta, "trusted")
	t["metadata"] = meta
	t["source"] = splitLines(c.Source)
	if c.Attachments != nil {
		list := make(map[string]any, len(c.Attachments))
		for name, b := range c.Attachments {
			list[name] = b.tree()
		}
		t["attachments"] = list
	}
	if c.Type == Code {
		t["execution_count"] = null(c.ExecutionCount)
		outputs := make([]any, len(c.Outputs))
		for i, o := range c.Outputs {
			outputs[i] = o.tree()
		}
		t["outputs"] = outputs
	}
	return t
}

func (o Output) tree() map[string]any {
	t := object(o.extra)
	t["output_type"] = string(o.Type)
	switch o.Type {
	case Stream:
		t["name"] = o.Name
		t["text"] = splitLines(o.Text)
	case DisplayData, ExecuteResult:
		t["data"] = o.Data.tree()
		t["metadata"] = object(o.Metadata)
		if o.Type == ExecuteResult {
			t["execution_count"] = null(o.ExecutionCount)
		}
	case Error:
		t["ename"] = o.EName
		t["evalue"] = o.EValue
		lines := make([]any, len(o.Traceback))
		for i, s := range o.Traceback {
			lines[i] = s
		}
		t["traceback"] = lines
	}
	return t
}

// tree splits what Python splits: text/…, SVG and JavaScript, not JSON.
func (b Bundle) tree() map[string]any {
	t := make(map[string]any, len(b))
	for mime, v := range b {
		s, ok := v.(string)
		if ok && (strings.HasPrefix(mime, "text/") || mime == "image/svg+xml" || mime == "application/javascript") {
			t[mime] = splitLines(s)
			continue
		}
		t[mime] = v
	}
	return t
}

func null(p *int) any {
	if p == nil {
		return nil
	}
	return *p
}

// splitLines is Python's str.splitlines(keepends=True): besides \n, \r and
// \r\n it breaks after \v, \f, the separators 1C to 1E, NEL (U+0085) and
// U+2028, U+2029.
func splitLines(s string) []any {
	out := []any{}
	start := 0
	for i := 0; i < len(s); {
		r, size := utf8.DecodeRuneInString(s[i:])
		i += size
		switch r {
		case '\n', '\v', '\f', 0x1c, 0x1d, 0x1e, 0x85, 0x2028, 0x2029:
		case '\r':
			if i < len(s) && s[i] == '\n' {
				i++
			}
		default:
			continue
		}
		out = append(out, s[start:i])
		start = i
	}
	if start < len(s) {
		out = append(out, s[start:])
	}
	return out
}

func appendJSON(dst []byte, v any, depth int) ([]byte, error) {
	var err error
	switch v := v.(type) {
	case nil:
		return append(dst, "null"...), nil
	case bool:
		return strconv.AppendBool(dst, v), nil
	case int:
		return strconv.AppendInt(dst, int64(v), 10), nil
	case int64:
		return strconv.AppendInt(dst, v, 10), nil
	case float64:
		s, err := pythonFloat(v)
		return append(dst, s...), err
	case json.Number:
		s, err := pythonNumber(v)
		return append(dst, s...), err
	case string:
		return appendString(dst, v)
	case []string:
		list := make([]any, len(v))
		for i, s := range v {
			list[i] = s
		}
		return appendJSON(dst, list, depth)
	case []any:
		if len(v) == 0 {
			return append(dst, "[]"...), nil
		}
		dst = append(dst, '[')
		for i, e := range v {
			if i > 0 {
				dst = append(dst, ',')
			}
			dst = indent(dst, depth+1)
			if dst, err = appendJSON(dst, e, depth+1); err != nil {
				return nil, err
			}
		}
		return append(indent(dst, depth), ']'), nil
	case Bundle:
		return appendJSON(dst, map[string]any(v), depth)
	case map[string]any:
		if len(v) == 0 {
			return append(dst, "{}"...), nil
		}
		dst = append(dst, '{')
		// Python sorts by code point, which is the byte order of UTF-8.
		for i, k := range slices.Sorted(maps.Keys(v)) {
			if i > 0 {
				dst = append(dst, ',')
			}
			dst = indent(dst, depth+1)
			if dst, err = appendString(dst, k); err != nil {
				return nil, err
			}
			dst = append(dst, ": "...)
			if dst, err = appendJSON(dst, v[k], depth+1); err != nil {
				return nil, err
			}
		}
		return append(indent(dst, depth), '}'), nil
	}
	return nil, fmt.Errorf("a value of type %T, want nil, bool, int, float64, json.Number, string, []any or map[string]any", v)
}

func indent(dst []byte, depth int) []byte {
	dst = append(dst, '\n')
	for range depth {
		dst = append(dst, ' ')
	}
	return dst
}

func appendString(dst []byte, s string) ([]byte, error) {
	if !utf8.ValidString(s) {
		return nil, fmt.Errorf("the string %.40q is not UTF-8", s)
	}
	const digits = "0123456789abcdef"
	dst = append(dst, '"')
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '"' || c == '\\':
			dst = append(dst, '\\', c)
		case c >= 0x20:
			dst = append(dst, c)
		case c == '\n':
			dst = append(dst, '\\', 'n')
		case c == '\t':
			dst = append(dst, '\\', 't')
		case c == '\r':
			dst = append(dst, '\\', 'r')
		case c == '\b':
			dst = append(dst, '\\', 'b')
		case c == '\f':
			dst = append(dst, '\\', 'f')
		default:
			dst = append(dst, '\\', 'u', '0', '0', digits[c>>4], digits[c&15])
		}
	}
	return append(dst, '"'), nil
}

// pythonNumber writes a JSON number as Python does after reading it: whole
// numbers as they are, others as a float.
func pythonNumber(n json.Number) (string, error) {
	s := n.String()
	if !strings.ContainsAny(s, ".eE") {
		if s == "-0" {
			return "0", nil
		}
		if strings.Trim(strings.TrimPrefix(s, "-"), "0123456789") != "" || strings.TrimPrefix(s, "-") == "" {
			return "", fmt.Errorf("%.40q is not a number", s)
		}
		return s, nil
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return "", fmt.Errorf("the number %.40s is outside the range of a float64", s)
	}
	return pythonFloat(v)
}

// pythonFloat is Python's repr of a float: the shortest digits that read back
// equal, with an exponent below 1e-4 and from 1e16 on.
func pythonFloat(v float64) (string, error) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "", fmt.Errorf("the number %v, want a finite one", v)
	}
	e := strconv.FormatFloat(v, 'e', -1, 64)
	at := strings.IndexByte(e, 'e')
	exp, err := strconv.Atoi(e[at+1:])
	if err != nil {
		panic("nbformat: strconv wrote an exponent that it cannot read")
	}
	if v != 0 && (exp < -4 || exp >= 16) {
		return e, nil
	}
	s := strconv.FormatFloat(v, 'f', -1, 64)
	if !strings.Contains(s, ".") {
		s += ".0"
	}
	return s, nil
}
