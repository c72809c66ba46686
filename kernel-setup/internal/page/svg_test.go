package page

import (
	"encoding/xml"
	"io"
	"strings"
	"testing"
)

func TestFigureKeepsWhatDraws(t *testing.T) {
	in := `<?xml version="1.0"?><!DOCTYPE svg>
<!-- made by hand -->
<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="20pt" height="10pt" viewBox="0 0 20 10">
<defs><clipPath id="c"><rect x="0" y="0" width="5" height="5"/></clipPath><path id="p" d="M0,0L1e-3,2"/></defs>
<g clip-path="url(#c)" transform="scale(1, -1) translate(0, -10)"><use xlink:href="#p" style="fill:none;stroke:#1f4e79;stroke-width:1.2;stroke-dasharray:3,2"/></g>
<text x="1" y="2" style="font-family:'DejaVu Sans', sans-serif;font-size:9px">µ &lt; Ω &amp; 2</text>
<image width="1" height="1" xlink:href="data:image/png;base64,iVBORw0KGgo="/>
</svg>`
	got, err := figure(in, "f7-", `a "label"`)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`viewBox="0 0 20 10" role="img" aria-label="a &#34;label&#34;">`, `width="20pt"`, `id="f7-c"`, `clip-path="url(#f7-c)"`, `href="#f7-p"`,
		`d="M0,0L1e-3,2"`, `transform="scale(1, -1) translate(0, -10)"`, `style="fill:none;stroke:#1f4e79;stroke-width:1.2;stroke-dasharray:3,2"`,
		`font-family:&#39;DejaVu Sans&#39;, sans-serif`, `µ &lt; Ω &amp; 2`, `href="data:image/png;base64,iVBORw0KGgo="`,
	} {
		if !strings.Contains(got, want) {
			t.Errorf("%s is lost in\n%s", want, got)
		}
	}
	for _, gone := range []string{"<?xml", "DOCTYPE", "made by hand", "xlink", "xmlns"} {
		if strings.Contains(got, gone) {
			t.Errorf("%s is left in\n%s", gone, got)
		}
	}
	// Without a viewBox the size tells it, or the figure could not be scaled.
	got, err = figure(`<svg width="30" height="20"><path d="M0,0"/></svg>`, "f-", "")
	if err != nil || !strings.Contains(got, `viewBox="0 0 30 20"`) {
		t.Errorf("%s, %v", got, err)
	}
}

func TestFigureDropsWhatRuns(t *testing.T) {
	const head, tail = `<svg viewBox="0 0 1 1" xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink">`, `<path d="M0,0"/></svg>`
	for _, v := range []string{
		`<script>alert(1)</script>`, `<path onclick="alert(1)" d="M0,0"/>`, `<foreignObject><body xmlns="http://www.w3.org/1999/xhtml"><script>alert(1)</script></body></foreignObject>`,
		`<a xlink:href="javascript:alert(1)"><path d="M0,0"/></a>`, `<use xlink:href="https://example.org/a.svg#x"/>`, `<use href="data:image/svg+xml;base64,AAAA#x"/>`,
		`<animate attributeName="href" to="javascript:alert(1)"/>`, `<set attributeName="onload" to="alert(1)"/>`, `<path style="fill:url(https://example.org/a#b)" d="M0,0"/>`,
		`<path fill="url(https://example.org/a#b)" d="M0,0"/>`, `<g style="behavior:url(x);-moz-binding:url(x)"/>`, `<h:img xmlns:h="http://www.w3.org/1999/xhtml" src="https://example.org/a.png" onerror="alert(1)"/>`,
		`<metadata>about</metadata>`, `<handler xmlns="http://www.w3.org/2001/xml-events">alert(1)</handler>`, `<feImage href="https://example.org/a.png"/>`,
	} {
		got, err := figure(head+v+tail, "f1-", "")
		if err != nil {
			t.Errorf("%s: %v", v, err)
			continue
		}
		for _, bad := range []string{"alert", "javascript", "example.org", "about", "script", "data:"} {
			if strings.Contains(got, bad) {
				t.Errorf("%s gives %s", v, got)
			}
		}
		if !strings.Contains(got, `<path d="M0,0"></path></svg>`) {
			t.Errorf("%s: what follows is lost: %s", v, got)
		}
	}
	for v, want := range map[string]string{
		head + `<style>*{display:none}</style>` + tail:                 "a style element",
		head + `<image href="https://example.org/a.png"/>` + tail:      "not in the file itself",
		head + `<image href="data:image/svg+xml;base64,AAAA"/>` + tail: "PNG or JPEG",
		`<html/>`:                         `the root is "html"`,
		head:                              "unexpected EOF",
		`<svg/><svg/>`:                    "viewBox",
		``:                                "0 svg elements",
		"\x89PNG":                         "",
		`<svg width="1cm" height="1cm"/>`: "in cm",
		`<!DOCTYPE svg [<!ENTITY a "b">]><svg viewBox="0 0 1 1">&a;</svg>`: "invalid character entity",
	} {
		if got, err := figure(v, "f1-", ""); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %q, %v, want an error that says %q", v, got, err, want)
		}
	}
}

func FuzzFigure(f *testing.F) {
	f.Add(`<svg viewBox="0 0 1 1"><g id="a" style="fill:red;stroke:url(#b)"><a><text>x &amp; y</text></a><use href="#a"/></g></svg>`)
	f.Add(`<svg width="1" height="2"><script>x</script><path d="M0,0" onload="x"/></svg>`)
	f.Fuzz(func(t *testing.T, in string) {
		got, err := figure(in, "f1-", "label")
		if err != nil {
			return
		}
		// What comes out is well formed and holds only what is on the lists.
		dec := xml.NewDecoder(strings.NewReader(got))
		for {
			tok, err := dec.Token()
			if err == io.EOF {
				return
			}
			if err != nil {
				t.Fatalf("%q gives %q: %v", in, got, err)
			}
			e, ok := tok.(xml.StartElement)
			if !ok {
				continue
			}
			if !svgElements[e.Name.Local] {
				t.Fatalf("%q gives %q", in, got)
			}
			for _, a := range e.Attr {
				n := a.Name.Local
				if strings.HasPrefix(n, "on") || !svgAttributes[n] && !svgProperties[n] && n != "role" && n != "aria-label" {
					t.Fatalf("%q gives %q", in, got)
				}
				if n == "id" && !strings.HasPrefix(a.Value, "f1-") || n == "href" && !strings.HasPrefix(a.Value, "#f1-") && !strings.HasPrefix(a.Value, "data:image/") {
					t.Fatalf("%q gives %q", in, got)
				}
			}
		}
	})
}
