package nb

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
)

func folder(t *testing.T, files map[string]string) {
	t.Helper()
	root := t.TempDir()
	t.Setenv(RootVariable, root)
	for name, content := range files {
		p := filepath.Join(root, "datasets", filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(p), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// The folder is a file system as testing/fstest understands one, and its record is the sum
// of what sha256sum would print.
func TestOpenFolder(t *testing.T) {
	folder(t, map[string]string{"set/b.txt": "two", "set/a.txt": "one", "set/c.csv": "x", "set/in/d.txt": "no", "other/e.txt": "no"})
	f, err := openFolder("set", "*.txt")
	if err != nil {
		t.Fatal(err)
	}
	if err := fstest.TestFS(f, "a.txt", "b.txt"); err != nil {
		t.Error(err)
	}
	list := fmt.Sprintf("%x  a.txt\n%x  b.txt\n", sha256.Sum256([]byte("one")), sha256.Sum256([]byte("two")))
	r := f.Record()
	if want := fmt.Sprintf("%x", sha256.Sum256([]byte(list))); r.SHA256 != want || r.Files != 2 || r.Bytes != 6 || r.Path != "datasets/set/*.txt" {
		t.Errorf("%+v, want 2 files of 6 bytes with the sum %s", r, want)
	}
	if err := r.Validate(); err != nil {
		t.Error(err)
	}
}

func TestOpenFolderRefuses(t *testing.T) {
	folder(t, map[string]string{"set/a.txt": "one"})
	if err := os.Symlink("/etc", filepath.Join(os.Getenv(RootVariable), "datasets", "out")); err != nil {
		t.Fatal(err)
	}
	for _, c := range [][3]string{
		{"../set", "*", "below datasets/"}, {"/etc", "*", "below datasets/"}, {".", "*", "below datasets/"},
		{"set", "*.csv", "1 entries and no file *.csv"}, {"set", "[", "path.Match"}, {"set", "", "path.Match"},
		{"none", "*", "no such file"}, {"set/a.txt", "*", "folder of data sets"}, {"out", "*", "escapes"},
	} {
		if _, err := openFolder(c[0], c[1]); err == nil || !strings.Contains(err.Error(), c[2]) {
			t.Errorf("%q, %q: %v, want %q in it", c[0], c[1], err, c[2])
		}
	}
}
