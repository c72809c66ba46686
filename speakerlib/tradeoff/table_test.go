package tradeoff_test

import (
	"bytes"
	"testing"

	"example.org/loudspeaker/speakerlib/report"
	"example.org/loudspeaker/speakerlib/tradeoff"
)

// Points and hertz are rows of a table and of a data frame that an engineer filters
// and sorts, and come back from CSV as they were.
func TestPointsAreTables(t *testing.T) {
	s := study(t)
	r, err := s.Search()
	if err != nil {
		t.Fatal(err)
	}
	table, err := report.NewTable("candidates", r.Points)
	if err != nil {
		t.Fatal(err)
	}
	frame, err := table.Frame()
	if err != nil {
		t.Fatal(err)
	}
	if rows, columns := frame.Dims(); rows != len(r.Points) || columns != 25 {
		t.Errorf("data frame has %d rows and %d columns, want %d and 25: %v", rows, columns, len(r.Points), frame.Names())
	}
	var b bytes.Buffer
	if err := table.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	back, err := report.ReadCSV[tradeoff.Point](&b, "points.csv")
	if err != nil {
		t.Fatal(err)
	}
	for i := range back {
		if a, b := &back[i], &r.Points[i]; a.MaxLevel != b.MaxLevel || a.Binding != b.Binding || a.Fits != b.Fits || a.Length != b.Length {
			t.Fatalf("row %d: %+v came back as %+v", i, b, a)
		}
	}
	if _, err := report.NewTable("per hertz", tradeoff.Along(r.Front)); err != nil {
		t.Error(err)
	}
}

func TestChoose(t *testing.T) {
	s := study(t)
	r, err := s.Search()
	if err != nil {
		t.Fatal(err)
	}
	p, err := tradeoff.Choose(r.Points, func(p *tradeoff.Point) bool { return p.Extension <= 34 && p.Tuning > 0 })
	if err != nil {
		t.Fatal(err)
	}
	for i := range r.Points {
		if q := &r.Points[i]; q.Extension <= 34 && q.Tuning > 0 && q.Used < p.Used {
			t.Errorf("%+v has more margin than %+v", q, p)
		}
	}
	if all, err := tradeoff.Choose(r.Points, func(*tradeoff.Point) bool { return true }); err != nil || all.Used != r.Closest.Used || all.Recipe() != r.Closest.Recipe() {
		t.Errorf("of all %+v, closest %+v", all, r.Closest)
	}
	if _, err := tradeoff.Choose(r.Points, func(*tradeoff.Point) bool { return false }); err == nil {
		t.Error("nothing is chosen of nothing")
	}
}
