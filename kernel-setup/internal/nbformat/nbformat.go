// Package nbformat reads, validates and writes Jupyter notebooks in format 4.5.
//
// A notebook that Python's nbformat package wrote is written back byte for
// byte the same, so that running a notebook here or in any Jupyter front end
// leaves no difference that is not a difference of content. Fields that the
// package does not know (metadata, attachments, fields of later minor
// versions) are kept.
//
// Source of the format: "The Notebook file format", nbformat documentation
// 5.5, and its JSON schema nbformat.v4.5.schema.json. Three fields that the
// format calls transient (orig_nbformat, signature, trusted) are dropped in
// reading and writing, as Python does.
package nbformat

import (
	"fmt"
	"maps"
	"strings"
)

// CellType tells what a cell is.
type CellType string

// The cell types of format 4.5.
const (
	Code     CellType = "code"
	Markdown CellType = "markdown"
	Raw      CellType = "raw"
)

// OutputType tells what an output of a code cell is.
type OutputType string

// The output types of format 4.5.
const (
	Stream        OutputType = "stream"
	DisplayData   OutputType = "display_data"
	ExecuteResult OutputType = "execute_result"
	Error         OutputType = "error"
)

// Notebook is a notebook as held in memory: multi-line strings are whole, not
// lists of lines.
type Notebook struct {
	Minor    int            // nbformat_minor, at least 5; the major version is always 4
	Metadata map[string]any // kernelspec, language_info and whatever else was there
	Cells    []*Cell

	extra map[string]any // unknown top-level fields
}

// Cell is one cell. Outputs and ExecutionCount belong to code cells only.
type Cell struct {
	Type           CellType
	ID             string
	Source         string
	Metadata       map[string]any
	Attachments    map[string]Bundle // nil: the cell has none
	Outputs        []Output
	ExecutionCount *int // nil: not run

	extra map[string]any
}

// Output is one output of a code cell. Which fields count depends on Type.
type Output struct {
	Type OutputType

	Name string // stream: "stdout" or "stderr"
	Text string // stream

	Data           Bundle         // display_data, execute_result
	Metadata       map[string]any // display_data, execute_result
	ExecutionCount *int           // execute_result

	EName     string   // error
	EValue    string   // error
	Traceback []string // error

	extra map[string]any
}

// Bundle holds one thing in several MIME types. The value is a string, except
// for JSON types (see IsJSON), where it is any JSON value as DecodeJSON gives
// it: numbers are json.Number.
type Bundle map[string]any

// IsJSON says whether values of a MIME type are JSON values instead of text:
// application/json and application/…+json.
func IsJSON(mime string) bool {
	return mime == "application/json" ||
		strings.HasPrefix(mime, "application/") && strings.HasSuffix(mime, "+json")
}

// Text returns the value of a MIME type that is text, and whether it is there.
func (b Bundle) Text(mime string) (string, bool) {
	s, ok := b[mime].(string)
	return s, ok
}

// Tags returns the cell's tags in their order, nil if it has none.
func (c *Cell) Tags() []string {
	list, ok := c.Metadata["tags"].([]any)
	if !ok {
		return nil
	}
	var tags []string
	for _, v := range list {
		if s, ok := v.(string); ok {
			tags = append(tags, s)
		}
	}
	return tags
}

// HasTag says whether the cell carries a tag.
func (c *Cell) HasTag(tag string) bool {
	for _, t := range c.Tags() {
		if t == tag {
			return true
		}
	}
	return false
}

// KernelName returns metadata.kernelspec.name, "" if the notebook names none.
func (n *Notebook) KernelName() string {
	spec, _ := n.Metadata["kernelspec"].(map[string]any)
	name, _ := spec["name"].(string)
	return name
}

// Clone returns a copy that shares nothing that this package's users change:
// cells, outputs, and the maps directly below them. JSON values deeper down
// are shared and are to be replaced, not edited.
func (n *Notebook) Clone() *Notebook {
	out := &Notebook{Minor: n.Minor, Metadata: maps.Clone(n.Metadata), extra: n.extra}
	for _, c := range n.Cells {
		d := *c
		d.Metadata = maps.Clone(c.Metadata)
		d.ExecutionCount = cloneInt(c.ExecutionCount)
		d.Attachments = maps.Clone(c.Attachments)
		d.Outputs = nil
		for _, o := range c.Outputs {
			o.Data = maps.Clone(o.Data)
			o.Metadata = maps.Clone(o.Metadata)
			o.ExecutionCount = cloneInt(o.ExecutionCount)
			o.Traceback = append([]string(nil), o.Traceback...)
			d.Outputs = append(d.Outputs, o)
		}
		out.Cells = append(out.Cells, &d)
	}
	return out
}

func cloneInt(p *int) *int {
	if p == nil {
		return nil
	}
	v := *p
	return &v
}

// where names a cell for a message: its number from 1, type and id.
func (n *Notebook) where(i int) string {
	c := n.Cells[i]
	return fmt.Sprintf("cell %d (%s, id %q)", i+1, c.Type, c.ID)
}
