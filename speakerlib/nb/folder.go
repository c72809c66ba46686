package nb

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"time"

	"example.org/loudspeaker/speakerlib/report"
)

// Folder is a folder of data sets that has been read: a file system for readers that take
// one, whose only folder is ".".
type Folder struct {
	names   []string
	content map[string][]byte
	record  report.Dataset
}

// Record returns the record of what was read: path, number of files, their size, and the
// SHA-256 of the manifest, which has a line "SUM  NAME" for each file by ascending name, as
// sha256sum prints them.
func (f *Folder) Record() report.Dataset { return f.record }

// OpenFolder reads all files of a folder below datasets/ ("standmount/polar") whose names
// match a pattern of [path.Match], and shows one record for all of them, as [Open] does for
// a file. Folders in it are left out. A folder without such files ends the cell.
func OpenFolder(name, pattern string) *Folder {
	f, err := openFolder(name, pattern)
	if err != nil {
		fail(err)
	}
	if shown.first(f.record) {
		showRecord(f.record)
	}
	return f
}

func openFolder(name, pattern string) (*Folder, error) {
	if _, err := path.Match(pattern, ""); err != nil || pattern == "" {
		return nil, fmt.Errorf("nb: pattern %q of the files in %s, want one of path.Match, such as *.txt", pattern, name)
	}
	root, err := below("folder", name)
	if err != nil {
		return nil, err
	}
	defer root.Close()
	entries, err := fs.ReadDir(root.FS(), name)
	if err != nil {
		return nil, fmt.Errorf("nb: folder of data sets: %w", err)
	}
	f := &Folder{content: map[string][]byte{}, record: report.Dataset{Path: path.Join("datasets", name, pattern)}}
	list := sha256.New()
	for _, e := range entries {
		if ok, _ := path.Match(pattern, e.Name()); !ok {
			continue
		}
		at := filepath.FromSlash(path.Join(name, e.Name()))
		info, err := root.Stat(at)
		switch {
		case err != nil:
			return nil, fmt.Errorf("nb: folder of data sets: %w", err)
		case info.IsDir():
			continue
		case !info.Mode().IsRegular(): // reading a pipe would wait for its other end
			return nil, fmt.Errorf("nb: %s in the folder %s is of mode %v, want a file", e.Name(), name, info.Mode())
		}
		content, err := root.ReadFile(at)
		if err != nil {
			return nil, fmt.Errorf("nb: folder of data sets: %w", err)
		}
		f.names, f.content[e.Name()] = append(f.names, e.Name()), content
		fmt.Fprintf(list, "%x  %s\n", sha256.Sum256(content), e.Name())
		f.record.Bytes += int64(len(content))
	}
	if len(f.names) == 0 {
		return nil, fmt.Errorf("nb: folder %s has %d entries and no file %s", name, len(entries), pattern)
	}
	f.record.Files, f.record.SHA256 = len(f.names), hex.EncodeToString(list.Sum(nil))
	return f, nil
}

// Open implements [fs.FS].
func (f *Folder) Open(name string) (fs.File, error) {
	if name == "." {
		return &openedFolder{folder: f}, nil
	}
	content, ok := f.content[name]
	if !ok {
		return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	}
	return &openedFile{bytes.NewReader(content), entry{name, int64(len(content))}}, nil
}

// entry is a file of a folder, as a directory entry and as the information on it.
type entry struct {
	name string
	size int64
}

func (e entry) Name() string               { return e.name }
func (e entry) IsDir() bool                { return e.name == "." }
func (e entry) Size() int64                { return e.size }
func (e entry) ModTime() time.Time         { return time.Time{} }
func (e entry) Sys() any                   { return nil }
func (e entry) Info() (fs.FileInfo, error) { return e, nil }
func (e entry) Type() fs.FileMode          { return e.Mode().Type() }
func (e entry) Mode() fs.FileMode {
	if e.IsDir() {
		return fs.ModeDir | 0o555
	}
	return 0o444
}

type openedFile struct {
	*bytes.Reader
	entry entry
}

func (f *openedFile) Stat() (fs.FileInfo, error) { return f.entry, nil }
func (f *openedFile) Close() error               { return nil }

type openedFolder struct {
	folder *Folder
	read   int
}

func (f *openedFolder) Stat() (fs.FileInfo, error) { return entry{name: "."}, nil }
func (f *openedFolder) Close() error               { return nil }
func (f *openedFolder) Read([]byte) (int, error) {
	return 0, &fs.PathError{Op: "read", Path: ".", Err: fs.ErrInvalid}
}

// ReadDir implements [fs.ReadDirFile].
func (f *openedFolder) ReadDir(n int) ([]fs.DirEntry, error) {
	rest := f.folder.names[f.read:]
	if n > 0 {
		if len(rest) == 0 {
			return nil, io.EOF
		}
		rest = rest[:min(n, len(rest))]
	}
	f.read += len(rest)
	var out []fs.DirEntry
	for _, name := range rest {
		out = append(out, entry{name, int64(len(f.folder.content[name]))})
	}
	return slices.Clip(out), nil
}
