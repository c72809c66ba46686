package execute

import (
	"strings"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// coalesce joins consecutive stream outputs of the same name, because a
// kernel cuts a stream wherever a pipe happened to be read, and lets a
// carriage return overwrite its line, as nbconvert does.
func coalesce(outputs []nbformat.Output) []nbformat.Output {
	var joined []nbformat.Output
	for _, o := range outputs {
		if n := len(joined); n > 0 && o.Type == nbformat.Stream &&
			joined[n-1].Type == nbformat.Stream && joined[n-1].Name == o.Name {
			joined[n-1].Text += o.Text
			continue
		}
		joined = append(joined, o)
	}
	for i := range joined {
		if o := &joined[i]; o.Type == nbformat.Stream && strings.Contains(o.Text, "\r") {
			o.Text = overwrite(o.Text)
		}
	}
	return joined
}

// overwrite drops from each line what stands before its last carriage
// return, unless that is followed directly by the line's end or the text's:
// Python's re.sub(".*\r(?=[^\n])", "").
func overwrite(text string) string {
	lines := strings.SplitAfter(text, "\n")
	for i, line := range lines {
		for at := len(line) - 1; at >= 0; at-- {
			if line[at] == '\r' && at+1 < len(line) && line[at+1] != '\n' {
				lines[i] = line[at+1:]
				break
			}
		}
	}
	return strings.Join(lines, "")
}
