//go:build unix

package nb

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A pipe is refused and not waited for; a link to a folder is left out as a folder is, and one
// to a file is that file.
func TestOpenFolderTakesFilesOnly(t *testing.T) {
	folder(t, map[string]string{"set/a.txt": "one", "other/b.txt": "two"})
	set := filepath.Join(os.Getenv(RootVariable), "datasets", "set")
	if err := os.Symlink("../other", filepath.Join(set, "link.txt")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("a.txt", filepath.Join(set, "again.txt")); err != nil {
		t.Fatal(err)
	}
	f, err := openFolder("set", "*.txt")
	if err != nil || f.Record().Files != 2 || f.Record().Bytes != 6 {
		t.Fatalf("%+v, error %v, want a.txt and again.txt", f, err)
	}
	if err := syscall.Mkfifo(filepath.Join(set, "pipe.txt"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := openFolder("set", "*.txt"); err == nil || !strings.Contains(err.Error(), "want a file") {
		t.Errorf("%v, want an error that says what it wants", err)
	}
}
