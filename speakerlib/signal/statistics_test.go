package signal_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/signal"
)

// A sine of 37 periods: crest √2, and the share of the time at or above a of its
// peak is 1 − (2/π)·arcsin a (the arcsine distribution).
func TestStatisticsOfSine(t *testing.T) {
	x := make([]float64, 100003)
	for i := range x {
		x[i] = 3 * math.Sin(2*math.Pi*37*float64(i)/float64(len(x)))
	}
	s := signal.StatisticsOf(x)
	if math.Abs(s.Crest()-math.Sqrt2) > 1e-6 || math.Abs(s.RMS-3/math.Sqrt2) > 1e-9 || math.Abs(s.Mean) > 1e-9 {
		t.Errorf("sine of 3: %+v, crest %g", s, s.Crest())
	}
	bins, err := signal.Histogram(x, signal.HistogramSetup{Reference: 3, Lowest: -40, Step: 1})
	if err != nil {
		t.Fatal(err)
	}
	if last := bins[len(bins)-1].From; last != -1 {
		t.Errorf("highest bin begins at %g dB, want -1", last)
	}
	var sum float64
	for k, b := range bins {
		sum += b.Share
		want := 1 - 2/math.Pi*math.Asin(math.Exp(b.From*math.Ln10/20))
		if k > 0 && math.Abs(b.Above-want) > 2e-4 {
			t.Errorf("at or above %g dB for %.5f of the time, want %.5f", b.From, b.Above, want)
		}
	}
	if math.Abs(sum-1) > 1e-12 || bins[0].Above != 1 {
		t.Errorf("shares add up to %g, and %g is at or above the lowest", sum, bins[0].Above)
	}
	// Windows of whole periods all have the rms, −3.01 dB.
	bins, err = signal.Histogram(x, signal.HistogramSetup{Reference: 3, Lowest: -10, Step: 0.5, Window: 27028})
	if err != nil || len(bins) != 14 || bins[13].Share != 1 {
		t.Errorf("rms of ten periods: %+v, %v, want all from -3.5 to -3 dB", bins, err)
	}
	if c := (signal.Statistics{}).Crest(); c != 0 {
		t.Errorf("crest of silence is %g", c)
	}
}

// Lines add up to the mean square (Parseval), of a length that is no fast one too,
// and a sine is in its band.
func TestSpectrumKeepsThePower(t *testing.T) {
	x := make([]float64, 47_999) // a multiple of 7 and 6857
	for i := range x {
		x[i] = 0.25 + 2*math.Sin(2*math.Pi*1000*float64(i)/48e3) + math.Sin(2*math.Pi*125.3*float64(i)/48e3)
	}
	clip, err := signal.NewClip(48e3, x)
	if err != nil {
		t.Fatal(err)
	}
	s, err := signal.SpectrumOf(clip, 0)
	if err != nil {
		t.Fatal(err)
	}
	var sum float64
	for k := range s.Len() {
		sum += s.At(k)
	}
	want := signal.StatisticsOf(x).RMS
	if math.Abs(sum/(want*want)-1) > 1e-12 || math.Abs(s.Power(0, 30e3)/sum-1) > 1e-12 {
		t.Errorf("lines add up to %.12g and bands to %.12g, mean square is %.12g", sum, s.Power(0, 30e3), want*want)
	}
	bands, err := s.ThirdOctaves(125, 1000)
	if err != nil || len(bands) != 10 {
		t.Fatalf("%d bands, %v, want 10", len(bands), err)
	}
	if math.Abs(bands[0].Power-0.5) > 0.005 || math.Abs(bands[9].Power-2) > 0.01 || bands[5].Power > 1e-3 {
		t.Errorf("sines of mean square 0.5 and 2: %+v", bands)
	}
	for _, c := range []struct {
		lo, hi float64
		want   string
	}{{5, 100, "at least 3"}, {1e3, 25e3, "goes up to"}, {0, 10, "0 < from"}} {
		if _, err := s.ThirdOctaves(c.lo, c.hi); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("bands of %g to %g Hz: %v, want an error with %q", c.lo, c.hi, err, c.want)
		}
	}
	if _, err := signal.SpectrumOf(clip, 1); err == nil {
		t.Error("a channel that is not there was accepted")
	}
}

func TestFastLength(t *testing.T) {
	fast := func(n int) bool {
		for _, p := range []int{2, 3, 5} {
			for n%p == 0 {
				n /= p
			}
		}
		return n == 1
	}
	want := 2
	for n := range 5000 {
		for want < n || !fast(want) || want%2 == 1 {
			want++
		}
		if got := signal.FastLength(n); got != want {
			t.Fatalf("fast length of %d is %d, want %d", n, got, want)
		}
	}
}

func TestHistogramRefusals(t *testing.T) {
	for name, h := range map[string]signal.HistogramSetup{
		"reference":      {Reference: 0, Step: 1},
		"step":           {Reference: 1, Step: 0},
		"from -Inf dB":   {Reference: 1, Step: 1, Lowest: math.Inf(-1)},
		"want at least":  {Reference: 1, Step: 1, Window: 5},
		"want at most":   {Reference: 1, Step: 1e-9, Lowest: -60},
		"steps of NaN d": {Reference: 1, Step: math.NaN()},
	} {
		if b, err := signal.Histogram([]float64{1, 1}, h); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%+v: %v, %v, want an error with %q", h, b, err, name)
		}
	}
}
