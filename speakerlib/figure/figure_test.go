package figure_test

import (
	"bytes"
	"encoding/xml"
	"flag"
	"fmt"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/figure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

var golden = flag.Bool("golden", false, "write the golden pictures instead of comparing with them")

// The documentation's examples are the golden pictures.
func TestExamplesLookAsTheyDid(t *testing.T) {
	folder, err := filepath.Abs("testdata")
	if err != nil {
		t.Fatal(err)
	}
	for name, draw := range map[string]func(){
		"magnitude": ExampleMagnitude, "mask": ExampleMagnitude_mask, "impedance": ExampleImpedance,
		"delay": ExampleGroupDelay, "demands": ExampleGroupDelay_demands, "stack": ExampleStack, "ceiling": ExampleCeiling, "xy": ExampleXY, "range": ExampleXY_range, "points": ExampleXY_points, "step": ExampleStep, "shades": ExampleShades,
		"polar": ExamplePolar, "polar-half": ExamplePolar_half, "plane": ExamplePlane, "around": ExampleShades_around,
		"two-sided": ExampleShades_twoSided, "beamwidth": ExampleQuantity_beamwidth,
	} {
		t.Run(name, func(t *testing.T) {
			t.Chdir(t.TempDir())
			draw()
			got, err := os.ReadFile(name + ".png")
			if err != nil {
				t.Fatal(err)
			}
			want := filepath.Join(folder, name+".png")
			if *golden {
				if err := os.WriteFile(want, got, 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			picture, err := os.ReadFile(want)
			if err != nil {
				t.Fatal(err)
			}
			if difference := compare(t, got, picture); difference != "" {
				t.Errorf("the picture is not testdata/%s.png any more (%s): look at both; go test -golden writes it anew", name, difference)
			}
		})
	}
}

// compare says how two pictures differ, or "". Processors that fuse
// multiplications round the edges of lines otherwise: a thousandth of the pixels
// may be off by more than 8 of 255.
func compare(t *testing.T, got, want []byte) string {
	t.Helper()
	a, err := png.Decode(bytes.NewReader(got))
	if err != nil {
		t.Fatal(err)
	}
	b, err := png.Decode(bytes.NewReader(want))
	if err != nil {
		t.Fatal(err)
	}
	if a.Bounds() != b.Bounds() {
		return fmt.Sprintf("its bounds are %v and were %v", a.Bounds(), b.Bounds())
	}
	off, all := 0, a.Bounds().Dx()*a.Bounds().Dy()
	for y := range a.Bounds().Dy() {
		for x := range a.Bounds().Dx() {
			r0, g0, b0, _ := a.At(x, y).RGBA()
			r1, g1, b1, _ := b.At(x, y).RGBA()
			far := func(v, w uint32) bool { return max(v, w)-min(v, w) > 8*0x101 }
			if far(r0, r1) || far(g0, g1) || far(b0, b1) {
				off++
			}
		}
	}
	if off*1000 > all {
		return fmt.Sprintf("%d of %d pixels are off", off, all)
	}
	return ""
}

// The comparison itself: a curve moved by a fifth of a decibel and a changed
// name are seen.
func TestAChangedPictureIsSeen(t *testing.T) {
	draw := func(move float64, label string) []byte {
		b, err := figure.Magnitude(figure.Options{}, box(resonance{45, 0.7}, label).DB(level.Reference).Plus(move)).PNG()
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	if d := compare(t, draw(0, "woofer"), draw(0, "woofer")); d != "" {
		t.Errorf("the same picture: %s", d)
	}
	if d := compare(t, draw(0, "woofer"), draw(0.2, "woofer")); d == "" {
		t.Error("a curve that moved is not seen")
	}
	if d := compare(t, draw(0, "woofer"), draw(0, "a tweeter")); d == "" {
		t.Error("another name is not seen")
	}
}

func some() *figure.Figure {
	return figure.Magnitude(figure.Options{Title: `Boxes "small" & <large>`, Marks: []figure.Mark{{At: 45, Label: "Fs"}}},
		box(resonance{70, 1.1}, "small").DB(level.Reference), box(resonance{45, 0.7}, "large").DB(level.Reference))
}

func TestOutputIsTheSameEachTime(t *testing.T) {
	for name, output := range map[string]func(*figure.Figure) ([]byte, error){"SVG": (*figure.Figure).SVG, "PNG": (*figure.Figure).PNG} {
		f := some()
		first, err := output(f)
		if err != nil {
			t.Fatal(err)
		}
		again, err := output(f)
		if err != nil {
			t.Fatal(err)
		}
		anew, err := output(some())
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(first, again) || !bytes.Equal(first, anew) {
			t.Errorf("%s differs from time to time", name)
		}
	}
}

// The SVG can be put into a page: it is well-formed, refers to nothing outside,
// has no script, and names fonts that every browser has.
func TestSVGStandsAlone(t *testing.T) {
	b, err := some().SVG()
	if err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(bytes.NewReader(b))
	texts := 0
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v", err)
		}
		e, ok := token.(xml.StartElement)
		if !ok {
			continue
		}
		switch e.Name.Local {
		case "svg", "g", "path", "title", "desc":
		case "text":
			texts++
			style := ""
			for _, a := range e.Attr {
				if a.Name.Local == "style" {
					style = a.Value
				}
			}
			if !strings.Contains(style, "font-family:'Liberation Sans',Arimo,Arial,Helvetica,sans-serif;") {
				t.Errorf("text of style %q", style)
			}
		default:
			t.Errorf("element %s", e.Name.Local)
		}
		for _, a := range e.Attr {
			if strings.Contains(a.Name.Local, "href") || strings.HasPrefix(a.Name.Local, "on") {
				t.Errorf("attribute %s=%q", a.Name.Local, a.Value)
			}
		}
	}
	if texts < 15 {
		t.Errorf("%d texts", texts)
	}
	s := string(b)
	if !strings.HasPrefix(s, "<svg ") || !strings.Contains(s, `role="img"`) ||
		!strings.Contains(s, "<title>Boxes &#34;small&#34; &amp; &lt;large&gt;</title>") {
		t.Errorf("begins with %.300s", s)
	}
}

// The ratio of decibels to a decade, measured in the drawing: a curve that falls
// by 25 dB a decade is a diagonal at 45° at a ratio of 25, and so on.
func TestRatioIsKept(t *testing.T) {
	g, err := freq.LogGrid(20, 20000, 12)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		o    figure.Options
		want float64 // dB per decade
	}{
		{figure.Options{}, 25},
		{figure.Options{Bottom: -60, Top: 10}, 50}, // 25 would be too tall
		{figure.Options{Ratio: figure.Ratio10}, 10},
		{figure.Options{Ratio: figure.Ratio25, From: 10, To: 1000}, 25},
		{figure.Options{Ratio: figure.Ratio50, Bottom: -20, Top: 20}, 50},
		{figure.Options{From: 100, To: 1000}, 50},
		{figure.Options{Bottom: -2, Top: 3}, 10}, // small differences
	} {
		v := make([]float64, g.Len())
		for i := range v {
			v[i] = -c.want * math.Log10(g.At(i)/1000)
		}
		slope, err := freq.NewCurve(g, v, "slope", "dB", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		f := figure.Magnitude(c.o, slope)
		b, err := f.SVG()
		if err != nil {
			t.Fatal(err)
		}
		// The curve is the path in the first pen's colour with most points.
		var longest string
		for _, m := range regexp.MustCompile(`<path d="([^"]*)"\s+style="[^"]*#1426A8`).FindAllStringSubmatch(string(b), -1) {
			if len(m[1]) > len(longest) {
				longest = m[1]
			}
		}
		at := regexp.MustCompile(`[ML]([0-9.]+),([0-9.]+)`).FindAllStringSubmatch(longest, -1)
		if len(at) < 5 {
			t.Fatalf("%+v: curve %q", c.o, longest)
		}
		number := func(s string) float64 {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		first, last := at[1], at[len(at)-2]
		run, fall := number(last[1])-number(first[1]), number(first[2])-number(last[2])
		if run < 30 || math.Abs(fall/run-1) > 0.002 {
			t.Errorf("%+v: the slope falls by %.1f over %.1f points, want the same", c.o, fall, run)
		}
		if want := strconv.Itoa(int(c.want)) + " dB take as much room as a decade"; !strings.Contains(f.Caption(), want) {
			t.Errorf("%+v: caption %q does not say that %s", c.o, f.Caption(), want)
		}
	}
}

func TestCaptionSaysWhatTheCurvesAre(t *testing.T) {
	near := box(resonance{45, 0.7}, "near").Stated(freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.NearField})
	far := box(resonance{45, 0.8}, "far").DB(level.Reference)
	for name, c := range map[string]struct {
		valid []figure.Valid
		want  string
	}{
		"one gate": {[]figure.Valid{{Curve: "far", From: 250}, {Curve: "other", From: 250}},
			"near: sound pressure per volt at the way's terminals, near field; " +
				"far and other: sound pressure per volt at the way's terminals, half space, 1 m. " +
				"25 dB take as much room as a decade. Pale and dotted below 250 Hz: not valid there. Demo data."},
		"two gates": {[]figure.Valid{{Curve: "far", From: 250}, {Curve: "near", From: 20}, {Curve: "other", From: 250}},
			"Pale and dotted below 20 Hz (near): not valid there. Pale and dotted below 250 Hz (far and other): not valid there. Demo data."},
	} {
		f := figure.Magnitude(figure.Options{From: 10, Note: "Demo data", Valid: c.valid}, near.DB(level.Reference), far, far.As("other"))
		if f.Err() != nil {
			t.Fatal(f.Err())
		}
		if !strings.HasSuffix(f.Caption(), c.want) {
			t.Errorf("%s: caption %q, want %q", name, f.Caption(), c.want)
		}
		if want := "Not valid below 250 Hz: far and other"; !strings.Contains(f.Alt(), want) {
			t.Errorf("%s: %q is not in %q", name, want, f.Alt())
		}
	}
}

// A demand at one frequency has its name beside it, however short its range is,
// and none where it is not on the axis.
func TestAShortLimitHasItsNameBesideIt(t *testing.T) {
	curve := box(resonance{45, 0.7}, "woofer").DB(level.Reference)
	for name, c := range map[string]struct {
		limit figure.Limit
		texts int // of the limit's name: in the legend, beside the limit
	}{
		"at a frequency":  {figure.Limit{Label: "here", Side: figure.AtLeast, Value: 70, From: 99.9, To: 100.1}, 2},
		"at the edge":     {figure.Limit{Label: "here", Side: figure.AtMost, Value: 90, From: 19500, To: 20100}, 2},
		"over a range":    {figure.Limit{Label: "here", Side: figure.AtLeast, Value: 70, From: 80, To: 120}, 1},
		"not on the axis": {figure.Limit{Label: "here", Side: figure.AtLeast, Value: 70, From: 10, To: 10.2}, 1},
	} {
		b, err := figure.Magnitude(figure.Options{Limits: []figure.Limit{c.limit}}, curve).SVG()
		if err != nil {
			t.Fatal(err)
		}
		if n := strings.Count(string(b), ">here</text>"); n != c.texts {
			t.Errorf("%s: the name stands %d times, want %d", name, n, c.texts)
		}
	}
}

func TestFaultyFiguresSayWhy(t *testing.T) {
	r := box(resonance{45, 0.7}, "woofer")
	c := r.DB(level.Reference)
	delay, err := r.GroupDelay()
	if err != nil {
		t.Fatal(err)
	}
	silent, err := freq.NewCurve(r.Grid(), func() []float64 {
		v := make([]float64, r.Len())
		for i := range v {
			v[i] = math.Inf(-1)
		}
		return v
	}(), "silent", "dB", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	many := []freq.Curve{}
	for _, n := range []string{"a", "b", "c", "d", "e", "f", "g"} {
		many = append(many, c.As(n))
	}
	whole := []figure.Span{{From: 10, To: 24000, Label: "volts"}}
	x := figure.Axis{Name: "x"}
	line := func(x, y []float64) figure.XYPanel {
		return figure.XYPanel{Series: []figure.Series{{Label: "a", X: x, Y: y}}}
	}
	for name, f := range map[string]*figure.Figure{
		"no curve":            figure.Magnitude(figure.Options{}),
		"an empty curve":      figure.Quantity(figure.Options{}, freq.Curve{}),
		"no name":             figure.Magnitude(figure.Options{}, c.As("")),
		"a name twice":        figure.Magnitude(figure.Options{}, c, c),
		"not dB":              figure.Magnitude(figure.Options{}, r.Magnitude()),
		"no delay":            figure.GroupDelay(figure.Options{}, c),
		"no impedance":        figure.Impedance(figure.Options{}, r),
		"two units":           figure.Quantity(figure.Options{}, c, delay.As("delay")),
		"too many":            figure.Magnitude(figure.Options{}, many...),
		"silence":             figure.Magnitude(figure.Options{}, silent),
		"axis":                figure.Magnitude(figure.Options{From: 200, To: 20}, c),
		"axis from nothing":   figure.Magnitude(figure.Options{From: math.NaN(), To: 20}, c),
		"outside":             figure.Magnitude(figure.Options{From: 30000, To: 90000}, c),
		"ratio":               figure.Magnitude(figure.Options{Ratio: 30}, c),
		"levels":              figure.Magnitude(figure.Options{Bottom: 90, Top: 60}, c),
		"limit without name":  figure.Magnitude(figure.Options{Limits: []figure.Limit{{Value: 80}}}, c),
		"limit NaN":           figure.Magnitude(figure.Options{Limits: []figure.Limit{{Label: "l", Value: math.NaN()}}}, c),
		"limit backwards":     figure.Magnitude(figure.Options{Limits: []figure.Limit{{Label: "l", Value: 80, From: 200, To: 100}}}, c),
		"mask of nothing":     figure.Magnitude(figure.Options{Masks: []figure.Mask{{Label: "m"}}}, c),
		"mask in seconds":     figure.Magnitude(figure.Options{Masks: []figure.Mask{{Label: "m", Upper: delay}}}, c),
		"band":                figure.Magnitude(figure.Options{Spans: []figure.Span{{From: 3, To: 2, Label: "s"}}}, c),
		"mark outside":        figure.Magnitude(figure.Options{Marks: []figure.Mark{{At: 5, Label: "s"}}}, c),
		"validity of another": figure.Magnitude(figure.Options{Valid: []figure.Valid{{Curve: "tweeter", From: 5}}}, c),
		"a very long name":    figure.Magnitude(figure.Options{}, c.As(strings.Repeat("long ", 40))),
		"stack with limits":   figure.Stack(figure.Options{Limits: []figure.Limit{{Label: "l"}}}, figure.Panel{Curves: []freq.Curve{c}}),
		"stack of nothing":    figure.Stack(figure.Options{}),
		"log of dB":           figure.LogQuantity(figure.Options{}, c),
		"ceiling, no cause":   figure.Ceiling(figure.Options{}, c, nil),
		"ceiling, a gap":      figure.Ceiling(figure.Options{}, c, []figure.Span{{From: 10, To: 50, Label: "a"}, {From: 90, To: 24000, Label: "b"}}),
		"ceiling, too short":  figure.Ceiling(figure.Options{}, c, []figure.Span{{From: 10, To: 50, Label: "a"}}),
		"ceiling, disorder":   figure.Ceiling(figure.Options{}, c, []figure.Span{{From: 50, To: 24000, Label: "a"}, {From: 10, To: 50, Label: "b"}}),
		"ceiling in seconds":  figure.Ceiling(figure.Options{}, delay, whole),
		"xy of nothing":       figure.XY(figure.XYOptions{}, x),
		"xy, no series":       figure.XY(figure.XYOptions{}, x, figure.XYPanel{}),
		"xy, one point":       figure.XY(figure.XYOptions{}, x, line([]float64{1}, []float64{1})),
		"xy, lengths":         figure.XY(figure.XYOptions{}, x, line([]float64{1, 2}, []float64{1})),
		"xy, NaN":             figure.XY(figure.XYOptions{}, x, line([]float64{1, 2}, []float64{1, math.NaN()})),
		"xy, disorder":        figure.XY(figure.XYOptions{}, x, line([]float64{2, 1}, []float64{1, 1})),
		"xy, one place":       figure.XY(figure.XYOptions{}, x, line([]float64{1, 1}, []float64{1, 2})),
		"xy, mark outside":    figure.XY(figure.XYOptions{Marks: []figure.Mark{{At: 5, Label: "m"}}}, x, line([]float64{1, 2}, []float64{1, 2})),
		"step, rate":          figure.Step(figure.XYOptions{}, x, 0, figure.Trace{Label: "a", Values: []float64{1, 2}}),
	} {
		_, svg := f.SVG()
		_, png := f.PNG()
		if f.Err() == nil || svg != f.Err() || png != f.Err() || !strings.HasPrefix(f.Err().Error(), "figure: ") {
			t.Errorf("%s: errors %v, %v, %v", name, f.Err(), svg, png)
		}
	}
}

// What is constant, tiny, wide, infinite in part or of one point can be drawn.
func TestOddCurvesAreDrawn(t *testing.T) {
	g, err := freq.LogGrid(20, 20000, 48)
	if err != nil {
		t.Fatal(err)
	}
	curve := func(unit string, at func(f float64) float64) freq.Curve {
		v := make([]float64, g.Len())
		for i := range v {
			v[i] = at(g.At(i))
		}
		c, err := freq.NewCurve(g, v, "curve", unit, freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	for name, f := range map[string]*figure.Figure{
		"zero":         figure.Quantity(figure.Options{}, curve("V", func(float64) float64 { return 0 })),
		"constant":     figure.Quantity(figure.Options{}, curve("V", func(float64) float64 { return -3 })),
		"rounding":     figure.Magnitude(figure.Options{}, curve("dB", func(f float64) float64 { return 1e-15 * math.Sin(f) })),
		"tiny":         figure.Quantity(figure.Options{}, curve("Pa", func(f float64) float64 { return 1e-6 * f })),
		"huge":         figure.Quantity(figure.Options{}, curve("Ω", func(f float64) float64 { return 1e12 * f })),
		"decades":      figure.LogQuantity(figure.Options{}, curve("V", func(f float64) float64 { return 1 / f / f })),
		"log constant": figure.LogQuantity(figure.Options{}, curve("V", func(float64) float64 { return 5 })),
		"phase":        figure.Quantity(figure.Options{}, curve("rad", func(f float64) float64 { return -f / 20 })),
		"infinite": figure.Magnitude(figure.Options{}, curve("dB", func(f float64) float64 {
			if f < 1000 {
				return math.Inf(1)
			}
			return 80
		})),
		"long title": figure.Magnitude(figure.Options{Title: strings.Repeat("a long title ", 20)}, curve("dB", func(float64) float64 { return 80 })),
		"many marks": figure.Magnitude(figure.Options{Marks: []figure.Mark{
			{At: 40, Label: "a name that is long"}, {At: 41, Label: "another long name"}, {At: 42, Label: "yet another name"},
			{At: 43, Label: "a fourth name of length"}, {At: 44, Label: "a fifth one"}, {At: 44, Label: "a sixth one"}, {At: 20000, Label: "the very end"},
		}}, curve("dB", func(float64) float64 { return 80 })),
	} {
		b, err := f.SVG()
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if s := string(b); strings.Contains(s, "NaN") || strings.Contains(s, "Inf") {
			t.Errorf("%s: the drawing has coordinates that are no numbers", name)
		}
	}
}
