package report

import (
	"html"
	"strings"
	"unicode/utf8"
)

// missing is how a value that is not there is shown.
const missing = "–"

// sheet is a table ready to be shown: strings only.
type sheet struct {
	caption string
	head    []heading
	rows    [][]cell
}

type heading struct {
	name, unit string
	right      bool // numbers
}

type cell struct{ text, style string }

// Styles are inline and repeated, because a front end that sanitises untrusted
// output takes style sheets and classes away.
const (
	tableStyle = "border-collapse:collapse;font-size:0.92em;line-height:1.35"
	headStyle  = "border-bottom:1.5px solid #444444;padding:3px 10px;vertical-align:bottom;"
	cellStyle  = "border-bottom:1px solid #d9d9d9;padding:3px 10px;vertical-align:top;"
	unitStyle  = "font-weight:normal;color:#555555"
	smallStyle = "font-size:0.85em;color:#555555"
)

func (s sheet) html() string {
	var b strings.Builder
	b.WriteString(`<table style="` + tableStyle + "\">\n")
	if s.caption != "" {
		b.WriteString(`<caption style="text-align:left;padding:3px 10px;color:#333333">` + html.EscapeString(s.caption) + "</caption>\n")
	}
	b.WriteString("<thead><tr>")
	for _, h := range s.head {
		b.WriteString(`<th scope="col" style="` + headStyle + side(h.right) + `">` + html.EscapeString(h.name))
		if h.unit != "" {
			b.WriteString(`<br><span style="` + unitStyle + `">` + html.EscapeString(h.unit) + "</span>")
		}
		b.WriteString("</th>")
	}
	b.WriteString("</tr></thead>\n<tbody>\n")
	for _, row := range s.rows {
		b.WriteString("<tr>")
		for i, c := range row {
			style := cellStyle + align(s.head[i].right)
			if c.style != "" {
				style += ";" + c.style
			}
			b.WriteString(`<td style="` + style + `">` + html.EscapeString(c.text) + "</td>")
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody></table>\n")
	return b.String()
}

// side is where a column stands. Its head may wrap: the words over a column of
// numbers would otherwise make a table wider than a page.
func side(right bool) string {
	if right {
		return "text-align:right"
	}
	return "text-align:left"
}

// align is the same for a value, which stays in one line if it is a number.
func align(right bool) string {
	if right {
		return side(right) + ";white-space:nowrap"
	}
	return side(right)
}

// text aligns the columns with spaces.
func (s sheet) text() string {
	lines := make([][]string, 0, len(s.rows)+1)
	head := make([]string, len(s.head))
	for i, h := range s.head {
		head[i] = h.name
		if h.unit != "" {
			head[i] += " (" + h.unit + ")"
		}
	}
	lines = append(lines, head)
	for _, row := range s.rows {
		line := make([]string, len(row))
		for i, c := range row {
			line[i] = c.text
		}
		lines = append(lines, line)
	}
	width := make([]int, len(s.head))
	for _, line := range lines {
		for i, t := range line {
			width[i] = max(width[i], utf8.RuneCountInString(t))
		}
	}
	var b strings.Builder
	if s.caption != "" {
		b.WriteString(s.caption + "\n")
	}
	for n, line := range lines {
		var l strings.Builder
		for i, t := range line {
			if i > 0 {
				l.WriteString("  ")
			}
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(t))
			if s.head[i].right {
				l.WriteString(pad + t)
			} else {
				l.WriteString(t + pad)
			}
		}
		b.WriteString(strings.TrimRight(l.String(), " ") + "\n")
		if n == 0 {
			total := 2 * (len(width) - 1)
			for _, w := range width {
				total += w
			}
			b.WriteString(strings.Repeat("─", total) + "\n")
		}
	}
	return b.String()
}

// small is a line of fine print.
func small(text string) string {
	return `<div style="` + smallStyle + `">` + html.EscapeString(text) + "</div>\n"
}
