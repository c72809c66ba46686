//go:build unix

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"example.org/loudspeaker/kernel-setup/internal/checkout"
	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// The tests that run the real kernel are all in this package, one after the
// other, behind a lock that keeps a second "go test" out. They run the built
// program, because only that has the exit codes and the signals.

var built struct {
	once    sync.Once
	err     error
	folder  string
	program string
	c       *checkout.Checkout
	lock    *os.File
}

func TestMain(m *testing.M) {
	code := m.Run()
	if built.folder != "" {
		os.RemoveAll(built.folder)
	}
	os.Exit(code)
}

// needKernel skips under -short, and otherwise makes sure that the kernel
// and the program are built.
func needKernel(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("-short: the real kernel is not run")
	}
	built.once.Do(func() { built.err = build() })
	if built.err != nil {
		t.Fatalf("the kernel tests cannot be run (\"go test -short ./...\" leaves them out): %v", built.err)
	}
}

func build() error {
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Minute)
	defer cancel()
	c, err := checkout.Find(ctx)
	if err != nil {
		return err
	}
	built.c = c
	if err := lockTests(c); err != nil {
		return err
	}
	// The go command counts only the files that a test itself opened when
	// it decides whether a cached result is still good.
	if err := readInputs(c.Root); err != nil {
		return err
	}
	log := func(format string, args ...any) { fmt.Fprintf(os.Stderr, format+"\n", args...) }
	if err := c.BuildKernel(ctx, false, log); err != nil {
		return fmt.Errorf("%w\nMend: go online once and run \"go run ./kernel-setup install\"", err)
	}
	if _, err := c.BuildLibrary(ctx, log); err != nil {
		return err
	}
	// Short: a kernel's sockets lie below the tests' temporary folders.
	if built.folder, err = os.MkdirTemp("/tmp", "ks-"); err != nil {
		return err
	}
	built.program = filepath.Join(built.folder, "kernel-setup")
	cmd := exec.CommandContext(ctx, c.Go.Command, "build", "-o", built.program, "./kernel-setup")
	cmd.Dir = c.Root
	cmd.Env = c.BuildEnv()
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("go build ./kernel-setup: %w\n%s", err, out)
	}
	return nil
}

// lockTests waits for other test runs in the same checkout. The lock goes
// with the process.
func lockTests(c *checkout.Checkout) error {
	if err := os.MkdirAll(c.Kernel(), 0o755); err != nil {
		return err
	}
	f, err := os.OpenFile(filepath.Join(c.Kernel(), "test-lock"), os.O_CREATE|os.O_RDWR, 0o644)
	if err != nil {
		return err
	}
	built.lock = f
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX)
}

// readInputs reads what the outcome of the kernel tests depends on and what
// the compiler does not see as part of this package.
func readInputs(root string) error {
	h := sha256.New()
	for _, name := range []string{"go.mod", "go.sum", "speakerlib", "datasets", "notebooks", "kernel-setup"} {
		err := filepath.WalkDir(filepath.Join(root, name), func(path string, d fs.DirEntry, err error) error {
			if errors.Is(err, fs.ErrNotExist) {
				return nil // TestNotebooks tells if there are none
			}
			if err != nil || !d.Type().IsRegular() {
				return err
			}
			f, err := os.Open(path)
			if err != nil {
				return err
			}
			defer f.Close()
			_, err = io.Copy(h, f)
			return err
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// notebook writes a notebook of code cells and returns its path. The first
// cell of each turns automatic fetching off.
func notebook(t *testing.T, dir string, cells ...string) string {
	t.Helper()
	nb := &nbformat.Notebook{Minor: 5, Metadata: map[string]any{
		"kernelspec": map[string]any{"name": "loudspeaker", "display_name": "Go (loudspeaker)", "language": "go"},
	}}
	cells = append([]string{"%noautoget"}, cells...)
	for i, source := range cells {
		nb.Cells = append(nb.Cells, &nbformat.Cell{Type: nbformat.Code, ID: fmt.Sprintf("cell-%d", i+1), Source: source})
	}
	path := filepath.Join(dir, "study.ipynb")
	if err := nb.WriteAtomic(path); err != nil {
		t.Fatal(err)
	}
	return path
}

// trial is one run of the built program with a temporary folder of its own,
// which must be empty afterwards.
type trial struct {
	t      *testing.T
	temp   string
	cmd    *exec.Cmd
	output bytes.Buffer
	done   chan struct{}
}

// start runs the program with a private TMPDIR; env is added to the test's
// own environment.
func start(t *testing.T, env []string, args ...string) *trial {
	t.Helper()
	r := prepare(t, env, args...)
	r.launch()
	return r
}

func prepare(t *testing.T, env []string, args ...string) *trial {
	t.Helper()
	needKernel(t)
	temp, err := os.MkdirTemp(built.folder, "t")
	if err != nil {
		t.Fatal(err)
	}
	r := &trial{t: t, temp: temp, done: make(chan struct{})}
	r.cmd = exec.Command(built.program, args...)
	r.cmd.Dir = built.c.Root
	r.cmd.Env = append(append(os.Environ(), "TMPDIR="+temp), env...)
	r.cmd.Stdout, r.cmd.Stderr = &r.output, &r.output
	r.cmd.WaitDelay = time.Second
	return r
}

func (r *trial) launch() {
	r.t.Helper()
	if err := r.cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	go func() {
		r.cmd.Wait()
		close(r.done)
	}()
	r.t.Cleanup(func() {
		select {
		case <-r.done:
		default:
			r.cmd.Process.Kill()
			<-r.done
		}
	})
}

// exit waits for the end, checks the exit code, and that nothing is left.
// It returns what the program wrote.
func (r *trial) exit(code int, within time.Duration) string {
	r.t.Helper()
	select {
	case <-r.done:
	case <-time.After(within):
		r.t.Fatalf("still running after %v:\n%s", within, r.output.String())
	}
	out := r.output.String()
	if have := r.cmd.ProcessState.ExitCode(); have != code {
		r.t.Errorf("exit code %d (%v), want %d:\n%s", have, r.cmd.ProcessState, code, out)
	}
	r.nothingLeft()
	return out
}

func (r *trial) nothingLeft() {
	r.t.Helper()
	var left []string
	filepath.WalkDir(r.temp, func(path string, d fs.DirEntry, err error) error {
		if path != r.temp {
			left = append(left, path)
		}
		return nil
	})
	if len(left) > 0 {
		r.t.Errorf("left in the temporary folder: %v", left)
	}
	// A killed process may take a moment to leave the table.
	var processes []string
	for attempt := 0; attempt < 20; attempt++ {
		if processes = processesOf(r.temp); len(processes) == 0 {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	r.t.Errorf("left in the process table: %v", processes)
}

// processesOf lists the processes that have the folder in their environment,
// which is inherited, or in their command line.
func processesOf(folder string) []string {
	if _, err := os.Stat("/proc/self/environ"); err != nil {
		// Elsewhere the kernel and the cells' programs can still be told by
		// their command line, which lies below the folder.
		out, _ := exec.Command("ps", "-axo", "pid=,command=").Output()
		var found []string
		for line := range strings.Lines(string(out)) {
			if strings.Contains(line, folder) {
				found = append(found, strings.TrimSpace(line))
			}
		}
		return found
	}
	files, _ := filepath.Glob("/proc/[0-9]*/environ")
	var found []string
	for _, f := range files {
		env, err := os.ReadFile(f)
		if err != nil {
			continue
		}
		command, _ := os.ReadFile(filepath.Join(filepath.Dir(f), "cmdline"))
		if !bytes.Contains(env, []byte("TMPDIR="+folder)) && !bytes.Contains(command, []byte(folder)) {
			continue
		}
		found = append(found, filepath.Base(filepath.Dir(f))+" "+strings.ReplaceAll(string(command), "\x00", " "))
	}
	return found
}

// waitFor waits until a cell has made the file.
func (r *trial) waitFor(path string) {
	r.t.Helper()
	limit := time.After(time.Minute)
	for {
		if _, err := os.Stat(path); err == nil {
			return
		}
		select {
		case <-r.done:
			r.t.Fatalf("ended too early:\n%s", r.output.String())
		case <-limit:
			r.t.Fatalf("%s did not come within a minute:\n%s", path, r.output.String())
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func mustContain(t *testing.T, text string, parts ...string) {
	t.Helper()
	for _, p := range parts {
		if !strings.Contains(text, p) {
			t.Errorf("does not say %q:\n%s", p, text)
		}
	}
}

func contents(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
