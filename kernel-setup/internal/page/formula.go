package page

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/wyatt915/treeblood"
	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// formula turns TeX into MathML. treeblood does the parsing; what it does not
// understand, or is known to draw wrongly, is an error here, never a formula
// that silently says something else. Attributes are written in one order.
func formula(tex string, display bool) (string, error) {
	prepared, err := prepareTeX(tex)
	if err != nil {
		return "", err
	}
	doc := treeblood.NewDocument(macros(), false)
	doc.PrintOneLine = true
	draw := doc.TextStyle
	if display {
		draw = doc.DisplayStyle
	}
	raw, err := draw(prepared)
	if err != nil {
		first, _, _ := strings.Cut(err.Error(), "<pre>")
		return "", errors.New(strings.TrimSpace(first))
	}
	nodes, err := html.ParseFragment(strings.NewReader(strings.TrimSpace(raw)), &html.Node{Type: html.ElementNode, Data: "body", DataAtom: atom.Body})
	if err != nil {
		return "", err
	}
	if len(nodes) != 1 || nodes[0].Data != "math" {
		return "", errors.New("text that looks like HTML in a formula")
	}
	root := nodes[0]
	if err := mend(root); err != nil {
		return "", err
	}
	root.Attr = []html.Attribute{{Key: "alttext", Val: strings.Join(strings.Fields(tex), " ")}}
	if display {
		root.Attr = append(root.Attr, html.Attribute{Key: "display", Val: "block"})
	}
	var b strings.Builder
	writeMath(&b, root)
	return b.String(), nil
}

// macros are the names of operators and a few commands that treeblood lacks.
func macros() map[string]string {
	return map[string]string{
		"operatorname": `\class{op}{\mathrm{#1}}`,
		"arg":          `\class{op}{\mathrm{arg}}`,
		"sinc":         `\class{op}{\mathrm{sinc}}`,
		"sgn":          `\class{op}{\mathrm{sgn}}`,
		"textrm":       `\text{#1}`,
		"stackrel":     `\overset{#1}{#2}`,
	}
}

var (
	command    = regexp.MustCompile(`\\(?:[A-Za-z]+|[^A-Za-z])`)
	shortFrac  = regexp.MustCompile(`\\([td]?frac)\s*([0-9])\s*([0-9])`)
	unbraced   = regexp.MustCompile(`\\operatorname\s*\*`)
	equation   = regexp.MustCompile(`\\(?:begin|end)\s*\{equation\*?\}`)
	texScripts = regexp.MustCompile(`[_^]\s*$`)
)

// prepareTeX writes in other words what treeblood would draw wrongly and
// refuses what cannot be put in other words.
func prepareTeX(tex string) (string, error) {
	if strings.TrimSpace(tex) == "" {
		return "", errors.New("the formula is empty")
	}
	if strings.ContainsAny(tex, "\x00") || !utf8.ValidString(tex) {
		return "", errors.New("the formula is not plain text")
	}
	if texScripts.MatchString(strings.TrimSpace(tex)) {
		return "", errors.New("a _ or ^ with nothing after it")
	}
	tex = equation.ReplaceAllString(tex, " ")
	tex = unbraced.ReplaceAllString(tex, `\operatorname`)
	tex = shortFrac.ReplaceAllString(tex, `\$1{$2}{$3}`)
	left, right := 0, 0
	for _, c := range command.FindAllString(tex, -1) {
		switch c {
		case `\left`:
			left++
		case `\right`:
			right++
		case `\mathop`, `\newcommand`, `\renewcommand`, `\def`, `\class`, `\multirow`:
			return "", fmt.Errorf("%s is not supported", c)
		}
	}
	if left != right {
		return "", fmt.Errorf(`%d \left and %d \right, want as many of both`, left, right)
	}
	var b strings.Builder
	for i := 0; i < len(tex); i++ {
		rest := tex[i:]
		switch {
		case strings.HasPrefix(rest, `\|`):
			b.WriteString(`\Vert `)
			i++
		case rest[0] == '\\' && len(rest) > 1:
			b.WriteString(rest[:2])
			i++
		case rest[0] == '~':
			b.WriteString(`\;`)
		case strings.HasPrefix(rest, "{,}"):
			b.WriteString(`\text{,}`)
			i += 2
		default:
			b.WriteByte(rest[0])
		}
	}
	return b.String(), nil
}

// mathAttributes are the elements that a formula may hold and the attributes
// that mean something in MathML Core.
var mathElements = map[string]bool{
	"math": true, "mrow": true, "mi": true, "mn": true, "mo": true, "mtext": true, "mspace": true, "mfrac": true,
	"msqrt": true, "mroot": true, "msub": true, "msup": true, "msubsup": true, "munder": true, "mover": true,
	"munderover": true, "mmultiscripts": true, "mprescripts": true, "mtable": true, "mtr": true, "mtd": true,
	"mpadded": true, "mstyle": true, "mphantom": true,
}

var mathAttributes = map[string]bool{
	"accent": true, "accentunder": true, "columnspan": true, "depth": true, "display": true, "displaystyle": true,
	"form": true, "height": true, "largeop": true, "linethickness": true, "lspace": true, "mathvariant": true,
	"maxsize": true, "minsize": true, "movablelimits": true, "rowspan": true, "rspace": true, "scriptlevel": true,
	"stretchy": true, "symmetric": true, "voffset": true, "width": true, "alttext": true,
}

// mend turns treeblood's tree into MathML Core, from the leaves up.
func mend(n *html.Node) error {
	for c := n.FirstChild; c != nil; {
		next := c.NextSibling
		if c.Type == html.ElementNode {
			switch c.Data {
			case "annotation":
				n.RemoveChild(c)
				c = next
				continue
			case "semantics":
				unwrap(c)
				c = n.FirstChild
				continue
			}
			if err := mend(c); err != nil {
				return err
			}
		}
		c = next
	}
	switch n.Data {
	case "merror":
		if why := attribute(n, "title"); why != "" {
			return fmt.Errorf(`\%s: %s`, content(n), why)
		}
		return fmt.Errorf(`unknown command \%s`, content(n))
	case "none":
		n.Data = "mrow"
	case "mo":
		if content(n) == `\` {
			return errors.New(`a \\ outside an environment such as aligned`)
		}
	case "mi":
		if attribute(n, "lspace") != "" {
			operator(n)
		}
	case "mpadded":
		roman(n)
	}
	if !mathElements[n.Data] {
		return fmt.Errorf("the element %s in a formula", n.Data)
	}
	if attribute(n, "class") == "op" {
		name := content(n)
		for n.FirstChild != nil {
			n.RemoveChild(n.FirstChild)
		}
		n.AppendChild(&html.Node{Type: html.TextNode, Data: name})
		operator(n)
	}
	color := attribute(n, "mathcolor")
	keep := n.Attr[:0]
	for _, a := range n.Attr {
		switch {
		case mathAttributes[a.Key] && !(a.Key == "lspace" && n.Data == "mpadded"):
			keep = append(keep, a)
		case a.Key == "style" && n.Data == "mtd":
			if s := cellStyle(a.Val); s != "" {
				keep = append(keep, html.Attribute{Key: "style", Val: s})
			}
		}
	}
	n.Attr = keep
	if color != "" {
		return errors.New("colour in a formula: a report is also read in black and white")
	}
	return nil
}

// operator makes a named function (log, max …) an operator with the thin
// spaces that TeX puts around it: none at the beginning or after an operator,
// none before a parenthesis.
func operator(n *html.Node) {
	n.Data = "mo"
	limits := attribute(n, "movablelimits")
	n.Attr = nil
	if limits != "" {
		n.Attr = append(n.Attr, html.Attribute{Key: "movablelimits", Val: limits})
	}
	outer := n
	for outer.Parent != nil && outer.PrevSibling == nil && slices.Contains([]string{"msub", "msup", "msubsup", "munder", "mover", "munderover"}, outer.Parent.Data) {
		outer = outer.Parent
	}
	left, right := "0.1667em", "0.1667em"
	if p := outer.PrevSibling; p == nil || p.Data == "mo" {
		left = "0"
	}
	if s := outer.NextSibling; s == nil || s.Data == "mo" || (s.FirstChild != nil && s.FirstChild.Data == "mo") {
		right = "0"
	}
	n.Attr = append(n.Attr, html.Attribute{Key: "lspace", Val: left}, html.Attribute{Key: "rspace", Val: right})
}

// roman joins single upright letters to one word, so that they are set as a
// word.
func roman(n *html.Node) {
	var word strings.Builder
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if c.Data != "mi" || attribute(c, "mathvariant") != "normal" {
			return
		}
		word.WriteString(content(c))
	}
	if word.Len() == 0 {
		return
	}
	for n.FirstChild != nil {
		n.RemoveChild(n.FirstChild)
	}
	n.Data = "mi"
	class := attribute(n, "class")
	n.Attr = nil
	if utf8.RuneCountInString(word.String()) == 1 {
		n.Attr = append(n.Attr, html.Attribute{Key: "mathvariant", Val: "normal"})
	}
	if class != "" {
		n.Attr = append(n.Attr, html.Attribute{Key: "class", Val: class})
	}
	n.AppendChild(&html.Node{Type: html.TextNode, Data: word.String()})
}

// cellStyle keeps the alignment of a table cell, in one order.
func cellStyle(style string) string {
	var keep []string
	for d := range strings.SplitSeq(style, ";") {
		name, value, ok := strings.Cut(d, ":")
		name, value = strings.TrimSpace(name), strings.TrimSpace(value)
		if !ok || strings.Trim(value, "abcdefghijklmnopqrstuvwxyz0123456789.") != "" {
			continue
		}
		if name == "text-align" || name == "padding-left" || name == "padding-right" {
			keep = append(keep, name+":"+value)
		}
	}
	slices.Sort(keep)
	return strings.Join(keep, ";")
}

func unwrap(n *html.Node) {
	for n.FirstChild != nil {
		c := n.FirstChild
		n.RemoveChild(c)
		n.Parent.InsertBefore(c, n)
	}
	n.Parent.RemoveChild(n)
}

func attribute(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func content(n *html.Node) string {
	if n.Type == html.TextNode {
		return n.Data
	}
	var b strings.Builder
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		b.WriteString(content(c))
	}
	return b.String()
}

func writeMath(b *strings.Builder, n *html.Node) {
	if n.Type == html.TextNode {
		b.WriteString(html.EscapeString(n.Data))
		return
	}
	slices.SortFunc(n.Attr, func(x, y html.Attribute) int { return strings.Compare(x.Key, y.Key) })
	b.WriteString("<" + n.Data)
	for _, a := range n.Attr {
		b.WriteString(" " + a.Key + `="` + html.EscapeString(a.Val) + `"`)
	}
	b.WriteString(">")
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		writeMath(b, c)
	}
	b.WriteString("</" + n.Data + ">")
}
