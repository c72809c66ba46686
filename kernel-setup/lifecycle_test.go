//go:build unix

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// hang is a cell that makes the file $READY and then waits for very long.
const hang = `import ("os"; "time")
%%
os.WriteFile(os.Getenv("READY"), nil, 0o600)
time.Sleep(time.Hour)`

func TestNormalEnd(t *testing.T) {
	path := notebook(t, t.TempDir(), "import \"fmt\"\n%%\nfmt.Println(6 * 7)")
	out := start(t, nil, "run", path).exit(exitOK, time.Minute)
	mustContain(t, out, "[2/2]", "written")
	mustContain(t, contents(t, path), `"42\n"`)
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o644 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	// Nothing but the notebook is in its folder.
	if files, _ := os.ReadDir(filepath.Dir(path)); len(files) != 1 {
		t.Errorf("%d files beside the notebook", len(files)-1)
	}
}

// stopped runs a notebook that hangs, sends a signal, and checks that the
// program ends with its code in time and that the notebook is as it was.
func stopped(t *testing.T, sig syscall.Signal, code int, within time.Duration, cell string) {
	t.Helper()
	dir := t.TempDir()
	path := notebook(t, dir, cell)
	before := contents(t, path)
	ready := filepath.Join(dir, "ready")
	r := start(t, []string{"READY=" + ready}, "run", path)
	r.waitFor(ready)
	began := time.Now()
	if err := r.cmd.Process.Signal(sig); err != nil {
		t.Fatal(err)
	}
	out := r.exit(code, 30*time.Second)
	if took := time.Since(began); took > within {
		t.Errorf("took %v to stop, want at most %v", took, within)
	}
	mustContain(t, out, "stopped by signal")
	if contents(t, path) != before {
		t.Error("the notebook was changed")
	}
}

func TestCtrlC(t *testing.T)     { stopped(t, syscall.SIGINT, 130, 8*time.Second, hang) }
func TestTerminate(t *testing.T) { stopped(t, syscall.SIGTERM, 143, 8*time.Second, hang) }
func TestHangup(t *testing.T)    { stopped(t, syscall.SIGHUP, 129, 8*time.Second, hang) }
func TestQuit(t *testing.T)      { stopped(t, syscall.SIGQUIT, 131, 8*time.Second, hang) }

// Whoever reads the progress goes away in the middle, as in "| head -1".
func TestReaderGoesAway(t *testing.T) {
	path := notebook(t, t.TempDir(), "import \"fmt\"\n%%\nfmt.Println(6 * 7)")
	r := prepare(t, nil, "run", path)
	read, write, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	read.Close()
	r.cmd.Stdout, r.cmd.Stderr = write, write
	r.launch()
	write.Close()
	r.exit(exitOK, time.Minute)
	mustContain(t, contents(t, path), `"42\n"`)
}

func TestCellIgnoresInterrupts(t *testing.T) {
	stopped(t, syscall.SIGINT, 130, 8*time.Second, `import ("os"; "os/signal"; "time")
%%
signal.Ignore(os.Interrupt)
os.WriteFile(os.Getenv("READY"), nil, 0o600)
time.Sleep(time.Hour)`)
}

// A child that left the process group and keeps the cell's output open: the
// cell never ends by itself, and killing the group does not reach the child.
func TestChildOutlivesCell(t *testing.T) {
	stopped(t, syscall.SIGINT, 130, 8*time.Second, `import ("os"; "os/exec"; "syscall")
%%
c := exec.Command("sleep", "3600")
c.Stdout = os.Stdout
c.SysProcAttr = &syscall.SysProcAttr{Setsid: true}
if err := c.Start(); err != nil {
	panic(err)
}
os.WriteFile(os.Getenv("READY"), nil, 0o600)`)
}

func TestCellTimeout(t *testing.T) {
	dir := t.TempDir()
	path := notebook(t, dir, hang)
	before := contents(t, path)
	r := start(t, []string{"READY=" + filepath.Join(dir, "ready")}, "run", "--timeout", "2s", path)
	out := r.exit(exitCell, 30*time.Second)
	mustContain(t, out, "cell 2", `id "cell-2"`, "took longer than 2s", "--timeout")
	if contents(t, path) != before {
		t.Error("the notebook was changed")
	}
}

// A cell that never stops talking is stopped before it fills the memory.
func TestCellFloods(t *testing.T) {
	path := notebook(t, t.TempDir(), "import (\"fmt\"; \"strings\")\n%%\nfor { fmt.Println(strings.Repeat(\"x\", 1000)) }")
	before := contents(t, path)
	out := start(t, nil, "run", path).exit(exitCell, time.Minute)
	mustContain(t, out, "cell 2", `id "cell-2"`, "more than 33554432 bytes")
	if contents(t, path) != before {
		t.Error("the notebook was changed")
	}
}

func TestKilledKernel(t *testing.T) {
	path := notebook(t, t.TempDir(), `import ("os"; "syscall"; "time")
%%
syscall.Kill(os.Getppid(), syscall.SIGKILL)
time.Sleep(time.Hour)`)
	before := contents(t, path)
	out := start(t, nil, "run", path).exit(exitCell, 30*time.Second)
	mustContain(t, out, "cell 2", "kernel process ended", "killed")
	if contents(t, path) != before {
		t.Error("the notebook was changed")
	}
}

// If the program itself is killed it cannot clean up; its watchdog does.
func TestProgramKilled(t *testing.T) {
	dir := t.TempDir()
	ready := filepath.Join(dir, "ready")
	r := start(t, []string{"READY=" + ready}, "run", notebook(t, dir, hang))
	r.waitFor(ready)
	r.cmd.Process.Kill()
	<-r.done
	for limit := time.Now().Add(10 * time.Second); time.Now().Before(limit); time.Sleep(50 * time.Millisecond) {
		if files, _ := os.ReadDir(r.temp); len(files) == 0 {
			break
		}
	}
	r.nothingLeft()
}

func TestCtrlCWhileBuilding(t *testing.T) {
	cache := t.TempDir() // an empty build cache: building takes long
	t.Cleanup(func() { exec.Command("chmod", "-R", "u+w", cache).Run() })
	r := start(t, []string{"GOCACHE=" + cache}, "run", notebook(t, t.TempDir(), hang))
	time.Sleep(1500 * time.Millisecond)
	if err := r.cmd.Process.Signal(syscall.SIGINT); err != nil {
		t.Fatal(err)
	}
	r.exit(130, 15*time.Second)
}

// A user's own settings of the go command, in the environment and through
// "go env -w", must not reach the kernel.
func TestOwnGoSettings(t *testing.T) {
	needKernel(t)
	settings := filepath.Join(t.TempDir(), "env")
	if err := os.WriteFile(settings, []byte("GOFLAGS=-mod=vendor -tags=nothing\nGOWORK=off\nGO111MODULE=off\nGOPROXY=https://127.0.0.1:1\nGOMODCACHE="+built.c.Go.ModCache+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	library := "import (\"fmt\"; \"" + built.c.Module + "/speakerlib/level\")\n%%\nfmt.Printf(\"%.2f\\n\", level.Ratio(20))"
	for name, env := range map[string][]string{
		"GOFLAGS":           {"GOFLAGS=-mod=vendor"},
		"GOFLAGS unknown":   {"GOFLAGS=-race -mod=mod -modfile=nothing.mod"},
		"GOWORK off":        {"GOWORK=off"},
		"GOWORK elsewhere":  {"GOWORK=/nowhere/go.work"},
		"GO111MODULE":       {"GO111MODULE=off"},
		"GOOS and GOARCH":   {"GOOS=plan9", "GOARCH=arm"},
		"all":               {"GOFLAGS=-mod=vendor", "GOWORK=off", "GO111MODULE=off", "CGO_ENABLED=1", "CC=/nowhere/cc"},
		"set by go env -w":  {"GOENV=" + settings, "GOFLAGS=", "GOWORK=", "GO111MODULE="},
		"gopls on the PATH": {"PATH=" + fakeGopls(t) + ":" + os.Getenv("PATH")},
	} {
		t.Run(name, func(t *testing.T) {
			path := notebook(t, t.TempDir(), library)
			start(t, env, "run", path).exit(exitOK, time.Minute)
			mustContain(t, contents(t, path), "10.00")
		})
	}
}

// fakeGopls returns a folder with a gopls that leaves a trace when started.
func fakeGopls(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	trace := filepath.Join(dir, "started")
	if err := os.WriteFile(filepath.Join(dir, "gopls"), []byte("#!/bin/sh\ntouch "+trace+"\nexec sleep 3600\n"), 0o755); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if _, err := os.Stat(trace); err == nil {
			t.Error("gopls was started without a front end")
		}
	})
	return dir
}

// Cells need no network: the kernel's go command may not even try.
func TestCellsCannotFetch(t *testing.T) {
	path := notebook(t, t.TempDir(), "import \"example.com/not/there\"\n%%\nthere.Be()")
	out := start(t, nil, "run", path).exit(exitCell, time.Minute)
	if strings.Contains(out, "dial tcp") {
		t.Errorf("a cell reached for the network:\n%s", out)
	}
	mustContain(t, out, "cell 2")
}

// Without the modules on the disk and without network, the message tells
// what to do.
func TestNoModulesNoNetwork(t *testing.T) {
	path := notebook(t, t.TempDir(), "import \"fmt\"\n%%\nfmt.Println(6 * 7)")
	out := start(t, []string{"GOMODCACHE=" + t.TempDir(), "GOPROXY=off"}, "run", path).exit(exitSetup, time.Minute)
	mustContain(t, out, "Go online once", "GOPROXY")
}
