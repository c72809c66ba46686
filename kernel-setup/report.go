//go:build unix

package main

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"example.org/loudspeaker/kernel-setup/internal/checkout"
	"example.org/loudspeaker/kernel-setup/internal/nbformat"
	"example.org/loudspeaker/kernel-setup/internal/page"
	"example.org/loudspeaker/kernel-setup/internal/provenance"
	"example.org/loudspeaker/speakerlib/report"
)

type reportCmd struct {
	runFlags
	Strict bool   `help:"End with exit code 4 if a requirement is not met (the report is written all the same)."`
	Output string `short:"o" placeholder:"DIR" help:"Folder to write to (default: reports in the checkout)."`
}

// Help is shown by report --help.
func (reportCmd) Help() string {
	return `Executes each notebook and writes it as reports/NAME.html: one page that needs neither network nor
script, with the requirements at its top and its origin (commit, versions, checksums of all data read, seeds)
at its end. Files that the study attaches are written beside it to reports/NAME.files/, with their SHA256SUMS;
that folder is replaced only if nothing in it was added or changed since. The notebook itself is never changed.
The same inputs on the same machine give the same bytes.

Examples:
  go run ./kernel-setup report notebooks/active-conversion.ipynb
  go tool kernel-setup report --strict notebooks/*.ipynb || echo "not releasable"`
}

// Run executes notebooks and writes their reports.
func (r *reportCmd) Run(s *session) error {
	if _, err := r.open(); err != nil {
		return err
	}
	targets, err := r.targets()
	if err != nil {
		return err
	}
	c, err := s.find()
	if err != nil {
		return err
	}
	dir := r.Output
	if dir == "" {
		dir = c.Reports()
	}
	// Before minutes of work.
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fail(exitFile, err)
	}
	if err := writable(dir); err != nil {
		return fail(exitFile, err)
	}
	c, lib, err := s.ready(false)
	if err != nil {
		return err
	}
	tree := provenance.ReadTree(s.ctx, c.Root)
	if tree.Unknown != "" {
		s.log("the reports cannot name their commit: %s", tree.Unknown)
	}
	return s.each(c, &r.runFlags, func(path string, _, after *nbformat.Notebook) error {
		records, err := page.Collect(after)
		if err != nil {
			return fail(exitCell, fmt.Errorf("%s: %w", path, err))
		}
		from, err := origin(c, lib, tree, path)
		if err != nil {
			return fail(exitFile, err)
		}
		folder := title(path) + ".files"
		html, err := page.Render(page.Input{Notebook: after, Name: title(path), Provenance: from, Records: records, Folder: folder})
		if err != nil {
			return fail(exitFile, fmt.Errorf("%s: %w", path, err))
		}
		if err := replaceFiles(filepath.Join(dir, folder), records.Files); err != nil {
			return fail(exitFile, fmt.Errorf("the files of %s are not written: %w", path, err))
		}
		target := filepath.Join(dir, targets[path])
		if err := nbformat.ReplaceFile(target, html); err != nil {
			return fail(exitFile, fmt.Errorf("%s is not written: %w", target, err))
		}
		said := summary(records)
		if n := len(records.Files); n > 0 {
			said += fmt.Sprintf("; %s in %s", plural(n, "file"), filepath.Join(dir, folder))
		}
		fmt.Fprintf(s.stdout, "%s: %s\n", target, said)
		return r.judge(path, records)
	})
}

// targets gives each notebook the name of its report.
func (r *reportCmd) targets() (map[string]string, error) {
	targets, taken := map[string]string{}, map[string]string{}
	for _, path := range r.Notebooks {
		name := title(path) + ".html"
		if other, ok := taken[name]; ok && other != path {
			return nil, fail(exitUsage, fmt.Errorf("%s and %s would both be written to %s", other, path, name))
		}
		targets[path], taken[name] = name, path
	}
	return targets, nil
}

func title(path string) string {
	return strings.TrimSuffix(filepath.Base(path), ".ipynb")
}

// origin is what the report states of where it comes from.
func origin(c *checkout.Checkout, lib checkout.Library, tree provenance.Tree, path string) (page.Provenance, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return page.Provenance{}, err
	}
	sum := sha256.Sum256(data)
	p := page.Provenance{
		Notebook:  page.File{Path: fromRoot(c.Root, path), SHA256: hex.EncodeToString(sum[:]), Bytes: int64(len(data))},
		Commit:    tree.Commit,
		Dirty:     tree.Commit != "" && !tree.Clean,
		GoVersion: lib.GoVersion,
		Platform:  runtime.GOOS + "/" + runtime.GOARCH,
	}
	for _, m := range lib.Modules {
		p.Modules = append(p.Modules, page.Module{Path: m.Path, Version: m.Version})
	}
	return p, nil
}

// fromRoot names a file as the reader of a report finds it in a clone; of a
// file elsewhere only its name is told.
func fromRoot(root, path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		if rel, err := filepath.Rel(root, abs); err == nil && filepath.IsLocal(rel) {
			return filepath.ToSlash(rel)
		}
	}
	return filepath.Base(path)
}

func summary(r page.Records) string {
	if len(r.Requirements) == 0 {
		return "written (no requirements)"
	}
	var parts []string
	for _, status := range []report.Status{report.Pass, report.Fail, report.Waived, report.NotEvaluated} {
		if n := r.Count(status); n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, status))
		}
	}
	return "requirements: " + strings.Join(parts, ", ")
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// judge is the verdict of --strict.
func (r *reportCmd) judge(path string, records page.Records) error {
	failed := records.Failed()
	if !r.Strict || len(failed) == 0 {
		return nil
	}
	var names []string
	for _, q := range failed {
		names = append(names, q.Name())
	}
	return fail(exitStrict, fmt.Errorf("%s: requirements not met: %s", path, strings.Join(names, "; ")))
}
