// Package checkout knows the folder of the project that the command works
// for: where things lie, and the Go environment in which they are built so
// that a user's own Go settings cannot break a notebook.
package checkout

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"

	"golang.org/x/mod/modfile"
)

// Checkout is a clone of the project with the Go installation that serves it.
type Checkout struct {
	Root   string // absolute
	Module string // module path in go.mod
	Go     Go
}

// Go is what the go command says of itself in the checkout.
type Go struct {
	Command    string // the go command of GOROOT
	Version    string `json:"GOVERSION"`
	Root       string `json:"GOROOT"`
	Path       string `json:"GOPATH"`
	Cache      string `json:"GOCACHE"`
	ModCache   string `json:"GOMODCACHE"`
	FlagsFound string `json:"GOFLAGS"` // as the user has them
}

// Find looks for the checkout that holds the working directory, or else the
// running program.
func Find(ctx context.Context) (*Checkout, error) {
	var from []string
	if dir, err := os.Getwd(); err == nil {
		from = append(from, dir)
	}
	if exe, err := os.Executable(); err == nil {
		from = append(from, filepath.Dir(exe))
	}
	for _, dir := range from {
		if root := above(dir); root != "" {
			return Open(ctx, root)
		}
	}
	return nil, fmt.Errorf("checkout: no project folder at or above %s; change into the clone first", strings.Join(from, " or "))
}

// above returns the folder at or above dir that is a checkout, or "".
func above(dir string) string {
	for {
		if isFile(filepath.Join(dir, "go.mod")) && isFile(filepath.Join(dir, "kernel-setup", "tools", "go.mod")) {
			return dir
		}
		up := filepath.Dir(dir)
		if up == dir {
			return ""
		}
		dir = up
	}
}

func isFile(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular()
}

// Open is Find with a known root folder.
func Open(ctx context.Context, root string) (*Checkout, error) {
	root, err := filepath.Abs(root)
	if err != nil {
		return nil, err
	}
	// The kernel takes the folder in a comma-separated list and in PATH.
	if i := strings.IndexAny(root, ",:\n"); i >= 0 {
		return nil, fmt.Errorf("checkout: the folder %q has %q in its name, which the kernel cannot take; move the clone", root, root[i:i+1])
	}
	mod, err := os.ReadFile(filepath.Join(root, "go.mod"))
	if err != nil {
		return nil, fmt.Errorf("checkout: %w", err)
	}
	c := &Checkout{Root: root, Module: modfile.ModulePath(mod)}
	if c.Module == "" {
		return nil, fmt.Errorf("checkout: no module line in %s", filepath.Join(root, "go.mod"))
	}
	if c.Go, err = askGo(ctx, root); err != nil {
		return nil, err
	}
	return c, nil
}

func askGo(ctx context.Context, root string) (Go, error) {
	command, err := exec.LookPath("go")
	if err != nil {
		return Go{}, errors.New("checkout: no go command on PATH; install Go from https://go.dev/dl/ and put its bin folder on PATH")
	}
	cmd := exec.CommandContext(ctx, command, "env", "-json", "GOVERSION", "GOROOT", "GOPATH", "GOCACHE", "GOMODCACHE", "GOFLAGS")
	cmd.Dir = root
	cmd.Env = without(os.Environ(), "GOFLAGS", "GOWORK", "GO111MODULE")
	cmd.Env = append(cmd.Env, "GOWORK=off")
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		if ctx.Err() != nil {
			return Go{}, context.Cause(ctx)
		}
		return Go{}, fmt.Errorf("checkout: go env: %w: %s", err, bytes.TrimSpace(stderr.Bytes()))
	}
	var g Go
	if err := json.Unmarshal(out, &g); err != nil {
		return Go{}, fmt.Errorf("checkout: go env: %w", err)
	}
	g.Command = filepath.Join(g.Root, "bin", "go")
	if !isFile(g.Command) {
		g.Command = command
	}
	return g, nil
}

// Folders and files of the kernel's installation in the checkout.

// Kernel is the ignored folder that holds all that installing makes.
func (c *Checkout) Kernel() string { return filepath.Join(c.Root, ".kernel") }

// Bin holds the kernel and what it needs to run.
func (c *Checkout) Bin() string { return filepath.Join(c.Kernel(), "bin") }

// Editor holds what only an interactive front end needs (completion, help).
func (c *Checkout) Editor() string { return filepath.Join(c.Kernel(), "editor") }

// Gonb is the kernel program.
func (c *Checkout) Gonb() string { return filepath.Join(c.Bin(), "gonb") }

// Tools is the folder of the module file that pins the kernel.
func (c *Checkout) Tools() string { return filepath.Join(c.Root, "kernel-setup", "tools") }

// Reports is the folder in which reports are written.
func (c *Checkout) Reports() string { return filepath.Join(c.Root, "reports") }

// BuildEnv is the environment for go commands in the checkout's modules:
// the user's, with what could change the outcome set. The user's proxy and
// cache settings stay. Extra settings come last and win.
func (c *Checkout) BuildEnv(extra ...string) []string {
	env := without(os.Environ(), "GOFLAGS", "GOWORK", "GO111MODULE", "GOBIN", "GOOS", "GOARCH", "GOAMD64", "CGO_ENABLED", "GOEXPERIMENT", "PWD")
	env = append(env,
		// Never empty: an empty value would let a value through that was
		// set by "go env -w".
		"GOFLAGS=-mod=readonly",
		"GOWORK=off",
		"GO111MODULE=on",
		"GOOS="+runtime.GOOS,
		"GOARCH="+runtime.GOARCH,
		"GOAMD64=v1",
		"CGO_ENABLED=0",
	)
	return append(env, extra...)
}

// CellEnv is what is set in the environment of a kernel, and so of every
// cell, whoever starts it. With it a cell builds without network, without
// a C compiler, and without regard to the user's own Go settings.
func (c *Checkout) CellEnv() map[string]string {
	return map[string]string{
		"LOUDSPEAKER_ROOT": c.Root,
		"GOENV":            "off",
		"GOFLAGS":          "-ldflags=-w", // a fifth faster to link
		"GOWORK":           "",
		"GO111MODULE":      "on",
		"GOPROXY":          "off",
		"GOTOOLCHAIN":      "local",
		"GOOS":             runtime.GOOS,
		"GOARCH":           runtime.GOARCH,
		"GOAMD64":          "v1", // the compiler fuses no multiply-add; math.Exp does where the processor can …
		"GODEBUG":          "",   // … and no cpu.fma=off keeps it from it: the same digits on every such amd64
		"GOEXPERIMENT":     "",
		"CGO_ENABLED":      "0",
		"GOPATH":           c.Go.Path,
		"GOCACHE":          c.Go.Cache,
		"GOMODCACHE":       c.Go.ModCache,
	}
}

// KernelArgv is the command line of the kernel; Jupyter (or our runner)
// replaces {connection_file}.
func (c *Checkout) KernelArgv() []string {
	return []string{c.Gonb(), "--kernel", "{connection_file}", "-raw_error=true", "-go_work=" + c.Root}
}

// HeadlessEnv is the complete environment of a kernel that our runner starts.
func (c *Checkout) HeadlessEnv() []string {
	set := c.CellEnv()
	drop := []string{"PATH", "TMPDIR", "GOTMPDIR", "GOBIN", "PWD", "JUPYTER_DATA_DIR"}
	for name := range set {
		drop = append(drop, name)
	}
	env := without(os.Environ(), drop...)
	for name, value := range set {
		env = append(env, name+"="+value)
	}
	return append(env, "LOUDSPEAKER_HEADLESS=1", "PATH="+c.headlessPath())
}

// headlessPath leaves out folders with a gopls: the kernel would start it
// for completion, which nobody asks for here, and it outlives a killed kernel.
func (c *Checkout) headlessPath() string {
	path := []string{c.Bin(), filepath.Join(c.Go.Root, "bin")}
	for _, dir := range filepath.SplitList(os.Getenv("PATH")) {
		if filepath.IsAbs(dir) && !isFile(filepath.Join(dir, "gopls")) {
			path = append(path, dir)
		}
	}
	return strings.Join(path, string(filepath.ListSeparator))
}

// without returns env without the named variables.
func without(env []string, names ...string) []string {
	kept := make([]string, 0, len(env)+16)
next:
	for _, v := range env {
		for _, name := range names {
			if strings.HasPrefix(v, name+"=") {
				continue next
			}
		}
		kept = append(kept, v)
	}
	return kept
}
