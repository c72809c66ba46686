package directivity_test

import (
	"path/filepath"
	"testing"

	"example.org/loudspeaker/speakerlib/internal/testtable"
)

// reference reads a table of testdata.
func reference(t testing.TB, name string) []testtable.Row {
	t.Helper()
	return testtable.Read(t, filepath.Join("testdata", name))
}
