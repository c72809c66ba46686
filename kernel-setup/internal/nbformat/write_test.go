package nbformat

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
)

func TestWriteAtomicKeepsModeAndLink(t *testing.T) {
	dir := t.TempDir()
	file, link := filepath.Join(dir, "a.ipynb"), filepath.Join(dir, "link.ipynb")
	if err := os.WriteFile(file, []byte("old"), 0o640); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(file, 0o640); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("a.ipynb", link); err != nil {
		t.Skip("no symbolic links here: ", err)
	}
	want := read(t, "every.ipynb")
	n, err := Parse(want)
	if err != nil {
		t.Fatal(err)
	}
	if err := n.WriteAtomic(link); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	same(t, "the file", got, want)
	if info, _ := os.Lstat(link); info.Mode()&os.ModeSymlink == 0 {
		t.Error("the link became a file")
	}
	if info, _ := os.Stat(file); info.Mode().Perm() != 0o640 {
		t.Errorf("mode %v, want 0640", info.Mode().Perm())
	}
	only(t, dir, "a.ipynb", "link.ipynb")
}

func TestNewFileFollowsUmask(t *testing.T) {
	dir := t.TempDir()
	ref := filepath.Join(dir, "ref")
	if err := os.WriteFile(ref, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	n := &Notebook{Minor: 5}
	if err := n.WriteAtomic(filepath.Join(dir, "new.ipynb")); err != nil {
		t.Fatal(err)
	}
	a, _ := os.Stat(ref)
	b, err := os.Stat(filepath.Join(dir, "new.ipynb"))
	if err != nil || a.Mode() != b.Mode() {
		t.Errorf("mode %v, %v, want %v", b.Mode(), err, a.Mode())
	}
	got, _ := os.ReadFile(filepath.Join(dir, "new.ipynb"))
	same(t, "an empty notebook", got, read(t, "empty.ipynb"))
}

func TestFailedWriteLeavesTheOldFile(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "a.ipynb")
	if err := os.WriteFile(file, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	boom := errors.New("no room")
	err := replace(file, func(w io.Writer) error {
		_, _ = w.Write([]byte("half"))
		return boom
	})
	if !errors.Is(err, boom) {
		t.Errorf("error %v, want %v", err, boom)
	}
	invalid := &Notebook{Minor: 5, Cells: []*Cell{{Type: Raw, ID: "not an id"}}}
	if err := invalid.WriteAtomic(file); err == nil {
		t.Error("an invalid notebook was written")
	}
	if err := (&Notebook{Minor: 5}).WriteAtomic(dir); err == nil {
		t.Error("a folder was replaced")
	}
	got, _ := os.ReadFile(file)
	same(t, "the old file", got, []byte("old"))
	only(t, dir, "a.ipynb")
}

func only(t *testing.T, dir string, names ...string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, e := range list {
		got = append(got, e.Name())
	}
	if len(got) != len(names) {
		t.Errorf("the folder holds %v, want %v", got, names)
	}
}
