package report

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
)

// The guarded acceptance of JCGM 106:2012, 8.3.2: with an upper limit T and a
// guard band w the acceptance limit is A = T − w; accept if the value ≤ A.
func TestStatusIsComputed(t *testing.T) {
	upper := AtMost("vent air speed", "brief", "m/s peak", 20)
	lower := AtLeast("plateau", "brief", "dB", 98.5)
	both := Within("voicing", "brief", "dB", -0.75, 0.75)
	for _, c := range []struct {
		name   string
		q      Requirement
		status Status
		margin float64
	}{
		{"below the limit", upper.Evaluate(18, 1), Pass, 2},
		{"at the acceptance limit", upper.Evaluate(19, 1), Pass, 1},
		{"within the guard band", upper.Evaluate(19.5, 1), Fail, 0.5},
		{"at the limit, exact", upper.Evaluate(20, 0), Pass, 0},
		{"above", upper.Evaluate(20.5, 0), Fail, -0.5},
		{"above, waived", upper.Evaluate(21, 0).WaivedBy("D2"), Waived, -1},
		{"waived before it was evaluated", upper.WaivedBy("D2").Evaluate(21, 0), Waived, -1},
		{"a waiver that is not needed", upper.Evaluate(18, 0).WaivedBy("D2"), Pass, 2},
		{"above the lower limit", lower.Evaluate(99, 0.25), Pass, 0.5},
		{"below the lower limit", lower.Evaluate(98.25, 0), Fail, -0.25},
		{"within", both.Evaluate(-0.5, 0.25), Pass, 0.25},
		{"within, but for the guard band", both.Evaluate(0.625, 0.25), Fail, 0.125},
		{"outside below", both.Evaluate(-1, 0), Fail, -0.25},
	} {
		if c.q.Err() != nil {
			t.Errorf("%s: %v", c.name, c.q.Err())
		}
		if got := c.q.Status(); got != c.status {
			t.Errorf("%s: status %v, want %v", c.name, got, c.status)
		}
		if m, ok := c.q.Margin(); !ok || m != c.margin {
			t.Errorf("%s: margin %g, want %g", c.name, m, c.margin)
		}
	}
	if s := upper.Status(); s != NotEvaluated {
		t.Errorf("without a value: %v", s)
	}
	q := upper.NotEvaluated("no microphone in the vent yet").WaivedBy("D2")
	if q.Status() != NotEvaluated || q.Why() != "no microphone in the vent yet" {
		t.Errorf("not evaluated: %v, %q", q.Status(), q.Why())
	}
	if q := upper.Evaluate(18, 0).NotEvaluated("withdrawn"); q.Status() != NotEvaluated {
		t.Errorf("a withdrawn value still counts: %v", q.Status())
	}
}

func TestFaultyRequirementsNeverPass(t *testing.T) {
	fine := AtMost("x", "brief", "mm", 0.006)
	for name, q := range map[string]Requirement{
		"NaN":             fine.Evaluate(math.NaN(), 0),
		"infinite":        fine.Evaluate(math.Inf(-1), 0),
		"NaN guard":       fine.Evaluate(0, math.NaN()),
		"negative guard":  fine.Evaluate(0, -1),
		"NaN limit":       AtMost("x", "brief", "mm", math.NaN()).Evaluate(0, 0),
		"infinite limit":  AtLeast("x", "brief", "mm", math.Inf(-1)).Evaluate(0, 0),
		"crossed limits":  Within("x", "brief", "mm", 2, 1).Evaluate(1.5, 0),
		"no name":         AtMost("", "brief", "mm", 1).Evaluate(0, 0),
		"no source":       AtMost("x", "", "mm", 1).Evaluate(0, 0),
		"unknown unit":    AtMost("x", "brief", "furlong", 1).Evaluate(0, 0),
		"no reason":       fine.NotEvaluated(""),
		"no decision":     fine.Evaluate(1, 0).WaivedBy(""),
		"fault is sticky": fine.Evaluate(math.NaN(), 0).Evaluate(0, 0),
	} {
		if q.Err() == nil || q.Status() != NotEvaluated {
			t.Errorf("%s: error %v, status %v, want an error and not evaluated", name, q.Err(), q.Status())
		}
		if b, err := json.Marshal(q); err == nil {
			t.Errorf("%s: has the record %s", name, b)
		}
	}
	if _, err := json.Marshal(Requirement{}); err == nil {
		t.Error("an empty requirement has a record")
	}
}

func all() Requirements {
	return Requirements{
		AtMost("excursion", "brief", "mm peak", 0.006).Evaluate(0.00585, 0.0001),
		AtMost("group delay at 38.5 Hz", "brief", "ms", 0.028).Evaluate(0.0285, 0.0005).WaivedBy("D2"),
		AtLeast("plateau", "brief", "dB", 98.5).Evaluate(98.1, 0.2),
		Within("voicing", "brief", "dB", -0.75, 0.75).Evaluate(0.31, 0.1),
		AtMost("idle noise", "brief", "dB(A)", 0).NotEvaluated("noise of the electronics is not modelled"),
		AtMost("<b>", "a & b", "", 1).Evaluate(0.1, 0),
	}
}

func TestRequirementRecordsReadBackEqual(t *testing.T) {
	b, err := json.Marshal(all())
	if err != nil {
		t.Fatal(err)
	}
	asString, err := json.Marshal(string(b))
	if err != nil {
		t.Fatal(err)
	}
	for _, form := range [][]byte{b, asString} {
		got, err := ReadRequirements(form)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got, all()) {
			t.Errorf("read back\n%+v, want\n%+v", got, all())
		}
	}
	for _, q := range all() {
		b, err := json.Marshal(q)
		if err != nil {
			t.Fatal(err)
		}
		got, err := ReadRequirements(b)
		if err != nil || len(got) != 1 || got[0] != q {
			t.Errorf("read back %+v, %v, want %+v", got, err, q)
		}
	}
}

func TestRequirementRecordHasTheAgreedFields(t *testing.T) {
	b, err := json.Marshal(AtMost("excursion", "brief", "mm peak", 0.006).Evaluate(0.0055, 0.00025))
	if err != nil {
		t.Fatal(err)
	}
	const want = `{"name":"excursion","source":"brief","value":5.5,"unit":"mm peak","limit":6,"bound":"at most","lower":null,"upper":6,"margin":0.5,"guard":0.25,"status":"pass","why":"","waivedBy":""}`
	if string(b) != want {
		t.Errorf("had  %s\nwant %s", b, want)
	}
}

func TestForgedRecordsAreRefused(t *testing.T) {
	b, err := json.Marshal(AtMost("x", "brief", "mm", 0.006).Evaluate(0.007, 0.0005))
	if err != nil {
		t.Fatal(err)
	}
	good := string(b)
	for _, c := range [][2]string{
		{`"status":"fail"`, `"status":"pass"`},
		{`"status":"fail"`, `"status":"waived"`},
		{`"margin":-1`, `"margin":1`},
		{`"value":7`, `"value":5`},
		{`"guard":0.5`, `"guard":null`},
		{`"guard":0.5`, `"guard":-0.5`},
		{`"bound":"at most"`, `"bound":"at least"`},
		{`"unit":"mm"`, `"unit":"furlong"`},
		{`"name":"x"`, `"name":""`},
		{`"name":"x"`, `"name":"x","extra":1`},
		{`"value":7`, `"value":null`},
		{`"value":7`, `"value":"7"`},
	} {
		bad := strings.Replace(good, c[0], c[1], 1)
		if bad == good {
			t.Fatalf("%s is not in %s", c[0], good)
		}
		if got, err := ReadRequirements([]byte(bad)); err == nil {
			t.Errorf("%s for %s: read as %+v", c[1], c[0], got)
		}
	}
	for _, bad := range []string{"", "null", "7", `"`, `"x"`, `{`, `[{}]`, good + good} {
		if got, err := ReadRequirements([]byte(bad)); err == nil {
			t.Errorf("%q: read as %+v", bad, got)
		}
	}
}

func TestRequirementsAreShown(t *testing.T) {
	text, page := all().Text(), all().HTML()
	for _, want := range []string{
		"at most 6 mm peak", "5.85 mm peak", "+0.15", "✓ pass", "△ waived", "waived by decision D2", "✗ fail", "−0.4",
		"−0.75 to 0.75 dB", "○ not evaluated", "brief: noise of the electronics is not modelled",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("%q is not in\n%s", want, text)
		}
		if !strings.Contains(page, want) {
			t.Errorf("%q is not in\n%s", want, page)
		}
	}
	if strings.Contains(page, "<b>") || !strings.Contains(page, "&lt;b&gt;") || !strings.Contains(page, "a &amp; b") {
		t.Errorf("markup is not escaped:\n%s", page)
	}
	if strings.Contains(page, "class=") || strings.Contains(page, "<style") || strings.Contains(page, "<script") {
		t.Errorf("page needs more than inline styles:\n%s", page)
	}
	if n := all().Count(Pass); n != 3 {
		t.Errorf("%d pass, want 3", n)
	}
}
