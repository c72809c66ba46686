package page

import (
	"net/url"
	"regexp"
	"strings"

	"github.com/microcosm-cc/bluemonday"
)

// policies say what HTML may stand where. None lets a script, an event, a
// frame, a form or anything from the network through.
type policies struct {
	markdown *bluemonday.Policy // Markdown cells with raw HTML in them
	kernel   *bluemonday.Policy // HTML that the kernel sent
	inline   *bluemonday.Policy // a line of the table of contents
}

func newPolicies() policies {
	base := func() *bluemonday.Policy {
		p := bluemonday.NewPolicy()
		p.AllowElements("p", "br", "hr", "div", "span", "b", "strong", "i", "em", "u", "s", "del", "ins", "small", "sub", "sup",
			"mark", "code", "kbd", "samp", "var", "q", "cite", "abbr", "dfn", "time", "h1", "h2", "h3", "h4", "h5", "h6",
			"ul", "ol", "li", "dl", "dt", "dd", "blockquote", "pre", "figure", "figcaption", "details", "summary",
			"table", "caption", "thead", "tbody", "tfoot", "tr", "th", "td", "colgroup", "col", "section")
		p.AllowAttrs("colspan", "rowspan", "span").Matching(bluemonday.Integer).OnElements("td", "th", "col", "colgroup")
		p.AllowAttrs("align").Matching(regexp.MustCompile(`^(left|right|center)$`)).OnElements("td", "th")
		p.AllowAttrs("scope").Matching(regexp.MustCompile(`^(row|col|rowgroup|colgroup)$`)).OnElements("th")
		p.AllowAttrs("start").Matching(bluemonday.Integer).OnElements("ol")
		p.AllowAttrs("title", "lang").Globally()
		p.AllowAttrs("open").Matching(regexp.MustCompile(`^$|^open$`)).OnElements("details")
		p.AllowAttrs("href").OnElements("a")
		p.AllowURLSchemes("http", "https", "mailto")
		p.AllowURLSchemeWithCustomPolicy("data", embedded)
		p.AllowRelativeURLs(true)
		p.RequireParseableURLs(true)
		p.RequireNoFollowOnLinks(false)
		p.AllowAttrs("src").Matching(regexp.MustCompile(`^data:image/`)).OnElements("img")
		p.AllowAttrs("alt").OnElements("img")
		p.AllowAttrs("width", "height").Matching(regexp.MustCompile(`^[0-9]{1,4}(px|%)?$`)).OnElements("img")
		p.AllowStyles("text-align", "vertical-align", "font-weight", "font-style", "font-size", "white-space", "color",
			"background-color", "padding", "padding-left", "padding-right", "padding-top", "padding-bottom",
			"margin", "margin-left", "margin-right", "margin-top", "margin-bottom", "border", "border-left", "border-right",
			"border-top", "border-bottom", "border-collapse", "border-spacing", "line-height", "text-decoration").Globally()
		return p
	}
	md := base()
	md.AllowAttrs("id").Matching(regexp.MustCompile(`^[\p{L}\p{N}:_.-]+$`)).Globally()
	md.AllowAttrs("class").Matching(regexp.MustCompile(`^[a-z0-9 -]+$`)).OnElements("span", "pre", "code", "div", "a", "section", "li", "ul")
	md.AllowAttrs("type").Matching(regexp.MustCompile(`^checkbox$`)).OnElements("input")
	md.AllowAttrs("checked", "disabled").OnElements("input")
	inline := bluemonday.NewPolicy()
	inline.AllowElements("b", "strong", "i", "em", "code", "sub", "sup", "del", "s", "small")
	return policies{markdown: md, kernel: base(), inline: inline}
}

// embedded lets pictures through that are in the address itself. As the source
// of an img element an SVG cannot run anything or load anything.
func embedded(u *url.URL) bool {
	kind, _, ok := strings.Cut(u.Opaque, ",")
	switch kind {
	case "image/png;base64", "image/jpeg;base64", "image/gif;base64", "image/webp;base64", "image/svg+xml;base64":
		return ok && u.RawQuery == "" && u.Fragment == ""
	}
	return false
}
