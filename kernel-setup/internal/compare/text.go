package compare

import (
	"bytes"
	"encoding/base64"
	"encoding/xml"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// dataURI is a picture within HTML.
var dataURI = regexp.MustCompile(`data:image/(svg\+xml|png);base64,[A-Za-z0-9+/=]+`)

// text compares text with numbers in it, and pictures that stand in it as
// data URIs by the rules for pictures.
func (c *comparison) text(what, want, have string) {
	if want == have {
		return
	}
	if c.mode == Exact {
		c.exact(what, want, have)
		return
	}
	wantPictures, havePictures := dataURI.FindAllString(want, -1), dataURI.FindAllString(have, -1)
	if len(wantPictures) > 0 && len(wantPictures) == len(havePictures) {
		want, have = dataURI.ReplaceAllString(want, "data:image/$1"), dataURI.ReplaceAllString(have, "data:image/$1")
		for i := range wantPictures {
			c.picture(fmt.Sprintf("%s, picture %d", what, i+1), wantPictures[i], havePictures[i])
		}
	}
	if note, w, h, ok := closeText(want, have, false, closeNumbers); !ok {
		c.differ(what, w, h, note)
	}
}

func (c *comparison) picture(what, want, have string) {
	w, wantSVG := strings.CutPrefix(want, "data:image/svg+xml;base64,")
	h, haveSVG := strings.CutPrefix(have, "data:image/svg+xml;base64,")
	switch {
	case want == have:
	case wantSVG != haveSVG:
		c.differ(what, want[:20], have[:20], "")
	case wantSVG:
		ws, errW := base64.StdEncoding.DecodeString(w)
		hs, errH := base64.StdEncoding.DecodeString(h)
		if errW != nil || errH != nil {
			c.exact(what, w, h)
			return
		}
		c.svg(what, string(ws), string(hs))
	default:
		c.png(what, strings.TrimPrefix(want, "data:image/png;base64,"), strings.TrimPrefix(have, "data:image/png;base64,"))
	}
}

// closeText compares two texts token by token; w and h are the neighbourhood
// of the first difference.
func closeText(want, have string, loose bool, close func(want, have string) (string, bool)) (note, w, h string, ok bool) {
	ws, hs := tokens(want, loose), tokens(have, loose)
	for i := 0; i < len(ws) || i < len(hs); i++ {
		switch {
		case i >= len(ws):
			return "", "(ends before)", line(have, hs[i].at), false
		case i >= len(hs):
			return "", line(want, ws[i].at), "(ends before)", false
		case ws[i].number && hs[i].number:
			if note, ok := close(ws[i].text, hs[i].text); !ok {
				return note, line(want, ws[i].at), line(have, hs[i].at), false
			}
		case ws[i].number != hs[i].number || ws[i].text != hs[i].text:
			a, b := ws[i].at, hs[i].at
			for a < len(want) && b < len(have) && want[a] == have[b] {
				a, b = a+1, b+1
			}
			return "", line(want, a), line(have, b), false
		}
	}
	return "", "", "", true
}

// line returns the line of text that holds position at, cut to its
// neighbourhood.
func line(text string, at int) string {
	at = min(at, len(text))
	begin := strings.LastIndexByte(text[:at], '\n') + 1
	end := len(text)
	if i := strings.IndexByte(text[at:], '\n'); i >= 0 {
		end = at + i
	}
	const reach = 80
	head, tail := "", ""
	if at-begin > reach {
		begin, head = at-reach, "…"
	}
	if end-at > reach {
		end, tail = at+reach, "…"
	}
	return head + strings.ToValidUTF8(text[begin:end], "") + tail
}

// geometry is the room for coordinates in an SVG picture, in its units.
const geometry = 0.05

// geometric attributes hold nothing but coordinates, lengths and path
// commands.
var geometric = map[string]bool{
	"x": true, "y": true, "x1": true, "x2": true, "y1": true, "y2": true, "dx": true, "dy": true,
	"cx": true, "cy": true, "r": true, "rx": true, "ry": true, "width": true, "height": true,
	"d": true, "points": true, "transform": true, "viewBox": true,
}

func closeGeometry(want, have string) (string, bool) {
	w, errW := strconv.ParseFloat(ascii(want), 64)
	h, errH := strconv.ParseFloat(ascii(have), 64)
	if errW != nil || errH != nil {
		return "", want == have
	}
	if diff := math.Abs(w - h); diff > geometry*(1+1e-9) {
		return fmt.Sprintf("geometry differs by %.4g, allowed is %.4g", diff, geometry), false
	}
	return "", true
}

// svg compares pictures element by element: coordinates with room, written
// text as text.
func (c *comparison) svg(what, want, have string) {
	if want == have {
		return
	}
	wd, hd := xml.NewDecoder(strings.NewReader(want)), xml.NewDecoder(strings.NewReader(have))
	for {
		w, errW := wd.Token()
		h, errH := hd.Token()
		if errors.Is(errW, io.EOF) && errors.Is(errH, io.EOF) {
			return
		}
		if errW != nil || errH != nil {
			c.exact(what, want, have) // not XML, or one is shorter
			return
		}
		if !c.svgToken(what, w, h) {
			return // what follows would differ, too
		}
	}
}

// svgToken compares a pair of tokens and reports whether they agree.
func (c *comparison) svgToken(what string, want, have xml.Token) bool {
	switch w := want.(type) {
	case xml.StartElement:
		h, ok := have.(xml.StartElement)
		if !ok || w.Name != h.Name || len(w.Attr) != len(h.Attr) {
			c.differ(what, describe(want), describe(have), "")
			return false
		}
		for i, a := range w.Attr {
			b := h.Attr[i]
			if a.Name != b.Name {
				c.differ(what, describe(want), describe(have), "")
				return false
			}
			close, loose := closeNumbers, false
			if geometric[a.Name.Local] {
				close, loose = closeGeometry, true
			}
			if note, ws, hs, ok := closeText(a.Value, b.Value, loose, close); !ok {
				c.differ(fmt.Sprintf("%s, <%s %s>", what, w.Name.Local, a.Name.Local), ws, hs, note)
				return false
			}
		}
		return true
	case xml.CharData:
		h, ok := have.(xml.CharData)
		if !ok {
			c.differ(what, describe(want), describe(have), "")
			return false
		}
		note, ws, hs, ok := closeText(string(w), string(h), false, closeNumbers)
		if !ok {
			c.differ(what+", text", ws, hs, note)
		}
		return ok
	}
	if d, e := describe(want), describe(have); d != e {
		c.differ(what, d, e, "")
		return false
	}
	return true
}

func describe(t xml.Token) string {
	switch t := t.(type) {
	case xml.StartElement:
		var b strings.Builder
		b.WriteString("<" + t.Name.Local)
		for _, a := range t.Attr {
			fmt.Fprintf(&b, " %s=%q", a.Name.Local, a.Value)
		}
		return b.String() + ">"
	case xml.EndElement:
		return "</" + t.Name.Local + ">"
	case xml.CharData:
		return "text " + strconv.Quote(string(t))
	case xml.Comment:
		return "<!--" + string(t) + "-->"
	case xml.ProcInst:
		return "<?" + t.Target + " " + string(t.Inst) + "?>"
	case xml.Directive:
		return "<!" + string(t) + ">"
	}
	return fmt.Sprintf("%T", t)
}

// Room for PNG pictures: how far a channel may be off unnoticed, and which
// share of the pixels may be off further.
const (
	channelRoom = 8
	pixelShare  = 0.001
)

func (c *comparison) png(what, want, have string) {
	if want == have {
		return
	}
	w, errW := decodePNG(want)
	h, errH := decodePNG(have)
	switch {
	case errW != nil || errH != nil:
		c.differ(what, readable(errW), readable(errH), "")
		return
	case w.Bounds() != h.Bounds():
		c.differ(what, w.Bounds().String(), h.Bounds().String(), "")
		return
	}
	off, all := 0, 0
	for y := w.Bounds().Min.Y; y < w.Bounds().Max.Y; y++ {
		for x := w.Bounds().Min.X; x < w.Bounds().Max.X; x++ {
			all++
			if farColours(w.At(x, y), h.At(x, y)) {
				off++
			}
		}
	}
	if float64(off) > pixelShare*float64(all) {
		c.differ(what, fmt.Sprintf("picture of %v", w.Bounds().Size()), fmt.Sprintf("%d of %d pixels differ", off, all),
			fmt.Sprintf("%.2g %% of the pixels differ, allowed is %.2g %%", 100*float64(off)/float64(all), 100*pixelShare))
	}
}

func decodePNG(text string) (image.Image, error) {
	raw, err := base64.StdEncoding.DecodeString(strings.Map(func(r rune) rune {
		if r == '\n' || r == '\r' {
			return -1
		}
		return r
	}, text))
	if err != nil {
		return nil, err
	}
	return png.Decode(bytes.NewReader(raw))
}

func readable(err error) string {
	if err == nil {
		return "a PNG picture"
	}
	return "not a PNG picture: " + err.Error()
}

func farColours(a, b color.Color) bool {
	p, q := color.NRGBAModel.Convert(a).(color.NRGBA), color.NRGBAModel.Convert(b).(color.NRGBA)
	return far(p.R, q.R) || far(p.G, q.G) || far(p.B, q.B) || far(p.A, q.A)
}

func far(a, b uint8) bool { return max(a, b)-min(a, b) > channelRoom }
