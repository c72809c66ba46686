//go:build unix

package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestExitCodes checks the documented exit codes on the built program, those
// of signals excepted (lifecycle_test.go).
func TestExitCodes(t *testing.T) {
	needKernel(t)
	dir := t.TempDir()
	good := notebook(t, dir, "import \"fmt\"\n%%\nfmt.Println(6 * 7)")
	start(t, nil, "run", good).exit(exitOK, time.Minute)

	changed := filepath.Join(dir, "changed.ipynb")
	write(t, changed, strings.Replace(contents(t, good), "42", "43", 1))
	python := filepath.Join(dir, "python.ipynb")
	write(t, python, strings.Replace(contents(t, good), `"language": "go"`, `"language": "python"`, 1))
	broken := filepath.Join(dir, "broken.ipynb")
	write(t, broken, contents(t, good)[:100])
	failing := filepath.Join(dir, "failing.ipynb")
	write(t, failing, strings.Replace(contents(t, good), "6 * 7", "6 * seven", 1))

	for _, c := range []struct {
		name string
		args []string
		code int
		says string
	}{
		{"no verb: help", nil, exitOK, "Examples:"},
		{"help", []string{"--help"}, exitOK, "Exit codes"},
		{"help of a verb", []string{"run", "--help"}, exitOK, "raises-exception"},
		{"unknown verb", []string{"walk"}, exitUsage, "walk"},
		{"unknown flag", []string{"run", "--fast", good}, exitUsage, "--fast"},
		{"no notebook", []string{"run"}, exitUsage, "notebook"},
		{"bad timeout", []string{"run", "--timeout", "soon", good}, exitUsage, "timeout"},
		{"bad mode", []string{"run", "--check=roughly", good}, exitUsage, "near or exact"},
		{"two reports of one name", []string{"report", good, filepath.Join(t.TempDir(), "study.ipynb")}, exitFile, "no such file"},
		{"failing cell", []string{"run", failing}, exitCell, "undefined: seven"},
		{"check passes", []string{"run", "--check", good}, exitOK, "as committed"},
		{"exact check passes", []string{"run", "--check=exact", good}, exitOK, "as committed"},
		{"check fails", []string{"run", "--check", changed}, exitDiffers, "committed: 43"},
		{"failure first, then the rest", []string{"run", "--check", failing, good}, exitCell, "as committed"},
		{"no such file", []string{"run", filepath.Join(dir, "none.ipynb")}, exitFile, "none.ipynb"},
		{"truncated file", []string{"run", broken}, exitFile, "broken.ipynb"},
		{"another language", []string{"run", python}, exitFile, "python"},
		{"a folder", []string{"run", dir}, exitFile, dir},
		{"report into a file", []string{"report", "-o", good, good}, exitFile, "study.ipynb"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := contents(t, good)
			out := start(t, nil, c.args...).exit(c.code, time.Minute)
			mustContain(t, out, c.says)
			if contents(t, good) != before {
				t.Error("the notebook was changed")
			}
		})
	}
}

// TestCheckRule proves the comparison on the built program: what must differ
// differs, and what another processor may change does not.
func TestCheckRule(t *testing.T) {
	dir := t.TempDir()
	path := notebook(t, dir, "import (\n\t\"fmt\"\n\t\"github.com/janpfeifer/gonb/gonbui\"\n)",
		"%%\nfmt.Printf(\"fb = %.2f Hz\\n\", 34.72)",
		"%%\ngonbui.DisplayHTML(\"<p>first</p>\")\ngonbui.DisplayHTML(\"<p>second</p>\")\ngonbui.Sync()")
	start(t, nil, "run", path).exit(exitOK, time.Minute)
	committed := contents(t, path)
	for _, c := range []struct {
		name, from, to string
		near, exact    int
	}{
		{"nothing", "fb", "fb", exitOK, exitOK},
		{"number", "34.72", "34.75", exitDiffers, exitDiffers},
		{"number by one unit of the last place", "34.72", "34.73", exitOK, exitDiffers},
		{"label", `"fb = 34`, `"fs = 34`, exitDiffers, exitDiffers},
		{"order", `<p>first</p>"
      ]`, `<p>second</p>"
      ]`, exitDiffers, exitDiffers},
		{"execution count", `"execution_count": 3`, `"execution_count": 30`, exitOK, exitOK},
	} {
		changed := strings.Replace(committed, c.from, c.to, 1)
		if c.name == "order" { // and the second becomes the first
			at := strings.LastIndex(changed, `<p>second</p>"
      ]`)
			changed = changed[:at] + strings.Replace(changed[at:], "second", "first", 1)
		}
		if (changed == committed) != (c.name == "nothing") {
			t.Fatalf("%s: nothing to change", c.name)
		}
		write(t, path, changed)
		start(t, nil, "run", "--check", path).exit(c.near, time.Minute)
		start(t, nil, "run", "--check=exact", path).exit(c.exact, time.Minute)
		if contents(t, path) != changed {
			t.Errorf("%s: --check wrote the notebook", c.name)
		}
	}
}

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// A failing cell tells its number, the line of its source, and the error.
func TestFailingCellTellsWhere(t *testing.T) {
	needKernel(t)
	library := built.c.Module + "/speakerlib/"
	for name, c := range map[string]struct {
		cells []string
		says  []string
	}{
		"compile error": {
			[]string{"import \"fmt\"\n%%\nfmt.Println(1)", "%%\nx := 1\nfmt.Println(missing)"},
			[]string{"cell 3 (code cell [3], id \"cell-3\"), line 2: declared and not used: x", "2 | x := 1", "undefined: missing"},
		},
		"panic": {
			[]string{"import \"fmt\"\n%%\na := []int{}\nfmt.Println(a[5])"},
			[]string{"cell 2 (code cell [2], id \"cell-2\"), line 4: panic: runtime error: index out of range [5]", "4 | fmt.Println(a[5])"},
		},
		"in a function of an earlier cell": {
			[]string{"func f(a []int) int {\n\treturn a[5]\n}", "import \"fmt\"\n%%\nfmt.Println(f(nil))"},
			[]string{"cell 2 (code cell [2], id \"cell-2\"), line 2: panic: runtime error: index out of range [5]", "while running cell 3", "2 | return a[5]"},
		},
		"an error of the library": {
			[]string{"import (\n\t\"errors\"\n\t\"" + library + "nb\"\n)\n%%\nnb.MustOK(errors.New(\"driver: Re is -3 ohm, want > 0\"))"},
			[]string{"cell 2 (code cell [2], id \"cell-2\"), line 6: driver: Re is -3 ohm, want > 0", "6 | nb.MustOK("},
		},
		"exit": {
			[]string{"import \"os\"\n%%\nos.Exit(3)"},
			[]string{"cell 2", "exit status 3", "os.Exit(3)"},
		},
	} {
		t.Run(name, func(t *testing.T) {
			path := notebook(t, t.TempDir(), c.cells...)
			out := start(t, nil, "run", path).exit(exitCell, time.Minute)
			mustContain(t, out, c.says...)
			if strings.Contains(out, "/gonb_") || strings.Contains(out, "\x1b") {
				t.Errorf("names the program of the moment, or has colours:\n%q", out)
			}
		})
	}
}

func TestCellThatMayFail(t *testing.T) {
	dir := t.TempDir()
	path := notebook(t, dir, "%%\npanic(\"meant\")", "import \"fmt\"\n%%\nfmt.Println(\"after\")")
	write(t, path, strings.Replace(contents(t, path), `"id": "cell-2",
   "metadata": {}`, `"id": "cell-2",
   "metadata": {"tags": ["raises-exception"]}`, 1))
	start(t, nil, "run", path).exit(exitOK, time.Minute)
	mustContain(t, contents(t, path), `"output_type": "error"`, `"after\n"`)
}

func TestReportAndStrict(t *testing.T) {
	needKernel(t)
	dir := t.TempDir()
	study := func(value string) string {
		return notebook(t, dir, "import (\n\t\""+built.c.Module+"/speakerlib/nb\"\n\t\""+built.c.Module+"/speakerlib/report\"\n)",
			"%%\nnb.Seed(\"spread\", 42)\nnb.Require(report.AtMost(\"vent air speed\", \"brief\", \"m/s\", 20).Evaluate("+value+", 0))")
	}
	out := filepath.Join(dir, "out")
	page := filepath.Join(out, "study.html")

	path := study("21.5")
	before := contents(t, path)
	said := start(t, nil, "report", "-o", out, path).exit(exitOK, time.Minute)
	mustContain(t, said, "1 fail")
	first := contents(t, page)
	mustContain(t, first, "vent air speed", "21.5", "go1.", "gonb", "42")
	if contents(t, path) != before {
		t.Error("the notebook was changed")
	}

	said = start(t, nil, "report", "--strict", "-o", out, path).exit(exitStrict, time.Minute)
	mustContain(t, said, "not met", "vent air speed")
	if contents(t, page) != first {
		t.Error("a second run gave other bytes")
	}
	start(t, nil, "report", "--strict", "-o", out, study("19.5")).exit(exitOK, time.Minute)
	if files, _ := os.ReadDir(out); len(files) != 1 {
		t.Errorf("%d files in the output folder, want the report alone", len(files))
	}
	// No link that loads something, no script.
	for _, bad := range []string{"<script", "src=\"http", "href=\"http:", "@import", "url(http"} {
		if strings.Contains(first, bad) {
			t.Errorf("the page has %q", bad)
		}
	}
}

// TestInstallation goes through install, check and uninstall with a Jupyter
// folder of its own.
func TestInstallation(t *testing.T) {
	needKernel(t)
	data := t.TempDir()
	empty := t.TempDir()
	// Without Jupyter: only go and git are on the PATH.
	tools := t.TempDir()
	for _, name := range []string{"go", "git"} {
		if path, err := exec.LookPath(name); err == nil {
			if err := os.Symlink(path, filepath.Join(tools, name)); err != nil {
				t.Fatal(err)
			}
		}
	}
	env := []string{"JUPYTER_DATA_DIR=" + data, "JUPYTER_PATH=", "PATH=" + tools}

	other := filepath.Join(data, "kernels", "loudspeaker", "kernel.json")
	if err := os.MkdirAll(filepath.Dir(other), 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(empty, "go.mod"), "module example.org/loudspeaker\n")
	write(t, other, `{"argv": ["gonb"], "env": {"LOUDSPEAKER_ROOT": "`+empty+`"}}`)
	out := start(t, env, "install").exit(exitSetup, time.Minute)
	mustContain(t, out, empty, "--force", "--name")
	out = start(t, env, "check").exit(exitSetup, 2*time.Minute)
	mustContain(t, out, "another checkout", empty)

	out = start(t, env, "install", "--force").exit(exitOK, 5*time.Minute)
	mustContain(t, out, "No Jupyter was found", "apt install jupyter-notebook", "taken over", "Next without Jupyter")
	mustContain(t, contents(t, other), built.c.Root)
	out = start(t, env, "check").exit(exitOK, 2*time.Minute)
	mustContain(t, out, "a cell with the library ran", "note     jupyter")

	// Uninstalling happens in TestUninstall, for a folder that nobody needs.
	write(t, other, `{"argv": ["gonb"], "env": {"LOUDSPEAKER_ROOT": "`+empty+`"}}`)
	out = start(t, env, "uninstall").exit(exitSetup, time.Minute)
	mustContain(t, out, empty, "--force")

	if out := start(t, append(env, "PATH="+empty), "check").exit(exitSetup, time.Minute); !strings.Contains(out, "https://go.dev/dl/") {
		t.Errorf("does not tell how to get Go:\n%s", out)
	}
}

// TestUninstall works in a folder that merely looks like a checkout, because
// the other tests need the real one's kernel.
func TestUninstall(t *testing.T) {
	needKernel(t)
	root, data := t.TempDir(), t.TempDir()
	for _, dir := range []string{"kernel-setup/tools", ".kernel/bin", "speakerlib"} {
		if err := os.MkdirAll(filepath.Join(root, dir), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	write(t, filepath.Join(root, "go.mod"), "module example.org/study\n")
	write(t, filepath.Join(root, "kernel-setup", "tools", "go.mod"), "module example.org/study/kernel-setup/tools\n")
	write(t, filepath.Join(root, ".kernel", "bin", "gonb"), "")
	spec := filepath.Join(data, "kernels", "loudspeaker", "kernel.json")
	if err := os.MkdirAll(filepath.Dir(spec), 0o755); err != nil {
		t.Fatal(err)
	}
	write(t, spec, `{"argv": ["gonb"], "env": {"LOUDSPEAKER_ROOT": "`+root+`"}}`)

	uninstall := func() string {
		r := prepare(t, []string{"JUPYTER_DATA_DIR=" + data}, "uninstall")
		r.cmd.Dir = root
		r.launch()
		return r.exit(exitOK, time.Minute)
	}
	mustContain(t, uninstall(), "removed "+spec, "removed "+filepath.Join(root, ".kernel"))
	for _, gone := range []string{spec, filepath.Dir(spec), filepath.Join(root, ".kernel")} {
		if _, err := os.Stat(gone); err == nil {
			t.Errorf("%s is still there", gone)
		}
	}
	mustContain(t, uninstall(), "was not registered")
}

func TestOutsideACheckout(t *testing.T) {
	r := prepare(t, nil, "check")
	r.cmd.Dir = t.TempDir()
	r.launch()
	mustContain(t, r.exit(exitSetup, time.Minute), "no project folder", "change into the clone")
}
