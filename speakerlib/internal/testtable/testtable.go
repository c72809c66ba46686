// Package testtable reads the tables of reference values that tests are held against.
package testtable

import (
	"encoding/csv"
	"os"
	"strconv"
	"strings"
	"testing"
)

// Row is a row of a table, by the names of its columns.
type Row map[string]string

// Read returns the rows of a file of comma-separated values whose first row names the
// columns, each by a name of its own. Lines that begin with # are comments: where the
// values come from.
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
		t.Fatalf("%s: %v", path, err)
	}
	if len(records) < 2 {
		t.Fatalf("%s has %d rows, want the names of columns and values", path, len(records))
	}
	var rows []Row
	for _, record := range records[1:] {
		row := Row{}
		for i, column := range records[0] {
			if _, ok := row[column]; ok {
				t.Fatalf("%s has two columns %q, want different names", path, column)
			}
			row[column] = record[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// Select returns the rows that have a text in a column; there must be some.
func Select(t testing.TB, rows []Row, column, text string) []Row {
	t.Helper()
	var selected []Row
	for _, row := range rows {
		if row.Text(t, column) == text {
			selected = append(selected, row)
		}
	}
	if selected == nil {
		t.Fatalf("no row has %q in column %q", text, column)
	}
	return selected
}

// Text returns what is in a column, which must be there.
func (r Row) Text(t testing.TB, column string) string {
	t.Helper()
	text, ok := r[column]
	if !ok {
		t.Fatalf("no column %q", column)
	}
	return text
}

// Number returns the number in a column, which must be there.
func (r Row) Number(t testing.TB, column string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(r.Text(t, column), 64)
	if err != nil {
		t.Fatalf("column %q: %v", column, err)
	}
	return v
}

// Numbers returns the numbers in a column, which must be there; blanks part them, and
// there may be none.
func (r Row) Numbers(t testing.TB, column string) []float64 {
	t.Helper()
	var out []float64
	for _, text := range strings.Fields(r.Text(t, column)) {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatalf("column %q: %v", column, err)
		}
		out = append(out, v)
	}
	return out
}
