// Package text is what readers of plain text files share: lines, decimal numbers
// and errors that point at the place.
package text

import (
	"fmt"
	"strings"
)

// ParseError points at what cannot be read.
type ParseError struct {
	Package string // of the reader, which begins the message
	File    string // as given to the reader
	Line    int    // from 1; 0 if it is about the whole file
	Column  int    // from 1, in bytes; 0 if it is about the whole line
	Had     string // what is there
	Want    string // what should be
}

// Error tells the place, what was had and what was wanted.
func (e *ParseError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s", e.Package, e.File)
	if e.Line > 0 {
		fmt.Fprintf(&b, ":%d", e.Line)
		if e.Column > 0 {
			fmt.Fprintf(&b, ":%d", e.Column)
		}
	}
	fmt.Fprintf(&b, ": had %s, want %s", e.Had, e.Want)
	return b.String()
}

// Quoted returns the text in quotation marks, shortened.
func Quoted(text []byte) string {
	const longest = 40
	if len(text) > longest {
		return fmt.Sprintf("%q…", text[:longest])
	}
	return fmt.Sprintf("%q", text)
}
