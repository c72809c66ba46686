//go:build unix

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"example.org/loudspeaker/kernel-setup/internal/page"
	"example.org/loudspeaker/speakerlib/report"
)

func attachment(name, content string) page.Attachment {
	return page.Attachment{File: report.File{Name: name, Media: "text/plain", Content: []byte(content)}}
}

// tree lists everything below a folder with its content.
func tree(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || path == dir {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		b.WriteString(rel)
		if d.Type().IsRegular() && d.Name() != sumsName {
			b.WriteString("=" + contents(t, path))
		}
		b.WriteString(" ")
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(b.String())
}

func TestFilesAreReplaced(t *testing.T) {
	dir := t.TempDir()
	folder := filepath.Join(dir, "study.files")
	replace := func(want string, files ...page.Attachment) {
		t.Helper()
		if err := replaceFiles(folder, files); err != nil {
			t.Fatal(err)
		}
		if have := tree(t, dir); have != want {
			t.Errorf("had %q, want %q", have, want)
		}
	}
	replace("")
	replace("study.files study.files/SHA256SUMS study.files/a.txt=1 study.files/b.txt=2", attachment("b.txt", "2"), attachment("a.txt", "1"))
	// The sums are in the form that the tool of GNU coreutils reads.
	if _, err := exec.LookPath("sha256sum"); err == nil {
		cmd := exec.Command("sha256sum", "--strict", "-c", sumsName)
		cmd.Dir = folder
		if out, err := cmd.CombinedOutput(); err != nil || !strings.Contains(string(out), "a.txt: OK\n") {
			t.Errorf("sha256sum -c: %v\n%s", err, out)
		}
	}
	// What is no longer attached goes; what was deleted comes back.
	if err := os.Remove(filepath.Join(folder, "a.txt")); err != nil {
		t.Fatal(err)
	}
	replace("study.files study.files/SHA256SUMS study.files/a.txt=3", attachment("a.txt", "3"))
	replace("")
}

func TestForeignFilesStay(t *testing.T) {
	elsewhere := t.TempDir()
	write(t, filepath.Join(elsewhere, "a.txt"), "mine")
	for _, c := range []struct {
		name, want string
		spoil      func(folder string) error
	}{
		{"a file added", "mine.txt is not from report", func(f string) error { return os.WriteFile(filepath.Join(f, "mine.txt"), nil, 0o600) }},
		{"a folder added", "mine is not from report", func(f string) error { return os.Mkdir(filepath.Join(f, "mine"), 0o700) }},
		{"a file changed", "a.txt was changed", func(f string) error { return os.WriteFile(filepath.Join(f, "a.txt"), []byte("mine"), 0o600) }},
		{"no sums", "is not a folder that report wrote", func(f string) error { return os.Remove(filepath.Join(f, sumsName)) }},
		{"a link in it", "a.txt is not a regular file", func(f string) error {
			os.Remove(filepath.Join(f, "a.txt"))
			return os.Symlink(filepath.Join(elsewhere, "a.txt"), filepath.Join(f, "a.txt"))
		}},
		{"a link in its place", "is not a folder", func(f string) error {
			os.RemoveAll(f)
			return os.Symlink(elsewhere, f)
		}},
		{"a file in its place", "is not a folder", func(f string) error {
			os.RemoveAll(f)
			return os.WriteFile(f, []byte("mine"), 0o600)
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			folder := filepath.Join(dir, "study.files")
			if err := replaceFiles(folder, []page.Attachment{attachment("a.txt", "1")}); err != nil {
				t.Fatal(err)
			}
			if err := c.spoil(folder); err != nil {
				t.Fatal(err)
			}
			before := tree(t, dir)
			err := replaceFiles(folder, []page.Attachment{attachment("a.txt", "2")})
			if err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "move the folder away") {
				t.Errorf("%v, want it to say %q", err, c.want)
			}
			// A study that attaches nothing does not care.
			if err := replaceFiles(folder, nil); err != nil {
				t.Error(err)
			}
			if have := tree(t, dir); have != before {
				t.Errorf("had %q, is %q", before, have)
			}
		})
	}
	if tree(t, elsewhere) != "a.txt=mine" {
		t.Error("a file was changed through a link")
	}
}

// A notebook attaches two files through the real kernel, one of them with
// every byte and as long as a file may be.
func TestAttachedFilesAreWritten(t *testing.T) {
	needKernel(t)
	dir := t.TempDir()
	study := func(content string) string {
		return notebook(t, dir, "import \""+built.c.Module+"/speakerlib/nb\"",
			`func every() []byte {
	b := make([]byte, 1<<20)
	for i := range b {
		b[i] = byte(i ^ i>>8)
	}
	return b
}
%%
nb.Attach("sections.json", "application/json", []byte(`+"`"+content+"`"+`))
nb.Attach("every.bin", "application/octet-stream", every())`,
			"%%\nnb.Attach(\"sections.json\", \"application/json\", []byte(`"+content+"`))")
	}
	every := make([]byte, 1<<20)
	for i := range every {
		every[i] = byte(i ^ i>>8)
	}
	out := filepath.Join(dir, "out")
	folder := filepath.Join(out, "study.files")
	path := study(`{"b0": 1.0, "a1": -1.5}` + "\n")

	said := start(t, nil, "report", "-o", out, path).exit(exitOK, time.Minute)
	mustContain(t, said, "2 files in "+folder)
	if have := contents(t, filepath.Join(folder, "sections.json")); have != `{"b0": 1.0, "a1": -1.5}`+"\n" {
		t.Errorf("sections.json is %q", have)
	}
	if have := contents(t, filepath.Join(folder, "every.bin")); have != string(every) {
		t.Errorf("every.bin has %d bytes that are not those attached", len(have))
	}
	html := contents(t, filepath.Join(out, "study.html"))
	mustContain(t, html, `href="./study.files/sections.json"`, `href="./study.files/every.bin"`, "file: every.bin, 1048576 bytes, SHA-256 ")
	first := tree(t, out) + contents(t, filepath.Join(folder, sumsName))

	start(t, nil, "report", "-o", out, path).exit(exitOK, time.Minute)
	if tree(t, out)+contents(t, filepath.Join(folder, sumsName)) != first {
		t.Error("a second run gave other bytes")
	}

	// A digit of a coefficient that depends on the processor's last bit is none in
	// near mode, and one that counts is; exact mode sees both.
	start(t, nil, "run", path).exit(exitOK, time.Minute)
	said = start(t, nil, "run", "--check=near", path).exit(exitOK, time.Minute)
	mustContain(t, said, "as committed")
	committed := contents(t, path)
	for _, c := range []struct {
		value, mode string
		code        int
		says        string
	}{
		{"-1.500000000001", "near", exitOK, "as committed"},
		{"-1.500000000001", "exact", exitDiffers, report.FileMIME},
		{"-1.7", "near", exitDiffers, "file sections.json"},
	} {
		changed := strings.ReplaceAll(committed, "-1.5}", c.value+"}")
		if changed == committed {
			t.Fatal("the source was not changed")
		}
		write(t, path, changed)
		said = start(t, nil, "run", "--check="+c.mode, path).exit(c.code, time.Minute)
		if c.code == exitDiffers {
			mustContain(t, said, `cell 3 (id "cell-3")`)
		}
		mustContain(t, said, c.says)
	}

	write(t, filepath.Join(folder, "sections.json"), "mine")
	said = start(t, nil, "report", "-o", out, path).exit(exitFile, time.Minute)
	mustContain(t, said, "sections.json was changed", "move the folder away")
	if contents(t, filepath.Join(folder, "sections.json")) != "mine" {
		t.Error("a changed file was overwritten")
	}
}
