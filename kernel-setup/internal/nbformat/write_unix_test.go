//go:build unix

package nbformat

import (
	"bytes"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The operating system itself refuses the rest of the file: a process of its
// own sets a limit of one kilobyte a file and writes four.
func TestFullDiskLeavesTheOldFile(t *testing.T) {
	const env = "NBFORMAT_TEST_WRITE_LIMITED"
	if path := os.Getenv(env); path != "" {
		signal.Ignore(syscall.SIGXFSZ)
		limit := syscall.Rlimit{Cur: 1024, Max: 1024}
		if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &limit); err != nil {
			t.Fatal(err)
		}
		err := ReplaceFile(path, bytes.Repeat([]byte("x"), 4096))
		if err == nil {
			t.Fatal("written in spite of the limit")
		}
		t.Log("refused: ", err)
		return
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "a.ipynb")
	if err := os.WriteFile(file, []byte("old"), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(os.Args[0], "-test.run=^TestFullDiskLeavesTheOldFile$", "-test.v")
	cmd.Env = append(os.Environ(), env+"="+file)
	out, err := cmd.CombinedOutput()
	if err != nil || !strings.Contains(string(out), "refused: ") {
		t.Fatalf("%v\n%s", err, out)
	}
	got, _ := os.ReadFile(file)
	same(t, "the old file", got, []byte("old"))
	only(t, dir, "a.ipynb")
}

// A pipe that nobody writes to, a folder and a device are told at once.
func TestReadOnlyRegularFiles(t *testing.T) {
	dir := t.TempDir()
	pipe := filepath.Join(dir, "pipe.ipynb")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Skip(err)
	}
	for path, want := range map[string]string{pipe: "is a pipe", dir: "is a folder", os.DevNull: "is a device"} {
		done := make(chan error, 1)
		go func() {
			_, err := Read(path)
			done <- err
		}()
		select {
		case err := <-done:
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%s: error %v, want one with %q", path, err, want)
			}
		case <-time.After(10 * time.Second):
			t.Errorf("%s: still waiting", path)
		}
	}
}
