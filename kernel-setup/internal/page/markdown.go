package page

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"unicode"

	"example.org/loudspeaker/kernel-setup/internal/nbformat"
	"github.com/alecthomas/chroma/v2"
	chromahtml "github.com/alecthomas/chroma/v2/formatters/html"
	"github.com/alecthomas/chroma/v2/lexers"
	"github.com/alecthomas/chroma/v2/styles"
	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/renderer/html"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// heading is an entry of the table of contents.
type heading struct {
	level int
	id    string
	html  string
}

// marks stand for formulas while the HTML around them is sanitised: two
// characters for private use, which are taken out of the text beforehand.
const (
	markOpen  = "\uE000"
	markClose = "\uE001"
)

var mark = regexp.MustCompile(markOpen + `(\d+)` + markClose)

// markdown renders the Markdown of one cell or output. Headings enter the
// table of contents if outline is set; the first level-one heading of the
// page becomes its title.
func (w *writer) markdown(source string, attachments map[string]nbformat.Bundle, outline bool) string {
	w.pieces++
	source = strings.NewReplacer(markOpen, "\uFFFD", markClose, "\uFFFD").Replace(source)
	src := []byte(protectTables(source))
	var formulas []string
	draw := func(tex string, display, closed bool) string {
		mathml, err := formula(tex, display)
		if !closed {
			err = errors.New("the formula is not closed")
		}
		if err != nil {
			w.problem("formula %q: %w", strings.TrimSpace(tex), err)
		}
		formulas = append(formulas, mathml)
		return markOpen + strconv.Itoa(len(formulas)-1) + markClose
	}
	md := goldmark.New(
		goldmark.WithExtensions(
			extension.GFM,
			extension.NewFootnote(extension.WithFootnoteIDPrefix("n"+strconv.Itoa(w.pieces)+"-")),
			mathExtension{draw},
		),
		goldmark.WithParserOptions(parser.WithAutoHeadingID()),
		goldmark.WithRendererOptions(
			html.WithUnsafe(), // raw HTML is allowed in notebooks; it is sanitised below
			renderer.WithNodeRenderers(util.Prioritized(codeBlocks{}, 100)),
		),
	)
	render := func(n ast.Node) string {
		var b bytes.Buffer
		if err := md.Renderer().Render(&b, src, n); err != nil {
			w.problem("markdown: %w", err)
		}
		return b.String()
	}
	fill := func(safe string) string {
		return mark.ReplaceAllStringFunc(safe, func(m string) string {
			i, err := strconv.Atoi(mark.FindStringSubmatch(m)[1])
			if err != nil || i >= len(formulas) {
				return ""
			}
			return formulas[i]
		})
	}
	doc := md.Parser().Parse(text.NewReader(src), parser.WithContext(parser.NewContext(parser.WithIDs(w.ids))))
	var title ast.Node
	_ = ast.Walk(doc, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.Image:
			w.image(n, attachments)
		case *ast.Heading:
			if !outline {
				return ast.WalkContinue, nil
			}
			var b strings.Builder
			for c := n.FirstChild(); c != nil; c = c.NextSibling() {
				b.WriteString(render(c))
			}
			inline := fill(w.policy.inline.Sanitize(b.String()))
			id := ""
			if v, ok := n.AttributeString("id"); ok {
				if raw, ok := v.([]byte); ok {
					id = string(raw)
				}
			}
			if n.Level == 1 && w.titleHTML == "" {
				w.titleHTML, w.titleID, title = inline, id, n
				return ast.WalkContinue, nil
			}
			w.outline = append(w.outline, heading{n.Level, id, inline})
		}
		return ast.WalkContinue, nil
	})
	if title != nil {
		title.Parent().RemoveChild(title.Parent(), title)
	}
	return fill(w.policy.markdown.Sanitize(render(doc)))
}

// image puts an attachment in place of its name. Pictures from elsewhere would
// need the network or another file beside the report.
func (w *writer) image(n *ast.Image, attachments map[string]nbformat.Bundle) {
	dest := string(n.Destination)
	name, attached := strings.CutPrefix(dest, "attachment:")
	switch {
	case attached:
		if plain, err := url.PathUnescape(name); err == nil {
			name = plain
		}
		bundle := attachments[name]
		for _, mime := range []string{"image/svg+xml", "image/png", "image/jpeg", "image/gif", "image/webp"} {
			if data, ok := bundle.Text(mime); ok {
				if mime == "image/svg+xml" {
					data = base64.StdEncoding.EncodeToString([]byte(data))
				}
				n.Destination = []byte("data:" + mime + ";base64," + strings.Join(strings.Fields(data), ""))
				return
			}
		}
		w.problem("the picture %q is not attached to the cell", name)
	case !strings.HasPrefix(dest, "data:image/"):
		w.problem("the picture %q is not in the notebook; attach it to the cell", dest)
	}
}

// codeBlocks colours fenced code.
type codeBlocks struct{}

func (codeBlocks) RegisterFuncs(reg renderer.NodeRendererFuncRegisterer) {
	reg.Register(ast.KindFencedCodeBlock, func(w util.BufWriter, source []byte, node ast.Node, entering bool) (ast.WalkStatus, error) {
		n := node.(*ast.FencedCodeBlock)
		if !entering {
			return ast.WalkContinue, nil
		}
		_, err := w.WriteString(highlight(string(n.Lines().Value(source)), string(n.Language(source))))
		return ast.WalkSkipChildren, err
	})
}

// highlight returns code as a block of HTML with classes; a language that is
// not known stays plain.
func highlight(code, language string) string {
	lexer := lexers.Get(language)
	if lexer == nil {
		lexer = lexers.Fallback
	}
	var b bytes.Buffer
	tokens, err := chroma.Coalesce(lexer).Tokenise(nil, code)
	if err == nil {
		err = chromahtml.New(chromahtml.WithClasses(true), chromahtml.PreventSurroundingPre(true)).Format(&b, styles.Fallback, tokens)
	}
	if err != nil {
		b.Reset()
		b.Write(util.EscapeHTML([]byte(code)))
	}
	return `<pre class="code"><code>` + b.String() + "</code></pre>\n"
}

// idSet gives each heading of the page an id of its own, in the form in which
// notebooks link to headings: spaces become hyphens.
type idSet map[string]bool

// Generate implements goldmark's parser.IDs.
func (s idSet) Generate(value []byte, _ ast.NodeKind) []byte {
	var b strings.Builder
	for _, r := range strings.TrimSpace(string(value)) {
		switch {
		case unicode.IsLetter(r), unicode.IsDigit(r), r == '-', r == '_', r == '.', r == ':':
			b.WriteRune(r)
		case unicode.IsSpace(r):
			b.WriteByte('-')
		}
	}
	base := b.String()
	if strings.Trim(base, "-") == "" {
		base = "section"
	}
	id := base
	for i := 2; s[id]; i++ {
		id = fmt.Sprintf("%s-%d", base, i)
	}
	s[id] = true
	return []byte(id)
}

// Put implements goldmark's parser.IDs.
func (s idSet) Put(value []byte) { s[string(value)] = true }
