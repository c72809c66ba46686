//go:build unix

// Package setup registers the kernel with the user's Jupyter, and finds out
// what of the installation is there and what is missing.
package setup

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"

	"example.org/loudspeaker/kernel-setup/internal/checkout"
	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// DefaultName is the kernel's name in the notebooks of the project.
const DefaultName = "loudspeaker"

// spec is a Jupyter kernel specification
// (https://jupyter-client.readthedocs.io/en/stable/kernels.html#kernel-specs).
type spec struct {
	Argv          []string          `json:"argv"`
	DisplayName   string            `json:"display_name"`
	Language      string            `json:"language"`
	InterruptMode string            `json:"interrupt_mode"`
	Env           map[string]string `json:"env"`
}

// specFor is the specification of the checkout's kernel.
func specFor(c *checkout.Checkout, name string) spec {
	env := c.CellEnv()
	path := []string{c.Bin(), c.Editor(), filepath.Join(c.Go.Root, "bin")}
	for _, dir := range filepath.SplitList(os.Getenv("PATH")) {
		if filepath.IsAbs(dir) {
			path = append(path, dir)
		}
	}
	env["PATH"] = strings.Join(path, string(filepath.ListSeparator))
	return spec{
		Argv:          c.KernelArgv(),
		DisplayName:   "Go (" + name + ")",
		Language:      "go",
		InterruptMode: "message",
		Env:           env,
	}
}

// kernelName is what Jupyter allows as a kernel's name.
var kernelName = regexp.MustCompile(`^[A-Za-z0-9._-]+$`)

// specFile is where the user's Jupyter looks for the kernel name.
func specFile(name string) (string, error) {
	if !kernelName.MatchString(name) {
		return "", fmt.Errorf("setup: kernel name %q, want letters, digits, point, hyphen and underscore only", name)
	}
	dir, err := dataDir()
	if err != nil {
		return "", err
	}
	return filepath.Join(dir, "kernels", strings.ToLower(name), "kernel.json"), nil
}

// dataDir is Jupyter's folder for the user's own data.
func dataDir() (string, error) {
	if dir := os.Getenv("JUPYTER_DATA_DIR"); dir != "" {
		return filepath.Abs(dir)
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", fmt.Errorf("setup: no home folder: %w", err)
	}
	if runtime.GOOS == "darwin" {
		return filepath.Join(home, "Library", "Jupyter"), nil
	}
	if dir := os.Getenv("XDG_DATA_HOME"); dir != "" {
		return filepath.Join(dir, "jupyter"), nil
	}
	return filepath.Join(home, ".local", "share", "jupyter"), nil
}

// Owner tells whose a registered kernel is.
type Owner int

const (
	Nobody   Owner = iota // not registered
	Ours                  // registered by this checkout
	Gone                  // by a checkout that is no longer there
	Another               // by another checkout
	Stranger              // by something else
)

// Registration is what is registered under a name.
type Registration struct {
	File  string
	Owner Owner
	Root  string // the checkout that registered it, if one did
	Same  bool   // and it is just what would be registered now
}

// Registered looks up who has the kernel name.
func Registered(c *checkout.Checkout, name string) (Registration, error) {
	file, err := specFile(name)
	if err != nil {
		return Registration{}, err
	}
	r := Registration{File: file}
	data, err := os.ReadFile(file)
	if errors.Is(err, fs.ErrNotExist) {
		return r, nil
	}
	if err != nil {
		return r, fmt.Errorf("setup: %w", err)
	}
	var have spec
	if err := json.Unmarshal(data, &have); err != nil {
		r.Owner = Stranger
		return r, nil
	}
	r.Root = have.Env["LOUDSPEAKER_ROOT"]
	switch {
	case r.Root == "":
		r.Owner = Stranger
	case sameFolder(r.Root, c.Root):
		r.Owner = Ours
		want, err := specFor(c, name).bytes()
		// The rest of PATH may differ from shell to shell.
		r.Same = err == nil && samePathAside(have, string(want))
	case !exists(filepath.Join(r.Root, "go.mod")):
		r.Owner = Gone
	default:
		r.Owner = Another
	}
	return r, nil
}

func samePathAside(have spec, want string) bool {
	var w spec
	if json.Unmarshal([]byte(want), &w) != nil {
		return false
	}
	delete(have.Env, "PATH")
	delete(w.Env, "PATH")
	a, errA := json.Marshal(have)
	b, errB := json.Marshal(w)
	return errA == nil && errB == nil && string(a) == string(b)
}

func sameFolder(a, b string) bool {
	if a == b {
		return true
	}
	i, errI := os.Stat(a)
	j, errJ := os.Stat(b)
	return errI == nil && errJ == nil && os.SameFile(i, j)
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

func (s spec) bytes() ([]byte, error) {
	b, err := json.MarshalIndent(s, "", " ")
	return append(b, '\n'), err
}

// TakenError says that the name belongs to somebody else.
type TakenError struct {
	Name string
	Registration
}

func (e *TakenError) Error() string {
	by := "something else"
	if e.Owner == Another {
		by = "the checkout " + e.Root
	}
	return fmt.Sprintf("setup: the kernel name %q is registered by %s (%s). Take it over with --force, "+
		"or register this checkout under a name of its own with --name and choose that kernel in Jupyter; "+
		"run and report always use their own checkout's kernel", e.Name, by, e.File)
}

// Register writes the kernel specification into the user's Jupyter folder.
// A name that another checkout has is refused unless forced.
func Register(c *checkout.Checkout, name string, force bool) (Registration, error) {
	r, err := Registered(c, name)
	if err != nil {
		return r, err
	}
	if (r.Owner == Another || r.Owner == Stranger) && !force {
		return r, &TakenError{name, r}
	}
	data, err := specFor(c, name).bytes()
	if err != nil {
		return r, fmt.Errorf("setup: %w", err)
	}
	if err := os.MkdirAll(filepath.Dir(r.File), 0o755); err != nil {
		return r, fmt.Errorf("setup: %w", err)
	}
	if err := nbformat.ReplaceFile(r.File, data); err != nil {
		return r, fmt.Errorf("setup: %w", err)
	}
	return r, nil
}

// Unregister removes the kernel specification. A name that another checkout
// has is refused unless forced; nothing registered is no error.
func Unregister(c *checkout.Checkout, name string, force bool) (Registration, error) {
	r, err := Registered(c, name)
	if err != nil || r.Owner == Nobody {
		return r, err
	}
	if (r.Owner == Another || r.Owner == Stranger) && !force {
		return r, &TakenError{name, r}
	}
	// Only what we wrote, and then the folder if nothing else is in it.
	if err := os.Remove(r.File); err != nil {
		return r, fmt.Errorf("setup: %w", err)
	}
	os.Remove(filepath.Dir(r.File))
	return r, nil
}

// Jupyter returns the path of a Jupyter command, "" if there is none.
func Jupyter() string {
	for _, name := range []string{"jupyter", "jupyter-lab", "jupyter-notebook", "jupyter-nbconvert"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	return ""
}

// NoJupyter is what to say when there is no Jupyter.
const NoJupyter = `No Jupyter was found on PATH. "run" and "report" do not need it.
To read and edit notebooks interactively, install a front end, for instance
  Debian, Ubuntu:  sudo apt install jupyter-notebook
  elsewhere:       pipx install jupyterlab
or an editor with Jupyter support. It will find the kernel that is registered now.`
