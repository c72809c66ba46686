package nbformat

import (
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
)

// WriteAtomic writes the notebook to a file so that a reader sees the old
// content or the new one, never a part: a temporary file in the same folder,
// flushed to disk, then renamed. The mode of a file that was there is kept, a
// symbolic link stays a link. On any failure the old file is as it was and the
// temporary file is gone.
func (n *Notebook) WriteAtomic(path string) error {
	data, err := n.Bytes()
	if err != nil {
		return fmt.Errorf("nbformat: %s is not written: %w", path, err)
	}
	if err := ReplaceFile(path, data); err != nil {
		return fmt.Errorf("nbformat: %s is not written: %w", path, err)
	}
	return nil
}

// ReplaceFile puts data in place of a file's content, or makes the file, in
// the way that WriteAtomic describes.
func ReplaceFile(path string, data []byte) error {
	return replace(path, func(w io.Writer) error {
		_, err := w.Write(data)
		return err
	})
}

func replace(path string, content func(io.Writer) error) (err error) {
	target, err := filepath.EvalSymlinks(path)
	if errors.Is(err, fs.ErrNotExist) {
		target, err = path, nil
	}
	if err != nil {
		return err
	}
	info, err := os.Stat(target)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if info != nil && !info.Mode().IsRegular() {
		return fmt.Errorf("%s is not a regular file", target)
	}
	f, err := createBeside(target)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	if info != nil {
		if err := f.Chmod(info.Mode().Perm()); err != nil {
			return err
		}
	}
	if err := content(f); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	if err := f.Close(); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), target); err != nil {
		return err
	}
	// The new name is on disk once the folder is; a file system that cannot
	// flush a folder has done what it can, and the content is in place.
	if d, err := os.Open(filepath.Dir(target)); err == nil {
		_ = d.Sync()
		d.Close()
	}
	return nil
}

// createBeside makes a file in the folder of target with the mode that the
// user's umask gives a new file (os.CreateTemp gives 0600).
func createBeside(target string) (*os.File, error) {
	for range 100 {
		var b [8]byte
		if _, err := rand.Read(b[:]); err != nil {
			return nil, err
		}
		name := filepath.Join(filepath.Dir(target), "."+filepath.Base(target)+"."+hex.EncodeToString(b[:])+".tmp")
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		return f, err
	}
	return nil, fmt.Errorf("no free name for a temporary file beside %s", target)
}

func sortedKeys[V any](m map[string]V) []string {
	return slices.Sorted(maps.Keys(m))
}
