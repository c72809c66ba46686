//go:build unix

package main

import (
	"bytes"
	"fmt"
	"os"

	"github.com/alecthomas/kong"

	"example.org/loudspeaker/kernel-setup/internal/compare"
	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// checkMode is the value of --check: absent, near (also without a value), or
// exact.
type checkMode struct {
	on   bool
	mode compare.Mode
}

// IsBool lets the flag stand without a value.
func (*checkMode) IsBool() bool { return true }

// Decode reads --check, --check=near, --check=exact.
func (m *checkMode) Decode(ctx *kong.DecodeContext) error {
	m.on = true
	if ctx.Scan.Peek().Type != kong.FlagValueToken {
		return nil
	}
	switch value := ctx.Scan.Pop().Value; value {
	case "near":
	case "exact":
		m.mode = compare.Exact
	default:
		return fmt.Errorf("is %q, want near or exact", value)
	}
	return nil
}

var _ kong.MapperValue = (*checkMode)(nil)

type runCmd struct {
	runFlags
	Check checkMode `placeholder:"=near|exact" help:"Write nothing; compare with the committed outputs: near (the default) gives room for other processors, exact is to the byte."`
}

// Help is shown by run --help.
func (runCmd) Help() string {
	return `Executes each notebook in its own folder, cell by cell, through the real kernel, and writes the outputs
back into the file (nbformat 4.5, in one step, the same bytes each time). If a cell fails or the run is
stopped, the file stays as it was. A cell with the tag raises-exception may fail.

Examples:
  go run ./kernel-setup run notebooks/first-steps.ipynb
  go run ./kernel-setup run --check notebooks/*.ipynb
  go tool kernel-setup run --check=exact --timeout 30s notebooks/active-conversion.ipynb`
}

// Run executes notebooks.
func (r *runCmd) Run(s *session) error {
	if _, err := r.open(); err != nil {
		return err
	}
	c, _, err := s.ready(false)
	if err != nil {
		return err
	}
	return s.each(c, &r.runFlags, func(path string, before, after *nbformat.Notebook) error {
		if r.Check.on {
			return s.compare(path, before, after, r.Check.mode)
		}
		return s.writeBack(path, after)
	})
}

func (s *session) compare(path string, before, after *nbformat.Notebook, mode compare.Mode) error {
	differences := compare.Notebooks(before, after, mode)
	if len(differences) == 0 {
		fmt.Fprintf(s.stdout, "%s: outputs are as committed\n", path)
		return nil
	}
	for _, d := range differences {
		fmt.Fprintf(s.stdout, "%s: %v\n", path, d)
	}
	return fail(exitDiffers, fmt.Errorf("%s: %d differences from the committed outputs; if they are meant, run it without --check and commit", path, len(differences)))
}

func (s *session) writeBack(path string, after *nbformat.Notebook) error {
	data, err := after.Bytes()
	if err != nil {
		return fail(exitFile, fmt.Errorf("%s: %w", path, err))
	}
	if have, err := os.ReadFile(path); err == nil && bytes.Equal(have, data) {
		fmt.Fprintf(s.stdout, "%s: unchanged\n", path)
		return nil
	}
	if err := nbformat.ReplaceFile(path, data); err != nil {
		return fail(exitFile, fmt.Errorf("%s is not written: %w", path, err))
	}
	fmt.Fprintf(s.stdout, "%s: written\n", path)
	return nil
}
