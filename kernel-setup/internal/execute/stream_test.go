package execute

import "testing"

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
