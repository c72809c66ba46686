//go:build unix

package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
	"example.org/loudspeaker/kernel-setup/internal/page"
)

// sumsName is the list of SHA-256 sums in a folder of files. It lets the
// receiver check what came ("sha256sum -c SHA256SUMS"), and tells a later run
// that the folder holds nothing but what report wrote. No attached file can
// have this name: it has no extension.
const sumsName = "SHA256SUMS"

// replaceFiles makes folder hold the files of a study and nothing else, and
// removes it if there are none. The new folder is made ready beside the old
// one and then put in its place by renaming. A folder that holds anything that
// report has not written, or that was changed since, is left alone: that is an
// error if there are files to write.
func replaceFiles(folder string, files []page.Attachment) (err error) {
	exists, foreign := written(folder)
	switch {
	case len(files) == 0 && (!exists || foreign != nil):
		return nil
	case foreign != nil:
		return fmt.Errorf("%w; report replaces only what it has written: move the folder away or delete it", foreign)
	}
	work, err := os.MkdirTemp(filepath.Dir(folder), "."+filepath.Base(folder)+".*.tmp")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(work)) }()
	fresh, old := filepath.Join(work, "new"), filepath.Join(work, "old")
	if len(files) > 0 {
		if err := writeFiles(fresh, files); err != nil {
			return err
		}
	}
	if exists {
		if err := os.Rename(folder, old); err != nil {
			return err
		}
	}
	if len(files) == 0 {
		return nil
	}
	if err := os.Rename(fresh, folder); err != nil {
		if exists {
			err = errors.Join(err, os.Rename(old, folder))
		}
		return err
	}
	return nil
}

func writeFiles(folder string, files []page.Attachment) error {
	if err := os.Mkdir(folder, 0o777); err != nil {
		return err
	}
	var sums bytes.Buffer
	for _, f := range files {
		if err := nbformat.ReplaceFile(filepath.Join(folder, f.Name), f.Content); err != nil {
			return err
		}
		fmt.Fprintf(&sums, "%s  %s\n", f.SHA256(), f.Name)
	}
	return nbformat.ReplaceFile(filepath.Join(folder, sumsName), sums.Bytes())
}

// written tells whether something has the name of the folder, and what about
// it is not as report wrote it.
func written(folder string) (exists bool, foreign error) {
	info, err := os.Lstat(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	if err != nil {
		return true, err
	}
	if !info.IsDir() {
		return true, fmt.Errorf("%s is not a folder", folder)
	}
	entries, err := os.ReadDir(folder)
	if err != nil {
		return true, err
	}
	list, err := readRegular(filepath.Join(folder, sumsName))
	if err != nil {
		return true, fmt.Errorf("%s is not a folder that report wrote: %w", folder, err)
	}
	sums := map[string]string{}
	for line := range strings.Lines(string(list)) {
		if sum, name, ok := strings.Cut(strings.TrimSuffix(line, "\n"), "  "); ok {
			sums[name] = sum
		}
	}
	for _, e := range entries {
		if e.Name() == sumsName || e.Name() == ".DS_Store" { // the latter comes from looking at the folder on macOS
			continue
		}
		path := filepath.Join(folder, e.Name())
		want, ok := sums[e.Name()]
		if !ok {
			return true, fmt.Errorf("%s is not from report", path)
		}
		content, err := readRegular(path)
		if err != nil {
			return true, err
		}
		if sum := sha256.Sum256(content); hex.EncodeToString(sum[:]) != want {
			return true, fmt.Errorf("%s was changed after report wrote it", path)
		}
	}
	return true, nil
}

// readRegular reads a file that is no link and no device.
func readRegular(path string) ([]byte, error) {
	info, err := os.Lstat(path)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s is not a regular file", path)
	}
	return os.ReadFile(path)
}
