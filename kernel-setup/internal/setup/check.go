//go:build unix

package setup

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"time"

	"example.org/loudspeaker/kernel-setup/internal/checkout"
	"example.org/loudspeaker/kernel-setup/internal/kernel"
)

// Verdict is the outcome of one check.
type Verdict int

const (
	OK      Verdict = iota
	Note            // worth knowing, nothing is broken
	Missing         // something does not work
)

func (v Verdict) String() string {
	switch v {
	case OK:
		return "ok"
	case Note:
		return "note"
	}
	return "missing"
}

// Finding is one line of a check.
type Finding struct {
	Verdict Verdict
	What    string
	Detail  string
	Mend    string // what to do; empty if nothing is to be done
}

func (f Finding) String() string {
	s := fmt.Sprintf("%-8s %-10s %s", f.Verdict, f.What, f.Detail)
	if f.Mend != "" {
		s += "; mend: " + f.Mend
	}
	return s
}

const installCommand = "go run ./kernel-setup install"

// Check verifies the installation and what it needs, and gives each finding
// to report as soon as it is known.
func Check(ctx context.Context, c *checkout.Checkout, name string, report func(Finding)) {
	say := func(v Verdict, what, detail, mend string) {
		report(Finding{v, what, strings.ReplaceAll(strings.TrimSpace(detail), "\n", " | "), mend})
	}
	say(OK, "checkout", c.Root, "")
	checkGo(c, say)
	checkTemp(say)
	built := checkKernel(c, say)
	compiled := checkLibrary(ctx, c, say)
	if built && compiled {
		checkCell(ctx, c, say)
	}
	if c.EditorBuilt() {
		say(OK, "editor", "completion and help (gopls)", "")
	} else {
		say(Note, "editor", "no completion and help in front ends", installCommand)
	}
	checkRegistration(c, name, say)
	if path := Jupyter(); path != "" {
		say(OK, "jupyter", path, "")
	} else {
		say(Note, "jupyter", "none on PATH; run and report do not need it", "for interactive work: sudo apt install jupyter-notebook, or pipx install jupyterlab")
	}
	if path, err := exec.LookPath("git"); err == nil {
		say(OK, "git", path, "")
	} else {
		say(Note, "git", "not on PATH: reports cannot name the commit", "install git")
	}
}

type sayer func(v Verdict, what, detail, mend string)

func checkGo(c *checkout.Checkout, say sayer) {
	detail := c.Go.Version + " in " + c.Go.Root
	if c.Go.FlagsFound != "" || os.Getenv("GOWORK") != "" || os.Getenv("GO111MODULE") != "" {
		detail += " (your own GOFLAGS, GOWORK, GO111MODULE are set aside for the kernel)"
	}
	say(OK, "go", detail, "")
}

func checkTemp(say sayer) {
	dir, err := os.MkdirTemp("", "loudspeaker-check-")
	if err != nil {
		say(Missing, "temp", err.Error(), "make room in the temporary folder or set TMPDIR to another one")
		return
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "try")
	if err := os.WriteFile(file, make([]byte, 1<<20), 0o600); err != nil {
		say(Missing, "temp", err.Error(), "make room in the temporary folder or set TMPDIR to another one")
		return
	}
	say(OK, "temp", os.TempDir()+" can be written", "")
}

func checkKernel(c *checkout.Checkout, say sayer) bool {
	version, err := c.KernelVersion()
	if err != nil {
		say(Missing, "kernel", err.Error(), "restore kernel-setup/tools/go.mod from the repository")
		return false
	}
	if built, why := c.KernelBuilt(); !built {
		say(Missing, "kernel", why, installCommand)
		return false
	}
	say(OK, "kernel", "gonb "+version+" in "+c.Bin(), "")
	return true
}

func checkLibrary(ctx context.Context, c *checkout.Checkout, say sayer) bool {
	lib, err := c.BuildLibrary(ctx, func(string, ...any) {})
	if err != nil {
		mend := "make \"go build ./speakerlib/...\" pass"
		var failed *checkout.BuildError
		if !errors.As(err, &failed) {
			mend = "see the message"
		}
		say(Missing, "library", err.Error(), mend)
		return false
	}
	say(OK, "library", fmt.Sprintf("builds with %s and %d modules", lib.GoVersion, len(lib.Modules)), "")
	return true
}

// checkCell runs a cell that imports the library and prints.
func checkCell(ctx context.Context, c *checkout.Checkout, say sayer) {
	const mend = installCommand + ", and look at the message if that does not help"
	packages, err := c.Packages()
	if err != nil {
		say(Missing, "cell", err.Error(), mend)
		return
	}
	started := time.Now()
	ctx, cancel := context.WithTimeoutCause(ctx, 2*time.Minute, errors.New("no answer within two minutes"))
	defer cancel()
	k, err := kernel.Start(ctx, kernel.Spec{Argv: c.KernelArgv(), Env: c.HeadlessEnv(), Dir: c.Root})
	if err != nil {
		say(Missing, "cell", err.Error(), mend)
		return
	}
	defer k.Close()
	code := fmt.Sprintf("%%noautoget\nimport (\n\t_ %q\n\t\"fmt\"\n)\n%%%%\nfmt.Print(6 * 7)", packages[0])
	printed := ""
	reply, err := k.Execute(ctx, code, func(m kernel.Message) error {
		if m.Header.Type == "stream" {
			printed += string(m.Content)
		}
		return nil
	}, func(kernel.Message) error { return nil })
	switch {
	case err != nil:
		say(Missing, "cell", err.Error(), mend)
	case reply.Failure != nil:
		say(Missing, "cell", reply.Failure.Value, mend)
	case !strings.Contains(printed, `"42"`):
		say(Missing, "cell", "a cell that should print 42 sent "+printed, mend)
	default:
		say(OK, "cell", fmt.Sprintf("a cell with the library ran, %.1f s with the kernel's start", time.Since(started).Seconds()), "")
	}
}

func checkRegistration(c *checkout.Checkout, name string, say sayer) {
	r, err := Registered(c, name)
	if err != nil {
		say(Missing, "registered", err.Error(), "see the message")
		return
	}
	const what = "registered"
	switch r.Owner {
	case Ours:
		if r.Same {
			say(OK, what, fmt.Sprintf("kernel %q in %s", name, r.File), "")
		} else {
			say(Missing, what, fmt.Sprintf("kernel %q in %s is not up to date", name, r.File), installCommand)
		}
	case Nobody:
		verdict := Note
		if Jupyter() != "" {
			verdict = Missing
		}
		say(verdict, what, fmt.Sprintf("kernel %q is not registered with Jupyter", name), installCommand)
	case Gone:
		say(Missing, what, fmt.Sprintf("kernel %q belongs to a checkout that is gone: %s", name, r.Root), installCommand)
	case Another:
		say(Missing, what, fmt.Sprintf("kernel %q belongs to another checkout: %s", name, r.Root), installCommand+" --force, or --name another-name")
	case Stranger:
		say(Missing, what, fmt.Sprintf("kernel %q in %s is not ours", name, r.File), installCommand+" --force, or --name another-name")
	}
	for _, dir := range filepath.SplitList(os.Getenv("JUPYTER_PATH")) {
		file := filepath.Join(dir, "kernels", strings.ToLower(name), "kernel.json")
		if exists(file) {
			say(Note, what, "JUPYTER_PATH has a kernel of the same name, which comes first: "+file, "unset JUPYTER_PATH or remove that kernel")
		}
	}
}
