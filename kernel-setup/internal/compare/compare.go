// Package compare decides whether a notebook's fresh outputs are those that
// it was committed with.
//
// Not compared, because they say nothing about the study: execution counts,
// the kernel's name and the language's version, and recorded times. Always
// exact: the order of cells, their ids, types, sources and other metadata;
// the order and types of outputs and the set of MIME types of each.
//
// The contents of outputs are compared exactly ([Exact]: on the pinned
// version of Go and the same processor architecture they are the same to the
// byte), or with room for what another processor's arithmetic does ([Near]):
//
//   - a number printed with a decimal point or an exponent: within one unit
//     of the last printed place, or one part in a million, whichever is more;
//   - a whole number: exactly, as it may be a count;
//   - the geometry of an SVG picture: within 0.05 of its units;
//   - a PNG picture: at most one pixel in a thousand differs by more than 8
//     of 255 in any channel;
//   - a file that is handed on: its content as text, instead of its check sum;
//   - all other text: exactly, except for how many blanks stand in a row.
package compare

import (
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// Mode says how contents are compared.
type Mode int

const (
	Near Mode = iota
	Exact
)

// Difference is one thing that is not as it was.
type Difference struct {
	Cell int    // position in the notebook, from 1; 0: the notebook itself
	ID   string // the cell's id
	What string // which part of the cell
	Want string // as committed
	Have string // as it came out now
	Note string // by how much, if that can be said
}

func (d Difference) String() string {
	var b strings.Builder
	if d.Cell > 0 {
		fmt.Fprintf(&b, "cell %d (id %q), %s", d.Cell, d.ID, d.What)
	} else {
		b.WriteString("notebook, " + d.What)
	}
	if d.Note != "" {
		b.WriteString(": " + d.Note)
	}
	fmt.Fprintf(&b, "\n    committed: %s\n    now:       %s", d.Want, d.Have)
	return b.String()
}

// Notebooks compares a fresh run with the committed notebook and returns the
// differences in reading order, none if they agree.
func Notebooks(committed, fresh *nbformat.Notebook, mode Mode) []Difference {
	c := &comparison{mode: mode}
	c.metadata("metadata", notebookMetadata(committed.Metadata), notebookMetadata(fresh.Metadata))
	if len(committed.Cells) != len(fresh.Cells) {
		c.differ("number of cells", fmt.Sprint(len(committed.Cells)), fmt.Sprint(len(fresh.Cells)), "")
		return c.found
	}
	for i := range committed.Cells {
		c.cell, c.id = i+1, committed.Cells[i].ID
		c.cells(committed.Cells[i], fresh.Cells[i])
	}
	return c.found
}

type comparison struct {
	mode  Mode
	cell  int
	id    string
	found []Difference
}

func (c *comparison) differ(what, want, have, note string) {
	c.found = append(c.found, Difference{c.cell, c.id, what, short(want), short(have), note})
}

// notebookMetadata leaves out what depends on the machine.
func notebookMetadata(m map[string]any) map[string]any {
	m = maps.Clone(m)
	delete(m, "kernelspec")
	if language, ok := m["language_info"].(map[string]any); ok {
		language = maps.Clone(language)
		delete(language, "version")
		m["language_info"] = language
	}
	return m
}

// cellMetadata leaves out recorded times.
func cellMetadata(m map[string]any) map[string]any {
	m = maps.Clone(m)
	delete(m, "execution")
	return m
}

func (c *comparison) metadata(what string, want, have map[string]any) {
	if len(want) == 0 && len(have) == 0 || reflect.DeepEqual(want, have) {
		return
	}
	c.differ(what, asJSON(want), asJSON(have), "")
}

func (c *comparison) cells(want, have *nbformat.Cell) {
	c.exact("type", string(want.Type), string(have.Type))
	c.exact("id", want.ID, have.ID)
	c.exact("source", want.Source, have.Source)
	c.metadata("metadata", cellMetadata(want.Metadata), cellMetadata(have.Metadata))
	if len(want.Outputs) != len(have.Outputs) {
		c.differ("number of outputs", list(want.Outputs), list(have.Outputs), "")
		return
	}
	for i := range want.Outputs {
		c.output(fmt.Sprintf("output %d", i+1), want.Outputs[i], have.Outputs[i])
	}
}

// list names outputs for a message.
func list(outputs []nbformat.Output) string {
	names := make([]string, len(outputs))
	for i, o := range outputs {
		names[i] = kind(o)
	}
	return fmt.Sprintf("%d [%s]", len(outputs), strings.Join(names, ", "))
}

// kind says of what type an output is: for a stream also which, for data
// which MIME types.
func kind(o nbformat.Output) string {
	switch o.Type {
	case nbformat.Stream:
		return "stream " + o.Name
	case nbformat.DisplayData, nbformat.ExecuteResult:
		return string(o.Type) + " " + strings.Join(slices.Sorted(maps.Keys(o.Data)), " ")
	}
	return string(o.Type)
}

func (c *comparison) output(what string, want, have nbformat.Output) {
	if kind(want) != kind(have) {
		c.differ(what, kind(want), kind(have), "")
		return
	}
	switch want.Type {
	case nbformat.Stream:
		c.text(what+" ("+want.Name+")", want.Text, have.Text)
	case nbformat.Error:
		c.text(what+" (error)", want.EName+": "+want.EValue, have.EName+": "+have.EValue)
		if c.mode == Exact {
			c.exact(what+" (traceback)", strings.Join(want.Traceback, "\n"), strings.Join(have.Traceback, "\n"))
		}
	default:
		c.metadata(what+" (metadata)", want.Metadata, have.Metadata)
		if c.mode == Near && c.files(what, want.Data, have.Data) {
			return
		}
		for _, mime := range slices.Sorted(maps.Keys(want.Data)) {
			c.data(what+" ("+mime+")", mime, want.Data[mime], have.Data[mime])
		}
	}
}

// data compares one MIME type's value.
func (c *comparison) data(what, mime string, want, have any) {
	w, wantText := want.(string)
	h, haveText := have.(string)
	switch {
	case nbformat.IsJSON(mime):
		c.json(what, "", want, have)
	case !wantText || !haveText:
		c.differ(what, fmt.Sprintf("a %T", want), fmt.Sprintf("a %T", have), "")
	case c.mode == Exact:
		c.exact(what, w, h)
	case mime == "image/svg+xml":
		c.svg(what, w, h)
	case mime == "image/png":
		c.png(what, w, h)
	default:
		c.text(what, w, h)
	}
}

func (c *comparison) exact(what, want, have string) {
	if want == have {
		return
	}
	w, h, line := firstDifferentLine(want, have)
	if line > 0 {
		what = fmt.Sprintf("%s, line %d", what, line)
	}
	c.differ(what, w, h, "")
}

// json compares JSON values part by part.
func (c *comparison) json(what, path string, want, have any) {
	at := func() string {
		if path == "" {
			return what
		}
		return what + " " + path
	}
	if w, ok := want.(map[string]any); ok {
		h, ok := have.(map[string]any)
		if !ok || !slices.Equal(slices.Sorted(maps.Keys(w)), slices.Sorted(maps.Keys(h))) {
			c.differ(at(), asJSON(want), asJSON(have), "")
			return
		}
		for _, key := range slices.Sorted(maps.Keys(w)) {
			c.json(what, path+"."+key, w[key], h[key])
		}
		return
	}
	if w, ok := want.([]any); ok {
		h, ok := have.([]any)
		if !ok || len(w) != len(h) {
			c.differ(at(), asJSON(want), asJSON(have), "")
			return
		}
		for i := range w {
			c.json(what, fmt.Sprintf("%s[%d]", path, i), w[i], h[i])
		}
		return
	}
	w, wantNumber := want.(json.Number)
	h, haveNumber := have.(json.Number)
	if c.mode == Near && wantNumber && haveNumber {
		if note, ok := closeNumbers(w.String(), h.String()); !ok {
			c.differ(at(), w.String(), h.String(), note)
		}
		return
	}
	ws, wantText := want.(string)
	hs, haveText := have.(string)
	if c.mode == Near && wantText && haveText {
		c.text(at(), ws, hs)
		return
	}
	if !reflect.DeepEqual(want, have) {
		c.differ(at(), asJSON(want), asJSON(have), "")
	}
}

func asJSON(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Sprint(v)
	}
	return string(b)
}

// short cuts a text that is too long for a message.
func short(s string) string {
	const most = 200
	s = strings.ReplaceAll(strings.TrimRight(s, "\n"), "\n", "⏎")
	if s == "" {
		return "(nothing)"
	}
	if r := []rune(s); len(r) > most {
		return string(r[:most]) + "…"
	}
	return s
}

// firstDifferentLine returns the first lines that differ, and the line's
// number, 0 if both are a single line.
func firstDifferentLine(want, have string) (w, h string, line int) {
	ws, hs := strings.Split(want, "\n"), strings.Split(have, "\n")
	i := 0
	for i < len(ws) && i < len(hs) && ws[i] == hs[i] {
		i++
	}
	if i < len(ws) {
		w = ws[i]
	}
	if i < len(hs) {
		h = hs[i]
	}
	if len(ws) == 1 && len(hs) == 1 {
		return around(w, h), around(h, w), 0
	}
	return around(w, h), around(h, w), i + 1
}

// around cuts a long line to the neighbourhood of where it departs from the
// other.
func around(line, other string) string {
	const before = 60
	i := 0
	for i < len(line) && i < len(other) && line[i] == other[i] {
		i++
	}
	if i <= before {
		return line
	}
	cut := i - before
	for cut > 0 && line[cut]&0xC0 == 0x80 {
		cut--
	}
	return "…" + line[cut:]
}
