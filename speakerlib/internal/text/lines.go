package text

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
)

// Limits of a file, in bytes.
const (
	DefaultMaxBytes = 32 << 20
	MaxLine         = 64 << 10
)

// Lines streams the lines of a text file, whatever ends them, and refuses what
// is no text or too large.
type Lines struct {
	pkg     string
	name    string
	limit   *limited
	scan    *bufio.Scanner
	Number  int    // of the current line, from 1
	Ended   bool   // the current line has an end
	Content []byte // of the current line, without its end; valid until Next
}

// limited reads at most one byte more than it may, so that it can be told.
type limited struct {
	r        io.Reader
	max, had int64
}

func (l *limited) Read(p []byte) (int, error) {
	if l.had > l.max {
		return 0, io.EOF
	}
	if left := l.max - l.had; int64(len(p))-1 > left { // left + 1 would overflow at the largest limit
		p = p[:left+1]
	}
	n, err := l.r.Read(p)
	l.had += int64(n)
	return n, err
}

// NewLines returns the lines of a reader of package pkg. 0 bytes are
// [DefaultMaxBytes].
func NewLines(pkg string, r io.Reader, name string, maxBytes int64) *Lines {
	if maxBytes == 0 {
		maxBytes = DefaultMaxBytes
	}
	l := &Lines{pkg: pkg, name: name, limit: &limited{r: r, max: maxBytes}}
	l.scan = bufio.NewScanner(l.limit)
	l.scan.Buffer(make([]byte, 0, 32<<10), MaxLine+2)
	l.scan.Split(l.split)
	return l
}

// split ends lines at LF, CRLF or CR.
func (l *Lines) split(data []byte, atEOF bool) (advance int, token []byte, err error) {
	if len(data) == 0 {
		return 0, nil, nil
	}
	end := bytes.IndexByte(data, '\n')
	line := data
	if end >= 0 {
		line = data[:end]
	}
	if cr := bytes.IndexByte(line, '\r'); cr >= 0 {
		if cr+1 == len(data) && !atEOF {
			return 0, nil, nil // perhaps CRLF
		}
		l.Ended = true
		if cr+1 < len(data) && data[cr+1] == '\n' {
			return cr + 2, data[:cr], nil
		}
		return cr + 1, data[:cr], nil
	}
	if end >= 0 {
		l.Ended = true
		return end + 1, line, nil
	}
	if atEOF {
		l.Ended = false
		return len(data), data, nil
	}
	return 0, nil, nil
}

// Next goes to the next line. It returns false at the end.
func (l *Lines) Next() (bool, error) {
	if !l.scan.Scan() {
		err := l.scan.Err()
		switch {
		case errors.Is(err, bufio.ErrTooLong):
			l.Number++
			return false, l.Fail(0, "a line of more bytes", fmt.Sprintf("at most %d in a line", MaxLine))
		case err != nil:
			return false, fmt.Errorf("%s: %s: reading after line %d: %w", l.pkg, l.name, l.Number, err)
		case l.limit.had > l.limit.max:
			return false, l.tooLarge()
		}
		return false, nil
	}
	l.Number++
	l.Content = l.scan.Bytes()
	if l.limit.had > l.limit.max && !l.Ended {
		return false, l.tooLarge() // cut by the limit
	}
	if l.Number == 1 {
		switch {
		case bytes.HasPrefix(l.Content, []byte{0xff, 0xfe}), bytes.HasPrefix(l.Content, []byte{0xfe, 0xff}):
			return false, l.Fail(1, "a file in UTF-16", "UTF-8 or ASCII: save it again in that encoding")
		}
		l.Content = bytes.TrimPrefix(l.Content, []byte("\xef\xbb\xbf"))
	}
	for i, c := range l.Content {
		if c < ' ' && c != '\t' || c == 0x7f {
			if c == 0 && l.Number == 1 && i < 2 && len(l.Content) > 3 {
				return false, l.Fail(i+1, "the byte 0x00, as UTF-16 without a mark has", "text in UTF-8 or ASCII")
			}
			return false, l.Fail(i+1, fmt.Sprintf("the byte %#02x", c), "text")
		}
	}
	return true, nil
}

func (l *Lines) tooLarge() error {
	return &ParseError{Package: l.pkg, File: l.name, Had: fmt.Sprintf("more than %d bytes", l.limit.max),
		Want: "at most that (Format.MaxBytes)"}
}

// Fail returns an error at a column of the current line.
func (l *Lines) Fail(column int, had, want string) error {
	return &ParseError{Package: l.pkg, File: l.name, Line: l.Number, Column: column, Had: had, Want: want}
}
