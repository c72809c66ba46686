// Package provenance gathers what a report states about its origin: from the
// records that a notebook's cells left among their outputs, and from the
// checkout.
package provenance

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// The MIME types of the records, as package report of the library writes them.
const (
	RequirementType = "application/vnd.loudspeaker.requirement+json"
	DatasetType     = "application/vnd.loudspeaker.dataset+json"
	SeedType        = "application/vnd.loudspeaker.seed+json"
)

// Dataset is a file that a cell read.
type Dataset struct {
	Path   string      `json:"path"`
	SHA256 string      `json:"sha256"`
	Bytes  json.Number `json:"bytes"`
}

// Seed is the start of a random sequence that a cell used.
type Seed struct {
	Name string      `json:"name"`
	Seed json.Number `json:"seed"`
}

// Requirement is what the command needs of a requirement record; the page
// shows the rest.
type Requirement struct {
	Name   string `json:"name"`
	Status string `json:"status"`
}

// Records are the records of a notebook, in reading order, each once.
type Records struct {
	Datasets     []Dataset
	Seeds        []Seed
	Requirements []Requirement
}

// Collect reads the records from the outputs of an executed notebook. A
// record that cannot be read is an error: it would be missing silently.
func Collect(nb *nbformat.Notebook) (Records, error) {
	var r Records
	for i, c := range nb.Cells {
		for _, o := range c.Outputs {
			for mime, value := range o.Data {
				if err := r.add(mime, value); err != nil {
					return Records{}, fmt.Errorf("provenance: cell %d (id %q): %s: %w", i+1, c.ID, mime, err)
				}
			}
		}
	}
	return r, nil
}

func (r *Records) add(mime string, value any) error {
	switch mime {
	case DatasetType:
		return collect(value, &r.Datasets, func(d Dataset) bool { return d.Path != "" && len(d.SHA256) == 64 })
	case SeedType:
		return collect(value, &r.Seeds, func(s Seed) bool { return s.Name != "" && s.Seed != "" })
	case RequirementType:
		return collect(value, &r.Requirements, func(q Requirement) bool {
			switch q.Status {
			case "pass", "fail", "not evaluated", "waived":
				return q.Name != ""
			}
			return false
		})
	}
	return nil
}

// collect decodes a record and appends it unless an equal one is there.
func collect[T comparable](value any, list *[]T, valid func(T) bool) error {
	b, err := json.Marshal(value)
	if err != nil {
		return err
	}
	var record T
	d := json.NewDecoder(bytes.NewReader(b))
	d.UseNumber()
	if err := d.Decode(&record); err != nil {
		return err
	}
	if !valid(record) {
		return fmt.Errorf("not a valid record: %s", b)
	}
	for _, have := range *list {
		if have == record {
			return nil
		}
	}
	*list = append(*list, record)
	return nil
}

// Failed returns the names of the requirements that are not met.
func (r Records) Failed() []string {
	var names []string
	for _, q := range r.Requirements {
		if q.Status == "fail" {
			names = append(names, q.Name)
		}
	}
	return names
}

// Tree is the state of the checkout's working tree.
type Tree struct {
	Commit  string // the full hash; "" if not known
	Clean   bool
	Changed int    // files changed or added since the commit
	Unknown string // why the state is not known; "" if it is
}

// ReadTree asks git about the checkout.
func ReadTree(ctx context.Context, root string) Tree {
	top, err := git(ctx, root, "rev-parse", "--show-toplevel")
	if err != nil {
		return Tree{Unknown: err.Error()}
	}
	if !sameFolder(strings.TrimSpace(top), root) {
		return Tree{Unknown: "the folder is not a clone of its own"}
	}
	commit, err := git(ctx, root, "rev-parse", "--verify", "HEAD")
	if err != nil {
		return Tree{Unknown: "no commit yet"}
	}
	status, err := git(ctx, root, "status", "--porcelain=v1", "--untracked-files=all")
	if err != nil {
		return Tree{Commit: strings.TrimSpace(commit), Unknown: err.Error()}
	}
	changed := strings.Count(status, "\n")
	return Tree{Commit: strings.TrimSpace(commit), Clean: changed == 0, Changed: changed}
}

func git(ctx context.Context, root string, args ...string) (string, error) {
	path, err := exec.LookPath("git")
	if err != nil {
		return "", errors.New("git is not installed")
	}
	cmd := exec.CommandContext(ctx, path, append([]string{"-C", root, "--no-optional-locks"}, args...)...)
	for _, v := range os.Environ() {
		// A GIT_DIR of a hook that calls us would name another repository.
		if !strings.HasPrefix(v, "GIT_") && !strings.HasPrefix(v, "LC_") && !strings.HasPrefix(v, "LANG") {
			cmd.Env = append(cmd.Env, v)
		}
	}
	cmd.Env = append(cmd.Env, "LC_ALL=C")
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		first, _, _ := strings.Cut(strings.TrimSpace(stderr.String()), "\n")
		return "", fmt.Errorf("git: %s", strings.TrimPrefix(first, "fatal: "))
	}
	return string(out), nil
}

func sameFolder(a, b string) bool {
	i, errI := os.Stat(filepath.Clean(a))
	j, errJ := os.Stat(filepath.Clean(b))
	return errI == nil && errJ == nil && os.SameFile(i, j)
}
