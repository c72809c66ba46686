package provenance

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// run runs git in a repository with an identity of its own.
func run(t *testing.T, dir string, args ...string) string {
	t.Helper()
	cmd := exec.Command("git", append([]string{"-C", dir, "-c", "user.name=t", "-c", "user.email=t@example.org"}, args...)...)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("git %v: %v\n%s", args, err, out)
	}
	return strings.TrimSpace(string(out))
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func TestReadTree(t *testing.T) {
	if _, err := exec.LookPath("git"); err != nil {
		t.Skip("git is not installed: nothing to ask")
	}
	ctx := context.Background()
	root := t.TempDir()
	if tree := ReadTree(ctx, root); tree.Unknown == "" || tree.Commit != "" || tree.Clean {
		t.Errorf("no repository: %+v", tree)
	}
	run(t, root, "init", "-q")
	if tree := ReadTree(ctx, root); tree.Unknown == "" || tree.Clean {
		t.Errorf("no commit: %+v", tree)
	}
	write(t, filepath.Join(root, "a"), "1\n")
	write(t, filepath.Join(root, ".gitignore"), "/reports/\n")
	run(t, root, "add", ".")
	run(t, root, "commit", "-q", "-m", "one")
	head := run(t, root, "rev-parse", "HEAD")
	if tree := ReadTree(ctx, root); tree != (Tree{Commit: head, Clean: true}) {
		t.Errorf("clean: %+v", tree)
	}
	// What a report writes must not make the tree unclean.
	if err := os.Mkdir(filepath.Join(root, "reports"), 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(root, "reports", "r.html"), "x")
	if tree := ReadTree(ctx, root); !tree.Clean {
		t.Errorf("ignored file: %+v", tree)
	}
	write(t, filepath.Join(root, "a"), "2\n")
	write(t, filepath.Join(root, "new"), "x")
	if tree := ReadTree(ctx, root); tree != (Tree{Commit: head, Changed: 2}) {
		t.Errorf("one changed, one new: %+v", tree)
	}

	// A folder within somebody else's repository has no commit of its own.
	inner := filepath.Join(root, "inner")
	if err := os.Mkdir(inner, 0o755); err != nil {
		t.Fatal(err)
	}
	if tree := ReadTree(ctx, inner); tree.Commit != "" || tree.Unknown == "" {
		t.Errorf("inner folder: %+v", tree)
	}

	// A hook sets GIT_DIR; it must not lead us elsewhere.
	other := t.TempDir()
	run(t, other, "init", "-q")
	t.Setenv("GIT_DIR", filepath.Join(other, ".git"))
	if tree := ReadTree(ctx, root); tree.Commit != head {
		t.Errorf("GIT_DIR of another repository: %+v", tree)
	}
}
