//go:build unix

package nb_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/gob"
	"encoding/hex"
	"errors"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/janpfeifer/gonb/gonbui/protocol"

	"example.org/loudspeaker/speakerlib/nb"
	"example.org/loudspeaker/speakerlib/report"
)

// cells are programs that the test binary runs as if it were a cell, when
// cellVariable names one.
const cellVariable = "NB_TEST_CELL"

type point struct {
	X float64 `col:"x" unit:"mm" fmt:"%.1f"`
}

// picture is a Picture whose parts are fixed.
type picture struct{ err error }

func (p picture) SVG() ([]byte, error) { return []byte("<svg/>"), p.err }
func (p picture) PNG() ([]byte, error) { return []byte{0x89, 'P'}, nil }
func (p picture) Alt() string          { return "a picture" }
func (p picture) Size() (w, h int)     { return 728, 300 }

func fine() report.Requirement {
	return report.AtMost("excursion", "brief", "mm", 0.006).Evaluate(0.005, 0)
}

func cells() map[string]func() {
	return map[string]func(){
		"order": func() {
			for range 40 {
				nb.Text("tuned to **%.1f Hz**", 38.5)
				nb.Show(picture{}, picture{})
				nb.Require(fine())
			}
		},
		"one of each": func() {
			nb.Text("a")
			f := nb.Open("sub/a.txt")
			content := nb.Must(io.ReadAll(f))
			nb.Text("%s: %s", f.Name(), content)
			nb.Show(picture{})
			nb.Rows("points", []point{{0.006}})
			nb.Require(fine(), fine())
			nb.Decide(report.Decision{ID: "D1", Question: "?", Alternatives: []report.Alternative{{Name: "a"}, {Name: "b"}},
				Choice: "a", Reason: "so", Revision: "A", Date: "2025-01-31"})
			nb.MustOK(nil)
			if nb.Seed("noise", 7) != 7 {
				panic("seed")
			}
		},
		"open again": func() {
			var all sync.WaitGroup
			for range 8 {
				all.Go(func() { nb.Must(io.ReadAll(nb.Open("sub/a.txt"))) })
			}
			all.Wait()
			content := nb.Must(io.ReadAll(nb.Open("sub/a.txt")))
			nb.MustOK(os.WriteFile(filepath.Join(os.Getenv(nb.RootVariable), "datasets", "sub", "a.txt"), []byte("42 Hz"), 0o644))
			nb.Text("%s, then %s", content, nb.Must(io.ReadAll(nb.Open("sub/a.txt"))))
		},
		"must":             func() { nb.Text("before"); nb.Must(1, errors.New("no such luck")); nb.Text("after") },
		"must ok":          func() { nb.MustOK(errors.New("no such luck")) },
		"open outside":     func() { nb.Open("../go.mod") },
		"open absolute":    func() { nb.Open("/etc/passwd") },
		"open link":        func() { nb.Open("out") },
		"open folder":      func() { nb.Open("sub") },
		"open missing":     func() { nb.Open("sub/b.txt") },
		"bad picture":      func() { nb.Show(picture{errors.New("no curve")}) },
		"no picture":       func() { nb.Show() },
		"bad requirement":  func() { nb.Require(fine().Evaluate(math.NaN(), 0)) },
		"one of two bad":   func() { nb.Require(fine(), fine().Evaluate(math.NaN(), 0)) },
		"no requirement":   func() { nb.Require() },
		"bad decision":     func() { nb.Decide(report.Decision{ID: "D1"}) },
		"bad seed":         func() { nb.Seed("", 1) },
		"bad table":        func() { nb.Rows("x", []point{{math.NaN()}}) },
		"bad verb":         func() { nb.Text(strings.Clone("%d Hz"), 38.5) },
		"missing argument": func() { nb.Text(strings.Clone("%g %s"), 38.5) },
	}
}

func TestMain(m *testing.M) {
	if cell, ok := cells()[os.Getenv(cellVariable)]; ok {
		cell()
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// run plays the kernel for one cell: it makes the two pipes, takes the outputs
// and acknowledges, and returns what it took.
func run(t *testing.T, name string) (outputs []protocol.DisplayData, stdout, stderr string, code int) {
	t.Helper()
	dir := t.TempDir()
	there, back := filepath.Join(dir, "there"), filepath.Join(dir, "back")
	for _, p := range []string{there, back} {
		if err := syscall.Mkfifo(p, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	root := module(t)
	cmd := exec.Command(os.Args[0])
	cmd.Env = append(os.Environ(), cellVariable+"="+name, nb.RootVariable+"="+root,
		protocol.GONB_PIPE_ENV+"="+there, protocol.GONB_PIPE_BACK_ENV+"="+back)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs

	done := make(chan error, 1)
	var ended atomic.Bool
	go func() {
		// Both pipes are opened for both directions, so that opening does not
		// wait for a cell that never opens them.
		r, err := os.OpenFile(there, os.O_RDWR, 0)
		if err != nil {
			done <- err
			return
		}
		defer r.Close()
		go func() {
			for !ended.Load() {
				time.Sleep(time.Millisecond)
			}
			r.SetReadDeadline(time.Now().Add(50 * time.Millisecond))
		}()
		w, err := os.OpenFile(back, os.O_RDWR, 0)
		if err != nil {
			done <- err
			return
		}
		defer w.Close()
		in, reply := gob.NewDecoder(r), gob.NewEncoder(w)
		for {
			var d protocol.DisplayData
			if err := in.Decode(&d); err != nil {
				if errors.Is(err, os.ErrDeadlineExceeded) {
					err = nil
				}
				done <- err
				return
			}
			if v, ok := d.Data[protocol.MIMECommValue].(protocol.CommValue); ok {
				if v.Address == protocol.GonbuiSyncAddress {
					if err := reply.Encode(&protocol.CommValue{Address: protocol.GonbuiSyncAckAddress, Value: v.Value}); err != nil {
						done <- err
						return
					}
				}
				continue
			}
			outputs = append(outputs, d)
		}
	}()
	err := cmd.Run()
	ended.Store(true)
	if err := <-done; err != nil {
		t.Fatal(err)
	}
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return outputs, out.String(), errs.String(), cmd.ProcessState.ExitCode()
}

// module makes a folder with data sets.
func module(t *testing.T) string {
	t.Helper()
	root := t.TempDir()
	for name, content := range map[string]string{"go.mod": "module x", "datasets/sub/a.txt": "41.5 Hz"} {
		file := filepath.Join(root, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(content), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Symlink(filepath.Join("..", "go.mod"), filepath.Join(root, "datasets", "out")); err != nil {
		t.Fatal(err)
	}
	return root
}

func TestOutputsArriveWholeAndInOrder(t *testing.T) {
	outputs, stdout, stderr, code := run(t, "order")
	if code != 0 || stdout != "" || stderr != "" {
		t.Fatalf("exit code %d, stdout %q, stderr %q", code, stdout, stderr)
	}
	if len(outputs) != 160 {
		t.Fatalf("%d outputs, want 160", len(outputs))
	}
	for i, o := range outputs {
		_, text := o.Data["text/markdown"]
		_, image := o.Data["image/png"]
		_, record := o.Data[report.RequirementMIME]
		if want := i % 4; text != (want == 0) || image != (want == 1 || want == 2) || record != (want == 3) {
			t.Fatalf("output %d has %v", i, o.Data)
		}
	}
}

func TestEachKindOfOutput(t *testing.T) {
	outputs, _, stderr, code := run(t, "one of each")
	if code != 0 {
		t.Fatalf("exit code %d, stderr %q", code, stderr)
	}
	want := [][]string{
		{"text/html", "text/markdown", "text/plain"},
		{report.DatasetMIME, "text/html", "text/plain"},
		{"text/html", "text/markdown", "text/plain"},
		{"image/png", "image/svg+xml", "text/plain"},
		{"text/html", "text/plain"},
		{report.RequirementMIME, "text/html", "text/plain"},
		{report.DecisionMIME, "text/html", "text/plain"},
		{report.SeedMIME, "text/html", "text/plain"},
	}
	if len(outputs) != len(want) {
		t.Fatalf("%d outputs, want %d", len(outputs), len(want))
	}
	for i, mimes := range want {
		for _, mime := range mimes {
			if _, ok := outputs[i].Data[protocol.MIMEType(mime)]; !ok || len(outputs[i].Data) != len(mimes) {
				t.Errorf("output %d has %v, want %v", i, outputs[i].Data, mimes)
			}
		}
	}
	if text := outputs[2].Data["text/plain"]; text != "datasets/sub/a.txt: 41.5 Hz" {
		t.Errorf("file read as %q", text)
	}
	record, _ := outputs[1].Data[report.DatasetMIME].(string)
	data, err := report.ReadDatasets([]byte(record))
	sum := sha256.Sum256([]byte("41.5 Hz"))
	if err != nil || len(data) != 1 || data[0] != (report.Dataset{Path: "datasets/sub/a.txt", SHA256: hex.EncodeToString(sum[:]), Bytes: 7}) {
		t.Errorf("record %q: %v", record, err)
	}
	list, _ := outputs[5].Data[report.RequirementMIME].(string)
	if got, err := report.ReadRequirements([]byte(list)); err != nil || len(got) != 2 || got[0] != fine() {
		t.Errorf("requirements %q: %v", list, err)
	}
	if size := outputs[3].Metadata["image/png"]; !reflect.DeepEqual(size, map[string]int{"width": 728, "height": 300}) {
		t.Errorf("size of the image %v", size)
	}
}

// A file that many functions of a cell read is recorded once, unless it changed.
func TestDatasetIsRecordedOncePerContent(t *testing.T) {
	outputs, _, stderr, code := run(t, "open again")
	if code != 0 || len(outputs) != 3 {
		t.Fatalf("exit code %d, stderr %q, %d outputs, want 0 and 3 outputs", code, stderr, len(outputs))
	}
	for i, content := range []string{"41.5 Hz", "42 Hz"} {
		record, _ := outputs[i].Data[report.DatasetMIME].(string)
		data, err := report.ReadDatasets([]byte(record))
		sum := sha256.Sum256([]byte(content))
		if err != nil || len(data) != 1 || data[0].SHA256 != hex.EncodeToString(sum[:]) {
			t.Errorf("record %d is %q, want that of %q", i, record, content)
		}
	}
	if text := outputs[2].Data["text/plain"]; text != "41.5 Hz, then 42 Hz" {
		t.Errorf("read %q", text)
	}
}

// A failing call ends the cell with code 1 and its message, without a dump.
func TestErrorsEndTheCell(t *testing.T) {
	for name, message := range map[string]string{
		"must":             "no such luck",
		"must ok":          "no such luck",
		"open outside":     `nb: data set "../go.mod", want a path below datasets/`,
		"open absolute":    `nb: data set "/etc/passwd", want a path below datasets/`,
		"open link":        "escapes",
		"open folder":      "directory",
		"open missing":     "no such file",
		"bad picture":      "no curve",
		"no picture":       "nb: Show has no picture",
		"bad requirement":  `report: requirement "excursion" is evaluated as NaN`,
		"one of two bad":   `report: requirement "excursion" is evaluated as NaN`,
		"no requirement":   "nb: Require has no requirement",
		"bad decision":     "report: decision \"D1\" has no question",
		"bad seed":         "report: seed 1 has no name",
		"bad table":        "report: row 1 of table",
		"bad verb":         "nb: text has a verb that does not fit",
		"missing argument": "nb: text has a verb that does not fit",
	} {
		outputs, stdout, stderr, code := run(t, name)
		if code != 1 || !strings.Contains(stderr, message) || stdout != "" {
			t.Errorf("%s: exit code %d, stdout %q, stderr %q, want 1 and %q", name, code, stdout, stderr, message)
		}
		if strings.Contains(stderr, "goroutine") || strings.Contains(stderr, "runtime") || strings.Contains(stderr, "speakerlib/nb/must.go") {
			t.Errorf("%s: a stack dump:\n%s", name, stderr)
		}
		if !strings.HasPrefix(name, "must") && len(outputs) != 0 {
			t.Errorf("%s: shows %v", name, outputs)
		}
		if name == "must" && (len(outputs) != 1 || outputs[0].Data["text/plain"] != "before") {
			t.Errorf("%s: shows %v, want what came before", name, outputs)
		}
	}
}

// The place that the kernel translates to a cell and its line. A program of its
// own is built, because only the main package is a cell.
func TestErrorsNameTheirPlace(t *testing.T) {
	if testing.Short() {
		t.Skip("builds a program")
	}
	file := filepath.Join("testdata", "cell", "main.go")
	binary := filepath.Join(t.TempDir(), "cell")
	if out, err := exec.Command("go", "build", "-o", binary, file).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	out, err := exec.Command(binary).CombinedOutput()
	abs, absErr := filepath.Abs(file)
	if absErr != nil {
		t.Fatal(absErr)
	}
	if want := "no such luck\n  at " + abs + ":11\n  at " + abs + ":15\n"; err == nil || string(out) != want {
		t.Errorf("%v, wrote %q, want %q", err, out, want)
	}
}

// Without the variable, the module is found upward from the working directory.
func TestModuleIsFoundUpward(t *testing.T) {
	root := module(t)
	t.Setenv(nb.RootVariable, "")
	t.Chdir(filepath.Join(root, "datasets", "sub"))
	b, err := io.ReadAll(nb.Open("sub/a.txt"))
	if err != nil || string(b) != "41.5 Hz" {
		t.Errorf("read %q, %v", b, err)
	}
}
