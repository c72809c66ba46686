// Package provenance finds out which state of the project a report was made
// from.
package provenance

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
)

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
