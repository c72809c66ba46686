//go:build unix

package main

import (
	"math"
	"path/filepath"
	"regexp"
	"runtime"
	"testing"
	"time"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

var languageVersion = regexp.MustCompile(`"version": "go[^"]*"`)

// The reference was executed by nbconvert 6.5.3 (nbclient 0.7.2, Debian 12)
// with the installed kernel:
//
//	jupyter nbconvert --to notebook --execute --ExecutePreprocessor.record_timing=False
//
// It has outputs of every kind: joined streams, carriage returns, displays in
// several MIME types with metadata, a display updated from another cell, an
// empty cell, and a cell that may fail.
func TestSameBytesAsNbconvert(t *testing.T) {
	needKernel(t)
	reference := contents(t, filepath.Join("testdata", "nbconvert.ipynb"))
	nb, err := nbformat.Parse([]byte(reference))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range nb.Cells {
		c.Outputs, c.ExecutionCount = nil, nil
	}
	delete(nb.Metadata, "language_info")
	path := filepath.Join(t.TempDir(), "plain.ipynb")
	for run := 1; run <= 2; run++ {
		if err := nb.WriteAtomic(path); err != nil {
			t.Fatal(err)
		}
		start(t, nil, "run", path).exit(exitOK, time.Minute)
		have := languageVersion.ReplaceAllString(contents(t, path), "")
		if want := languageVersion.ReplaceAllString(reference, ""); have != want {
			t.Errorf("run %d: differs from nbconvert's file:\n%s", run, have)
		}
	}
}

// fuses reports whether math.Exp of amd64 has the digits of a processor with
// fused multiply-add (as Go 1.26 has them; without, it is one unit of the last
// place less).
func fuses() bool { return math.Float64bits(math.Exp(0.375)) == 0x3ff747a513dbef6b }

// TestNotebooks executes every notebook of the project through the real
// kernel and compares with the outputs that it was committed with: exactly on
// the version of Go and the kind of processor that wrote them, elsewhere with
// the room that package compare gives. They run side by side, as far as there are
// processors: a kernel of each has its own folder.
func TestNotebooks(t *testing.T) {
	needKernel(t)
	paths, err := filepath.Glob(filepath.Join(built.c.Root, "notebooks", "*.ipynb"))
	if err != nil || len(paths) == 0 {
		t.Fatalf("no notebooks in %s: %v", filepath.Join(built.c.Root, "notebooks"), err)
	}
	for _, path := range paths {
		t.Run(filepath.Base(path), func(t *testing.T) {
			t.Parallel()
			nb, err := nbformat.Read(path)
			if err != nil {
				t.Fatal(err)
			}
			mode := "--check=near"
			if language, ok := nb.Metadata["language_info"].(map[string]any); ok &&
				language["version"] == runtime.Version() && runtime.GOARCH == "amd64" && fuses() {
				mode = "--check=exact"
			}
			if name := nb.KernelName(); name != "loudspeaker" {
				t.Errorf("asks for the kernel %q, want loudspeaker", name)
			}
			before := contents(t, path)
			out := start(t, nil, "run", "--quiet", mode, path).exit(exitOK, 9*time.Minute) // quiet: what differs is not lost in lines of cells
			mustContain(t, out, "as committed")
			if contents(t, path) != before {
				t.Error("--check changed the notebook")
			}
		})
	}
}
