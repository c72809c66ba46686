package nbformat

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"
	"unicode/utf8"
)

// MaxSize is the largest notebook file that Read accepts, in bytes.
const MaxSize = 256 << 20

// Read reads and validates a notebook file. Errors name the file, and the
// line and column or the cell and field that are wrong.
func Read(path string) (*Notebook, error) {
	// Asked before it is opened: opening a pipe waits for its other end, and
	// no signal ends that.
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("nbformat: %w", err)
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("nbformat: %s is %s, want a regular file", path, kindOfFile(info.Mode()))
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("nbformat: %w", err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, MaxSize+1))
	if err != nil {
		return nil, fmt.Errorf("nbformat: %w", err)
	}
	n, err := Parse(data)
	if err != nil {
		return nil, fmt.Errorf("nbformat: %s: %w", path, err)
	}
	return n, nil
}

func kindOfFile(m fs.FileMode) string {
	switch {
	case m.IsDir():
		return "a folder"
	case m&fs.ModeNamedPipe != 0:
		return "a pipe"
	case m&fs.ModeDevice != 0:
		return "a device"
	}
	return "no file"
}

// Parse reads and validates the content of a notebook file.
func Parse(data []byte) (*Notebook, error) {
	if len(data) > MaxSize {
		return nil, fmt.Errorf("more than %d bytes, want at most that", MaxSize)
	}
	v, err := DecodeJSON(data)
	if err != nil {
		return nil, err
	}
	top, ok := v.(map[string]any)
	if !ok {
		return nil, fmt.Errorf("not a notebook: the file holds %s, want an object", kind(v))
	}
	n, err := notebook(top)
	if err != nil {
		return nil, err
	}
	if err := n.Validate(); err != nil {
		return nil, err
	}
	return n, nil
}

// DecodeJSON reads exactly one JSON value: objects as map[string]any, lists as
// []any, numbers as json.Number. Of a key given twice the last counts, as in
// Python. Text that is not UTF-8, half a surrogate pair and numbers outside
// the range of a float64 are refused.
func DecodeJSON(data []byte) (any, error) {
	if len(bytes.TrimSpace(data)) == 0 {
		return nil, errors.New("the file is empty, want JSON")
	}
	if bytes.HasPrefix(data, []byte("\xef\xbb\xbf")) {
		return nil, errors.New("starts with a byte order mark, want plain UTF-8")
	}
	if !utf8.Valid(data) {
		return nil, fmt.Errorf("%s: a byte that is not UTF-8", position(data, firstInvalid(data)))
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	var v any
	if err := dec.Decode(&v); err != nil {
		var syntax *json.SyntaxError
		switch {
		case errors.Is(err, io.ErrUnexpectedEOF):
			return nil, fmt.Errorf("%s: the file ends in the middle", position(data, int64(len(data))))
		case errors.As(err, &syntax):
			return nil, fmt.Errorf("%s: %w", position(data, syntax.Offset-1), err)
		}
		return nil, err
	}
	end := dec.InputOffset()
	if rest := bytes.TrimLeft(data[end:], " \t\r\n"); len(rest) > 0 {
		return nil, fmt.Errorf("%s: more text after the end of the JSON value", position(data, int64(len(data)-len(rest))))
	}
	if at, ok := loneSurrogate(data); ok {
		return nil, fmt.Errorf("%s: half a surrogate pair in a string", position(data, at))
	}
	if err := checkNumbers(v); err != nil {
		return nil, err
	}
	return v, nil
}

// DecodeBundle reads a MIME bundle as it stands in a notebook file or in a
// message of the kernel.
func DecodeBundle(data []byte) (Bundle, error) {
	v, err := DecodeJSON(data)
	if err != nil {
		return nil, err
	}
	return bundle(v)
}

func firstInvalid(data []byte) int64 {
	for i := 0; i < len(data); {
		r, size := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && size <= 1 {
			return int64(i)
		}
		i += size
	}
	return int64(len(data))
}

// position gives line and column (both from 1, the column in bytes).
func position(data []byte, offset int64) string {
	offset = max(0, min(offset, int64(len(data))))
	before := data[:offset]
	line := bytes.Count(before, []byte("\n")) + 1
	column := len(before) - (bytes.LastIndexByte(before, '\n') + 1) + 1
	return fmt.Sprintf("line %d, column %d", line, column)
}

// loneSurrogate finds a \ud800…\udfff escape that is not one of a pair, in
// text already known to be JSON. encoding/json would quietly replace it.
func loneSurrogate(data []byte) (int64, bool) {
	for i := 0; i+1 < len(data); i++ {
		if data[i] != '\\' {
			continue
		}
		i++ // the escaped character
		if data[i] != 'u' {
			continue
		}
		u := hex4(data, i+1)
		i += 4
		switch {
		case u >= 0xDC00 && u <= 0xDFFF:
			return int64(i - 5), true
		case u >= 0xD800 && u <= 0xDBFF:
			if i+2 >= len(data) || data[i+1] != '\\' || data[i+2] != 'u' {
				return int64(i - 5), true
			}
			if low := hex4(data, i+3); low < 0xDC00 || low > 0xDFFF {
				return int64(i - 5), true
			}
			i += 6
		}
	}
	return 0, false
}

func hex4(data []byte, at int) uint64 {
	if at+4 > len(data) {
		return 0
	}
	v, err := strconv.ParseUint(string(data[at:at+4]), 16, 32)
	if err != nil {
		return 0
	}
	return v
}

func checkNumbers(v any) error {
	switch v := v.(type) {
	case json.Number:
		_, err := pythonNumber(v)
		return err
	case []any:
		for _, e := range v {
			if err := checkNumbers(e); err != nil {
				return err
			}
		}
	case map[string]any:
		for _, key := range sortedKeys(v) {
			if err := checkNumbers(v[key]); err != nil {
				return err
			}
		}
	}
	return nil
}

func kind(v any) string {
	switch v := v.(type) {
	case nil:
		return "null"
	case bool:
		return "true or false"
	case string:
		return "a string"
	case json.Number:
		return "the number " + v.String()
	case []any:
		return "a list"
	case map[string]any:
		return "an object"
	}
	return fmt.Sprintf("a %T", v)
}

// fields takes known fields out of an object one by one; what stays is unknown
// and is kept. The first error stands.
type fields struct {
	rest map[string]any
	err  error
}

func open(v any, what string) *fields {
	m, ok := v.(map[string]any)
	if !ok {
		return &fields{err: fmt.Errorf("%s is %s, want an object", what, kind(v))}
	}
	rest := make(map[string]any, len(m))
	for k, e := range m {
		rest[k] = e
	}
	return &fields{rest: rest}
}

func (f *fields) take(key string) (any, bool) {
	if f.err != nil {
		return nil, false
	}
	v, ok := f.rest[key]
	if !ok {
		f.err = fmt.Errorf("no %q", key)
		return nil, false
	}
	delete(f.rest, key)
	return v, true
}

func (f *fields) wrong(key string, v any, want string) {
	if f.err == nil {
		f.err = fmt.Errorf("%q is %s, want %s", key, kind(v), want)
	}
}

func (f *fields) text(key string) string {
	v, ok := f.take(key)
	if !ok {
		return ""
	}
	s, ok := v.(string)
	if !ok {
		f.wrong(key, v, "a string")
	}
	return s
}

// lines takes a multi-line string: a string or a list of strings.
func (f *fields) lines(key string) string {
	v, ok := f.take(key)
	if !ok {
		return ""
	}
	s, ok := join(v)
	if !ok {
		f.wrong(key, v, "a string or a list of strings")
	}
	return s
}

func (f *fields) object(key string) map[string]any {
	v, ok := f.take(key)
	if !ok {
		return nil
	}
	m, ok := v.(map[string]any)
	if !ok {
		f.wrong(key, v, "an object")
	}
	return m
}

func (f *fields) list(key string) []any {
	v, ok := f.take(key)
	if !ok {
		return nil
	}
	l, ok := v.([]any)
	if !ok {
		f.wrong(key, v, "a list")
	}
	return l
}

// count takes an integer of at least zero, or null.
func (f *fields) count(key string) *int {
	v, ok := f.take(key)
	if !ok || v == nil {
		return nil
	}
	num, ok := v.(json.Number)
	if ok {
		if i, err := strconv.ParseInt(num.String(), 10, 32); err == nil && i >= 0 {
			n := int(i)
			return &n
		}
	}
	f.wrong(key, v, "a whole number of at least 0, or null")
	return nil
}

func (f *fields) bundle(key string) Bundle {
	v, ok := f.take(key)
	if !ok {
		return nil
	}
	b, err := bundle(v)
	if err != nil {
		f.err = fmt.Errorf("%q: %w", key, err)
	}
	return b
}

// unknown returns what was not taken.
func (f *fields) unknown() map[string]any {
	if len(f.rest) == 0 {
		return nil
	}
	return f.rest
}

func join(v any) (string, bool) {
	switch v := v.(type) {
	case string:
		return v, true
	case []any:
		var b strings.Builder
		for _, e := range v {
			s, ok := e.(string)
			if !ok {
				return "", false
			}
			b.WriteString(s)
		}
		return b.String(), true
	}
	return "", false
}

func bundle(v any) (Bundle, error) {
	m, ok := v.(map[string]any)
	if !ok {
		return nil, fmt.Errorf("a MIME bundle is %s, want an object", kind(v))
	}
	b := make(Bundle, len(m))
	for _, mime := range sortedKeys(m) { // the first of several mistakes, every time
		if IsJSON(mime) {
			b[mime] = m[mime]
			continue
		}
		s, ok := join(m[mime])
		if !ok {
			return nil, fmt.Errorf("%s is %s, want a string or a list of strings", mime, kind(m[mime]))
		}
		b[mime] = s
	}
	return b, nil
}

func notebook(top map[string]any) (*Notebook, error) {
	f := open(top, "the notebook")
	major := f.count("nbformat")
	minor := f.count("nbformat_minor")
	if f.err != nil {
		return nil, fmt.Errorf("not a notebook: %w", f.err)
	}
	if major == nil || minor == nil {
		return nil, errors.New("not a notebook: nbformat or nbformat_minor is null")
	}
	if *major != 4 || *minor < 5 {
		return nil, fmt.Errorf("notebook format %d.%d, want 4.5 or a later 4.x; a current Jupyter converts it when it saves", *major, *minor)
	}
	n := &Notebook{Minor: *minor, Metadata: f.object("metadata")}
	cells := f.list("cells")
	if f.err != nil {
		return nil, f.err
	}
	n.extra = f.unknown()
	drop(n.Metadata, "orig_nbformat", "orig_nbformat_minor", "signature")
	for i, v := range cells {
		c, err := cell(v)
		if err != nil {
			return nil, fmt.Errorf("cell %d: %w", i+1, err)
		}
		n.Cells = append(n.Cells, c)
	}
	return n, nil
}

func drop(m map[string]any, keys ...string) {
	for _, k := range keys {
		delete(m, k)
	}
}

func cell(v any) (*Cell, error) {
	f := open(v, "it")
	c := &Cell{
		Type:     CellType(f.text("cell_type")),
		ID:       f.text("id"),
		Metadata: f.object("metadata"),
		Source:   f.lines("source"),
	}
	if f.err != nil {
		return nil, f.err
	}
	drop(c.Metadata, "trusted")
	if v, ok := f.rest["attachments"]; ok {
		delete(f.rest, "attachments")
		m, ok := v.(map[string]any)
		if !ok {
			return nil, fmt.Errorf("%q is %s, want an object", "attachments", kind(v))
		}
		c.Attachments = make(map[string]Bundle, len(m))
		for _, name := range sortedKeys(m) {
			b, err := bundle(m[name])
			if err != nil {
				return nil, fmt.Errorf("attachment %q: %w", name, err)
			}
			c.Attachments[name] = b
		}
	}
	if c.Type == Code {
		c.ExecutionCount = f.count("execution_count")
		for i, v := range f.list("outputs") {
			o, err := output(v)
			if err != nil {
				return nil, fmt.Errorf("output %d: %w", i+1, err)
			}
			c.Outputs = append(c.Outputs, o)
		}
		if f.err != nil {
			return nil, f.err
		}
	}
	c.extra = f.unknown()
	return c, nil
}

func output(v any) (Output, error) {
	f := open(v, "it")
	o := Output{Type: OutputType(f.text("output_type"))}
	switch o.Type {
	case Stream:
		o.Name = f.text("name")
		o.Text = f.lines("text")
	case DisplayData, ExecuteResult:
		o.Data = f.bundle("data")
		o.Metadata = f.object("metadata")
		if o.Type == ExecuteResult {
			o.ExecutionCount = f.count("execution_count")
		}
	case Error:
		o.EName = f.text("ename")
		o.EValue = f.text("evalue")
		o.Traceback = []string{}
		for _, v := range f.list("traceback") {
			s, ok := v.(string)
			if !ok {
				return o, fmt.Errorf("a line of %q is %s, want a string", "traceback", kind(v))
			}
			o.Traceback = append(o.Traceback, s)
		}
	default:
		if f.err == nil {
			return o, fmt.Errorf("output_type is %q, want stream, display_data, execute_result or error", o.Type)
		}
	}
	if f.err != nil {
		return o, f.err
	}
	o.extra = f.unknown()
	return o, nil
}
