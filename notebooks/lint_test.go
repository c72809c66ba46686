package notebooks_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// The rules for notebooks of this folder. What they are for: a number that the
// library should compute cannot be typed, a file that the report does not know
// of cannot be read, and what is committed is what the cells give.
const (
	ruleForm     = "form"      // nbformat 4.5, the kernel of this library, ids that differ
	ruleNoGet    = "noautoget" // the first code cell has %noautoget
	ruleMagic    = "magic"     // no kernel command but %noautoget and %%, no shell
	ruleLength   = "length"    // at most 15 lines a code cell
	ruleGo       = "go"        // code cells are Go
	ruleImport   = "import"    // only the library and what opens no files, clocks or formulas
	ruleFloat    = "float"     // float literals only in cells tagged parameters
	ruleFormula  = "formula"   // no mathematics beyond comparing and rounding
	rulePrint    = "print"     // output goes through package nb
	ruleIgnore   = "ignore"    // no result, and so no error, is thrown away
	ruleOutput   = "output"    // executed in order, without errors
	rulePath     = "path"      // no trace of the machine
	ruleProse    = "prose"     // no typed results
	maxCellLines = 15
)

// Tags of cells that a rule makes an exception for.
const (
	tagParameters = "parameters" // code: the typed numbers of the study
	tagBrief      = "brief"      // markdown: numbers that others demand
	tagBackground = "background" // markdown: numbers of conventions and of the literature
	tagRaises     = "raises-exception"
)

type notebook struct {
	Cells    []cell `json:"cells"`
	Metadata struct {
		Kernelspec struct {
			Name     string `json:"name"`
			Language string `json:"language"`
		} `json:"kernelspec"`
	} `json:"metadata"`
	Format int `json:"nbformat"`
	Minor  int `json:"nbformat_minor"`
}

type cell struct {
	Type     string   `json:"cell_type"`
	ID       string   `json:"id"`
	Source   multiple `json:"source"`
	Metadata struct {
		Tags []string `json:"tags"`
	} `json:"metadata"`
	Count   *int `json:"execution_count"`
	Outputs []struct {
		Type string         `json:"output_type"`
		Name string         `json:"name"`
		Text multiple       `json:"text"`
		Data map[string]any `json:"data"`
	} `json:"outputs"`
}

// multiple is a text that a notebook holds as a string or as a list of lines.
type multiple string

func (m *multiple) UnmarshalJSON(b []byte) error {
	var lines []string
	if err := json.Unmarshal(b, &lines); err == nil {
		*m = multiple(strings.Join(lines, ""))
		return nil
	}
	var s string
	err := json.Unmarshal(b, &s)
	*m = multiple(s)
	return err
}

// fault is a broken rule.
type fault struct {
	cell int // from 1; 0 for the notebook
	rule string
	text string
}

func (f fault) String() string { return fmt.Sprintf("cell %d: %s: %s", f.cell, f.rule, f.text) }

// imports that a cell may have besides the library.
var mayImport = []string{"bytes", "cmp", "errors", "fmt", "maps", "math", "slices", "sort", "strings", "sync"}

// What of package math is no formula.
var mayUseOfMath = []string{"Abs", "Ceil", "Floor", "Inf", "IsInf", "IsNaN", "Max", "Min", "Round"}

// What of package fmt makes a string or an error.
var mayUseOfFmt = []string{"Sprint", "Sprintf", "Sprintln", "Errorf", "Fprintf", "Fprint", "Fprintln"}

const library = "example.org/loudspeaker/speakerlib/"

var (
	goodID = regexp.MustCompile(`^[A-Za-z0-9_-]{1,64}$`)
	// Folders of machines, and those that the kernel makes.
	machine = regexp.MustCompile(`/tmp/|/var/folders/|/home/|/root/|/Users/|[A-Z]:\\|gonb_[0-9a-zA-Z]|main\.go:\d`)
	// A number with a unit of the trade, but for 0 and 1 ("at 1 m").
	measured = regexp.MustCompile(`(?:^|[^\w.])(\d+(?:[.,]\d+)?)\s?(?:k|m|µ|μ|c)?(?:Hz|dB|Ω|ohm|m/s|m|s|V|A|W|L|g|H|F|N|Pa|%|°)(?:[^\w]|$)`)
	verbatim = regexp.MustCompile("(?s)```.*?```|`[^`]*`|https?://\\S+")
)

// lint returns the broken rules of a notebook.
func lint(data []byte) []fault {
	var nb notebook
	if err := json.Unmarshal(data, &nb); err != nil {
		return []fault{{0, ruleForm, err.Error()}}
	}
	var faults []fault
	say := func(cell int, rule, format string, args ...any) {
		faults = append(faults, fault{cell, rule, fmt.Sprintf(format, args...)})
	}
	if nb.Format != 4 || nb.Minor < 5 {
		say(0, ruleForm, "format %d.%d, want 4.5", nb.Format, nb.Minor)
	}
	if k := nb.Metadata.Kernelspec; k.Name != "loudspeaker" || k.Language != "go" {
		say(0, ruleForm, "kernel %q of language %q, want loudspeaker of go", k.Name, k.Language)
	}
	ids := map[string]bool{}
	run := 0
	for i, c := range nb.Cells {
		n := i + 1
		if !goodID.MatchString(c.ID) || ids[c.ID] {
			say(n, ruleForm, "id %q, want one of its own", c.ID)
		}
		ids[c.ID] = true
		switch c.Type {
		case "markdown":
			lintProse(c, func(rule, text string) { say(n, rule, "%s", text) })
		case "code":
			if strings.TrimSpace(string(c.Source)) == "" {
				say(n, ruleLength, "empty")
				continue
			}
			run++
			if run == 1 && !slices.Contains(strings.Split(string(c.Source), "\n"), "%noautoget") {
				say(n, ruleNoGet, "the first code cell has no line %%noautoget")
			}
			lintCode(c, func(rule, text string) { say(n, rule, "%s", text) })
			lintOutputs(c, run, func(rule, text string) { say(n, rule, "%s", text) })
		}
		if m := machine.FindString(string(c.Source)); m != "" {
			say(n, rulePath, "%q in the source", m)
		}
	}
	if run == 0 {
		say(0, ruleForm, "no code cell")
	}
	return faults
}

func (c cell) tagged(tag string) bool { return slices.Contains(c.Metadata.Tags, tag) }

// lintProse finds results typed into text: they belong into nb.Text. Code and
// addresses are no results; numbers of the brief and of the literature stand in
// cells that are tagged as such.
func lintProse(c cell, say func(rule, text string)) {
	if c.tagged(tagBrief) || c.tagged(tagBackground) {
		return
	}
	for _, m := range measured.FindAllStringSubmatch(verbatim.ReplaceAllString(string(c.Source), " "), -1) {
		if m[1] != "0" && m[1] != "1" {
			say(ruleProse, fmt.Sprintf("%q is typed: compute it in a cell and show it with nb.Text, or tag the cell %s or %s", strings.TrimSpace(m[0]), tagBrief, tagBackground))
		}
	}
}

// goSource makes a Go file of a cell, line by line: kernel commands become
// blank lines, and what follows %% the body of main.
func goSource(source string, say func(rule, text string)) string {
	lines := strings.Split(source, "\n")
	end := ""
	for i, line := range lines {
		switch trimmed := strings.TrimSpace(line); {
		case trimmed == "%%":
			lines[i] = "func main() {"
			end = "\n}"
		case strings.HasPrefix(trimmed, "%"), strings.HasPrefix(trimmed, "!"):
			if trimmed != "%noautoget" {
				say(ruleMagic, fmt.Sprintf("%q, want only %%noautoget and %%%%", trimmed))
			}
			lines[i] = ""
		}
	}
	return "package main;" + strings.Join(lines, "\n") + end
}

func lintCode(c cell, say func(rule, text string)) {
	source := strings.TrimRight(string(c.Source), "\n")
	if n := strings.Count(source, "\n") + 1; n > maxCellLines {
		say(ruleLength, fmt.Sprintf("%d lines, want at most %d", n, maxCellLines))
	}
	files := token.NewFileSet()
	file, err := parser.ParseFile(files, "cell", goSource(source, say), 0)
	if err != nil {
		say(ruleGo, err.Error())
		return
	}
	at := func(n ast.Node) string { return fmt.Sprintf("line %d: ", files.Position(n.Pos()).Line) }
	for _, s := range file.Imports {
		path, err := strconv.Unquote(s.Path.Value)
		if err != nil || !slices.Contains(mayImport, path) && !strings.HasPrefix(path, library) {
			say(ruleImport, at(s)+s.Path.Value+" is neither of the library nor in the list of what a cell may import")
		}
		if s.Name != nil {
			say(ruleImport, at(s)+s.Path.Value+" under another name, which hides what is used of it")
		}
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.BasicLit:
			if (n.Kind == token.FLOAT || n.Kind == token.IMAG) && !c.tagged(tagParameters) {
				say(ruleFloat, at(n)+n.Value+" outside a cell tagged "+tagParameters)
			}
		case *ast.SelectorExpr:
			x, ok := n.X.(*ast.Ident)
			switch {
			case ok && x.Name == "math" && !slices.Contains(mayUseOfMath, n.Sel.Name):
				say(ruleFormula, at(n)+"math."+n.Sel.Name+": formulas belong into the library")
			case ok && x.Name == "fmt" && !slices.Contains(mayUseOfFmt, n.Sel.Name):
				say(rulePrint, at(n)+"fmt."+n.Sel.Name+": write with nb.Text, which keeps the order")
			}
		case *ast.CallExpr:
			if f, ok := n.Fun.(*ast.Ident); ok && (f.Name == "print" || f.Name == "println") {
				say(rulePrint, at(n)+f.Name+": write with nb.Text")
			}
		case *ast.AssignStmt:
			for _, l := range n.Lhs {
				if id, ok := l.(*ast.Ident); ok && id.Name == "_" {
					say(ruleIgnore, at(n)+"a result is thrown away: wrap the call in nb.Must or use it")
				}
			}
		case *ast.ValueSpec:
			for _, id := range n.Names {
				if id.Name == "_" {
					say(ruleIgnore, at(n)+"a result is thrown away: wrap the call in nb.Must or use it")
				}
			}
		}
		return true
	})
}

// lintOutputs checks that a cell was executed as number run, and well.
func lintOutputs(c cell, run int, say func(rule, text string)) {
	if c.Count == nil {
		say(ruleOutput, "not executed: go run ./kernel-setup run notebooks/…")
		return
	}
	if *c.Count != run {
		say(ruleOutput, fmt.Sprintf("executed as number %d, want %d: execute from the top", *c.Count, run))
	}
	for _, o := range c.Outputs {
		if !c.tagged(tagRaises) && (o.Type == "error" || o.Type == "stream" && o.Name == "stderr") {
			say(ruleOutput, "has an error among its outputs: "+firstLine(string(o.Text)))
		}
		texts := []string{string(o.Text)}
		for mime, v := range o.Data {
			if mime == "image/png" {
				continue // base64 may spell anything
			}
			var b bytes.Buffer
			e := json.NewEncoder(&b)
			e.SetEscapeHTML(false)
			if err := e.Encode(v); err != nil {
				say(ruleOutput, err.Error())
			}
			texts = append(texts, b.String())
		}
		for _, t := range texts {
			if m := machine.FindString(t); m != "" {
				say(rulePath, fmt.Sprintf("%q in an output", m))
			}
		}
	}
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}

func TestNotebooksKeepTheRules(t *testing.T) {
	files, err := filepath.Glob("*.ipynb")
	if err != nil {
		t.Fatal(err)
	}
	if len(files) == 0 {
		t.Fatal("no notebook in this folder")
	}
	for _, file := range files {
		t.Run(file, func(t *testing.T) {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			for _, f := range lint(data) {
				t.Error(f)
			}
		})
	}
}
