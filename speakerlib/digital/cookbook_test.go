package digital_test

import (
	"math"
	"math/cmplx"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// R. Bristow-Johnson, "Audio EQ Cookbook", W3C Working Group Note, 2021: all
// section types at 48 and 96 kHz, computed outside this library by two routes
// (datasets/reference/README.md).
func TestCookbookAgainstTheNote(t *testing.T) {
	num := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	kinds := map[string]int{}
	for i, row := range testtable.Read(t, "../../datasets/reference/eq_cookbook.csv") {
		kind, note := row.Text(t, "type"), row.Text(t, "note")
		fs, f0, gain, q := row.Number(t, "fs_hz"), row.Number(t, "f0_hz"), level.Ratio(row.Number(t, "gain_db")), row.Number(t, "Q")
		if b, ok := strings.CutPrefix(note, "BW="); ok {
			got, err := digital.BandwidthQ(f0, num(strings.TrimSuffix(b, " oct")), fs)
			if err != nil || math.Abs(got/q-1) > 1e-11 {
				t.Errorf("row %d: Q of %s is %.13g, %v, want %.13g", i+2, note, got, err, q)
			}
			q = got
		}
		slope := 0.0
		if s, ok := strings.CutPrefix(note, "S="); ok {
			slope = num(s)
			if got, err := digital.ShelfQ(gain, slope); err != nil || math.Abs(got/q-1) > 1e-11 {
				t.Errorf("row %d: Q of %s is %.13g, %v, want %.13g", i+2, note, got, err, q)
			}
		} else if q == 0.707106781187 {
			q = math.Sqrt(0.5) // the table prints 12 digits
		}
		var s digital.Section
		switch kind {
		case "lpf":
			s = digital.Lowpass{F0: f0, Q: q}
		case "hpf":
			s = digital.Highpass{F0: f0, Q: q}
		case "bpf0db":
			s = digital.Bandpass{F0: f0, Q: q}
		case "notch":
			s = digital.Notch{F0: f0, Q: q}
		case "apf":
			s = digital.Allpass{F0: f0, Q: q}
		case "peaking":
			s = digital.Peak{F0: f0, Gain: gain, Q: q}
		case "lowshelf":
			s = digital.LowShelf{F0: f0, Gain: gain, Q: q}
			if slope != 0 {
				s = digital.LowShelfSlope{F0: f0, Gain: gain, Slope: slope}
			}
		case "highshelf":
			s = digital.HighShelf{F0: f0, Gain: gain, Q: q}
			if slope != 0 {
				s = digital.HighShelfSlope{F0: f0, Gain: gain, Slope: slope}
			}
		default:
			t.Fatalf("row %d: kind %q", i+2, kind)
		}
		kinds[kind]++
		b, err := s.Biquad(fs)
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		for name, got := range map[string]float64{"b0": b.B0, "b1": b.B1, "b2": b.B2, "a1": b.A1, "a2": b.A2} {
			want := row.Number(t, name)
			if d := math.Abs(got - want); d > 1e-12 {
				t.Errorf("row %d %v: coefficient %s is %.14e, want %.14e", i+2, s, name, got, want)
			}
		}
		if want := row.Number(t, "gain_at_f0_db"); !math.IsInf(want, -1) && kind != "notch" {
			if got := level.DB(cmplx.Abs(b.At(f0, fs))); math.Abs(got-want) > 2e-9 {
				t.Errorf("row %d %v: level at F0 is %.10f dB, want %.10f dB", i+2, s, got, want)
			}
		}
	}
	if len(kinds) != 8 {
		t.Errorf("table has the kinds %v, want 8 of them", kinds)
	}
}

// What the note says of each section in words: gains at direct current, at F0
// and at half the sample rate; the band-pass with constant skirts peaks at Q.
func TestSectionsAtTheirLandmarks(t *testing.T) {
	const fs, f0 = 96000.0, 1234.5
	g := level.Ratio(-7.3)
	root := math.Sqrt(g)
	third := math.Sqrt(0.5)
	for _, c := range []struct {
		s            digital.Section
		dc, at, half float64
	}{
		{digital.Lowpass{f0, 3}, 1, 3, 0},
		{digital.Highpass{f0, 3}, 0, 3, 1},
		{digital.Bandpass{f0, 3}, 0, 1, 0},
		{digital.BandpassSkirt{f0, 3}, 0, 3, 0},
		{digital.Notch{f0, 3}, 1, 0, 1},
		{digital.Allpass{f0, 3}, 1, 1, 1},
		{digital.Peak{f0, g, 3}, 1, g, 1},
		{digital.LowShelf{f0, g, 0.9}, g, root, 1},
		{digital.HighShelf{f0, g, 0.9}, 1, root, g},
		{digital.LowShelfSlope{f0, g, 0.8}, g, root, 1},
		{digital.HighShelfSlope{f0, g, 0.8}, 1, root, g},
		{digital.FirstLowpass{f0}, 1, third, 0},
		{digital.FirstHighpass{f0}, 0, third, 1},
		{digital.FirstAllpass{f0}, 1, 1, 1},
		{digital.FirstLowShelf{f0, g}, g, root, 1},
		{digital.FirstHighShelf{f0, g}, 1, root, g},
	} {
		b, err := c.s.Biquad(fs)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range [][2]float64{{0, c.dc}, {f0, c.at}, {fs / 2, c.half}} {
			if got := cmplx.Abs(b.At(p[0], fs)); math.Abs(got-p[1]) > 1e-11 {
				t.Errorf("%v: magnitude at %g Hz is %.14g, want %.14g", c.s, p[0], got, p[1])
			}
		}
	}
	// A first-order all-pass turns by −90° at F0.
	b, err := digital.FirstAllpass{f0}.Biquad(fs)
	if err != nil {
		t.Fatal(err)
	}
	if got := cmplx.Phase(b.At(f0, fs)); math.Abs(got+math.Pi/2) > 1e-12 {
		t.Errorf("phase of the first-order all-pass at F0 is %g rad, want −π/2", got)
	}
}

func TestSectionsRefuse(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		s    digital.Section
		rate float64
		want string
	}{
		{digital.Peak{25000, 2, 1}, 48000, "25000 Hz, want > 0 and < 24000 Hz"},
		{digital.Peak{24000, 2, 1}, 48000, "24000 Hz"},
		{digital.Peak{0, 2, 1}, 48000, "0 Hz"},
		{digital.Peak{nan, 2, 1}, 48000, "NaN Hz"},
		{digital.Peak{100, 0, 1}, 48000, "gain ratio of peak is 0"},
		{digital.Peak{100, inf, 1}, 48000, "gain ratio of peak is +Inf"},
		{digital.Peak{100, 2, -1}, 48000, "Q of peak is -1"},
		{digital.LowShelf{100, -2, 1}, 48000, "gain ratio of low shelf is -2"},
		{digital.HighShelf{100, nan, 1}, 48000, "gain ratio of high shelf is NaN"},
		{digital.HighShelfSlope{100, 10, 9}, 48000, "slope of a shelf of gain 10 is 9, want <"},
		{digital.FirstLowShelf{100, 0}, 48000, "gain ratio"},
		{digital.FirstHighpass{1e6}, 48000, "1e+06 Hz"},
		{digital.Lowpass{100, 1}, 0, "sample rate is 0 Hz"},
		{digital.Lowpass{100, 1}, nan, "sample rate is NaN Hz"},
		{digital.Lowpass{1000, 1e18}, 48000, "pole radius"},
		{digital.Given{44100, digital.Biquad{B0: 1}, "x"}, 48000, "coefficients for 44100 Hz, want 48000 Hz"},
	} {
		_, err := digital.NewCascade(c.rate, c.s)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v at %g Hz: error %v, want one with %q", c.s, c.rate, err, c.want)
		}
	}
	if _, err := digital.NewCascade(48000, nil); err == nil {
		t.Error("nil section accepted")
	}
	if _, err := digital.ShelfQ(-1, 1); err == nil {
		t.Error("negative gain of a shelf accepted")
	}
	if _, err := digital.BandwidthQ(100, nan, 48000); err == nil {
		t.Error("NaN octaves accepted")
	}
	for what, err := range map[string]error{
		"wide": second(digital.BandwidthQ(100, 1e9, 48000)), "narrow": second(digital.BandwidthQ(100, 1e-320, 48000)),
		"flat shelf": second(digital.ShelfQ(2, 1e-320)),
	} {
		if err == nil || !strings.Contains(err.Error(), "want a finite value > 0") {
			t.Errorf("%s, whose Q is 0 or infinite: error %v", what, err)
		}
	}
}
