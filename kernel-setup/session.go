//go:build unix

package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"example.org/loudspeaker/kernel-setup/internal/checkout"
	"example.org/loudspeaker/kernel-setup/internal/execute"
	"example.org/loudspeaker/kernel-setup/internal/kernel"
	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// session is what every verb needs.
type session struct {
	ctx            context.Context
	stdout, stderr io.Writer
}

func (s *session) log(format string, args ...any) {
	fmt.Fprintf(s.stderr, format+"\n", args...)
}

func (s *session) find() (*checkout.Checkout, error) {
	c, err := checkout.Find(s.ctx)
	return c, fail(exitSetup, err)
}

// ready builds what is not built yet and returns what the library consists of.
func (s *session) ready(editor bool) (*checkout.Checkout, checkout.Library, error) {
	c, err := s.find()
	if err != nil {
		return nil, checkout.Library{}, err
	}
	if err := c.BuildKernel(s.ctx, editor, s.log); err != nil {
		return nil, checkout.Library{}, fail(exitSetup, err)
	}
	lib, err := c.BuildLibrary(s.ctx, s.log)
	return c, lib, fail(exitSetup, err)
}

// runFlags are common to the verbs that execute notebooks.
type runFlags struct {
	Notebooks []string      `arg:"" name:"notebook" help:"Notebook files (.ipynb)."`
	Timeout   time.Duration `default:"2m" help:"Longest time for a cell, 0 for no limit (default ${default}); the first cell gets three minutes more."`
	Quiet     bool          `short:"q" help:"No progress."`
}

// firstExtra is a generous limit for the first cell: on a cold build cache
// it compiles for everyone, and an interrupt does not stop a compiler.
const firstExtra = 3 * time.Minute

// open reads all notebooks before the first is run: a wrong name should not
// show after minutes.
func (f *runFlags) open() ([]*nbformat.Notebook, error) {
	var all []*nbformat.Notebook
	for _, path := range f.Notebooks {
		nb, err := nbformat.Read(path)
		if err != nil {
			return nil, fail(exitFile, err)
		}
		spec, _ := nb.Metadata["kernelspec"].(map[string]any)
		if language, ok := spec["language"].(string); ok && language != "go" {
			return nil, fail(exitFile, fmt.Errorf("%s is a notebook for kernel %q in language %q, want go", path, nb.KernelName(), language))
		}
		all = append(all, nb)
	}
	return all, nil
}

// execute runs one notebook in its own folder through a kernel of its own.
func (s *session) execute(c *checkout.Checkout, path string, nb *nbformat.Notebook, f *runFlags) (out *nbformat.Notebook, err error) {
	folder, err := filepath.Abs(filepath.Dir(path))
	if err != nil {
		return nil, fail(exitFile, err)
	}
	k, err := kernel.Start(s.ctx, kernel.Spec{Argv: c.KernelArgv(), Env: c.HeadlessEnv(), Dir: folder})
	if err != nil {
		return nil, fail(exitSetup, err)
	}
	defer func() {
		if closing := k.Close(); closing != nil && err == nil {
			err = fail(exitFile, closing)
		}
	}()
	show := newProgress(s.stderr, path, f.Quiet)
	out, err = execute.Notebook(s.ctx, k, nb, execute.Options{
		Timeout: f.Timeout, FirstExtra: firstExtra, Progress: show.step,
	})
	show.end()
	if err != nil && s.ctx.Err() == nil {
		return nil, fail(exitCell, fmt.Errorf("%s: %w", path, err))
	}
	return out, err
}

// each executes the notebooks one after the other and gives each to done. A
// failure does not keep the others from running; the first one's exit code
// counts.
func (s *session) each(c *checkout.Checkout, f *runFlags, done func(path string, before, after *nbformat.Notebook) error) error {
	notebooks, err := f.open()
	if err != nil {
		return err
	}
	var first error
	for i, path := range f.Notebooks {
		out, err := s.execute(c, path, notebooks[i], f)
		if err == nil {
			err = done(path, notebooks[i], out)
		}
		switch {
		case err == nil:
			continue
		case s.ctx.Err() != nil:
			return context.Cause(s.ctx)
		case first == nil:
			first = err
		default:
			s.log("kernel-setup: %v", err)
		}
	}
	return first
}

// writable finds out before minutes of work that a folder cannot take a file.
func writable(dir string) error {
	f, err := os.CreateTemp(dir, ".writable-")
	if err != nil {
		return err
	}
	return errors.Join(f.Close(), os.Remove(f.Name()))
}
