// Package testtable reads the tables of reference values that tests are held against.
package testtable

import (
	"encoding/csv"
	"os"
	"strconv"
	"testing"
)

// Row is a row of a table, by the names of its columns.
type Row map[string]string

// Read returns the rows of a file of comma-separated values whose first row names the
// columns. Lines that begin with # are comments: where the values come from.
func Read(t testing.TB, path string) []Row {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	records, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(records) < 2 {
		t.Fatalf("%s has %d rows, want the names of columns and values", path, len(records))
	}
	var rows []Row
	for _, record := range records[1:] {
		row := Row{}
		for i, column := range records[0] {
			row[column] = record[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// Number returns the number in a column, which must be there.
func (r Row) Number(t testing.TB, column string) float64 {
	t.Helper()
	text, ok := r[column]
	if !ok {
		t.Fatalf("no column %q", column)
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatalf("column %q: %v", column, err)
	}
	return v
}
