package testtable

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
)

// failing is a test that keeps what it ends with.
type failing struct {
	testing.TB
	said string
}

func (f *failing) Helper() {}

func (f *failing) Fatal(args ...any) { f.Fatalf("%s", fmt.Sprint(args...)) }

func (f *failing) Fatalf(format string, args ...any) {
	f.said = fmt.Sprintf(format, args...)
	runtime.Goexit()
}

// ends returns what a test ends with that does nothing else than do.
func ends(do func(t testing.TB)) string {
	f := &failing{}
	done := make(chan bool)
	go func() {
		defer close(done)
		do(f)
	}()
	<-done
	return f.said
}

func file(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "table.csv")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestReadsByTheNamesOfColumns(t *testing.T) {
	rows := Read(t, file(t, "# a source, with a comma\nname,f_hz,taps\none,20,1 -2e-3\n# between\ntwo,-Inf,\none,3,4\n"))
	if len(rows) != 3 {
		t.Fatalf("%d rows, want 3", len(rows))
	}
	if name, hz, taps := rows[0].Text(t, "name"), rows[0].Number(t, "f_hz"), rows[0].Numbers(t, "taps"); name != "one" || hz != 20 || !slices.Equal(taps, []float64{1, -2e-3}) {
		t.Errorf("read %q, %g and %v, want one, 20 and 1, −0.002", name, hz, taps)
	}
	if taps := rows[1].Numbers(t, "taps"); len(taps) != 0 {
		t.Errorf("read %v, want nothing", taps)
	}
	if ones := Select(t, rows, "name", "one"); len(ones) != 2 || ones[1].Number(t, "taps") != 4 {
		t.Errorf("selected %v, want the first and the last", ones)
	}
}

// A test whose table is not there, or not as it should be, does not pass.
func TestFailsWithoutATable(t *testing.T) {
	row := Row{"f_hz": "20", "name": "one", "none": ""}
	for want, do := range map[string]func(t testing.TB){
		"no such file":             func(f testing.TB) { Read(f, filepath.Join(t.TempDir(), "table.csv")) },
		"has 0 rows":               func(f testing.TB) { Read(f, file(t, "# nothing\n")) },
		"has 1 rows":               func(f testing.TB) { Read(f, file(t, "name,f_hz\n")) },
		"wrong number of fields":   func(f testing.TB) { Read(f, file(t, "name,f_hz\none\n")) },
		`has two columns "taps"`:   func(f testing.TB) { Read(f, file(t, "taps,f_hz,taps\n1,2,3\n")) },
		`no column "level"`:        func(f testing.TB) { row.Text(f, "level") },
		`no column "hz"`:           func(f testing.TB) { row.Number(f, "hz") },
		`no column "taps"`:         func(f testing.TB) { row.Numbers(f, "taps") },
		`column "none": `:          func(f testing.TB) { row.Number(f, "none") },
		`column "name": `:          func(f testing.TB) { row.Numbers(f, "name") },
		`has "two" in column "nam`: func(f testing.TB) { Select(f, []Row{row}, "name", "two") },
		`no column "kind"`:         func(f testing.TB) { Select(f, []Row{row}, "kind", "two") },
	} {
		if said := ends(do); !strings.Contains(said, want) {
			t.Errorf("ends with %q, want %q in it", said, want)
		}
	}
}
