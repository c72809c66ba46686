package nb

import (
	"fmt"
	"html"
	"regexp"
	"strings"
)

// Text shows a text with numbers, formatted as by [fmt.Sprintf]. It is Markdown,
// shown as such where the front end does, and as HTML of the following part of
// it elsewhere: paragraphs, headings (#), lists (-), **strong**, *emphasis* and
// `code`. Anything else, HTML too, is shown as it is typed.
//
// A verb that does not fit its argument ends the cell.
func Text(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	if i := strings.Index(text, "%!"); i >= 0 && !strings.Contains(format, "%%!") {
		fail(fmt.Errorf("nb: text has a verb that does not fit its argument: %s", text[i:min(len(text), i+60)]))
	}
	send(bundle{markdown: text, page: toHTML(text), plain: text}, nil)
}

var (
	code     = regexp.MustCompile("`([^`]+)`")
	strong   = regexp.MustCompile(`\*\*([^*\s](?:[^*]*[^*\s])?)\*\*`)
	emphasis = regexp.MustCompile(`\*([^*\s](?:[^*]*[^*\s])?)\*`)
	heading  = regexp.MustCompile(`^(#{1,6}) +(.*)$`)
	item     = regexp.MustCompile(`^[-*] +(.*)$`)
)

// toHTML converts the part of Markdown that Text promises. All text is escaped
// before any markup is added.
func toHTML(text string) string {
	var b strings.Builder
	var paragraph, list []string
	flush := func() {
		if len(paragraph) > 0 {
			b.WriteString("<p>" + inline(strings.Join(paragraph, "\n")) + "</p>\n")
		}
		if len(list) > 0 {
			b.WriteString("<ul>\n")
			for _, i := range list {
				b.WriteString("<li>" + inline(i) + "</li>\n")
			}
			b.WriteString("</ul>\n")
		}
		paragraph, list = nil, nil
	}
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if m := heading.FindStringSubmatch(line); m != nil {
			flush()
			fmt.Fprintf(&b, "<h%d>%s</h%[1]d>\n", len(m[1]), inline(m[2]))
		} else if m := item.FindStringSubmatch(line); m != nil {
			if len(paragraph) > 0 {
				flush()
			}
			list = append(list, m[1])
		} else if line == "" {
			flush()
		} else if len(list) > 0 {
			list[len(list)-1] += "\n" + line
		} else {
			paragraph = append(paragraph, line)
		}
	}
	flush()
	return b.String()
}

// inline converts the marks within a line; what is code keeps its asterisks.
func inline(s string) string {
	var b strings.Builder
	marks := func(s string) {
		s = html.EscapeString(s)
		s = strong.ReplaceAllString(s, "<strong>$1</strong>")
		b.WriteString(emphasis.ReplaceAllString(s, "<em>$1</em>"))
	}
	for {
		m := code.FindStringSubmatchIndex(s)
		if m == nil {
			marks(s)
			return b.String()
		}
		marks(s[:m[0]])
		b.WriteString("<code>" + html.EscapeString(s[m[2]:m[3]]) + "</code>")
		s = s[m[1]:]
	}
}
