//go:build unix

package kernel

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// A Unix socket path has at most 104 bytes on BSD and macOS (sys/un.h), one of
// them for the end: a long temporary folder must not make the kernel fail.
func TestTempIsShortEnough(t *testing.T) {
	long := filepath.Join(t.TempDir(), strings.Repeat("x", 90))
	if err := os.MkdirAll(long, 0o755); err != nil {
		t.Fatal(err)
	}
	for _, parent := range []string{"", t.TempDir(), long} {
		dir, err := makeTemp(parent)
		if err != nil {
			t.Fatal(err)
		}
		defer os.RemoveAll(dir)
		if n := len(filepath.Join(dir, "k-5")); n > 103 {
			t.Errorf("below %s: socket path of %d bytes", parent, n)
		}
		if info, err := os.Stat(dir); err != nil || info.Mode().Perm() != 0o700 {
			t.Errorf("mode %v of %s: others could listen", info.Mode(), dir)
		}
	}
}

// fails starts a program that is no kernel and checks that starting fails
// soon, with a reason, and leaves nothing.
func fails(t *testing.T, ctx context.Context, spec Spec) error {
	t.Helper()
	spec.TempParent = t.TempDir()
	spec.Env = os.Environ()
	began := time.Now()
	k, err := Start(ctx, spec)
	if err == nil {
		k.Kill()
		t.Fatal("started")
	}
	if took := time.Since(began); took > 5*time.Second {
		t.Errorf("took %v", took)
	}
	if left, _ := os.ReadDir(spec.TempParent); len(left) > 0 {
		t.Errorf("left in the temporary folder: %v", left)
	}
	return err
}

func TestProgramsThatAreNoKernel(t *testing.T) {
	ctx := context.Background()
	if err := fails(t, ctx, Spec{Argv: []string{"/nowhere/gonb"}}); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing program: %v", err)
	}
	err := fails(t, ctx, Spec{Argv: []string{"sh", "-c", "echo no licence >&2; exit 3"}})
	if !errors.Is(err, ErrDied) || !strings.Contains(err.Error(), "no licence") || !strings.Contains(err.Error(), "exit status 3") {
		t.Errorf("program that ends: %v", err)
	}
	err = fails(t, ctx, Spec{Argv: []string{"sleep", "600"}, StartTimeout: 300 * time.Millisecond})
	if err == nil || !strings.Contains(err.Error(), "no answer within 300ms") {
		t.Errorf("silent program: %v", err)
	}
	cause := errors.New("enough")
	canceled, cancel := context.WithCancelCause(ctx)
	time.AfterFunc(200*time.Millisecond, func() { cancel(cause) })
	if err := fails(t, canceled, Spec{Argv: []string{"sleep", "600"}}); !errors.Is(err, cause) {
		t.Errorf("given up: %v", err)
	}
}

func TestTailKeepsTheEnd(t *testing.T) {
	var log tail
	for range 1000 {
		log.Write([]byte(strings.Repeat("x", 100)))
	}
	log.Write([]byte("the end\n"))
	if s := log.String(); len(s) > tailSize || !strings.HasSuffix(s, "the end") {
		t.Errorf("%d bytes, ends in %q", len(s), s[len(s)-10:])
	}
}
