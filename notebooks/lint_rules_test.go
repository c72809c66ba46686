package notebooks_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
)

// made is a notebook that keeps all rules, to be spoiled.
func made() map[string]any {
	code := func(id string, count int, source string, tags ...string) map[string]any {
		return map[string]any{
			"cell_type": "code", "id": id, "execution_count": count, "source": source,
			"metadata": map[string]any{"tags": tags},
			"outputs": []any{map[string]any{
				"output_type": "display_data", "metadata": map[string]any{},
				"data": map[string]any{"text/plain": "f_b is 38.5 Hz", "image/png": "AAAA/tmp/"},
			}},
		}
	}
	prose := func(id, source string, tags ...string) map[string]any {
		return map[string]any{"cell_type": "markdown", "id": id, "source": source, "metadata": map[string]any{"tags": tags}}
	}
	return map[string]any{
		"nbformat": 4, "nbformat_minor": 5,
		"metadata": map[string]any{"kernelspec": map[string]any{"name": "loudspeaker", "language": "go", "display_name": "Go (loudspeaker)"}},
		"cells": []any{
			prose("title", "# A study\n\nLevels are at 1 m. Section 2 compares 12 vents of `52 mm`."),
			code("imports", 1, "%noautoget\nimport (\n\t\"fmt\"\n\t\"example.org/loudspeaker/speakerlib/nb\"\n)"),
			prose("brief", "−6 dB at or below 35.5 Hz", "brief"),
			prose("theory", "Half space gives 6.02 dB.", "background"),
			code("params", 2, "const fb = 38.5\nfunc tuning() float64 { return fb }", "parameters"),
			code("box", 3, "%%\nfor _, n := range []int{1, 2} {\n\tnb.Text(\"%d: %.1f Hz, 1.5\", n, tuning()/10)\n}"),
		},
	}
}

// spoil changes the cell of an id, or the notebook with an empty id.
func spoil(t *testing.T, id string, change func(m map[string]any)) []byte {
	t.Helper()
	nb := made()
	if id == "" {
		change(nb)
	}
	for _, c := range nb["cells"].([]any) {
		if c := c.(map[string]any); id != "" && c["id"] == id {
			change(c)
		}
	}
	b, err := json.Marshal(nb)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestAGoodNotebookPasses(t *testing.T) {
	for _, f := range lint(spoil(t, "", func(map[string]any) {})) {
		t.Error(f)
	}
}

func source(s string) func(map[string]any) {
	return func(c map[string]any) { c["source"] = s }
}

func output(o map[string]any) func(map[string]any) {
	return func(c map[string]any) { c["outputs"] = []any{o} }
}

// Each rule is broken once or more, and must be found, and nothing else.
func TestEachRuleIsKept(t *testing.T) {
	long := "%%\n" + strings.Repeat("nb.Text(\"x\")\n", 15)
	for name, c := range map[string]struct {
		id     string
		rule   string
		change func(map[string]any)
	}{
		"old format":             {"", ruleForm, func(m map[string]any) { m["nbformat_minor"] = 4 }},
		"another kernel":         {"", ruleForm, func(m map[string]any) { m["metadata"] = map[string]any{} }},
		"no id":                  {"box", ruleForm, func(m map[string]any) { delete(m, "id") }},
		"an id twice":            {"box", ruleForm, func(m map[string]any) { m["id"] = "params" }},
		"no noautoget":           {"imports", ruleNoGet, source("import \"fmt\"")},
		"16 lines":               {"box", ruleLength, source(long)},
		"empty cell":             {"box", ruleLength, source(" \n")},
		"shell":                  {"box", ruleMagic, source("!cat file\n%%\nnb.Text(\"x\")")},
		"another kernel command": {"box", ruleMagic, source("%env A=1\n%%\nnb.Text(\"x\")")},
		"no Go":                  {"box", ruleGo, source("%%\nnb.Text(")},
		"os":                     {"imports", ruleImport, source("%noautoget\nimport \"os\"")},
		"io":                     {"imports", ruleImport, source("%noautoget\nimport \"io/fs\"")},
		"http":                   {"imports", ruleImport, source("%noautoget\nimport \"net/http\"")},
		"clock":                  {"imports", ruleImport, source("%noautoget\nimport \"time\"")},
		"chance":                 {"imports", ruleImport, source("%noautoget\nimport \"math/rand/v2\"")},
		"below the library":      {"imports", ruleImport, source("%noautoget\nimport \"gonum.org/v1/plot\"")},
		"a disguise":             {"imports", ruleImport, source("%noautoget\nimport m \"math\"")},
		"dot import":             {"imports", ruleImport, source("%noautoget\nimport . \"math\"")},
		"float":                  {"box", ruleFloat, source("%%\nx := 0.5\nnb.Text(\"%g\", x)")},
		"float with exponent":    {"box", ruleFloat, source("%%\nnb.Text(\"%g\", 1e3)")},
		"imaginary":              {"box", ruleFloat, source("%%\nnb.Text(\"%v\", 2i)")},
		"logarithm":              {"box", ruleFormula, source("%%\nnb.Text(\"%g\", math.Log10(tuning()))")},
		"power":                  {"box", ruleFormula, source("%%\nnb.Text(\"%g\", math.Pow(tuning(), 2))")},
		"pi":                     {"box", ruleFormula, source("func w() float64 { return 2 * math.Pi * fb }")},
		"root, as a function":    {"box", ruleFormula, source("%%\nf := math.Sqrt\nnb.Text(\"%g\", f(2))")},
		"Println":                {"box", rulePrint, source("%%\nfmt.Println(1)")},
		"println":                {"box", rulePrint, source("%%\nprintln(1)")},
		"ignored error":          {"box", ruleIgnore, source("%%\nx, _ := f()\nnb.Text(\"%g\", x)")},
		"ignored error in var":   {"box", ruleIgnore, source("var x, _ = f()")},
		"ignored result":         {"box", ruleIgnore, source("%%\n_ = f()")},
		"not executed":           {"box", ruleOutput, func(m map[string]any) { m["execution_count"] = nil }},
		"executed out of order":  {"box", ruleOutput, func(m map[string]any) { m["execution_count"] = 7 }},
		"error output":           {"box", ruleOutput, output(map[string]any{"output_type": "error", "ename": "E"})},
		"error stream":           {"box", ruleOutput, output(map[string]any{"output_type": "stream", "name": "stderr", "text": []string{"bad\n"}})},
		"temporary folder":       {"box", rulePath, output(map[string]any{"output_type": "stream", "name": "stdout", "text": "in /tmp/x"})},
		"home in HTML":           {"box", rulePath, output(map[string]any{"output_type": "display_data", "data": map[string]any{"text/html": []string{"<p>", "/home/me</p>"}}})},
		"path in a record":       {"box", rulePath, output(map[string]any{"output_type": "display_data", "data": map[string]any{"application/x+json": map[string]any{"a": "gonb_1a2b"}}})},
		"path in the source":     {"box", rulePath, source("%%\nnb.Text(\"/home/me\")")},
		"typed result":           {"title", ruleProse, source("The tuning is 38.5 Hz.")},
		"typed result, comma":    {"title", ruleProse, source("Es sind 38,5 Hz.")},
		"typed whole number":     {"title", ruleProse, source("It gives 98 dB.")},
		"typed millimetres":      {"title", ruleProse, source("a vent of **52 mm**")},
		"typed per cent":         {"title", ruleProse, source("by 5 %")},
		"typed kilohertz":        {"title", ruleProse, source("crossed at 2.3kHz")},
	} {
		faults := lint(spoil(t, c.id, c.change))
		if len(faults) == 0 || slices.ContainsFunc(faults, func(f fault) bool { return f.rule != c.rule }) {
			t.Errorf("%s: found %v, want a broken rule %q and nothing else", name, faults, c.rule)
		}
	}
}

func TestExceptionsNeedTheirTag(t *testing.T) {
	for name, id := range map[string]string{"floats": "params", "numbers of the brief": "brief", "numbers of the literature": "theory"} {
		faults := lint(spoil(t, id, func(m map[string]any) { m["metadata"] = map[string]any{} }))
		if len(faults) == 0 {
			t.Errorf("%s without the tag: found %v, want a fault", name, faults)
		}
	}
	raises := func(m map[string]any) {
		output(map[string]any{"output_type": "error"})(m)
		m["metadata"] = map[string]any{"tags": []string{tagRaises}}
	}
	for _, f := range lint(spoil(t, "box", raises)) {
		t.Errorf("a cell that is to fail: %v", f)
	}
	for _, bad := range []string{"", "{", "[]", `{"cells":[],"nbformat":4,"nbformat_minor":5}`} {
		if len(lint([]byte(bad))) == 0 {
			t.Errorf("%q passes as a notebook", bad)
		}
	}
}
