//go:build unix

package checkout

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// folder makes a file tree from paths and contents.
func folder(t *testing.T, files map[string]string) string {
	t.Helper()
	root := t.TempDir()
	for name, text := range files {
		path := filepath.Join(root, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return root
}

func TestOpen(t *testing.T) {
	ctx := context.Background()
	root := folder(t, map[string]string{
		"go.mod":                    "module example.org/study\n",
		"kernel-setup/tools/go.mod": "module example.org/study/kernel-setup/tools\n",
		"notebooks/deep/x.txt":      "",
	})
	if have := above(filepath.Join(root, "notebooks", "deep")); have != root {
		t.Errorf("above found %q, want %q", have, root)
	}
	if have := above(filepath.Join(root, "kernel-setup", "tools")); have != root {
		t.Errorf("above found %q, want %q", have, root)
	}
	if have := above(t.TempDir()); have != "" {
		t.Errorf("above found %q, want nothing", have)
	}
	c, err := Open(ctx, root)
	if err != nil {
		t.Fatal(err)
	}
	if c.Module != "example.org/study" || !strings.HasPrefix(c.Go.Version, "go1.") || c.Go.ModCache == "" {
		t.Errorf("%+v", c)
	}
	for _, name := range []string{"a,b", "a:b"} {
		bad := filepath.Join(root, name)
		if err := os.Mkdir(bad, 0o755); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(ctx, bad); err == nil || !strings.Contains(err.Error(), "move the clone") {
			t.Errorf("folder %q: %v", name, err)
		}
	}
}

// value returns the last setting of a variable, which is the one that counts.
func value(env []string, name string) (v string, set bool) {
	for _, e := range env {
		if strings.HasPrefix(e, name+"=") {
			v, set = e[len(name)+1:], true
		}
	}
	return v, set
}

func TestEnvironments(t *testing.T) {
	for name, v := range map[string]string{
		"GOFLAGS": "-mod=vendor", "GOWORK": "/w", "GO111MODULE": "off", "GOOS": "plan9", "GOARCH": "arm",
		"CGO_ENABLED": "1", "GOAMD64": "v3", "GOBIN": "/bin", "GOTMPDIR": "/gotmp", "GOPROXY": "https://proxy.example",
		"GODEBUG": "cpu.fma=off", "KEPT": "yes",
	} {
		t.Setenv(name, v)
	}
	c := &Checkout{Root: "/clone", Go: Go{Root: "/go", Path: "/gopath", Cache: "/cache", ModCache: "/mod"}}

	build := c.BuildEnv("GOBIN=/clone/.kernel/bin")
	for name, want := range map[string]string{
		"GOFLAGS": "-mod=readonly", "GOWORK": "off", "GO111MODULE": "on", "CGO_ENABLED": "0", "GOAMD64": "v1",
		"GOBIN": "/clone/.kernel/bin", "GOPROXY": "https://proxy.example", "KEPT": "yes",
	} {
		if have, _ := value(build, name); have != want {
			t.Errorf("build: %s=%q, want %q", name, have, want)
		}
	}
	cell := c.HeadlessEnv()
	for name, want := range map[string]string{
		"GOFLAGS": "-ldflags=-w", "GOWORK": "", "GO111MODULE": "on", "CGO_ENABLED": "0", "GOAMD64": "v1", "GOPROXY": "off",
		"GOENV": "off", "GODEBUG": "", "GOMODCACHE": "/mod", "LOUDSPEAKER_ROOT": "/clone", "LOUDSPEAKER_HEADLESS": "1", "KEPT": "yes",
	} {
		if have, set := value(cell, name); have != want || !set {
			t.Errorf("cell: %s=%q (set: %v), want %q", name, have, set, want)
		}
	}
	for _, name := range []string{"TMPDIR", "GOTMPDIR", "GOBIN"} {
		if _, set := value(cell, name); set {
			t.Errorf("cell: %s is set", name)
		}
	}
	path, _ := value(cell, "PATH")
	if !strings.HasPrefix(path, "/clone/.kernel/bin:/go/bin") {
		t.Errorf("cell: PATH=%s", path)
	}
}

func TestPackages(t *testing.T) {
	root := folder(t, map[string]string{
		"speakerlib/doc.go":               "package speakerlib\n",
		"speakerlib/level/level.go":       "package level\n",
		"speakerlib/dsp/export/export.go": "package export\n",
		"speakerlib/tool/main.go":         "package main\n",
		"speakerlib/only/only_test.go":    "package only\n",
		"speakerlib/x/internal/y/y.go":    "package y\n",
		"speakerlib/x/testdata/z/z.go":    "package z\n",
		"speakerlib/.hidden/h.go":         "package h\n",
		"speakerlib/data/table.txt":       "",
	})
	c := &Checkout{Root: root, Module: "example.org/study"}
	have, err := c.Packages()
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"example.org/study/speakerlib", "example.org/study/speakerlib/dsp/export", "example.org/study/speakerlib/level"}
	if !slices.Equal(have, want) {
		t.Errorf("packages %v, want %v", have, want)
	}
	if _, err := (&Checkout{Root: t.TempDir()}).Packages(); err == nil {
		t.Error("no library, no error")
	}
}

func TestLock(t *testing.T) {
	c := &Checkout{Root: t.TempDir()}
	unlock, err := c.Lock(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 300*time.Millisecond)
	defer cancel()
	waited := false
	if _, err := c.Lock(ctx, func() { waited = true }); !errors.Is(err, context.DeadlineExceeded) || !waited {
		t.Errorf("a second holder: %v, told that it waits: %v", err, waited)
	}
	unlock()
	unlock, err = c.Lock(context.Background(), func() { t.Error("waits for nobody") })
	if err != nil {
		t.Fatal(err)
	}
	unlock()
}

func TestBuildErrorTellsTheMend(t *testing.T) {
	for output, mend := range map[string]string{
		"go: gonum.org/v1/gonum@v0.17.0: Get \"https://proxy\": dial tcp: lookup proxy: no such host": "Go online once",
		"x.go:1:2: module lookup disabled by GOPROXY=off":                                             "Go online once",
		"write /tmp/x: no space left on device":                                                       "The disk is full",
		"./x.go:1:2: undefined: y":                                                                    "",
	} {
		e := &BuildError{Args: []string{"build"}, Output: output, Err: errors.New("exit status 1")}
		if have := e.mend(); mend == "" && have != "" || !strings.Contains(have, mend) {
			t.Errorf("%s: mend %q, want %q", output, have, mend)
		}
		if !strings.Contains(e.Error(), output) {
			t.Errorf("%v does not tell the output", e)
		}
	}
}
