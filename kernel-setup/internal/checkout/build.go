//go:build unix

package checkout

import (
	"bytes"
	"context"
	"crypto/sha256"
	"debug/buildinfo"
	"encoding/hex"
	"errors"
	"fmt"
	"go/build"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"time"

	"golang.org/x/mod/modfile"
)

// Packages that the kernel's installation consists of; their versions stand
// in kernel-setup/tools/go.mod.
const (
	gonbPackage      = "github.com/janpfeifer/gonb"
	goimportsPackage = "golang.org/x/tools/cmd/goimports"
	goplsPackage     = "golang.org/x/tools/gopls"
)

// A Log takes the lines that tell the user what is going on.
type Log func(format string, args ...any)

// KernelVersion returns the kernel's version as pinned.
func (c *Checkout) KernelVersion() (string, error) {
	path := filepath.Join(c.Tools(), "go.mod")
	data, err := os.ReadFile(path)
	if err != nil {
		return "", fmt.Errorf("checkout: %w", err)
	}
	f, err := modfile.ParseLax(path, data, nil)
	if err != nil {
		return "", fmt.Errorf("checkout: %w", err)
	}
	for _, r := range f.Require {
		if r.Mod.Path == gonbPackage {
			return r.Mod.Version, nil
		}
	}
	return "", fmt.Errorf("checkout: %s does not require %s", path, gonbPackage)
}

// stamp identifies what the built kernel depends on.
func (c *Checkout) stamp() (string, error) {
	h := sha256.New()
	for _, name := range []string{"go.mod", "go.sum"} {
		data, err := os.ReadFile(filepath.Join(c.Tools(), name))
		if err != nil {
			return "", fmt.Errorf("checkout: %w", err)
		}
		h.Write(data)
	}
	return hex.EncodeToString(h.Sum(nil)) + " " + c.Go.Version + "\n", nil
}

// KernelBuilt reports whether the kernel is built as pinned, and if not, why.
func (c *Checkout) KernelBuilt() (bool, string) {
	want, err := c.stamp()
	if err != nil {
		return false, err.Error()
	}
	for _, name := range []string{"gonb", "goimports"} {
		if !isFile(filepath.Join(c.Bin(), name)) {
			return false, name + " is not built"
		}
	}
	have, err := os.ReadFile(filepath.Join(c.Kernel(), "built"))
	if err != nil {
		return false, "never built to the end"
	}
	if string(have) != want {
		return false, "built for another pinned version or another Go"
	}
	return true, ""
}

// EditorBuilt reports whether completion and help for front ends are built.
func (c *Checkout) EditorBuilt() bool { return isFile(filepath.Join(c.Editor(), "gopls")) }

// BuildKernel builds the pinned kernel if it is not built yet, and with
// editor also what interactive front ends use.
func (c *Checkout) BuildKernel(ctx context.Context, editor bool, log Log) error {
	unlock, err := c.Lock(ctx, func() { log("waiting for another process that builds in %s", c.Kernel()) })
	if err != nil {
		return err
	}
	defer unlock()
	built, _ := c.KernelBuilt()
	if built && (!editor || c.EditorBuilt()) {
		return nil
	}
	version, err := c.KernelVersion()
	if err != nil {
		return err
	}
	want, err := c.stamp()
	if err != nil {
		return err
	}
	if !built {
		log("building the notebook kernel (gonb %s); the first time this fetches its modules and takes a minute or so", version)
		os.Remove(filepath.Join(c.Kernel(), "built"))
		if err := c.install(ctx, c.Bin(), log, gonbPackage, goimportsPackage); err != nil {
			return err
		}
	}
	if editor && !(built && c.EditorBuilt()) {
		log("building completion and help for front ends (gopls)")
		if err := c.install(ctx, c.Editor(), log, goplsPackage); err != nil {
			return err
		}
	}
	return os.WriteFile(filepath.Join(c.Kernel(), "built"), []byte(want), 0o644)
}

func (c *Checkout) install(ctx context.Context, bin string, log Log, packages ...string) error {
	if err := os.MkdirAll(bin, 0o755); err != nil {
		return fmt.Errorf("checkout: %w", err)
	}
	args := append([]string{"install"}, packages...)
	return c.goCommand(ctx, c.Tools(), c.BuildEnv("GOBIN="+bin), log, args...)
}

// Library is what the pre-built library consists of, from the build record
// of the linked program.
type Library struct {
	GoVersion string
	Modules   []Module // sorted by path, without the project's own
}

// Module is a dependency as it was compiled.
type Module struct{ Path, Version, Sum string }

// BuildLibrary compiles the whole library just as a cell will, and links it,
// so that the first cell finds everything in the build cache and every
// module on the disk. It returns what went into it.
func (c *Checkout) BuildLibrary(ctx context.Context, log Log) (Library, error) {
	unlock, err := c.Lock(ctx, func() { log("waiting for another process that builds in %s", c.Kernel()) })
	if err != nil {
		return Library{}, err
	}
	defer unlock()
	packages, err := c.Packages()
	if err != nil {
		return Library{}, err
	}
	dir := filepath.Join(c.Kernel(), "library")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return Library{}, fmt.Errorf("checkout: %w", err)
	}
	rootMod, err := os.ReadFile(filepath.Join(c.Root, "go.mod"))
	if err != nil {
		return Library{}, fmt.Errorf("checkout: %w", err)
	}
	goLine := "go " + modfileGo(rootMod) + "\n"
	var program strings.Builder
	program.WriteString("// Generated: it only makes the library compile and link as in a cell.\npackage main\n\nimport (\n")
	for _, p := range append([]string{gonbPackage + "/gonbui"}, packages...) {
		fmt.Fprintf(&program, "\t_ %q\n", p)
	}
	for _, p := range []string{"fmt", "math", "math/cmplx", "os", "sort", "strings"} {
		fmt.Fprintf(&program, "\t_ %q\n", p)
	}
	program.WriteString(")\n\nfunc main() {}\n")
	for name, text := range map[string]string{
		"go.mod":  "module library\n\n" + goLine,
		"go.work": goLine + "\nuse (\n\t.\n\t" + modfile.AutoQuote(c.Root) + "\n)\n",
		"main.go": program.String(),
	} {
		if err := writeIfChanged(filepath.Join(dir, name), text); err != nil {
			return Library{}, fmt.Errorf("checkout: %w", err)
		}
	}
	started := time.Now()
	slow := time.AfterFunc(3*time.Second, func() {
		log("building the library once, so that cells start fast")
	})
	defer slow.Stop()
	out := filepath.Join(dir, "library")
	env := c.BuildEnv("GOFLAGS=-ldflags=-w", "GOWORK="+filepath.Join(dir, "go.work"))
	if err := c.goCommand(ctx, dir, env, log, "build", "-o", out, "."); err != nil {
		return Library{}, err
	}
	if took := time.Since(started); took > 3*time.Second {
		log("library built in %.0f s", took.Seconds())
	}
	info, err := buildinfo.ReadFile(out)
	if err != nil {
		return Library{}, fmt.Errorf("checkout: %w", err)
	}
	lib := Library{GoVersion: info.GoVersion}
	for _, d := range info.Deps {
		if d.Path == c.Module {
			continue
		}
		if d.Replace != nil {
			d = d.Replace
		}
		lib.Modules = append(lib.Modules, Module{d.Path, d.Version, d.Sum})
	}
	slices.SortFunc(lib.Modules, func(a, b Module) int { return strings.Compare(a.Path, b.Path) })
	return lib, nil
}

func modfileGo(mod []byte) string {
	if f, err := modfile.ParseLax("go.mod", mod, nil); err == nil && f.Go != nil {
		return f.Go.Version
	}
	return "1.26.0"
}

// Packages returns the import paths of the library's packages, sorted.
func (c *Checkout) Packages() ([]string, error) {
	var packages []string
	root := filepath.Join(c.Root, "speakerlib")
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || !d.IsDir() {
			return err
		}
		name := d.Name()
		if path != root && (name == "testdata" || name == "internal" || name[0] == '.' || name[0] == '_') {
			return fs.SkipDir
		}
		p, err := build.Default.ImportDir(path, 0)
		var none *build.NoGoError
		switch {
		case errors.As(err, &none):
			return nil
		case err != nil:
			return err
		case p.Name == "main" || len(p.GoFiles) == 0:
			return nil
		}
		rel, err := filepath.Rel(c.Root, path)
		if err != nil {
			return err
		}
		packages = append(packages, c.Module+"/"+filepath.ToSlash(rel))
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("checkout: library: %w", err)
	}
	if len(packages) == 0 {
		return nil, fmt.Errorf("checkout: no packages in %s", root)
	}
	return packages, nil
}

// writeIfChanged leaves a file with the right contents alone, so that the
// build cache sees it unchanged.
func writeIfChanged(path, text string) error {
	if have, err := os.ReadFile(path); err == nil && string(have) == text {
		return nil
	}
	return os.WriteFile(path, []byte(text), 0o644)
}

// BuildError is a go command that failed.
type BuildError struct {
	Args   []string
	Output string
	Err    error
}

func (e *BuildError) Error() string {
	text := fmt.Sprintf("go %s: %v\n%s", strings.Join(e.Args, " "), e.Err, strings.TrimSpace(e.Output))
	if mend := e.mend(); mend != "" {
		text += "\n" + mend
	}
	return text
}

func (e *BuildError) Unwrap() error { return e.Err }

// mend says what to do about the usual causes.
func (e *BuildError) mend() string {
	for _, sign := range []string{"dial tcp", "no such host", "module lookup disabled", "i/o timeout", "connection refused", "proxyconnect"} {
		if strings.Contains(e.Output, sign) {
			return "Modules are missing and the network (or module proxy) could not be reached. Go online once, or set GOPROXY to a proxy that you can reach, and repeat the command; after that no network is needed."
		}
	}
	if strings.Contains(e.Output, "no space left on device") {
		return "The disk is full: make room (the build cache is cleared by \"go clean -cache\") and repeat the command."
	}
	return ""
}

// goCommand runs a go command, passes its progress lines on, and ends it
// with all its children when ctx ends. It works in a temporary folder of its
// own, because an interrupted go command does not always remove what it made.
func (c *Checkout) goCommand(ctx context.Context, dir string, env []string, log Log, args ...string) error {
	temp, err := os.MkdirTemp("", "loudspeaker-build-")
	if err != nil {
		return fmt.Errorf("checkout: no temporary folder: %w", err)
	}
	defer os.RemoveAll(temp)
	cmd := exec.CommandContext(ctx, c.Go.Command, args...)
	cmd.Dir = dir
	cmd.Env = append(env[:len(env):len(env)], "TMPDIR="+temp, "GOTMPDIR="+temp)
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	cmd.Cancel = func() error { return syscall.Kill(-cmd.Process.Pid, syscall.SIGINT) }
	cmd.WaitDelay = 5 * time.Second
	var output bytes.Buffer
	lines := &lineWriter{to: func(line string) {
		if strings.HasPrefix(line, "go: downloading ") {
			log("%s", line)
		}
	}}
	cmd.Stdout = io.MultiWriter(&output, lines)
	cmd.Stderr = cmd.Stdout
	err = cmd.Run()
	if err == nil {
		return nil
	}
	if cmd.Process != nil {
		syscall.Kill(-cmd.Process.Pid, syscall.SIGKILL)
	}
	if ctx.Err() != nil {
		return context.Cause(ctx)
	}
	return &BuildError{Args: args, Output: output.String(), Err: err}
}

// lineWriter cuts what is written to it into lines.
type lineWriter struct {
	to   func(string)
	rest []byte
}

func (w *lineWriter) Write(b []byte) (int, error) {
	w.rest = append(w.rest, b...)
	for {
		i := bytes.IndexByte(w.rest, '\n')
		if i < 0 {
			return len(b), nil
		}
		w.to(string(w.rest[:i]))
		w.rest = w.rest[i+1:]
	}
}
