//go:build unix

package execute

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"

	"example.org/loudspeaker/kernel-setup/internal/kernel"
	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// CellError says which cell failed, in which line, and why.
type CellError struct {
	Cell   int    // position in the notebook, from 1, all kinds of cells counted
	Run    int    // position among the code cells, from 1: the number in brackets
	ID     string // the cell's id
	Line   int    // line of the cell's source, from 1; 0 if not known
	Source string // that line
	Err    error  // what went wrong, in one line
	Said   string // what the cell wrote about it, more lines; may be empty
}

func (e *CellError) Error() string {
	var b strings.Builder
	fmt.Fprintf(&b, "cell %d (code cell [%d], id %q)", e.Cell, e.Run, e.ID)
	if e.Line > 0 {
		fmt.Fprintf(&b, ", line %d", e.Line)
	}
	fmt.Fprintf(&b, ": %v", e.Err)
	if e.Source != "" {
		at := "  "
		if e.Line > 0 {
			at = strconv.Itoa(e.Line)
		}
		fmt.Fprintf(&b, "\n    %s | %s", at, e.Source)
	}
	if e.Said != "" {
		b.WriteString("\n    " + strings.ReplaceAll(e.Said, "\n", "\n    "))
	}
	return b.String()
}

func (e *CellError) Unwrap() error { return e.Err }

var (
	// gonb's names for a place in a cell: in compile errors, in stack traces.
	compilePlace = regexp.MustCompile(`(?m)^Cell\[(\d+)\]: Line (\d+)$`)
	tracePlace   = regexp.MustCompile(`\[\[ Cell \[(\d+)\] Line (\d+) \]\] *`)
	programPlace = regexp.MustCompile(`(\[\[ Cell \[\d+\] Line \d+ \]\] *)?\S*/gonb_[0-9a-f]+/main\.go:(\d+)`)
	colours      = regexp.MustCompile("\x1b\\[[0-9;]*m")
	tempProgram  = regexp.MustCompile(`\S*/gonb_[0-9a-f]+/(main(?:_test)?\.go)`)
	goroutine    = regexp.MustCompile(`(?m)^goroutine \d+ \[`)
	exitStatus   = regexp.MustCompile(`(?m)^(?:\^C|exit status \d+|signal: .*)\s*`)
	compileHead  = regexp.MustCompile(`(?m)^# .*\n`)
	compileLine  = regexp.MustCompile(`(?m)^(?:\./|\S*/)?main(?:_test)?\.go:\d+:\d+: `)
)

// saidLimit is the most lines of a cell's own words that a failure repeats.
const saidLimit = 12

// failure describes why cell index failed; f is nil if the kernel said nothing.
func (r *runner) failure(index int, f *kernel.Failure) *CellError {
	run := 0
	for n, i := range r.cells {
		if i == index {
			run = n + 1
		}
	}
	e := &CellError{Run: run, Err: errors.New("failed")}
	raw := r.text(index, "stderr")
	stderr := strings.TrimSpace(exitStatus.ReplaceAllString(plain(raw), ""))
	text := stderr
	if f != nil {
		value := strings.TrimSpace(compileHead.ReplaceAllString(plain(f.Value), ""))
		trace := plain(strings.Join(f.Traceback, "\n"))
		switch place := compilePlace.FindStringSubmatch(trace); {
		case place != nil:
			r.at(e, place)
			text = compileLine.ReplaceAllString(value, "")
		case stderr == "":
			text = value
		default:
			e.Err = errors.New(value)
		}
	}
	if e.Line == 0 {
		r.trace(e, run, colours.ReplaceAllString(raw, ""))
	}
	if e.Cell == 0 {
		e.Cell, e.ID = index+1, r.nb.Cells[index].ID
		e.Source = firstLine(r.nb.Cells[index].Source)
	} else if e.Cell != index+1 {
		e.Err = fmt.Errorf("(while running cell %d) %w", index+1, e.Err)
	}
	// The stack says nothing to a reader who was told the line.
	if at := goroutine.FindStringIndex(text); at != nil {
		text = text[:at[0]]
	}
	lines := strings.Split(strings.TrimSpace(tracePlace.ReplaceAllString(text, "")), "\n")
	if len(lines) > saidLimit {
		lines = append(lines[:saidLimit], fmt.Sprintf("… %d more lines", len(lines)-saidLimit))
	}
	if lines[0] != "" {
		if e.Cell == index+1 {
			e.Err = errors.New(lines[0])
		} else {
			e.Err = fmt.Errorf("%s (while running cell %d)", lines[0], index+1)
		}
		lines = lines[1:]
	}
	e.Said = strings.TrimRight(strings.Join(lines, "\n"), "\n ")
	return e
}

// at takes over a place that the kernel names by execution count and line.
func (r *runner) at(e *CellError, place []string) {
	run, _ := strconv.Atoi(place[1])
	line, _ := strconv.Atoi(place[2])
	if run < 1 || run > len(r.cells) {
		return
	}
	i := r.cells[run-1]
	lines := strings.Split(r.nb.Cells[i].Source, "\n")
	if line < 1 || line > len(lines) {
		return
	}
	e.Cell, e.Run, e.ID = i+1, run, r.nb.Cells[i].ID
	e.Line, e.Source = line, strings.TrimSpace(lines[line-1])
}

// trace finds the innermost place of a stack trace. The kernel writes cell
// and line before each place, except where it happened to read the text in
// two pieces; then the line of the generated program is looked up in the cells.
func (r *runner) trace(e *CellError, run int, stderr string) {
	place := programPlace.FindStringSubmatch(stderr)
	if place == nil {
		return
	}
	if named := tracePlace.FindStringSubmatch(place[1]); named != nil {
		r.at(e, named)
		return
	}
	number, _ := strconv.Atoi(place[2])
	files, _ := filepath.Glob(filepath.Join(r.kernel.Temp(), "gonb_*", "main.go"))
	for _, f := range files {
		program, err := os.ReadFile(f)
		lines := strings.Split(string(program), "\n")
		if err != nil || number < 1 || number > len(lines) {
			continue
		}
		want := strings.TrimSpace(lines[number-1])
		for n := run; n >= 1; n-- {
			for i, line := range strings.Split(r.nb.Cells[r.cells[n-1]].Source, "\n") {
				if want != "" && strings.TrimSpace(line) == want {
					r.at(e, []string{"", strconv.Itoa(n), strconv.Itoa(i + 1)})
					return
				}
			}
		}
	}
}

// text joins what a cell wrote to a stream.
func (r *runner) text(index int, stream string) string {
	var b strings.Builder
	for _, o := range r.nb.Cells[index].Outputs {
		if o.Type == nbformat.Stream && o.Name == stream {
			b.WriteString(o.Text)
		}
	}
	return b.String()
}

// plain takes colours and the folder of the moment out of a text.
func plain(s string) string {
	return tempProgram.ReplaceAllString(colours.ReplaceAllString(s, ""), "$1")
}

// firstLine returns the first line of a cell that says something: neither
// blank nor an import nor one of the kernel's own commands, unless there is
// nothing else.
func firstLine(source string) string {
	first, imports := "", false
	for line := range strings.Lines(source) {
		line = strings.TrimSpace(line)
		switch {
		case line == "":
			continue
		case imports:
			imports = line != ")"
			continue
		case line[0] != '%' && !strings.HasPrefix(line, "import "):
			return line
		}
		imports = strings.HasPrefix(line, "import") && strings.HasSuffix(line, "(")
		if first == "" || first[0] == '%' {
			first = line
		}
	}
	if strings.HasSuffix(first, "(") {
		return "import …"
	}
	return first
}
