// Package page makes a report of an executed notebook: one HTML file that needs
// neither network nor script, with its requirements first and its origin last.
// The same input gives the same bytes.
package page

import (
	"bytes"
	_ "embed"
	"encoding/base64"
	"errors"
	"fmt"
	"html"
	"html/template"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
	"example.org/loudspeaker/speakerlib/report"
)

// Input is what a report is made of.
type Input struct {
	Notebook   *nbformat.Notebook // executed
	Name       string             // of the notebook: the title if it has none
	Provenance Provenance
	Records    Records // as Collect gives them
	Folder     string  // of the study's files, beside the page: "NAME.files"
}

// Provenance tells where a report comes from. Datasets and seeds are in the
// records.
type Provenance struct {
	Notebook  File
	Commit    string // "" if it is not known
	Unknown   string // why the commit is not known: "no version control here"
	Dirty     bool   // the tree held changes that are not in the commit
	GoVersion string // go1.26.8
	Platform  string // linux/amd64
	Modules   []Module
}

// File is a file by its content.
type File struct {
	Path   string // as the reader of the report is to find it
	SHA256 string
	Bytes  int64
}

// Module is a Go module and its version.
type Module struct {
	Path    string
	Version string
}

//go:embed page.html
var layout string

//go:embed page.css
var css string

// writer gathers the parts of one page.
type writer struct {
	policy   policies
	ids      idSet
	where    string // the cell being rendered, for messages
	problems []error
	pieces   int // Markdown texts so far
	figures  int // SVG figures so far
	data     []Dataset

	titleHTML string
	titleID   string
	outline   []heading
	body      strings.Builder
}

func (w *writer) problem(format string, args ...any) {
	w.problems = append(w.problems, fmt.Errorf("page: %s: %w", w.where, fmt.Errorf(format, args...)))
}

// Render returns the report. Everything that cannot be shown as it was meant
// (a broken formula, a figure that is not readable, a link to nowhere, a
// picture that is not in the notebook) is an error that names the cell; all
// errors are joined.
func Render(in Input) ([]byte, error) {
	tmpl, err := template.New("page").Parse(layout)
	if err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	w := &writer{policy: newPolicies(), ids: idSet{"contents": true, "requirements": true, "decisions": true, "files": true, "provenance": true, "data": true, "title": true}, data: in.Records.Datasets}
	for i := range in.Records.Datasets {
		w.ids[dataID(i)] = true
	}
	for _, c := range in.Notebook.Cells {
		w.ids["cell-"+c.ID] = true
	}
	for _, d := range in.Records.Decisions {
		w.ids["decision-"+d.ID] = true
	}
	for i, c := range in.Notebook.Cells {
		w.where = fmt.Sprintf("cell %d (id %q)", i+1, c.ID)
		w.cell(i+1, c)
	}
	if w.titleHTML == "" {
		w.titleHTML, w.titleID = html.EscapeString(in.Name), "title"
	}
	w.where = "the page"
	if len(in.Records.Files) > 0 && in.Folder == "" {
		w.problem("there are files, but no folder for them")
	}
	var b bytes.Buffer
	err = tmpl.Execute(&b, map[string]any{
		"CSS":          template.CSS(css),
		"Title":        html.UnescapeString(tag.ReplaceAllString(w.titleHTML, "")),
		"TitleHTML":    template.HTML(w.titleHTML),
		"TitleID":      w.titleID,
		"Contents":     template.HTML(w.contents(in.Records)),
		"Counts":       counts(in.Records),
		"Requirements": rows(in.Records),
		"Decisions":    w.decisions(in.Records),
		"Records":      in.Records,
		"Files":        attachments(in),
		"Folder":       in.Folder,
		"Body":         template.HTML(w.body.String()),
		"Provenance":   in.Provenance,
		"Short":        short,
		"DataID":       dataID,
	})
	if err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	w.checkLinks(b.String())
	if len(w.problems) > 0 {
		return nil, errors.Join(w.problems...)
	}
	return b.Bytes(), nil
}

func (w *writer) cell(number int, c *nbformat.Cell) {
	switch c.Type {
	case nbformat.Markdown:
		before := w.titleHTML
		content := w.markdown(c.Source, c.Attachments, true)
		if strings.TrimSpace(content) == "" && (w.titleHTML != before || strings.TrimSpace(c.Source) == "") {
			fmt.Fprintf(&w.body, "<span id=\"cell-%s\"></span>\n", c.ID)
			return
		}
		fmt.Fprintf(&w.body, "<section class=\"text\" id=\"cell-%s\">\n%s</section>\n", c.ID, content)
	case nbformat.Code:
		fmt.Fprintf(&w.body, "<section class=\"cell\" id=\"cell-%s\">\n", c.ID)
		failed := false
		for _, o := range c.Outputs {
			failed = failed || o.Type == nbformat.Error
		}
		if strings.TrimSpace(c.Source) != "" {
			class, open, label := "code", "", "Code"
			if c.HasTag("parameters") {
				class, open, label = "code shown", " open", "Parameters"
			}
			if failed {
				class, open = "code shown", " open"
			}
			fmt.Fprintf(&w.body, "<details class=\"%s\"%s><summary>%s <span class=\"number\">cell %d</span></summary>\n%s</details>\n",
				class, open, label, number, highlight(c.Source, "go"))
		}
		var read []string // paths of data sets that wait to be named, in one line
		named := map[string]bool{}
		for i, o := range c.Outputs {
			w.where = fmt.Sprintf("cell %d (id %q), output %d", number, c.ID, i+1)
			if paths, ok := datasets(o); ok {
				for _, p := range paths {
					if !named[p] {
						read, named[p] = append(read, p), true
					}
				}
				continue
			}
			w.dataRead(read)
			read = nil
			w.output(o)
		}
		w.dataRead(read)
		w.body.WriteString("</section>\n")
	case nbformat.Raw:
		// Raw cells are for other converters, by the format's definition.
	}
}

var (
	escapes  = regexp.MustCompile("\x1b\\[[0-9;?]*[A-Za-z]")
	controls = regexp.MustCompile(`[\x00-\x08\x0b-\x1f\x7f]`)
)

// plain is program output as HTML text: escape sequences of terminals and
// control characters are left out.
func plain(s string) string {
	s = strings.ReplaceAll(s, "\r\n", "\n")
	s = controls.ReplaceAllString(escapes.ReplaceAllString(s, ""), "")
	return html.EscapeString(s)
}

func (w *writer) output(o nbformat.Output) {
	switch o.Type {
	case nbformat.Stream:
		if strings.TrimSpace(o.Text) == "" {
			return
		}
		class := "stream"
		if o.Name == "stderr" {
			class = "stream stderr"
		}
		fmt.Fprintf(&w.body, "<pre class=\"%s\">%s</pre>\n", class, plain(o.Text))
	case nbformat.Error:
		fmt.Fprintf(&w.body, "<div class=\"error\" role=\"alert\"><p><strong>This cell failed: %s</strong> %s</p>\n", plain(o.EName), plain(o.EValue))
		if trace := strings.TrimSpace(strings.Join(o.Traceback, "\n")); trace != "" && trace != strings.TrimSpace(o.EValue) {
			fmt.Fprintf(&w.body, "<pre>%s</pre>\n", plain(trace))
		}
		w.body.WriteString("</div>\n")
	case nbformat.DisplayData, nbformat.ExecuteResult:
		w.display(o.Data)
	}
}

// datasets returns the paths in an output that is the record of data sets.
func datasets(o nbformat.Output) (paths []string, ok bool) {
	v, ok := o.Data[report.DatasetMIME]
	if !ok {
		return nil, false
	}
	value, err := nbformat.EncodeJSON(v)
	if err != nil {
		return nil, false
	}
	list, err := report.ReadDatasets(value)
	if err != nil {
		return nil, false // Collect says what is wrong with it
	}
	for _, d := range list {
		paths = append(paths, d.Path)
	}
	return paths, true
}

// dataID is the anchor of a data set among those of the records.
func dataID(i int) string { return "data-" + strconv.Itoa(i+1) }

// dataRead names data sets in one line. Their sizes and sums stand once, under
// provenance.
func (w *writer) dataRead(paths []string) {
	if len(paths) == 0 {
		return
	}
	var names []string
	for _, p := range paths {
		name := html.EscapeString(w.shortest(p))
		if i := slices.IndexFunc(w.data, func(d Dataset) bool { return d.Path == p }); i >= 0 {
			name = "<a href=\"#" + dataID(i) + "\">" + name + "</a>"
		}
		names = append(names, name)
	}
	fmt.Fprintf(&w.body, "<p class=\"note\">Data read: %s (<a href=\"#data\">provenance</a> below)</p>\n", strings.Join(names, ", "))
}

// shortest is the end of a path that no other data set of the study has.
func (w *writer) shortest(p string) string {
	parts := strings.Split(p, "/")
	for k := len(parts) - 1; k > 0; k-- {
		end := strings.Join(parts[k:], "/")
		if !slices.ContainsFunc(w.data, func(d Dataset) bool { return d.Path != p && strings.HasSuffix("/"+d.Path, "/"+end) }) {
			return end
		}
	}
	return p
}

// display shows the best form that an output has.
func (w *writer) display(data nbformat.Bundle) {
	label, _ := data.Text("text/plain")
	label = strings.Join(strings.Fields(label), " ")
	if svg, ok := data.Text("image/svg+xml"); ok {
		w.figures++
		drawn, err := figure(svg, "f"+strconv.Itoa(w.figures)+"-", label)
		if err != nil {
			w.problem("%w", err)
			return
		}
		fmt.Fprintf(&w.body, "<figure>%s</figure>\n", drawn)
		return
	}
	for _, mime := range []string{"text/markdown", "text/latex"} {
		if text, ok := data.Text(mime); ok {
			fmt.Fprintf(&w.body, "<div class=\"text output\">\n%s</div>\n", w.markdown(text, nil, false))
			return
		}
	}
	if text, ok := data.Text("text/html"); ok {
		fmt.Fprintf(&w.body, "<div class=\"output\">\n%s\n</div>\n", w.policy.kernel.Sanitize(text))
		return
	}
	for _, mime := range []string{"image/png", "image/jpeg"} {
		if text, ok := data.Text(mime); ok {
			text = strings.Join(strings.Fields(text), "")
			if _, err := base64.StdEncoding.DecodeString(text); err != nil {
				w.problem("%s: %w", mime, err)
				return
			}
			fmt.Fprintf(&w.body, "<figure><img src=\"data:%s;base64,%s\" alt=\"%s\"></figure>\n", mime, text, html.EscapeString(label))
			return
		}
	}
	if text, ok := data.Text("text/plain"); ok {
		fmt.Fprintf(&w.body, "<pre class=\"stream\">%s</pre>\n", plain(text))
	}
}

// contents is the table of contents as nested lists: levels two to four.
func (w *writer) contents(r Records) string {
	var all []heading
	if len(r.Requirements) > 0 {
		all = append(all, heading{2, "requirements", "Requirements"})
	}
	if len(r.Decisions) > 0 {
		all = append(all, heading{2, "decisions", "Decisions"})
	}
	all = append(all, w.outline...)
	if len(r.Files) > 0 {
		all = append(all, heading{2, "files", "Files"})
	}
	all = append(all, heading{2, "provenance", "Provenance"})
	var b strings.Builder
	depth := 0
	var levels []int // of the open lists
	for _, h := range all {
		if h.level > 4 {
			continue
		}
		level := max(2, h.level) // a second level-one heading stands with the chapters
		for depth > 0 && level < levels[depth-1] {
			b.WriteString("</li></ol>")
			depth--
			levels = levels[:depth]
		}
		if depth == 0 || level > levels[depth-1] {
			b.WriteString("<ol>")
			depth++
			levels = append(levels, level)
		} else {
			b.WriteString("</li>")
		}
		fmt.Fprintf(&b, "\n<li><a href=\"#%s\">%s</a>", html.EscapeString(h.id), h.html)
	}
	for ; depth > 0; depth-- {
		b.WriteString("</li></ol>")
	}
	return b.String()
}

// row is a line of the summary of requirements.
type row struct {
	Status, Class, Icon, Name, Value, Limit, Margin, Guard, Source, Why string
	Others                                                              string // that there are other evaluations
	Decision                                                            string // link to it
	Places                                                              []Place
	Gap                                                                 bool // Places leaves some out between the first and the last
}

type count struct {
	Number              int
	Status, Class, Icon string
}

// order is the order of the summary: what needs attention first.
func order() []report.Status {
	return []report.Status{report.Fail, report.NotEvaluated, report.Waived, report.Pass}
}

func class(s report.Status) string { return "is-" + strings.ReplaceAll(s.String(), " ", "-") }

func icon(s report.Status) string {
	switch s {
	case report.Fail:
		return "✗"
	case report.Pass:
		return "✓"
	case report.Waived:
		return "△"
	}
	return "○"
}

func counts(r Records) []count {
	var out []count
	for _, s := range order() {
		if n := r.Count(s); n > 0 {
			out = append(out, count{n, s.String(), class(s), icon(s)})
		}
	}
	return out
}

func rows(r Records) []row {
	var out []row
	for _, s := range order() {
		for _, q := range r.Requirements {
			if q.Status() != s {
				continue
			}
			line := row{
				Status: s.String(), Class: class(s), Icon: icon(s), Name: q.Name(), Limit: q.Limit(),
				Source: q.Source(), Why: q.Why(), Places: []Place{q.Place}, Value: "–", Margin: "–", Guard: "–",
			}
			if n := len(q.Again); n > 0 {
				line.Places, line.Gap = append(line.Places, q.Again[n-1]), n > 1
			}
			if q.Others > 0 {
				line.Others = fmt.Sprintf("one of %d evaluations with different outcomes", q.Others+1)
			}
			if v, ok := q.Value(); ok {
				line.Value = withUnit(v, q.Unit())
				line.Guard = four(q.Guard())
			}
			if m, ok := q.Margin(); ok {
				line.Margin = four(m)
				if m > 0 {
					line.Margin = "+" + line.Margin
				}
			}
			if s == report.Waived {
				line.Decision = q.DecisionID()
			}
			out = append(out, line)
		}
	}
	return out
}

// four prints four significant digits, without an exponent where it can.
func four(v float64) string {
	s := strconv.FormatFloat(v, 'e', 3, 64)
	if r, err := strconv.ParseFloat(s, 64); err == nil {
		v = r + 0 // no negative zero
	}
	return strings.ReplaceAll(strconv.FormatFloat(v, 'g', -1, 64), "-", "−")
}

func withUnit(v float64, u report.Unit) string {
	unit := string(u)
	if inner, ok := strings.CutPrefix(unit, "["); ok {
		unit = strings.TrimSuffix(inner, "]")
	}
	if unit == "" || unit == "1" {
		return four(v)
	}
	return four(v) + "\u00a0" + unit
}

// decided is a decision as the page shows it.
type decided struct {
	ID    string
	HTML  template.HTML
	Place Place
}

func (w *writer) decisions(r Records) []decided {
	var out []decided
	for _, d := range r.Decisions {
		out = append(out, decided{d.ID, template.HTML(w.policy.kernel.Sanitize(d.HTML())), d.Place})
	}
	return out
}

// attached is a file as the page shows it.
type attached struct {
	Name, Media, SHA256, Link string
	Bytes                     int
	Place                     Place
}

func attachments(in Input) []attached {
	var out []attached
	for _, f := range in.Records.Files {
		// A colon in the name of the folder must not look like a scheme.
		link := "./" + url.PathEscape(in.Folder) + "/" + url.PathEscape(f.Name)
		out = append(out, attached{f.Name, f.Media, f.SHA256(), link, len(f.Content), f.Place})
	}
	return out
}

// short gives the first digits of a sum or commit.
func short(s string) string {
	if len(s) > 12 {
		return s[:12]
	}
	return s
}

var (
	tag     = regexp.MustCompile(`<[^>]*>`)
	anchors = regexp.MustCompile(`\sid="([^"]*)"`)
	links   = regexp.MustCompile(`\shref="#([^"]*)"`)
)

// checkLinks reports links to places that the page does not have, and places
// that it has twice.
func (w *writer) checkLinks(page string) {
	have := map[string]bool{}
	for _, m := range anchors.FindAllStringSubmatch(page, -1) {
		id := html.UnescapeString(m[1])
		if have[id] {
			w.problem("the id %q stands twice", id)
		}
		have[id] = true
	}
	for _, m := range links.FindAllStringSubmatch(page, -1) {
		id := html.UnescapeString(m[1])
		if decoded, err := url.PathUnescape(id); err == nil {
			id = decoded
		}
		if !have[id] {
			w.problem("a link to #%s, which is not there", id)
		}
	}
}
