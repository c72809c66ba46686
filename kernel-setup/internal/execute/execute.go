//go:build unix

// Package execute runs the cells of a notebook through a kernel and gathers
// their outputs as a Jupyter front end would, so that the notebook written
// afterwards is the same to the byte.
package execute

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"example.org/loudspeaker/kernel-setup/internal/kernel"
	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// Options are the settings of a run.
type Options struct {
	// Timeout is the longest time that a cell may take; no limit if zero.
	Timeout time.Duration
	// FirstExtra is added for the first cell: it may have to compile what
	// later cells find compiled.
	FirstExtra time.Duration
	// Progress is told of each code cell before and after it runs; may be nil.
	Progress func(Step)
}

// Step is the beginning or the end of a code cell.
type Step struct {
	Number, Of int    // code cells, from 1
	Line       string // first line of source that says something
	Ended      bool
	Took       time.Duration // when ended
	Err        error         // when ended
}

// allowFailure is the tag of a cell that is meant to fail; nbconvert and
// nbclient know the same one.
const allowFailure = "raises-exception"

// Notebook executes the code cells of nb in order and returns a copy with
// their outputs; nb itself is not touched. A cell that fails ends the run
// with a *CellError, unless it carries the tag raises-exception.
func Notebook(ctx context.Context, k *kernel.Kernel, nb *nbformat.Notebook, o Options) (*nbformat.Notebook, error) {
	out := nb.Clone()
	language, err := nbformat.DecodeJSON(k.Language())
	if err != nil {
		return nil, fmt.Errorf("execute: language_info: %w", err)
	}
	if out.Metadata == nil {
		out.Metadata = map[string]any{}
	}
	out.Metadata["language_info"] = language

	r := runner{kernel: k, options: o, nb: out, displays: map[string][]place{}}
	for i, c := range out.Cells {
		if runs(c) {
			r.cells = append(r.cells, i)
		}
	}
	for n := range r.cells {
		if err := r.cell(ctx, n); err != nil {
			return nil, err
		}
	}
	// Not earlier: displays are found by position until the end.
	for _, i := range r.cells {
		out.Cells[i].Outputs = coalesce(out.Cells[i].Outputs)
	}
	return out, nil
}

// runs reports whether a cell is executed: code that is not blank.
func runs(c *nbformat.Cell) bool {
	return c.Type == nbformat.Code && strings.TrimSpace(c.Source) != ""
}

// runner is one run of one notebook.
type runner struct {
	kernel   *kernel.Kernel
	options  Options
	nb       *nbformat.Notebook
	cells    []int              // indices of the cells to run
	displays map[string][]place // outputs by display id, for updates
	lost     error              // output that came after its cell had ended
	size     int                // bytes of outputs so far
}

type place struct{ cell, output int }

// TimeoutError says that a cell took too long.
type TimeoutError struct{ Limit time.Duration }

func (e *TimeoutError) Error() string {
	return fmt.Sprintf("took longer than %v (--timeout sets the limit)", e.Limit)
}

// MaxOutput is the most bytes of outputs that a notebook may show, as they come
// from the kernel. Escaped in the file they are still less than
// [nbformat.MaxSize], so that what was written can be read again.
const MaxOutput = 32 << 20

// tooMuch says that a cell showed more than a notebook may hold.
type tooMuch struct{}

func (tooMuch) Error() string {
	return fmt.Sprintf("its output brings the notebook to more than %d bytes, want at most that: show less", MaxOutput)
}

// cell runs the n-th of the cells to run.
func (r *runner) cell(ctx context.Context, n int) error {
	c := r.nb.Cells[r.cells[n]]
	step := Step{Number: n + 1, Of: len(r.cells), Line: firstLine(c.Source)}
	r.progress(step)
	started := time.Now()
	err := r.run(ctx, r.cells[n], n == 0)
	step.Ended, step.Took, step.Err = true, time.Since(started), err
	r.progress(step)
	return err
}

func (r *runner) progress(s Step) {
	if r.options.Progress != nil {
		r.options.Progress(s)
	}
}

func (r *runner) run(ctx context.Context, index int, first bool) error {
	c := r.nb.Cells[index]
	c.Outputs, c.ExecutionCount = nil, nil
	limit := r.options.Timeout
	if limit > 0 {
		if first {
			limit += r.options.FirstExtra
		}
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeoutCause(ctx, limit, &TimeoutError{limit})
		defer cancel()
	}
	g := gatherer{runner: r, cell: index}
	reply, err := r.kernel.Execute(ctx, c.Source, g.message, r.late)
	if err == nil {
		err = r.lost
	}
	var slow *TimeoutError
	var much tooMuch
	switch {
	case errors.As(err, &slow), errors.As(err, &much), errors.Is(err, kernel.ErrDied):
		failed := r.failure(index, nil)
		failed.Err = err
		return failed
	case err != nil:
		return err
	}
	count := reply.Count
	c.ExecutionCount = &count
	if reply.Failure != nil && !c.HasTag(allowFailure) {
		return r.failure(index, reply.Failure)
	}
	return nil
}

// late takes a message that belongs to a cell that has already ended. An
// output that sometimes comes late is sometimes lost, so it is an error.
func (r *runner) late(m kernel.Message) error {
	switch m.Header.Type {
	case "stream", "display_data", "execute_result", "update_display_data", "error":
		if r.lost == nil {
			r.lost = errors.New("execute: an output came after its cell had ended and is lost; show through package nb, or end the cell with gonbui.Sync()")
		}
	}
	return nil
}

// gatherer turns the messages of one cell into outputs.
type gatherer struct {
	*runner
	cell  int
	clear bool // at the next output
	size  int  // bytes of outputs of this cell
}

// content is the union of the contents of output messages.
type content struct {
	Name      string          `json:"name"`
	Text      string          `json:"text"`
	Data      json.RawMessage `json:"data"`
	Metadata  json.RawMessage `json:"metadata"`
	Count     *int            `json:"execution_count"`
	EName     string          `json:"ename"`
	EValue    string          `json:"evalue"`
	Traceback []string        `json:"traceback"`
	Wait      bool            `json:"wait"`
	Transient struct {
		DisplayID string `json:"display_id"`
	} `json:"transient"`
}

func (g *gatherer) message(m kernel.Message) error {
	var c content
	kind := m.Header.Type
	switch kind {
	case "stream", "display_data", "execute_result", "update_display_data", "error", "clear_output":
		if err := json.Unmarshal(m.Content, &c); err != nil {
			return fmt.Errorf("execute: %s: %w", kind, err)
		}
	default:
		return nil // widgets and the like have no place in a file
	}
	if kind == "clear_output" {
		if g.clear = c.Wait; !c.Wait {
			g.clearOutputs()
		}
		return nil
	}
	out, err := output(kind, c)
	if err != nil {
		return err
	}
	if id := c.Transient.DisplayID; id != "" {
		for _, p := range g.displays[id] {
			o := &g.nb.Cells[p.cell].Outputs[p.output]
			o.Data, o.Metadata = out.Data, out.Metadata
		}
	}
	if kind == "update_display_data" {
		return nil
	}
	if g.clear {
		g.clear = false
		g.clearOutputs()
	}
	g.size += len(m.Content)
	if g.runner.size += len(m.Content); g.runner.size > MaxOutput {
		return tooMuch{}
	}
	cell := g.nb.Cells[g.cell]
	if id := c.Transient.DisplayID; id != "" {
		g.displays[id] = append(g.displays[id], place{g.cell, len(cell.Outputs)})
	}
	cell.Outputs = append(cell.Outputs, out)
	return nil
}

func (g *gatherer) clearOutputs() {
	g.nb.Cells[g.cell].Outputs = nil
	g.runner.size -= g.size
	g.size = 0
	for id, places := range g.displays {
		kept := places[:0]
		for _, p := range places {
			if p.cell != g.cell {
				kept = append(kept, p)
			}
		}
		g.displays[id] = kept
	}
}

func output(kind string, c content) (nbformat.Output, error) {
	switch kind {
	case "stream":
		return nbformat.Output{Type: nbformat.Stream, Name: c.Name, Text: c.Text}, nil
	case "error":
		return nbformat.Output{Type: nbformat.Error, EName: c.EName, EValue: c.EValue, Traceback: c.Traceback}, nil
	}
	data, err := nbformat.DecodeBundle(c.Data)
	if err != nil {
		return nbformat.Output{}, fmt.Errorf("execute: data of %s: %w", kind, err)
	}
	meta := map[string]any{}
	if len(c.Metadata) > 0 {
		v, err := nbformat.DecodeJSON(c.Metadata)
		if err != nil {
			return nbformat.Output{}, fmt.Errorf("execute: metadata of %s: %w", kind, err)
		}
		if m, ok := v.(map[string]any); ok {
			meta = m
		}
	}
	o := nbformat.Output{Type: nbformat.DisplayData, Data: data, Metadata: meta}
	if kind == "execute_result" {
		o.Type, o.ExecutionCount = nbformat.ExecuteResult, c.Count
	}
	return o, nil
}
