//go:build unix

package execute

import "testing"

func TestFirstLine(t *testing.T) {
	for source, want := range map[string]string{
		"":                                   "",
		"%noautoget":                         "%noautoget",
		"\n%%\nx := 1\ny := 2":               "x := 1",
		"import \"fmt\"\n%%\nfmt.Println(1)": "fmt.Println(1)",
		"%noautoget\nimport (\n\t\"fmt\"\n\t\"os\"\n)\n":     "import …",
		"import (\n\t\"fmt\"\n)\n\n%%\nfmt.Println(1)\n":     "fmt.Println(1)",
		"%noautoget\nimport \"fmt\"":                         "import \"fmt\"",
		"// What the present tuning does.\n%%\nnb.Show(fig)": "// What the present tuning does.",
	} {
		if have := firstLine(source); have != want {
			t.Errorf("firstLine(%q) = %q, want %q", source, have, want)
		}
	}
}
