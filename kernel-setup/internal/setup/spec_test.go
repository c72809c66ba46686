//go:build unix

package setup

import (
	"context"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"example.org/loudspeaker/kernel-setup/internal/checkout"
)

// newCheckout makes a folder that passes for a checkout.
func newCheckout(t *testing.T) *checkout.Checkout {
	t.Helper()
	root := t.TempDir()
	if err := os.WriteFile(filepath.Join(root, "go.mod"), []byte("module example.org/study\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	c, err := checkout.Open(context.Background(), root)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func owner(t *testing.T, c *checkout.Checkout, want Owner) Registration {
	t.Helper()
	r, err := Registered(c, DefaultName)
	if err != nil {
		t.Fatal(err)
	}
	if r.Owner != want {
		t.Errorf("owner %d, want %d (%+v)", r.Owner, want, r)
	}
	return r
}

func TestTwoCheckoutsAndOneName(t *testing.T) {
	data := t.TempDir()
	t.Setenv("JUPYTER_DATA_DIR", data)
	a, b := newCheckout(t), newCheckout(t)

	owner(t, a, Nobody)
	if _, err := Register(a, DefaultName, false); err != nil {
		t.Fatal(err)
	}
	if r := owner(t, a, Ours); !r.Same {
		t.Error("just registered, but not up to date")
	}
	owner(t, b, Another)

	var taken *TakenError
	if _, err := Register(b, DefaultName, false); !errors.As(err, &taken) {
		t.Fatalf("second checkout took the name: %v", err)
	}
	for _, mend := range []string{"--force", "--name", a.Root} {
		if !strings.Contains(taken.Error(), mend) {
			t.Errorf("message does not tell %q: %v", mend, taken)
		}
	}
	owner(t, a, Ours)
	if _, err := Unregister(b, DefaultName, false); !errors.As(err, &taken) {
		t.Errorf("second checkout removed the first one's kernel: %v", err)
	}

	if _, err := Register(b, "loudspeaker-b", false); err != nil {
		t.Errorf("a name of its own was refused: %v", err)
	}
	if _, err := Register(b, DefaultName, true); err != nil {
		t.Fatal(err)
	}
	owner(t, a, Another)
	owner(t, b, Ours)

	if err := os.RemoveAll(b.Root); err != nil {
		t.Fatal(err)
	}
	owner(t, a, Gone)
	if _, err := Register(a, DefaultName, false); err != nil {
		t.Errorf("the name of a checkout that is gone was refused: %v", err)
	}
	if _, err := Unregister(a, DefaultName, false); err != nil {
		t.Error(err)
	}
	owner(t, a, Nobody)
	if _, err := os.Stat(filepath.Join(data, "kernels", DefaultName)); err == nil {
		t.Error("an empty kernel folder is left")
	}
}

func TestForeignKernelIsLeftAlone(t *testing.T) {
	data := t.TempDir()
	t.Setenv("JUPYTER_DATA_DIR", data)
	c := newCheckout(t)
	file := filepath.Join(data, "kernels", DefaultName, "kernel.json")
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		t.Fatal(err)
	}
	for _, text := range []string{`{"argv": ["other"], "display_name": "x", "language": "go"}`, `not JSON`} {
		if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		owner(t, c, Stranger)
		var taken *TakenError
		if _, err := Register(c, DefaultName, false); !errors.As(err, &taken) {
			t.Errorf("overwritten: %v", err)
		}
		if have, _ := os.ReadFile(file); string(have) != text {
			t.Errorf("file changed to %s", have)
		}
	}
}

func TestOutdatedRegistration(t *testing.T) {
	t.Setenv("JUPYTER_DATA_DIR", t.TempDir())
	c := newCheckout(t)
	if _, err := Register(c, DefaultName, false); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", os.Getenv("PATH")+":/somewhere/else")
	if r := owner(t, c, Ours); !r.Same {
		t.Error("another PATH makes the registration outdated")
	}
	c.Go.Root = "/another/go" // only PATH: the same kernel
	c.Go.ModCache = "/another/mod"
	if r := owner(t, c, Ours); r.Same {
		t.Error("another module cache is not noticed")
	}
}

func TestKernelNames(t *testing.T) {
	t.Setenv("JUPYTER_DATA_DIR", t.TempDir())
	for _, name := range []string{"", "../evil", "a b", "ä", "a/b"} {
		if _, err := specFile(name); err == nil {
			t.Errorf("name %q was taken", name)
		}
	}
}

// The fields and their names are Jupyter's: jupyter_client documentation,
// "Making kernels for Jupyter", "Kernel specs".
func TestSpecification(t *testing.T) {
	t.Setenv("JUPYTER_DATA_DIR", t.TempDir())
	c := newCheckout(t)
	r, err := Register(c, DefaultName, false)
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(r.File)
	if err != nil {
		t.Fatal(err)
	}
	var have struct {
		Argv          []string          `json:"argv"`
		DisplayName   string            `json:"display_name"`
		Language      string            `json:"language"`
		InterruptMode string            `json:"interrupt_mode"`
		Env           map[string]string `json:"env"`
	}
	if err := json.Unmarshal(data, &have); err != nil {
		t.Fatal(err)
	}
	if have.Language != "go" || have.InterruptMode != "message" || have.DisplayName != "Go (loudspeaker)" {
		t.Errorf("%+v", have)
	}
	argv := strings.Join(have.Argv, " ")
	for _, want := range []string{"{connection_file}", "-go_work=" + c.Root, c.Gonb()} {
		if !strings.Contains(argv, want) {
			t.Errorf("argv %q lacks %q", argv, want)
		}
	}
	for name, want := range map[string]string{"LOUDSPEAKER_ROOT": c.Root, "GOPROXY": "off", "GOWORK": "", "GOENV": "off"} {
		if value, ok := have.Env[name]; !ok || value != want {
			t.Errorf("env %s is %q (set: %v), want %q", name, value, ok, want)
		}
	}
	if _, ok := have.Env["LOUDSPEAKER_HEADLESS"]; ok {
		t.Error("an interactive kernel is told that it runs without a front end")
	}
	if _, err := exec.LookPath("go"); err == nil && !strings.Contains(have.Env["PATH"], filepath.Join(c.Go.Root, "bin")) {
		t.Errorf("PATH %q lacks the go command's folder", have.Env["PATH"])
	}
}
