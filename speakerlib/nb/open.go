package nb

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"

	"example.org/loudspeaker/speakerlib/report"
)

// RootVariable is the environment variable that names the folder of the module,
// in which datasets/ is. The kernel sets it; without it the folder is found
// upward from the working directory, by its go.mod.
const RootVariable = "LOUDSPEAKER_ROOT"

// File is a data set that has been read: its bytes, and its name for messages.
type File struct {
	*bytes.Reader
	record report.Dataset
}

// Name returns the path of the file below the module: "datasets/brief.txt".
func (f *File) Name() string { return f.record.Path }

// Record returns the path, size and SHA-256 of what was read.
func (f *File) Record() report.Dataset { return f.record }

// Open reads a data set by its path below datasets/ ("standmount/woofer.txt"),
// shows its record (path, size, SHA-256 of what was read), and returns it for a
// reader of package measure or driver. It reads the file each time, and shows
// the record once in a cell: again only if the file has other bytes by then,
// which a report refuses. A path that leads outside datasets/ ends the cell,
// also through a symbolic link.
func Open(name string) *File {
	f, record, err := open(name)
	if err != nil {
		fail(err)
	}
	if shown.first(record) {
		showRecord(record)
	}
	return f
}

// shown holds the records of data sets that this cell has shown. It is the one
// variable of the package, and may be one: a cell is one process, so what the
// process has shown is what stands under the cell; and it decides only whether
// a line is shown again, never what is read or returned.
var shown register

// register knows which records have been seen; several goroutines may use it.
type register struct {
	mu   sync.Mutex
	seen map[report.Dataset]bool
}

// first tells that the record, its sum included, has not been seen before.
func (r *register) first(d report.Dataset) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.seen[d] {
		return false
	}
	if r.seen == nil {
		r.seen = map[report.Dataset]bool{}
	}
	r.seen[d] = true
	return true
}

// below opens the folder of all data sets, for something in it by its path.
func below(what, name string) (*os.Root, error) {
	if !fs.ValidPath(name) || name == "." || strings.Contains(name, `\`) {
		return nil, fmt.Errorf("nb: %s %q, want a path below datasets/ without ., .. and leading /", what, name)
	}
	base, err := moduleRoot()
	if err != nil {
		return nil, err
	}
	root, err := os.OpenRoot(filepath.Join(base, "datasets"))
	if err != nil {
		return nil, fmt.Errorf("nb: data sets: %w", err)
	}
	return root, nil
}

func open(name string) (*File, report.Dataset, error) {
	root, err := below("data set", name)
	if err != nil {
		return nil, report.Dataset{}, err
	}
	defer root.Close()
	content, err := root.ReadFile(filepath.FromSlash(name))
	if err != nil {
		return nil, report.Dataset{}, fmt.Errorf("nb: data set: %w", err)
	}
	sum := sha256.Sum256(content)
	record := report.Dataset{Path: path.Join("datasets", name), SHA256: hex.EncodeToString(sum[:]), Bytes: int64(len(content))}
	return &File{bytes.NewReader(content), record}, record, nil
}

// moduleRoot returns the folder of the module.
func moduleRoot() (string, error) {
	if dir := os.Getenv(RootVariable); dir != "" {
		return dir, nil
	}
	start, err := os.Getwd()
	if err != nil {
		return "", fmt.Errorf("nb: %w", err)
	}
	for dir := start; ; {
		_, err := os.Stat(filepath.Join(dir, "go.mod"))
		if err == nil {
			if s, err := os.Stat(filepath.Join(dir, "datasets")); err == nil && s.IsDir() {
				return dir, nil
			}
		} else if !errors.Is(err, fs.ErrNotExist) {
			return "", fmt.Errorf("nb: %w", err)
		}
		up := filepath.Dir(dir)
		if up == dir {
			return "", fmt.Errorf("nb: no folder with go.mod and datasets/ at %s or above it, and %s is not set", start, RootVariable)
		}
		dir = up
	}
}
