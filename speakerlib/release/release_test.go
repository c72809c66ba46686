package release_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"math"
	"reflect"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/export"
	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/release"
	"example.org/loudspeaker/speakerlib/report"
)

func document(t testing.TB) *export.Document {
	t.Helper()
	low := sections(t, 0.5, digital.Highpass{F0: 25, Q: 0.8}, digital.Lowpass{F0: 2000, Q: 0.6})
	high, err := sections(t, 1, digital.Highpass{F0: 2000, Q: 0.6}).WithDelay(7)
	if err != nil {
		t.Fatal(err)
	}
	d, err := export.New("a study", "2031-02-03", []export.Chain{{Name: "woofer", Cascade: low}, {Name: "tweeter", Cascade: high.WithPolarity(true)}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func draft(t testing.TB) *release.Release {
	t.Helper()
	r, err := release.New(document(t), "A")
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func correction(t testing.TB) *release.Correction {
	return &release.Correction{SampleRate: rate, Ways: []release.WayCorrection{
		{Name: "tweeter", Cascade: sections(t, 0.9, digital.Peak{F0: 5000, Gain: 0.8, Q: 1}), Samples: -3},
		{Name: "woofer", Cascade: sections(t, 1.1)},
	}}
}

func corrected(t testing.TB) *release.Release {
	t.Helper()
	r, err := draft(t).Correct(correction(t), "2031-02-10")
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func requirements() report.Requirements {
	return report.Requirements{
		report.AtMost("latency", "brief", "ms", 3e-3).Evaluate(1.2e-3, 0),
		report.AtLeast("plateau", "brief", "dB", 98.5).Evaluate(98.1, 0.2).WaivedBy("D7"),
	}
}

func decision(id string) report.Decision {
	return report.Decision{
		ID: id, Question: "Is the plateau loud enough?",
		Alternatives: []report.Alternative{{Name: "yes"}, {Name: "no"}}, Choice: "yes", Reason: "measured in a room it is",
		Requirements: []string{"plateau"}, Revision: "A", Date: "2031-02-11",
	}
}

func freezing() release.Freezing {
	return release.Freezing{
		Date:         "2031-02-12",
		Signed:       []report.Signature{{Role: report.Acoustics, Date: "2031-02-12"}, {Role: report.Quality, Date: "2031-02-11"}},
		Requirements: requirements(), Decisions: []report.Decision{decision("D7")},
	}
}

func frozen(t testing.TB) *release.Release {
	t.Helper()
	r, err := corrected(t).Freeze(freezing())
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func playing(t testing.TB, r *release.Release, chosen ...release.Chosen) crossover.Active {
	t.Helper()
	a, err := r.Active(chosen...)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// What plays is what the document says, delay and polarity apart.
func TestActiveIsTheDocument(t *testing.T) {
	r, g := draft(t), grid(t)
	for i, w := range playing(t, r).Ways {
		c, err := r.Document().Cascade(w.Name)
		if err != nil {
			t.Fatal(err)
		}
		got, want := w.ResponseTo(nil, g), c.ResponseTo(nil, g)
		for n := range got {
			if d := got[n] - want[n]; math.Hypot(real(d), imag(d)) > 1e-12 {
				t.Fatalf("%s at %g Hz: %v, want %v", w.Name, g.At(n), got[n], want[n])
			}
		}
		if w.Inverted != (i == 1) || w.Delay != []float64{0, 7 / rate}[i] {
			t.Errorf("%s: inverted %v, delay %g s", w.Name, w.Inverted, w.Delay)
		}
		// Without delay and polarity a high-pass of second order is negative at low
		// frequencies, a low-pass positive: −(f/fc)² and 1.
		if low := real(w.Stages.ResponseTo(nil, g)[0]); (low < 0) != (i == 1) && i == 1 {
			t.Errorf("%s: stages give %g at 20 Hz, want a negative value", w.Name, low)
		}
	}
}

func TestOneCorrection(t *testing.T) {
	a, b := draft(t), corrected(t)
	if a.State() != release.Draft || b.State() != release.Corrected || b.Parent() != a.SHA256() || b.Date() != "2031-02-10" || b.Revision() != "A" {
		t.Errorf("%v → %v, parent %s, %s, revision %s", a.State(), b.State(), b.Parent(), b.Date(), b.Revision())
	}
	// The response is that of before times the correction; the latency stays.
	g := grid(t)
	for i, k := range []freq.Series{{sections(t, 1.1)}, {sections(t, 0.9, digital.Peak{F0: 5000, Gain: 0.8, Q: 1}), freq.Delay(-3 / rate)}} {
		got := playing(t, b).Ways[i].ResponseTo(nil, g)
		want := append(freq.Series{playing(t, a).Ways[i].Transfer()}, k...).ResponseTo(nil, g)
		for n := range got {
			if d := got[n] - want[n]; math.Hypot(real(d), imag(d)) > 1e-12 {
				t.Errorf("way %d at %g Hz: %v, want %v", i, g.At(n), got[n], want[n])
				break
			}
		}
	}
	if w, _ := b.Document().Way("tweeter"); w.Delay != 4 || !w.Inverted || len(w.Sections) != 2 {
		t.Errorf("tweeter %+v", w)
	}
	if _, err := b.Correct(correction(t), "2031-02-11"); err == nil || !strings.Contains(err.Error(), "corrected on 2031-02-10 already") {
		t.Errorf("second correction: %v", err)
	}
	if _, err := frozen(t).Correct(correction(t), "2031-02-20"); err == nil || !strings.Contains(err.Error(), "is frozen") {
		t.Errorf("correction after the freeze: %v", err)
	}
}

// Delays move together: the smallest stays, whatever the correction's signs.
func TestLatencyStays(t *testing.T) {
	c := correction(t)
	c.Ways[0].Samples = -9 // earlier than there is delay: the woofer has to wait
	r, err := draft(t).Correct(c, "2031-02-10")
	if err != nil {
		t.Fatal(err)
	}
	w, _ := r.Document().Way("woofer")
	x, _ := r.Document().Way("tweeter")
	if w.Delay != 2 || x.Delay != 0 {
		t.Errorf("delays %d and %d, want 2 and 0", w.Delay, x.Delay)
	}
	c.Ways[0].Samples = 5
	if r, err = draft(t).Correct(c, "2031-02-10"); err != nil {
		t.Fatal(err)
	}
	w, _ = r.Document().Way("woofer")
	x, _ = r.Document().Way("tweeter")
	if w.Delay != 0 || x.Delay != 12 {
		t.Errorf("delays %d and %d, want 0 and 12", w.Delay, x.Delay)
	}
}

// A common delay that was there stays too.
func TestCommonDelayStays(t *testing.T) {
	d := document(t)
	d.Ways[0].Delay, d.Ways[1].Delay = 2, 9
	r, err := release.New(d, "A")
	if err != nil {
		t.Fatal(err)
	}
	c := correction(t)
	c.Ways[0].Samples = -8
	if r, err = r.Correct(c, "2031-02-10"); err != nil {
		t.Fatal(err)
	}
	if w := r.Document().Ways; w[0].Delay != 3 || w[1].Delay != 2 {
		t.Errorf("delays %d and %d, want 3 and 2", w[0].Delay, w[1].Delay)
	}
}

// What a document has besides its sections goes through a correction, but for the
// programs of before; committed anew it plays the programs.
func TestCorrectionKeepsTheRest(t *testing.T) {
	d := document(t)
	f, err := fir.New(rate, []float64{0.25, 0.5, 0.25}, 1, "mean")
	if err != nil {
		t.Fatal(err)
	}
	d.Unit = export.Unit{Side: export.Left, Serial: "1"}
	d.Ways[1].FIR = []export.FIR{export.FIROf(f)}
	shelf := sections(t, 1, digital.LowShelf{F0: 200, Gain: 0.5, Q: 0.7})
	d.Ways[0].Sets = []export.Set{{Setting: "placement", Name: "wall", Gain: 1, Sections: export.SectionsOf(shelf), Default: true}}
	commit := func(d *export.Document) (out []*dsp.Program) {
		for _, w := range d.Ways {
			c, err := d.Cascade(w.Name)
			if err != nil {
				t.Fatal(err)
			}
			chain := dsp.Chain{Sections: c}
			if len(w.FIR) > 0 {
				chain.FIR = []*fir.Filter{f}
			}
			r, err := dsp.Realise(chain, dsp.Arithmetic{Signal: dsp.Fixed(4, 27), Coefficient: dsp.Fixed(1, 14), Accumulator: 64, Exponent: 3}, dsp.Options{})
			if err != nil {
				t.Fatal(err)
			}
			out = append(out, r.Program)
		}
		return out
	}
	programs := commit(d)
	d.Ways[0].Program, d.Ways[1].Program = programs[0], programs[1]
	r, err := release.New(d, "A")
	if err != nil {
		t.Fatal(err)
	}
	b, err := r.Correct(correction(t), "2031-02-10")
	if err != nil {
		t.Fatal(err)
	}
	n := b.Document()
	if n.Unit != d.Unit || len(n.Ways[1].FIR) != 1 || len(n.Ways[0].Sets) != 1 || !n.Ways[0].Sets[0].Default || n.Ways[0].Program != nil || n.Ways[1].Program != nil {
		t.Errorf("corrected: %+v", n)
	}
	programs = commit(n)
	swapped := commit(n)
	for i := range swapped {
		p := *swapped[i]
		p.Sections, p.Gain = programs[1-i].Sections, programs[1-i].Gain
		swapped[i] = &p
	}
	if _, err := b.Commit(swapped); err == nil || !strings.Contains(err.Error(), "another design") {
		t.Errorf("sections of the other way: error is %v", err)
	}
	c, err := b.Commit(programs)
	if err != nil {
		t.Fatal(err)
	}
	if c.State() != release.Corrected || c.SHA256() == b.SHA256() || c.Parent() != r.SHA256() {
		t.Errorf("committed: %v, parent %s", c.State(), c.Parent())
	}
	// 15 bits are off the design by something, and what plays is the program.
	g := grid(t)
	var off float64
	for i, w := range playing(t, c).Ways {
		h, err := programs[i].Transfer()
		if err != nil {
			t.Fatal(err)
		}
		got, want, design := w.ResponseTo(nil, g), h.ResponseTo(nil, g), playing(t, b).Ways[i].ResponseTo(nil, g)
		for k := range got {
			if d := got[k] - want[k]; math.Hypot(real(d), imag(d)) > 1e-12 {
				t.Fatalf("%s at %g Hz: %v, want %v", w.Name, g.At(k), got[k], want[k])
			}
			d := got[k] - design[k]
			off = max(off, math.Hypot(real(d), imag(d)))
		}
	}
	if off < 1e-7 || off > 0.05 {
		t.Errorf("program and design differ by %g", off)
	}
	// A setting is one stage more, of one way only.
	wall := playing(t, c, release.Chosen{Setting: "placement", Name: "wall"})
	diff, err := release.Differ(playing(t, c), wall, []freq.Response{write(t, woofer(t), pressure), write(t, tweeter(t), pressure)}, 30, 18000)
	if err != nil {
		t.Fatal(err)
	}
	want := level.OfComplex(nil, shelf.ResponseTo(nil, g))
	for k := range want {
		if v := diff.Ways[0].Level.At(k); math.Abs(v-want[k]) > 1e-9 {
			t.Fatalf("placement changes %g Hz by %g dB, want %g", g.At(k), v, want[k])
		}
	}
	if math.Abs(diff.Ways[1].Worst) > 1e-9 {
		t.Errorf("placement changes the tweeter by %g dB", diff.Ways[1].Worst)
	}
	for _, bad := range [][]release.Chosen{{{Setting: "placement", Name: "desk"}}, {{Setting: "placement", Name: "wall"}, {Setting: "placement", Name: "wall"}}} {
		if _, err := c.Active(bad...); err == nil {
			t.Errorf("%v chosen", bad)
		}
	}
	// One way committed and the other not is no release.
	n.Ways[0].Program = programs[0]
	half, err := release.New(n, "A")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := half.Freeze(freezing()); err == nil || !strings.Contains(err.Error(), "want all or none") {
		t.Errorf("half committed and frozen: %v", err)
	}
	for want, p := range map[string][]*dsp.Program{"1 programs for 2": programs[:1], "gets no program": {nil, nil}, "want the same": {programs[1], programs[0]}} {
		if _, err := b.Commit(p); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if f, err := c.Freeze(freezing()); err != nil {
		t.Error(err)
	} else if _, err := f.Commit(programs); err == nil || !strings.Contains(err.Error(), "is frozen") {
		t.Errorf("committed after the freeze: %v", err)
	}
}

func TestCorrectRefuses(t *testing.T) {
	for want, spoil := range map[string]func(c *release.Correction) string{
		"no way":          func(c *release.Correction) string { c.Ways = nil; return "2031-02-10" },
		"one sample rate": func(c *release.Correction) string { c.SampleRate = 48000; return "2031-02-10" },
		"names differ":    func(c *release.Correction) string { c.Ways[0].Name = "horn"; return "2031-02-10" },
		"corrected twice": func(c *release.Correction) string { c.Ways[1] = c.Ways[0]; return "2031-02-10" },
		"that day or":     func(*release.Correction) string { return "2031-02-02" },
		"YYYY-MM-DD":      func(*release.Correction) string { return "2031-02-30" },
	} {
		c := correction(t)
		date := spoil(c)
		if _, err := draft(t).Correct(c, date); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
	if _, err := release.New(nil, "A"); err == nil {
		t.Error("release of nothing")
	}
	if _, err := release.New(document(t), " "); err == nil {
		t.Error("release without a revision")
	}
}

func TestFreeze(t *testing.T) {
	r := frozen(t)
	if r.State() != release.Frozen || r.Frozen() != "2031-02-12" || len(r.Signed()) != 2 || len(r.Requirements()) != 2 {
		t.Errorf("frozen: %v %v %v", r.State(), r.Frozen(), r.Signed())
	}
	if d := r.Decisions(); len(d) != 1 || d[0].Release != r.SHA256() {
		t.Errorf("decisions %+v", d)
	}
	if _, err := r.Freeze(freezing()); err == nil {
		t.Error("frozen twice")
	}
	// The sum is of the bytes that are written.
	var b bytes.Buffer
	if err := r.WriteDocument(&b); err != nil {
		t.Fatal(err)
	}
	if s := sha256.Sum256(b.Bytes()); hex.EncodeToString(s[:]) != r.SHA256() {
		t.Errorf("sum %s, bytes have %x", r.SHA256(), s)
	}
	// What was handed out changes nothing.
	r.Document().Ways[0].Gain = 7
	r.Signed()[0].Role = report.Mechanics
	if again := frozen(t); r.SHA256() != again.SHA256() || r.Signed()[0].Role != report.Acoustics || len(playing(t, r).Ways[0].Stages) != 1 {
		t.Error("a copy that was changed changed the release")
	}
}

func TestFreezeRefuses(t *testing.T) {
	for want, spoil := range map[string]func(f *release.Freezing){
		"nobody signs":                  func(f *release.Freezing) { f.Signed = nil },
		"signs twice":                   func(f *release.Freezing) { f.Signed[1].Role = report.Acoustics },
		"after the freeze":              func(f *release.Freezing) { f.Signed[1].Date = "2031-02-13" },
		"want that day or later":        func(f *release.Freezing) { f.Signed[1].Date = "2031-02-09" },
		"freeze on \"2031-02-01\"":      func(f *release.Freezing) { f.Date = "2031-02-01" },
		"freeze on \"\"":                func(f *release.Freezing) { f.Date = "" },
		"without requirements":          func(f *release.Freezing) { f.Requirements = nil },
		"waived by decision D7":         func(f *release.Freezing) { f.Decisions = nil },
		`"latency": fail`:               func(f *release.Freezing) { f.Requirements[0] = f.Requirements[0].Evaluate(4e-3, 0) },
		`"latency": not evaluated`:      func(f *release.Freezing) { f.Requirements[0] = f.Requirements[0].NotEvaluated("no time") },
		"evaluated as NaN":              func(f *release.Freezing) { f.Requirements[0] = f.Requirements[0].Evaluate(math.NaN(), 0) },
		"is about the release 00000000": func(f *release.Freezing) { f.Decisions[0].Release = strings.Repeat("0", 64) },
		"two decisions":                 func(f *release.Freezing) { f.Decisions = append(f.Decisions, f.Decisions[0]) },
		"has no reason":                 func(f *release.Freezing) { f.Decisions[0].Reason = "" },
	} {
		f := freezing()
		spoil(&f)
		if _, err := corrected(t).Freeze(f); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

func TestNextRevisionHasAReason(t *testing.T) {
	r := frozen(t)
	n, err := r.Next(document(t), "B", decision("D8"))
	if err != nil {
		t.Fatal(err)
	}
	if n.State() != release.Draft || n.Parent() != r.SHA256() || n.Because() == nil || n.Because().Release != r.SHA256() {
		t.Errorf("next %+v", n.Because())
	}
	if n, err = n.Correct(correction(t), "2031-03-01"); err != nil || n.Because() == nil || n.Because().ID != "D8" {
		t.Errorf("the next revision may have its correction: %v", err)
	}
	for want, f := range map[string]func() error{
		"want it frozen": func() error { _, err := corrected(t).Next(document(t), "B", decision("D8")); return err },
		"called A too":   func() error { _, err := r.Next(document(t), "A", decision("D8")); return err },
		"has no ID":      func() error { _, err := r.Next(document(t), "B", decision("")); return err },
		"about the release": func() error {
			d := decision("D8")
			d.Release = strings.Repeat("1", 64)
			_, err := r.Next(document(t), "B", d)
			return err
		},
	} {
		if err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v, want %q", err, want)
		}
	}
}

func files(t testing.TB, r *release.Release) (record, document string) {
	t.Helper()
	var a, b bytes.Buffer
	if err := r.WriteRecord(&a); err != nil {
		t.Fatal(err)
	}
	if err := r.WriteDocument(&b); err != nil {
		t.Fatal(err)
	}
	return a.String(), b.String()
}

// What was frozen, or corrected, still is when it comes from its files.
func TestReadsBackInItsState(t *testing.T) {
	next, err := frozen(t).Next(document(t), "B", decision("D8"))
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range []*release.Release{draft(t), corrected(t), frozen(t), next} {
		rec, doc := files(t, r)
		got, err := release.Read(strings.NewReader(rec), strings.NewReader(doc))
		if err != nil {
			t.Fatalf("%v: %v", r.State(), err)
		}
		if got.State() != r.State() || got.SHA256() != r.SHA256() || got.Parent() != r.Parent() || got.Frozen() != r.Frozen() ||
			!reflect.DeepEqual(got.Signed(), r.Signed()) || !reflect.DeepEqual(got.Decisions(), r.Decisions()) ||
			!reflect.DeepEqual(got.Because(), r.Because()) || len(got.Requirements()) != len(r.Requirements()) {
			t.Errorf("%v: read back as %v", r.State(), got.State())
		}
		if again, _ := files(t, got); again != rec {
			t.Errorf("%v: record written again differs:\n%s\n%s", r.State(), again, rec)
		}
		_, err = got.Correct(correction(t), "2031-03-01")
		if (err == nil) != (r.State() == release.Draft) {
			t.Errorf("%v, read back, corrected: %v", r.State(), err)
		}
	}
}

func TestReadRefusesWhatWasChanged(t *testing.T) {
	rec, doc := files(t, frozen(t))
	for _, c := range []struct{ old, new, want string }{
		{`"state": "frozen"`, `"state": "draft"`, "want that of a frozen one only"},
		{`"state": "frozen"`, `"state": "done"`, `state is "done"`},
		{`"revision": "A"`, `"revision": ""`, "revision is"},
		{`"version": 1`, `"version": 2`, "version 2"},
		{`"date": "2031-02-10"`, `"date": "2031-02-09"`, "want one date"},
		{`"role": "acoustics"`, `"role": "somebody"`, "somebody"},
		{`"frozen": "2031-02-12"`, `"frozen": "2031-02-11"`, "after the freeze"},
		{`"value": 1.2`, `"value": 3.2`, "latency"},
		{`"parent_sha256"`, `"parent"`, "unknown field"},
		{`"parent_sha256": "`, `"parent_sha256": "0`, "parent_sha256 is"},
		{"}\n", "}\n{}", "followed by"},
	} {
		bad := strings.Replace(rec, c.old, c.new, 1)
		if c.old == "}\n" {
			bad = rec + "{}"
		}
		if bad == rec {
			t.Errorf("%s is not in the record", c.old)
		}
		if _, err := release.Read(strings.NewReader(bad), strings.NewReader(doc)); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.new, err, c.want)
		}
	}
	other := strings.Replace(doc, `"delay_samples": 4`, `"delay_samples": 5`, 1)
	if other == doc {
		t.Fatal("document has no delay of 4")
	}
	if _, err := release.Read(strings.NewReader(rec), strings.NewReader(other)); err == nil || !strings.Contains(err.Error(), "or was changed") {
		t.Errorf("another document: %v", err)
	}
	if _, err := release.Read(strings.NewReader(rec), strings.NewReader(doc+"\n")); err == nil {
		t.Error("document with one more byte taken")
	}
	// A revision that has a reason comes from another one.
	f := frozen(t)
	next, err := f.Next(document(t), "B", decision("D-9"))
	if err != nil {
		t.Fatal(err)
	}
	rec, doc = files(t, next)
	if bad := strings.Replace(rec, f.SHA256(), "", 1); bad == rec {
		t.Error("the parent is not in the record")
	} else if _, err := release.Read(strings.NewReader(bad), strings.NewReader(doc)); err == nil || !strings.Contains(err.Error(), "no parent") {
		t.Errorf("reason without a parent: %v", err)
	}
}

// A correction found from the prototype does what it says on the release.
func TestCorrectionOnTheRelease(t *testing.T) {
	p := compare(t, pairs(t, freq.Series{sections(t, level.Ratio(0.5), digital.Peak{F0: 300, Gain: level.Ratio(1.8), Q: 0.8})}, freq.Series{freq.Delay(3 / rate)}), release.Judge{Guard: 0.3})
	c := fit(t, p, release.Bounds{})
	a := draft(t)
	b, err := a.Correct(c, "2031-02-10")
	if err != nil {
		t.Fatal(err)
	}
	d, err := release.Differ(playing(t, a), playing(t, b), []freq.Response{write(t, woofer(t), pressure), write(t, tweeter(t), pressure)}, 30, 18000)
	if err != nil {
		t.Fatal(err)
	}
	if got := d.Ways[1].Delay - d.Ways[0].Delay; math.Abs(got+3/rate) > 1e-12 {
		t.Errorf("delays differ by %g s, want −3 samples", got)
	}
	if d.Ways[0].Worst > -1.5 || math.Abs(d.Ways[0].WorstAt/300-1) > 0.1 {
		t.Errorf("woofer changes by %.2f dB at %.0f Hz", d.Ways[0].Worst, d.Ways[0].WorstAt)
	}
}
