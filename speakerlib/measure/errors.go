package measure

import (
	"fmt"
	"strings"
)

// ParseError points at what cannot be read.
type ParseError struct {
	File   string // as given to the reader
	Line   int    // from 1; 0 if it is about the whole file
	Column int    // from 1, in bytes; 0 if it is about the whole line
	Had    string // what is there
	Want   string // what should be
}

// Error tells the place, what was had and what was wanted.
func (e *ParseError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "measure: %s", e.File)
	if e.Line > 0 {
		fmt.Fprintf(&b, ":%d", e.Line)
		if e.Column > 0 {
			fmt.Fprintf(&b, ":%d", e.Column)
		}
	}
	fmt.Fprintf(&b, ": had %s, want %s", e.Had, e.Want)
	return b.String()
}

// quoted returns the text in quotation marks, shortened.
func quoted(text []byte) string {
	const longest = 40
	if len(text) > longest {
		return fmt.Sprintf("%q…", text[:longest])
	}
	return fmt.Sprintf("%q", text)
}
