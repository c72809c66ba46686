package page

import (
	"encoding/base64"
	"encoding/xml"
	"errors"
	"fmt"
	"html"
	"io"
	"regexp"
	"strings"
)

// An inline SVG shares the page with everything else, so only what draws is
// let through: elements, attributes and style properties of the lists below.
// Scripts, links, foreign content and animation are dropped. Ids get the
// prefix of their figure, so that the clip paths of two figures do not meet.
var (
	svgElements = set(`svg g path rect circle ellipse line polyline polygon text tspan title desc defs clipPath use
		symbol linearGradient radialGradient stop pattern marker mask image`)
	svgAttributes = set(`viewBox width height preserveAspectRatio transform id d x y x1 y1 x2 y2 cx cy r rx ry fx fy
		dx dy rotate points offset pathLength textLength lengthAdjust clipPathUnits clip-path gradientUnits
		gradientTransform spreadMethod patternUnits patternContentUnits patternTransform markerUnits markerWidth
		markerHeight refX refY orient maskUnits maskContentUnits marker-start marker-mid marker-end mask href style`)
	svgProperties = set(`fill fill-opacity fill-rule clip-rule stroke stroke-width stroke-opacity stroke-linecap
		stroke-linejoin stroke-miterlimit stroke-dasharray stroke-dashoffset opacity color stop-color stop-opacity
		font-family font-size font-style font-weight font-variant font-stretch text-anchor dominant-baseline
		alignment-baseline baseline-shift letter-spacing word-spacing text-decoration text-rendering white-space
		visibility display overflow shape-rendering image-rendering vector-effect paint-order clip-path mask
		marker-start marker-mid marker-end mix-blend-mode`)
	svgLocal  = regexp.MustCompile(`^url\(\s*['"]?#([A-Za-z_][A-Za-z0-9_.:-]*)['"]?\s*\)$`)
	svgValue  = regexp.MustCompile(`^[\p{L}0-9#.,%()'" +/_:-]*$`)
	svgID     = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_.:-]*$`)
	svgLength = regexp.MustCompile(`^([0-9]*\.?[0-9]+)(px|pt|mm|cm|in)?$`)
	svgRaster = regexp.MustCompile(`^data:image/(?:png|jpeg);base64,([A-Za-z0-9+/=\s]+)$`)
)

func set(names string) map[string]bool {
	m := map[string]bool{}
	for _, n := range strings.Fields(names) {
		m[n] = true
	}
	return m
}

// figure returns the SVG as an element of the page. The label is what a screen
// reader says instead.
func figure(svg, prefix, label string) (string, error) {
	dec := xml.NewDecoder(strings.NewReader(svg))
	var b strings.Builder
	var stack []string // the element names to close; "" closes nothing
	roots := 0
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			return "", fmt.Errorf("SVG: %w", err)
		}
		switch t := tok.(type) {
		case xml.StartElement:
			name := t.Name.Local
			foreign := t.Name.Space != "" && t.Name.Space != "http://www.w3.org/2000/svg"
			if len(stack) == 0 {
				if name != "svg" || foreign {
					return "", fmt.Errorf("SVG: the root is %q, want svg", name)
				}
				roots++
			}
			switch {
			case name == "a" && !foreign:
				stack = append(stack, "")
				continue
			case name == "style" && !foreign:
				return "", errors.New("SVG: a style element would change the whole page; want style attributes")
			case foreign || !svgElements[name]:
				if err := dec.Skip(); err != nil {
					return "", fmt.Errorf("SVG: %w", err)
				}
				continue
			}
			attrs, err := svgAttrs(name, t.Attr, prefix, len(stack) == 0)
			if err != nil {
				return "", err
			}
			b.WriteString("<" + name + attrs)
			if len(stack) == 0 {
				b.WriteString(` role="img" aria-label="` + html.EscapeString(label) + `"`)
			}
			b.WriteString(">")
			stack = append(stack, name)
		case xml.EndElement:
			if name := stack[len(stack)-1]; name != "" {
				b.WriteString("</" + name + ">")
			}
			stack = stack[:len(stack)-1]
		case xml.CharData:
			if len(stack) > 0 {
				b.WriteString(html.EscapeString(string(t)))
			}
		}
	}
	if roots != 1 {
		return "", fmt.Errorf("SVG: %d svg elements, want one", roots)
	}
	return b.String(), nil
}

func svgAttrs(element string, attrs []xml.Attr, prefix string, root bool) (string, error) {
	var b strings.Builder
	var width, height, box string
	put := func(name, value string) { b.WriteString(" " + name + `="` + html.EscapeString(value) + `"`) }
	seen := map[string]bool{}
	for _, a := range attrs {
		name, value := a.Name.Local, strings.TrimSpace(a.Value)
		if a.Name.Space != "" && !(name == "href" && strings.HasSuffix(a.Name.Space, "/xlink")) {
			continue
		}
		if seen[name] {
			continue
		}
		seen[name] = true
		if root {
			switch name {
			case "width":
				width = value
			case "height":
				height = value
			case "viewBox":
				box = value
			case "x", "y":
				continue
			}
		}
		switch {
		case name == "id":
			if svgID.MatchString(value) {
				put("id", prefix+value)
			}
		case name == "href":
			if err := svgRef(element, value, prefix, put); err != nil {
				return "", err
			}
		case name == "style":
			var keep []string
			for d := range strings.SplitSeq(value, ";") {
				prop, v, ok := strings.Cut(d, ":")
				prop = strings.ToLower(strings.TrimSpace(prop))
				if v, good := svgPaint(v, prefix); ok && good && svgProperties[prop] {
					keep = append(keep, prop+":"+v)
				}
			}
			if len(keep) > 0 {
				put("style", strings.Join(keep, ";"))
			}
		case svgAttributes[name] || svgProperties[name]:
			if v, ok := svgPaint(value, prefix); ok || name == "d" || name == "points" {
				put(name, v)
			}
		}
	}
	if root && box == "" {
		w, h := svgLength.FindStringSubmatch(width), svgLength.FindStringSubmatch(height)
		if w == nil || h == nil || w[2] != h[2] {
			return "", fmt.Errorf("SVG: no viewBox, and width %q and height %q do not tell one", width, height)
		}
		if w[2] != "" && w[2] != "px" {
			return "", fmt.Errorf("SVG: no viewBox, and its size is in %s", w[2])
		}
		put("viewBox", "0 0 "+w[1]+" "+h[1])
	}
	return b.String(), nil
}

// svgPaint gives ids in url(#…) their prefix and refuses every other url and
// every character that no attribute needs.
func svgPaint(value, prefix string) (string, bool) {
	value = strings.Join(strings.Fields(value), " ")
	if m := svgLocal.FindStringSubmatch(value); m != nil {
		return "url(#" + prefix + m[1] + ")", true
	}
	lower := strings.ToLower(value)
	if strings.Contains(lower, "url(") || strings.Contains(lower, "expression(") || strings.Contains(lower, "javascript:") {
		return "", false
	}
	return value, svgValue.MatchString(value)
}

func svgRef(element, value, prefix string, put func(name, value string)) error {
	if id, ok := strings.CutPrefix(value, "#"); ok && svgID.MatchString(id) {
		put("href", "#"+prefix+id)
		return nil
	}
	if element != "image" {
		return nil
	}
	m := svgRaster.FindStringSubmatch(value)
	if m == nil {
		return errors.New("SVG: an image that is not in the file itself as PNG or JPEG")
	}
	data := strings.Join(strings.Fields(m[1]), "")
	if _, err := base64.StdEncoding.DecodeString(data); err != nil {
		return fmt.Errorf("SVG: image: %w", err)
	}
	put("href", value[:strings.IndexByte(value, ',')+1]+data)
	return nil
}
