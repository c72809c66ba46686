package main

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

const committed = ".."

// manifest returns the sums by file name.
func manifest(t *testing.T) map[string]string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(committed, "SHA256SUMS"))
	if err != nil {
		t.Fatal(err)
	}
	sums := map[string]string{}
	lines := bufio.NewScanner(bytes.NewReader(data))
	for lines.Scan() {
		sum, name, ok := strings.Cut(lines.Text(), "  ")
		if !ok || len(sum) != 64 {
			t.Fatalf("line %q of the manifest is not SUM  NAME", lines.Text())
		}
		sums[name] = sum
	}
	return sums
}

// Every file has the sum in the manifest, and the manifest names every file.
func TestManifest(t *testing.T) {
	sums := manifest(t)
	if len(sums) < 40 {
		t.Errorf("the manifest names %d files, want the whole set", len(sums))
	}
	err := filepath.WalkDir(filepath.Join(committed, "standmount"), func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(committed, path)
		if err != nil {
			return err
		}
		name = filepath.ToSlash(name)
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		want, listed := sums[name]
		delete(sums, name)
		if got := fmt.Sprintf("%x", sha256.Sum256(data)); !listed || got != want {
			t.Errorf("%s has SHA-256 %s, the manifest says %q", name, got, want)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for name := range sums {
		t.Errorf("%s is in the manifest and not in the folder", name)
	}
}

// The generator makes what is committed, byte for byte.
func TestRegenerates(t *testing.T) {
	dir := t.TempDir()
	if err := generate(dir); err != nil {
		t.Fatal(err)
	}
	for name := range manifest(t) {
		got, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Error(err)
			continue
		}
		want, err := os.ReadFile(filepath.Join(committed, name))
		if err != nil {
			t.Error(err)
			continue
		}
		if !bytes.Equal(got, want) {
			t.Errorf("%s comes out different: run go run ./datasets/generate from the root and look at what changed", name)
		}
	}
}
