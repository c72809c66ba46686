package figure

import (
	"math"
	"testing"

	"gonum.org/v1/plot/vg"
)

// sights are colours as people see them whose sight lacks one kind of cone: matrices for
// full severity on linear RGB, G. Machado, M. Oliveira, L. Fernandes, IEEE
// Trans. Visualization and Computer Graphics 15 (2009), table 1 (from memory).
// Distances between them are in CIE L*a*b* 1976, white point D65 (IEC 61966-2-1 for sRGB).
func sights() map[string][3][3]float64 {
	return map[string][3][3]float64{
		"normal":       {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
		"protanopia":   {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
		"deuteranopia": {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
		"tritanopia":   {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
	}
}

// Curves are told apart by their colours.
func TestColoursStayApartForEverySight(t *testing.T) {
	for name, m := range sights() {
		var seen [][3]float64
		for _, p := range pens() {
			seen = append(seen, lab(mul(m, linear(p.colour))))
		}
		for i := range seen {
			for j := range i {
				// 2.3 is a just noticeable difference (M. Mahy et al., 1994); lines
				// are thin, so ten of them are wanted.
				if d := distance(seen[i], seen[j]); d < 23 {
					t.Errorf("%s: pens %d and %d are %.1f apart, want at least 23", name, i, j, d)
				}
			}
		}
	}
	// Contrast of graphics: at least 3 to 1 (W3C WCAG 2.1, criterion 1.4.11).
	for i, p := range pens() {
		if k := contrast(p.colour, white); k < 3 {
			t.Errorf("pen %d has a contrast of %.2f to white, want at least 3", i, k)
		}
	}
}

// contrast of two colours, 1 to 21, by their relative luminance (W3C WCAG 2.1).
func contrast(a, b rgba) float64 {
	luminance := func(c rgba) float64 { v := linear(c); return 0.2126*v[0] + 0.7152*v[1] + 0.0722*v[2] }
	hi, lo := max(luminance(a), luminance(b)), min(luminance(a), luminance(b))
	return (hi + 0.05) / (lo + 0.05)
}

func linear(c rgba) (v [3]float64) {
	s := c.straight()
	for i, u := range []uint8{s.R, s.G, s.B} {
		x := float64(u) / 255
		if x <= 0.04045 {
			v[i] = x / 12.92
		} else {
			v[i] = math.Pow((x+0.055)/1.055, 2.4)
		}
	}
	return v
}

func mul(m [3][3]float64, v [3]float64) (w [3]float64) {
	for i := range m {
		for j := range v {
			w[i] += m[i][j] * v[j]
		}
		w[i] = clamp(w[i])
	}
	return w
}

func lab(rgb [3]float64) [3]float64 {
	xyz := mul([3][3]float64{{0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}}, rgb)
	var f [3]float64
	for i, white := range []float64{0.9505, 1, 1.089} {
		if r := xyz[i] / white; r > 216.0/24389 {
			f[i] = math.Cbrt(r)
		} else {
			f[i] = (24389.0/27*r + 16) / 116
		}
	}
	return [3]float64{116*f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])}
}

func distance(a, b [3]float64) float64 {
	return math.Sqrt((a[0]-b[0])*(a[0]-b[0]) + (a[1]-b[1])*(a[1]-b[1]) + (a[2]-b[2])*(a[2]-b[2]))
}

func TestPensDifferInMoreThanColour(t *testing.T) {
	all := pens()
	for i := range all {
		for j := range i {
			same := len(all[i].dashes) == len(all[j].dashes)
			for k := 0; same && k < len(all[i].dashes); k++ {
				same = all[i].dashes[k] == all[j].dashes[k]
			}
			if same {
				t.Errorf("pens %d and %d have the same dashes", j, i)
			}
		}
	}
}

// Names above the plot do not touch, and no thread runs through a name, for
// marks as close as a study has them.
func TestNamesAboveThePlotAreClear(t *testing.T) {
	fonts := newFaces()
	f := &Figure{x: logScale(20, 20000, hertz)}
	for _, m := range []Mark{{35.5, "−6 dB by the brief"}, {38.5, "new tuning"}, {49, "tuning as sold"}, {2300, "crossover"}, {3000, "as sold"}, {19000, "end of the band"}} {
		f.strip = append(f.strip, flag{from: m.At, to: m.At, label: m.Label})
	}
	at, rows := f.placeStrip(fonts)
	if rows > 3 {
		t.Errorf("%d rows, want at most 3", rows)
	}
	for i, a := range at {
		end := a.x + fonts.width(f.strip[i].label, textSize, false)
		if a.x < 0 || end > pageWidth {
			t.Errorf("%q is outside", f.strip[i].label)
		}
		for j, b := range at {
			if i == j {
				continue
			}
			other := b.x + fonts.width(f.strip[j].label, textSize, false)
			if a.row == b.row && a.x < other && b.x < end {
				t.Errorf("%q touches %q", f.strip[i].label, f.strip[j].label)
			}
			if x := f.thread(f.strip[j]); b.row > a.row && a.x < x && x < end {
				t.Errorf("the thread of %q runs through %q", f.strip[j].label, f.strip[i].label)
			}
		}
	}
}

// Thinning keeps what can be seen: no more than four points a quarter point,
// and the lowest and highest of all.
func TestThinningKeepsPeaks(t *testing.T) {
	var run []vg.Point
	for i := range 100000 {
		y := vg.Length(0)
		if i == 54321 {
			y = 100
		}
		if i == 77777 {
			y = -100
		}
		run = append(run, vg.Point{X: vg.Length(i) / 1000, Y: y})
	}
	kept := thin(run)
	lo, hi := vg.Length(0), vg.Length(0)
	for _, p := range kept {
		lo, hi = min(lo, p.Y), max(hi, p.Y)
	}
	if lo != -100 || hi != 100 || len(kept) > 4*401 || kept[0] != run[0] || kept[len(kept)-1] != run[len(run)-1] {
		t.Errorf("kept %d points from %v to %v", len(kept), lo, hi)
	}
}

func TestTicks(t *testing.T) {
	labels := func(s scale) (all []string) {
		for _, k := range s.ticks {
			if k.label != "" {
				all = append(all, k.label)
			}
		}
		return all
	}
	for _, c := range []struct {
		name string
		s    scale
		want []string
	}{
		{"audio band", logScale(20, 20000, hertz), []string{"20", "50", "100", "200", "500", "1k", "2k", "5k", "10k", "20k"}},
		{"less than a decade", logScale(100, 500, hertz), []string{"100", "200", "300", "400", "500"}},
		{"below one", logScale(0.1, 1, number), []string{"0.1", "0.2", "0.5", "1"}},
		{"signed", linearScale(-0.5, 1, 0.5), []string{"−0.5", "0.0", "0.5", "1.0"}},
		{"not from a multiple", linearScale(33, 49, 5), []string{"35", "40", "45"}},
		{"levels", levelScale(70, 90, 6.4), []string{"70", "75", "80", "85", "90"}},
		{"fine levels", levelScale(-1, 1, 32), []string{"−1.0", "−0.5", "0.0", "0.5", "1.0"}},
	} {
		got := labels(c.s)
		if len(got) != len(c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
			continue
		}
		for i := range got {
			if got[i] != c.want[i] {
				t.Errorf("%s: %q, want %q", c.name, got, c.want)
				break
			}
		}
	}
}
