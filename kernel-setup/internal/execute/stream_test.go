package execute

import (
	"runtime"
	"strings"
	"testing"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
)

// The expected values are what Python gives for
// re.sub(".*\r(?=[^\n])", "", text), the rule of nbconvert's coalesce_streams.
func TestOverwrite(t *testing.T) {
	for text, want := range map[string]string{
		"a\rb":            "b",
		"a\rb\n":          "b\n",
		"a\r\nb":          "a\r\nb",
		"a\rb\rc\nd\re":   "c\ne",
		"a\r":             "a\r",
		"a\rb\r":          "b\r",
		"\r\r\n":          "\r\n",
		"10 %\r100 %\r\n": "100 %\r\n",
		"plain\n":         "plain\n",
	} {
		if have := overwrite(text); have != want {
			t.Errorf("overwrite(%q) = %q, want %q", text, have, want)
		}
	}
}

// Joining costs in proportion to the text, not to its square.
func TestCoalesceManyPieces(t *testing.T) {
	const pieces, size = 4000, 1000
	var outputs []nbformat.Output
	for range pieces {
		outputs = append(outputs, nbformat.Output{Type: nbformat.Stream, Name: "stdout", Text: strings.Repeat("x", size)})
	}
	outputs = append(outputs, nbformat.Output{Type: nbformat.Stream, Name: "stderr", Text: "e"},
		nbformat.Output{Type: nbformat.Stream, Name: "stdout", Text: "y"}, nbformat.Output{Type: nbformat.DisplayData},
		nbformat.Output{Type: nbformat.Stream, Name: "stdout", Text: "z"})
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	joined := coalesce(outputs)
	runtime.ReadMemStats(&after)
	if len(joined) != 5 || len(joined[0].Text) != pieces*size || joined[1].Text != "e" || joined[2].Text != "y" || joined[4].Text != "z" {
		t.Errorf("%d outputs, the first of %d bytes, want 5 and %d", len(joined), len(joined[0].Text), pieces*size)
	}
	if used := after.TotalAlloc - before.TotalAlloc; used > 20*pieces*size {
		t.Errorf("joining %d bytes took %d bytes of memory", pieces*size, used)
	}
}
