package compare

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode/utf8"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
	"example.org/loudspeaker/speakerlib/report"
)

// files compares the files that an output hands on (mode [Near]). Their check
// sums and lengths follow from their contents, which are compared as any text,
// because coefficients of full precision depend on the processor's last bit.
// The rest of the output is compared with the committed sums in it replaced by
// the new ones. It reports false if there are no files that can be read.
func (c *comparison) files(what string, want, have nbformat.Bundle) bool {
	ws, hs := readFiles(want), readFiles(have)
	if len(ws) == 0 || len(ws) != len(hs) {
		return false
	}
	var shown []string
	for i, w := range ws {
		h := hs[i]
		at := fmt.Sprintf("%s (file %s)", what, w.Name)
		c.exact(at+" name", w.Name, h.Name)
		c.exact(at+" media type", w.Media, h.Media)
		if utf8.Valid(w.Content) && utf8.Valid(h.Content) {
			c.text(at, string(w.Content), string(h.Content))
		} else {
			c.exact(at+" SHA-256", w.SHA256(), h.SHA256())
		}
		shown = append(shown, w.Text(), h.Text())
	}
	follow := strings.NewReplacer(shown...)
	for _, mime := range slices.Sorted(maps.Keys(want)) {
		if text, ok := want[mime].(string); ok && mime != report.FileMIME {
			c.data(what+" ("+mime+")", mime, follow.Replace(text), have[mime])
		}
	}
	return true
}

func readFiles(data nbformat.Bundle) []report.File {
	v, ok := data[report.FileMIME]
	if !ok {
		return nil
	}
	value, err := nbformat.EncodeJSON(v)
	if err != nil {
		return nil
	}
	files, err := report.ReadFiles(value)
	if err != nil {
		return nil
	}
	return files
}
