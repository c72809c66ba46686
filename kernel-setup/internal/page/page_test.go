package page

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
	"example.org/loudspeaker/speakerlib/report"
	"golang.org/x/net/html"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgsvg"
)

// TestSampleReport renders a study that has everything a report can hold. To
// look at it: go test -run TestSampleReport -artifacts -outputdir FOLDER .
func TestSampleReport(t *testing.T) {
	in := sample(t)
	page, err := Render(in)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(t.ArtifactDir(), "sample.html"), page, 0o644); err != nil {
		t.Fatal(err)
	}
	for range 5 {
		again, err := Render(sample(t))
		if err != nil || !bytes.Equal(page, again) {
			t.Fatalf("a second rendering differs (%v)", err)
		}
	}
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	selfContained(t, doc)

	// What needs attention stands first, with its word and its sign.
	var statuses []string
	for _, tr := range find(doc, "tr") {
		for _, td := range find(tr, "td") {
			if attribute(td, "class") == "status" {
				statuses = append(statuses, strings.TrimSpace(content(td)))
			}
		}
	}
	want := []string{"✗ fail", "✗ fail", "○ not evaluated", "△ waived", "✓ pass", "✓ pass"}
	if strings.Join(statuses, ", ") != strings.Join(want, ", ") {
		t.Errorf("the summary lists %q, want %q", statuses, want)
	}
	text := strings.Join(strings.Fields(content(find(doc, "body")[0])), " ")
	for _, s := range []string{
		"2 fail", "1 not evaluated", "1 waived", "2 pass",
		"vent air speed", "23.46 m/s peak", "at most 20 m/s peak", "−3.46", // value, limit, margin
		"+0.42",                                              // margin of the −6 dB point: 35.5 − 35.08
		"within the guard band of the limit",                 // why it failed though it meets the limit
		"Decision D1", "Commit " + in.Provenance.Commit[:12], // origin
		"The tree held changes that are not in this commit.",
		"datasets/demo/woofer.txt", strings.Repeat("ab", 32), "Monte Carlo", "20250131",
		"example.org/loudspeaker", "go1.26.8 on linux/amd64",
		"This cell failed: ERROR exit status 2", "panic: index out of range", // shown as an error
		"<script>alert(1)</script>", // of a text output: as text
	} {
		if !strings.Contains(text, s) {
			t.Errorf("the page does not say %q", s)
		}
	}
	if strings.Contains(text, "\x1b") || strings.Contains(text, "[31m") {
		t.Error("escape sequences of a terminal are in the page")
	}
	// Every figure has clip paths of its own.
	clips := map[string]int{}
	for _, n := range find(doc, "clippath") {
		clips[attribute(n, "id")]++
	}
	for _, n := range find(doc, "clipPath") {
		clips[attribute(n, "id")]++
	}
	if len(clips) != 2 {
		t.Errorf("clip paths %v, want one for each of two figures", clips)
	}
	// Code is folded, except parameters and what failed.
	var folded, open int
	for _, d := range find(doc, "details") {
		if !strings.Contains(attribute(d, "class"), "code") {
			continue
		}
		if hasAttribute(d, "open") {
			open++
		} else {
			folded++
		}
	}
	if open != 2 || folded < 3 {
		t.Errorf("%d code cells are open and %d folded, want 2 (parameters, the failed one) and the rest", open, folded)
	}
	// The contents are nested and lead somewhere (checkLinks has seen to that).
	nav := find(doc, "nav")[0]
	if got := len(find(find(nav, "ol")[0], "ol")); got < 1 {
		t.Error("the contents are not nested")
	}
	if got := len(find(doc, "h1")); got != 1 {
		t.Errorf("%d h1, want 1: the title", got)
	}
	if got := len(find(doc, "math")); got < 8 {
		t.Errorf("%d formulas, want at least 8", got)
	}
	if bytes.Contains(page, []byte("$$")) || bytes.Contains(page, []byte(markOpen)) {
		t.Error("a formula was left as text")
	}
}

// The SHA-256 of "abc" is printed in the examples of FIPS 180-4.
func TestFilesAreListed(t *testing.T) {
	in := sample(t)
	for _, c := range []struct{ folder, link string }{
		{"sample.files", "./sample.files/coefficients.csv"},
		// What would mean something in an address (RFC 3986) does not.
		{"a b#c?d%e:f.files", "./a%20b%23c%3Fd%25e:f.files/coefficients.csv"},
		{"javascript:x.files", "./javascript:x.files/coefficients.csv"},
	} {
		in.Folder = c.folder
		page, err := Render(in)
		if err != nil {
			t.Fatal(err)
		}
		doc, err := html.Parse(bytes.NewReader(page))
		if err != nil {
			t.Fatal(err)
		}
		var section *html.Node
		for _, n := range find(doc, "section") {
			if attribute(n, "id") == "files" {
				section = n
			}
		}
		if section == nil {
			t.Fatal("there is no section of files")
		}
		var got []string
		for _, td := range find(find(section, "tr")[2], "td") {
			got = append(got, content(td))
			for _, a := range find(td, "a") {
				got = append(got, attribute(a, "href"))
			}
		}
		want := []string{"coefficients.csv", c.link, "text/csv", "3", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", "cell 12", "#cell-attach"}
		if !slices.Equal(got, want) {
			t.Errorf("the page lists %q, want %q", got, want)
		}
		if !strings.Contains(content(section), c.folder) {
			t.Errorf("the page does not name the folder %q", c.folder)
		}
		// At its place the record is readable, and its content is not there.
		if !bytes.Contains(page, []byte(">file: coefficients.csv, 3 bytes, SHA-256 ba7816bf8f01…<")) || bytes.Contains(page, []byte("YWJj")) {
			t.Error("the record is not readable at its place")
		}
	}
	in.Folder = ""
	if _, err := Render(in); err == nil || !strings.Contains(err.Error(), "no folder") {
		t.Errorf("files without a folder: %v", err)
	}
	in.Records.Files = nil
	page, err := Render(in)
	if err != nil || bytes.Contains(page, []byte(`id="files"`)) || bytes.Contains(page, []byte(`#files`)) {
		t.Errorf("a page without files has a section of files (%v)", err)
	}
}

// selfContained checks the promise: no script, no event handler, nothing that
// a browser would fetch.
func selfContained(t *testing.T, doc *html.Node) {
	t.Helper()
	for _, n := range descendants(doc) {
		if n.Type != html.ElementNode {
			continue
		}
		switch n.Data {
		case "script", "iframe", "object", "embed", "link", "base", "form", "video", "audio", "foreignObject", "animate", "set":
			t.Errorf("the page holds the element %s", n.Data)
		}
		for _, a := range n.Attr {
			key, value := strings.ToLower(a.Key), strings.ToLower(strings.TrimSpace(a.Val))
			fetched := key == "src" || key == "srcset" || key == "poster" || key == "background" || (key == "href" && n.Data != "a")
			switch {
			case strings.HasPrefix(key, "on"):
				t.Errorf("%s has the event %s", n.Data, a.Key)
			case fetched && !strings.HasPrefix(value, "data:image/") && !strings.HasPrefix(value, "#"):
				t.Errorf("%s %s=%q would be fetched", n.Data, a.Key, a.Val)
			case key == "href" && strings.HasPrefix(value, "javascript:"):
				t.Errorf("a link runs %q", a.Val)
			case key != "alttext" && key != "content" && strings.Contains(value, "url(") && !strings.Contains(value, "url(#"):
				t.Errorf("%s %s=%q has an address", n.Data, a.Key, a.Val)
			}
		}
	}
}

// The data that a cell reads one after another stand in one line, each file once,
// by names that tell them apart, and their sums only under provenance.
func TestDataReadIsOneLine(t *testing.T) {
	sum := strings.Repeat("ab", 32)
	file := func(path string) report.Dataset { return report.Dataset{Path: path, SHA256: sum, Bytes: 3} }
	brief, woofer, older := file("datasets/a/brief.txt"), file("datasets/a/woofer.txt"), file("datasets/b/woofer.txt")
	first := recordCell(t, "first", brief, woofer, brief, older)
	text := nbformat.Output{Type: nbformat.DisplayData, Data: nbformat.Bundle{"text/plain": "between"}}
	first.Outputs = slices.Insert(first.Outputs, 3, text)
	n := &nbformat.Notebook{Minor: 5, Cells: []*nbformat.Cell{first, recordCell(t, "second", brief)}}
	records, err := Collect(n)
	if err != nil {
		t.Fatal(err)
	}
	page, err := Render(Input{Notebook: n, Name: "n", Records: records})
	if err != nil {
		t.Fatal(err)
	}
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	rows := map[string]string{} // by the id
	for _, p := range find(doc, "p") {
		if s := content(p); strings.HasPrefix(s, "Data read") {
			lines = append(lines, s)
		}
	}
	for _, tr := range find(doc, "tr") {
		rows[attribute(tr, "id")] = content(tr)
	}
	want := []string{
		"Data read: brief.txt, a/woofer.txt (provenance below)",
		"Data read: b/woofer.txt (provenance below)",
		"Data read: brief.txt (provenance below)",
	}
	if !slices.Equal(lines, want) {
		t.Errorf("lines %q, want %q", lines, want)
	}
	if n := bytes.Count(page, []byte(sum)); n != 3 {
		t.Errorf("sums stand %d times, want 3", n)
	}
	for _, p := range find(doc, "p") {
		for _, a := range find(p, "a") {
			if id, ok := strings.CutPrefix(attribute(a, "href"), "#data-"); ok && !strings.Contains(rows["data-"+id], content(a)) {
				t.Errorf("%s leads to %q", content(a), rows["data-"+id])
			}
		}
	}
}

// The summary names the cells of a requirement, and each number leads to its cell.
func TestSummaryLeadsToTheCells(t *testing.T) {
	speed := report.AtMost("vent air speed", "brief", "m/s peak", 20)
	point := report.AtMost("−6 dB point", "brief", "Hz", 35.5)
	room := report.AtMost("vent room", "brief", "mm", 0.25)
	n := &nbformat.Notebook{Minor: 5, Cells: []*nbformat.Cell{
		recordCell(t, "a", speed.Evaluate(15, 0), point.Evaluate(35, 0)),
		recordCell(t, "b", speed.Evaluate(15, 0), room.Evaluate(0.2, 0)),
		recordCell(t, "c", speed.Evaluate(15, 0), point.Evaluate(35, 0), room.Evaluate(0.3, 0)),
	}}
	records, err := Collect(n)
	if err != nil {
		t.Fatal(err)
	}
	page, err := Render(Input{Notebook: n, Name: "n", Records: records})
	if err != nil {
		t.Fatal(err)
	}
	doc, err := html.Parse(bytes.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, td := range find(doc, "td") {
		if attribute(td, "class") != "place" {
			continue
		}
		line := content(td)
		for _, a := range find(td, "a") {
			line += " " + attribute(a, "href")
		}
		got = append(got, line)
	}
	want := []string{"cell 3 #cell-c", "cells 1 … 3 #cell-a #cell-c", "cells 1, 3 #cell-a #cell-c", "cell 2 #cell-b"}
	if !slices.Equal(got, want) {
		t.Errorf("places %q, want %q", got, want)
	}
	if n := bytes.Count(page, []byte("one of 2 evaluations with different outcomes")); n != 2 {
		t.Errorf("%d rows say that there are other evaluations, want 2", n)
	}
}

func TestBrokenThingsNameTheirCell(t *testing.T) {
	for _, c := range []struct{ name, source, want string }{
		{"unknown command", "ok\n\n$x = \\ohm$", `cell 1 (id "a"): formula "x = \\ohm": unknown command \ohm`},
		{"brace", "$$\n\\frac{1}{\n$$", `mismatched curly brace`},
		{"not closed", "$$\na = b\n\nmore", `the formula is not closed`},
		{"picture", "![x](figure.png)", `the picture "figure.png" is not in the notebook`},
		{"network picture", "![x](https://example.org/a.png)", `is not in the notebook`},
		{"attachment", "![x](attachment:a.png)", `the picture "a.png" is not attached`},
		{"link", "[x](#nowhere)", `a link to #nowhere`},
		{"same id", "# T\n\n<p id=\"T\">x</p>", `the id "T" stands twice`},
	} {
		n := &nbformat.Notebook{Minor: 5, Cells: []*nbformat.Cell{{Type: nbformat.Markdown, ID: "a", Source: c.source}}}
		_, err := Render(Input{Notebook: n, Name: "n"})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want it to say %q", c.name, err, c.want)
		}
	}
	n := &nbformat.Notebook{Minor: 5, Cells: []*nbformat.Cell{{Type: nbformat.Code, ID: "b", Outputs: []nbformat.Output{
		{Type: nbformat.DisplayData, Data: nbformat.Bundle{"image/svg+xml": "<svg viewBox='0 0 1 1'><g></svg>"}},
	}}}}
	if _, err := Render(Input{Notebook: n, Name: "n"}); err == nil || !strings.Contains(err.Error(), `cell 1 (id "b"), output 1: SVG`) {
		t.Errorf("a broken figure: %v", err)
	}
}

// The vectors are common ones of cross-site scripting (OWASP, "XSS Filter
// Evasion Cheat Sheet"), once as Markdown and once as HTML of the kernel.
func TestNothingRuns(t *testing.T) {
	vectors := []string{
		`<script>alert(1)</script>`, `<img src=x onerror=alert(1)>`, `<a href="javascript:alert(1)">x</a>`,
		`<a href="jav&#x09;ascript:alert(1)">x</a>`, `<svg onload=alert(1)><script>alert(1)</script></svg>`,
		`<iframe src="https://example.org"></iframe>`, `<div style="background:url(https://example.org/a)">x</div>`,
		`<div onclick="alert(1)">x</div>`, `<math><mtext><script>alert(1)</script></mtext></math>`,
		`<table background="https://example.org/a"><tr><td>x</td></tr></table>`, `<meta http-equiv=refresh content="0;url=https://example.org">`,
		`<link rel=stylesheet href="https://example.org/a.css">`, `<style>@import "https://example.org/a.css";</style>`,
		`<img src="https://example.org/a.png">`, `<img src="data:text/html;base64,PHNjcmlwdD4=">`, `<object data="x"></object>`,
		`<form action="https://example.org"><input name=a></form>`, `<a href="data:text/html,<script>alert(1)</script>">x</a>`,
		`<img srcset="https://example.org/a.png 2x" src="data:image/png;base64,AAAA">`, `[x](javascript:alert(1))`,
	}
	for _, v := range vectors {
		for _, c := range []*nbformat.Cell{
			{Type: nbformat.Markdown, ID: "a", Source: "text\n\n" + v + "\n\ninline " + v},
			{Type: nbformat.Code, ID: "a", Outputs: []nbformat.Output{{Type: nbformat.DisplayData, Data: nbformat.Bundle{"text/html": v}}}},
			{Type: nbformat.Code, ID: "a", Outputs: []nbformat.Output{{Type: nbformat.DisplayData, Data: nbformat.Bundle{"text/markdown": v}}}},
			{Type: nbformat.Code, ID: "a", Source: v, Outputs: []nbformat.Output{
				{Type: nbformat.Stream, Name: "stdout", Text: v}, {Type: nbformat.Error, EName: v, EValue: v, Traceback: []string{v}},
			}},
		} {
			page, err := Render(Input{Notebook: &nbformat.Notebook{Minor: 5, Cells: []*nbformat.Cell{c}}, Name: "n"})
			if err != nil {
				continue // refused is as good as cleaned
			}
			doc, err := html.Parse(bytes.NewReader(page))
			if err != nil {
				t.Fatal(err)
			}
			t.Run(v, func(t *testing.T) { selfContained(t, doc) })
		}
	}
}

func TestMarkdown(t *testing.T) {
	for _, c := range []struct{ name, source, want, not string }{
		{"money", "costs $5 and $6", "costs $5 and $6", "<math"},
		{"money before a bracket", "a $5 fee ($6 there)", "a $5 fee ($6 there)", "<math"},
		{"code", "`$x$`", "<code>$x$</code>", "<math"},
		{"escaped", `a \$x\$ b`, "a $x$ b", "<math"},
		{"emphasis in a formula", "$a_1 b_2$ and *c*", "<em>c</em>", "$"},
		{"bars in a table", "| a | b |\n|---|---|\n| $|Z|$ | $\\|x\\|$ |", "<mi>‖</mi>", "$"},
		{"minus line is no heading", "$$\na\n= b\n---\n$$\n", `display="block"`, "<h2"},
		{"environment", "\\begin{align}\na &= b\\\\\nc &= d\n\\end{align}", "<mtable", "begin"},
		{"equation", "\\begin{equation}\na = b\n\\end{equation}", `display="block"`, "equation}<"},
		{"two lines", "see $a +\nb$ there", "<math", "$"},
		{"footnote", "x[^1]\n\n[^1]: note", "note", "[^1]"},
		{"strike", "~~x~~", "<del>x</del>", "~~"},
		{"task", "- [x] done", `type="checkbox"`, "[x]"},
		{"go code", "```go\nfunc f() {}\n```", `<span class="kd">func</span>`, "```"},
		{"data picture", "![p](data:image/png;base64,iVBORw0KGgo=)", `<img src="data:image/png;base64,iVBORw0KGgo="`, "["},
	} {
		w := &writer{policy: newPolicies(), ids: idSet{}}
		got := w.markdown(c.source, nil, true)
		if len(w.problems) > 0 {
			t.Errorf("%s: %v", c.name, w.problems)
		}
		shown := regexp.MustCompile(`alttext="[^"]*"`).ReplaceAllString(got, "")
		if !strings.Contains(shown, c.want) || strings.Contains(shown, c.not) {
			t.Errorf("%s: %s\nwant %q in it and not %q", c.name, shown, c.want, c.not)
		}
	}
}

func TestHeadingIDsAreUnique(t *testing.T) {
	cells := []*nbformat.Cell{
		{Type: nbformat.Markdown, ID: "a", Source: "# Title of *two* & more\n\n## Requirements\n\n## Same words\n\n### $Q_{ts}$ & more"},
		{Type: nbformat.Markdown, ID: "b", Source: "## Same words\n\nx[^1] [there](#Same-words-2)\n\n[^1]: a"},
		{Type: nbformat.Markdown, ID: "c", Source: "## $x$\n\ny[^1]\n\n[^1]: b"},
	}
	page, err := Render(Input{Notebook: &nbformat.Notebook{Minor: 5, Cells: cells}, Name: "n"})
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(page, []byte("<title>Title of two &amp; more</title>")) {
		t.Error("the first heading is not the title")
	}
}

func find(n *html.Node, name string) []*html.Node {
	var out []*html.Node
	for _, d := range descendants(n) {
		if d.Type == html.ElementNode && d.Data == name {
			out = append(out, d)
		}
	}
	return out
}

func descendants(n *html.Node) []*html.Node {
	var out []*html.Node
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		out = append(append(out, c), descendants(c)...)
	}
	return out
}

func hasAttribute(n *html.Node, key string) bool {
	for _, a := range n.Attr {
		if a.Key == key {
			return true
		}
	}
	return false
}

// sample is an invented study.
func sample(t *testing.T) Input {
	t.Helper()
	text := func(id, source string) *nbformat.Cell {
		return &nbformat.Cell{Type: nbformat.Markdown, ID: id, Source: source}
	}
	count := 0
	code := func(id, source string, outputs ...nbformat.Output) *nbformat.Cell {
		count++
		n := count
		return &nbformat.Cell{Type: nbformat.Code, ID: id, Source: source, ExecutionCount: &n, Outputs: outputs}
	}
	show := func(data nbformat.Bundle) nbformat.Output {
		return nbformat.Output{Type: nbformat.DisplayData, Data: data}
	}
	record := func(r report.Record) nbformat.Output {
		raw, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		v, err := nbformat.DecodeJSON(raw)
		if err != nil {
			t.Fatal(err)
		}
		return show(nbformat.Bundle{r.MIME(): v, "text/html": r.HTML(), "text/plain": r.Text()})
	}
	speed := report.AtMost("vent air speed", "brief, 3.4", "m/s peak", 20)
	point := report.AtMost("−6 dB point, re the mean of 200 Hz to 1 kHz", "brief, 3.1", "Hz", 35.5)
	delay := report.AtMost("group delay at 50 Hz", "brief, 3.5", "ms", 15e-3)
	plateau := report.AtLeast("low-frequency plateau", "brief, 3.2", "dB", 98.5)
	noise := report.AtMost("idle noise at 1 m, sum of ways", "brief, 3.7", "dB(A)", 0)
	mask := report.Within("voicing, worst place", "brief, 3.6", "dB", -0.75, 0.75)
	parameters := code("parameters", "const (\n\ttuning = 41.0 // Hz\n\tvolume = 14.6 // L\n)")
	parameters.Metadata = map[string]any{"tags": []any{"parameters"}}
	cells := []*nbformat.Cell{
		text("title", "# The active sibling: an invented study\n\nAll data are invented. The question: how low can $f_b$ go before the vent or the cone says no?[^1]\n\n[^1]: Half space, 1 m, rms, one loudspeaker."),
		code("setup", "%noautoget\nimport (\n\t\"example.org/loudspeaker/speakerlib/nb\"\n\t\"example.org/loudspeaker/speakerlib/enclosure\"\n)"),
		parameters,
		text("theory", "## What decides\n\n### The box\n\nThe tuning follows from the vent's area $S_v$, its effective length $\\ell'$ and the volume:\n\n$$f_b = \\frac{c}{2\\pi}\\sqrt{\\frac{S_v}{V_b\\,\\ell'}}$$\n\nand the driver's $Q_\\mathrm{ts}$ from\n\n$$\n\\begin{aligned}\nQ_\\mathrm{es} &= \\frac{2\\pi F_s M_\\mathrm{ms} R_e}{(Bl)^2} \\\\\n\\frac{1}{Q_\\mathrm{ts}} &= \\frac{1}{Q_\\mathrm{es}} + \\frac{1}{Q_\\mathrm{ms}}\n\\end{aligned}\n$$\n\nLevels: $L_p = 20\\log_{10}\\left|\\frac{p}{p_0}\\right|$ with $p_0 = 20~\\mu\\mathrm{Pa}$; the time convention is $e^{+\\mathrm{j}\\omega t}$, so $\\operatorname{Re} Z \\ge 0$ and $\\tau_g = -\\frac{\\mathrm{d}\\varphi}{\\mathrm{d}\\omega}$.\n\n| quantity | symbol | value |\n|:---|:---:|---:|\n| impedance | $|Z|$ | 5.5 Ω |\n| norm | $\\|x\\|_2$ | 1 |\n\n> Look at the dip of the impedance first: it sits at the tuning.\n\n```go\nbox := enclosure.Vented{Vb: 14.6 * si.Litre, Fb: 41} // hertz\n```\n\n- [x] measured\n- [ ] listened to at [high level](#The-price)"),
		code("read", "rig := nb.Must(nb.Open(\"datasets/demo/woofer.txt\"))", record(report.Dataset{Path: "datasets/demo/woofer.txt", SHA256: strings.Repeat("ab", 32), Bytes: 48213}),
			record(report.Seed{Name: "Monte Carlo, 1000 loudspeakers", Seed: 20250131})),
		text("look", "### Two tunings\n\nLook at 40 Hz: the lower tuning gains there and pays at 60 Hz."),
		code("figures", "nb.Show(figure.Magnitude(low, high), figure.Impedance(z))",
			show(nbformat.Bundle{"image/svg+xml": samplePlot(t, 41), "image/png": "iVBORw0KGgo=", "text/plain": "Sound pressure level against frequency, tuning 41 Hz"}),
			show(nbformat.Bundle{"image/svg+xml": samplePlot(t, 49), "text/plain": "Sound pressure level against frequency, tuning 49 Hz"})),
		text("price", "## The price\n\nTo be read with care."),
		code("numbers", "nb.Text(\"the tuning is %.1f Hz\", fb)\nnb.Require(demands...)",
			show(nbformat.Bundle{"text/markdown": "The vent is **182 mm** long at $f_b = 41.0$ Hz.", "text/html": "<p>x</p>", "text/plain": "x"}),
			record(speed.Evaluate(23.46, 0.5)),
			record(report.Requirements{
				point.Evaluate(35.08, 0.2), delay.Evaluate(14.9e-3, 0.3e-3), mask.Evaluate(0.31, 0.1),
				noise.NotEvaluated("needs the amplifier's noise, which is not modelled yet"), plateau.Evaluate(98.1, 0).WaivedBy("D1"),
			}),
			nbformat.Output{Type: nbformat.Stream, Name: "stdout", Text: "plain \x1b[31mtext\x1b[0m <script>alert(1)</script>\n"},
			nbformat.Output{Type: nbformat.Stream, Name: "stderr", Text: "a message\n"}),
		code("decide", "nb.Decide(d1)", record(report.Decision{
			ID: "D1", Question: "Tune to 41 Hz or stay at 49 Hz?", Choice: "41 Hz", Reason: "The −6 dB point binds; the plateau can be bought by the amplifier.",
			Alternatives: []report.Alternative{
				{Name: "41 Hz", Figures: []report.Quantity{{Name: "f−6", Value: 35.08, Unit: "Hz"}, {Name: "vent", Value: 0.182, Unit: "mm"}}},
				{Name: "49 Hz", Figures: []report.Quantity{{Name: "f−6", Value: 41.2, Unit: "Hz"}, {Name: "vent", Value: 0.118, Unit: "mm"}}},
			},
			Requirements: []string{"low-frequency plateau"}, Revision: "3", Date: "2025-01-31",
		})),
		text("hand-on", "## Handed on\n\nThe sections of both ways, for the processor and for reading."),
		code("attach", "nb.Attach(\"coefficients.json\", \"application/json\", document)\nnb.Attach(\"coefficients.csv\", \"text/csv\", table)",
			record(report.File{Name: "coefficients.json", Media: "application/json", Content: []byte("{\n  \"sampleRate\": 48000\n}\n")}),
			record(report.File{Name: "coefficients.csv", Media: "text/csv", Content: []byte("abc")})),
		text("end", "## What failed\n\nThe next cell fails on purpose."),
		code("fails", "%%\nvar ways []int\nfmt.Println(ways[3])",
			nbformat.Output{Type: nbformat.Stream, Name: "stderr", Text: "panic: index out of range [3] with length 0\n\ngoroutine 1 [running]:\nmain.main()\n"},
			nbformat.Output{Type: nbformat.Error, EName: "ERROR", EValue: "exit status 2", Traceback: []string{"exit status 2"}}),
	}
	n := &nbformat.Notebook{Minor: 5, Cells: cells}
	records, err := Collect(n)
	if err != nil {
		t.Fatal(err)
	}
	return Input{
		Notebook: n, Name: "sample", Records: records, Folder: "sample.files",
		Provenance: Provenance{
			Notebook: File{Path: "notebooks/sample.ipynb", SHA256: strings.Repeat("0123456789abcdef", 4), Bytes: 34567},
			Commit:   "5c21a39c7b2a4f7b9d1f0e0f8c7d6e5f4a3b2c1d", Dirty: true, GoVersion: "go1.26.8", Platform: "linux/amd64",
			Modules: []Module{{"example.org/loudspeaker", "(this checkout)"}, {"gonum.org/v1/gonum", "v0.17.0"}, {"gonum.org/v1/plot", "v0.17.0"}},
		},
	}
}

// samplePlot is a curve drawn by gonum/plot, with a clip path added as other
// programs write it.
func samplePlot(t *testing.T, fb float64) string {
	t.Helper()
	p := plot.New()
	p.Title.Text = "Sound pressure level, 2.83 V, half space, 1 m"
	p.X.Label.Text = "frequency (Hz)"
	p.Y.Label.Text = "level (dB re 20 µPa)"
	p.X.Scale = plot.LogScale{}
	p.X.Tick.Marker = plot.LogTicks{Prec: -1}
	var xy plotter.XYs
	for i := range 200 {
		f := 20 * math.Pow(10, float64(i)/199*3)
		r := f / fb
		xy = append(xy, plotter.XY{X: f, Y: 86 + 20*math.Log10(r*r*r*r/math.Hypot(1-3.4*r*r+r*r*r*r, 2.6*r-2.6*r*r*r))})
	}
	line, err := plotter.NewLine(xy)
	if err != nil {
		t.Fatal(err)
	}
	p.Add(plotter.NewGrid(), line)
	c := vgsvg.New(16*vg.Centimeter, 8*vg.Centimeter)
	p.Draw(draw.New(c))
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		t.Fatal(err)
	}
	return strings.Replace(b.String(), "</svg>", `<defs><clipPath id="clip"><rect x="0" y="0" width="440" height="220"/></clipPath></defs><g clip-path="url(#clip)"><circle cx="400" cy="20" r="3" style="fill:none;stroke:#333"/></g></svg>`, 1)
}
