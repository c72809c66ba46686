package page

import (
	"bytes"
	"regexp"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// Formulas in Markdown: $…$ within a line of text, $$…$$ and \begin{…}…\end{…}
// set apart. As in notebooks everywhere, an opening $ is followed and a closing
// one preceded by something that is not a space, and no digit follows the
// closing one, so that "costs $5 to $6" stays text.

var (
	kindInlineMath = ast.NewNodeKind("InlineFormula")
	kindBlockMath  = ast.NewNodeKind("BlockFormula")
)

type inlineMath struct {
	ast.BaseInline
	tex     string
	display bool
}

func (n *inlineMath) Kind() ast.NodeKind { return kindInlineMath }

func (n *inlineMath) Dump(source []byte, level int) {
	ast.DumpHelper(n, source, level, map[string]string{"TeX": n.tex}, nil)
}

type blockMath struct {
	ast.BaseBlock
	end    string // what closes it
	closed bool
	prefix string // \begin{…}
}

func (n *blockMath) Kind() ast.NodeKind { return kindBlockMath }

func (n *blockMath) Dump(source []byte, level int) { ast.DumpHelper(n, source, level, nil, nil) }

func (n *blockMath) IsRaw() bool { return true }

type inlineMathParser struct{}

func (inlineMathParser) Trigger() []byte { return []byte{'$'} }

func (inlineMathParser) Parse(_ ast.Node, block text.Reader, _ parser.Context) ast.Node {
	startLine, startPos := block.Position()
	line, _ := block.PeekLine()
	fence := "$"
	if bytes.HasPrefix(line, []byte("$$")) {
		fence = "$$"
	}
	if fence == "$" && (len(line) < 2 || isSpace(line[1])) {
		return nil
	}
	block.Advance(len(fence))
	var tex strings.Builder
	for {
		line, _ := block.PeekLine()
		if line == nil {
			block.SetPosition(startLine, startPos)
			return nil
		}
		if at := closing(line, fence, tex.Len() == 0); at >= 0 {
			tex.Write(line[:at])
			block.Advance(at + len(fence))
			return &inlineMath{tex: tex.String(), display: fence == "$$"}
		}
		tex.Write(line)
		block.AdvanceLine()
	}
}

// closing finds the fence that closes a formula in a line, -1 if there is none.
func closing(line []byte, fence string, first bool) int {
	for i := 0; i < len(line); i++ {
		switch {
		case line[i] == '\\':
			i++
		case line[i] != '$':
		case fence == "$$":
			if bytes.HasPrefix(line[i:], []byte("$$")) {
				return i
			}
		case first && i == 0, i > 0 && isSpace(line[i-1]):
		case i+1 < len(line) && line[i+1] >= '0' && line[i+1] <= '9':
		default:
			return i
		}
	}
	return -1
}

func isSpace(c byte) bool { return c == ' ' || c == '\t' || c == '\n' || c == '\r' }

type blockMathParser struct{}

func (blockMathParser) Trigger() []byte { return []byte{'$', '\\'} }

var environment = regexp.MustCompile(`^\\begin\{((?:align|equation|gather|alignat|multline|eqnarray)\*?)\}`)

func (blockMathParser) Open(_ ast.Node, reader text.Reader, _ parser.Context) (ast.Node, parser.State) {
	line, seg := reader.PeekLine()
	indent := len(line) - len(bytes.TrimLeft(line, " "))
	if indent > 3 {
		return nil, parser.NoChildren
	}
	rest := line[indent:]
	n := &blockMath{}
	if m := environment.FindSubmatch(rest); m != nil {
		n.prefix = string(m[0])
		n.end = `\end{` + string(m[1]) + `}`
	} else if bytes.HasPrefix(rest, []byte("$$")) {
		n.end = "$$"
	} else {
		return nil, parser.NoChildren
	}
	start := indent + len(n.prefix)
	if n.end == "$$" {
		start += 2
	}
	if at := bytes.Index(line[start:], []byte(n.end)); at >= 0 {
		// A formula and more text on one line is part of a paragraph.
		if len(bytes.TrimSpace(line[start+at+len(n.end):])) > 0 {
			return nil, parser.NoChildren
		}
		n.closed = true
		n.Lines().Append(text.NewSegment(seg.Start+start, seg.Start+start+at))
		reader.AdvanceToEOL()
		return n, parser.NoChildren
	}
	n.Lines().Append(text.NewSegment(seg.Start+start, seg.Stop))
	reader.AdvanceToEOL()
	return n, parser.NoChildren
}

func (blockMathParser) Continue(node ast.Node, reader text.Reader, _ parser.Context) parser.State {
	n := node.(*blockMath)
	if n.closed {
		return parser.Close
	}
	line, seg := reader.PeekLine()
	if at := bytes.Index(line, []byte(n.end)); at >= 0 {
		n.closed = true
		n.Lines().Append(text.NewSegment(seg.Start, seg.Start+at))
		reader.Advance(at + len(n.end))
		return parser.Close
	}
	n.Lines().Append(seg)
	reader.AdvanceToEOL()
	return parser.Continue | parser.NoChildren
}

func (blockMathParser) Close(ast.Node, text.Reader, parser.Context) {}

func (blockMathParser) CanInterruptParagraph() bool { return true }

func (blockMathParser) CanAcceptIndentedLine() bool { return false }

// mathExtension hands each formula to draw, which returns what stands in the
// HTML for it.
type mathExtension struct {
	draw func(tex string, display, closed bool) string
}

func (e mathExtension) Extend(m goldmark.Markdown) {
	m.Parser().AddOptions(
		parser.WithInlineParsers(util.Prioritized(inlineMathParser{}, 50)),
		parser.WithBlockParsers(util.Prioritized(blockMathParser{}, 90)),
	)
	m.Renderer().AddOptions(renderer.WithNodeRenderers(util.Prioritized(e, 100)))
}

func (e mathExtension) RegisterFuncs(reg renderer.NodeRendererFuncRegisterer) {
	reg.Register(kindInlineMath, func(w util.BufWriter, _ []byte, node ast.Node, entering bool) (ast.WalkStatus, error) {
		if n := node.(*inlineMath); entering {
			_, _ = w.WriteString(e.draw(n.tex, n.display, true))
		}
		return ast.WalkSkipChildren, nil
	})
	reg.Register(kindBlockMath, func(w util.BufWriter, source []byte, node ast.Node, entering bool) (ast.WalkStatus, error) {
		n := node.(*blockMath)
		if !entering {
			return ast.WalkSkipChildren, nil
		}
		tex := string(n.Lines().Value(source))
		if n.prefix != "" {
			tex = n.prefix + tex + n.end
		}
		_, _ = w.WriteString(`<div class="formula">` + e.draw(tex, true, n.closed) + "</div>\n")
		return ast.WalkSkipChildren, nil
	})
}

// protectTables writes the | of formulas in table rows as \vert, or they would
// end the table's cell. Only lines that begin with | outside code are touched.
func protectTables(source string) string {
	var b strings.Builder
	fence := ""
	for line := range strings.Lines(source) {
		trimmed := strings.TrimSpace(line)
		switch {
		case fence != "":
			if strings.HasPrefix(trimmed, fence) {
				fence = ""
			}
		case strings.HasPrefix(trimmed, "```"):
			fence = "```"
		case strings.HasPrefix(trimmed, "~~~"):
			fence = "~~~"
		case strings.HasPrefix(trimmed, "|"):
			line = protectRow(line)
		}
		b.WriteString(line)
	}
	return b.String()
}

func protectRow(line string) string {
	var b strings.Builder
	for i := 0; i < len(line); {
		switch line[i] {
		case '\\':
			n := min(2, len(line)-i)
			b.WriteString(line[i : i+n])
			i += n
			continue
		case '`':
			if end := strings.IndexByte(line[i+1:], '`'); end >= 0 {
				b.WriteString(line[i : i+end+2])
				i += end + 2
				continue
			}
		case '$':
			rest := line[i+1:]
			if end := closing([]byte(rest), "$", true); rest != "" && !isSpace(rest[0]) && end > 0 {
				b.WriteString("$" + bars(rest[:end]) + "$")
				i += end + 2
				continue
			}
		}
		b.WriteByte(line[i])
		i++
	}
	return b.String()
}

// bars spells out | and \|, with a space only where a letter follows.
func bars(tex string) string {
	var b strings.Builder
	for i := 0; i < len(tex); i++ {
		switch {
		case tex[i] == '|':
			b.WriteString(`\vert`)
		case strings.HasPrefix(tex[i:], `\|`):
			b.WriteString(`\Vert`)
			i++
		case tex[i] == '\\' && i+1 < len(tex):
			b.WriteString(tex[i : i+2])
			i++
			continue
		default:
			b.WriteByte(tex[i])
			continue
		}
		if i+1 < len(tex) && (tex[i+1]|0x20 >= 'a' && tex[i+1]|0x20 <= 'z') {
			b.WriteByte(' ')
		}
	}
	return b.String()
}
