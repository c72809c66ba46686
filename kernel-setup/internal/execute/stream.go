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
	for i := 0; i < len(outputs); {
		o := outputs[i]
		same := func(p nbformat.Output) bool { return p.Type == nbformat.Stream && p.Name == o.Name }
		i++
		if o.Type == nbformat.Stream && i < len(outputs) && same(outputs[i]) {
			var text strings.Builder // a stream may come in very many pieces
			text.WriteString(o.Text)
			for ; i < len(outputs) && same(outputs[i]); i++ {
				text.WriteString(outputs[i].Text)
			}
			o.Text = text.String()
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
