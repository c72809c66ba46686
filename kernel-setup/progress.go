//go:build unix

package main

import (
	"fmt"
	"io"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"

	"example.org/loudspeaker/kernel-setup/internal/execute"
)

// progress shows how far a notebook is: a bar on a terminal, a line per cell
// elsewhere.
type progress struct {
	w     io.Writer
	path  string
	quiet bool
	tty   bool
	width int
	bar   *progressbar.ProgressBar
	start time.Time
	cells int
}

func newProgress(w io.Writer, path string, quiet bool) *progress {
	p := &progress{w: w, path: path, quiet: quiet, start: time.Now()}
	if f, ok := w.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		p.tty = true
		p.width, _, _ = term.GetSize(int(f.Fd()))
	}
	return p
}

// step is told of every code cell.
func (p *progress) step(s execute.Step) {
	if s.Ended {
		p.cells = s.Number
	}
	switch {
	case p.quiet:
	case p.tty:
		p.onTerminal(s)
	case s.Ended && s.Err == nil:
		fmt.Fprintf(p.w, "%s [%d/%d] %5.2f s  %s\n", p.path, s.Number, s.Of, s.Took.Seconds(), cut(s.Line, 60))
	}
}

func (p *progress) onTerminal(s execute.Step) {
	if p.bar == nil {
		p.bar = progressbar.NewOptions(s.Of,
			progressbar.OptionSetWriter(p.w),
			progressbar.OptionSetWidth(24),
			progressbar.OptionShowCount(),
			progressbar.OptionSetPredictTime(false),
			progressbar.OptionSetElapsedTime(true),
			progressbar.OptionClearOnFinish(),
			progressbar.OptionShowDescriptionAtLineEnd(),
		)
	}
	if s.Ended {
		p.bar.Add(1)
		return
	}
	// The bar, its count and the time take about fifty columns.
	p.bar.Describe(cut(s.Line, max(10, p.width-55)))
}

// end clears the bar and says how long it took.
func (p *progress) end() {
	if p.bar != nil {
		p.bar.Clear()
	}
	if !p.quiet {
		fmt.Fprintf(p.w, "%s: %d cells in %.1f s\n", p.path, p.cells, time.Since(p.start).Seconds())
	}
}

// cut shortens a line to n characters.
func cut(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return string(r[:n-1]) + "…"
}
