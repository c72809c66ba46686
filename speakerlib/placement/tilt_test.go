package placement_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/placement"
)

// The straight line of so many decibels per octave through the pivot.
func TestTilt(t *testing.T) {
	g := grid(t, 20, 20e3, 24)
	for _, c := range []struct{ slope, within float64 }{{-1, 0.05}, {-0.5, 0.025}, {0.75, 0.04}, {2, 0.11}} {
		tilt := placement.Tilt{PerOctave: c.slope, Pivot: 700, From: 30, To: 16e3, SampleRate: fs}
		f := must[*placement.Tilted](t)(tilt.Filter(g))
		if n := f.Cascade.Len(); n != 7 {
			t.Errorf("%d shelves over nine octaves, want 7", n)
		}
		worst := 0.0
		for i := range g.Len() {
			if hz := g.At(i); hz > 120 && hz < 4000 {
				worst = max(worst, math.Abs(f.Response.At(i)-c.slope*math.Log2(hz/700)))
			}
		}
		if worst > c.within {
			t.Errorf("%g dB per octave: off by %.3f dB two octaves inside, want at most %g", c.slope, worst, c.within)
		}
		if math.Abs(f.Worst) < worst || math.Abs(f.Worst) > 0.45*math.Abs(c.slope) {
			t.Errorf("%g dB per octave: worst %.3f dB at %.0f Hz", c.slope, f.Worst, f.WorstAt)
		}
		// Shelves have all of their gain at 0 Hz and at half the sample rate, however little of
		// it a grid sees: the whole rise is that of the slope over the band.
		narrow := must[*placement.Tilted](t)(tilt.Filter(grid(t, 500, 1000, 24)))
		if rise := f.Most - f.Least; math.Abs(rise-math.Abs(c.slope)*math.Log2(16e3/30)) > 1e-9 || narrow.Most != f.Most || narrow.Least != f.Least {
			t.Errorf("%g dB per octave: %.2f dB in all, and %.2f … %.2f dB on a narrow grid", c.slope, rise, narrow.Least, narrow.Most)
		}
	}
	flat := must[*placement.Tilted](t)(placement.Tilt{Pivot: 700, From: 30, To: 16e3, SampleRate: fs}.Filter(g))
	if flat.Cascade.Len() != 0 || flat.Most != 0 || flat.Worst != 0 {
		t.Errorf("no slope: %v", flat)
	}
	for _, bad := range []placement.Tilt{
		{PerOctave: 4, Pivot: 700, From: 30, To: 16e3, SampleRate: fs},
		{PerOctave: math.NaN(), Pivot: 700, From: 30, To: 16e3, SampleRate: fs},
		{PerOctave: 1, Pivot: 20, From: 30, To: 16e3, SampleRate: fs},
		{PerOctave: 1, Pivot: 700, From: 0, To: 16e3, SampleRate: fs},
		{PerOctave: 1, Pivot: 700, From: 600, To: 1000, SampleRate: fs},
		{PerOctave: 1, Pivot: 700, From: 2, To: 20e3, SampleRate: fs},
		{PerOctave: 1, Pivot: 700, From: 30, To: 50e3, SampleRate: fs},
	} {
		if _, err := bad.Filter(g); err == nil {
			t.Errorf("%+v was taken", bad)
		}
	}
	// Below half the sample rate, for the band and for the grid.
	slow := placement.Tilt{PerOctave: 1, Pivot: 700, From: 500, To: 11e3, SampleRate: 24000}
	below := grid(t, 20, 10e3, 12)
	if f := must[*placement.Tilted](t)(slow.Filter(below)); f.Cascade.Len() != 3 {
		t.Errorf("%d shelves over four octaves and a half, want 3", f.Cascade.Len())
	}
	if _, err := slow.Filter(g); err == nil {
		t.Error("a tilt at 24 kHz on a grid up to 20 kHz")
	}
	slow.To = 12000
	if _, err := slow.Filter(below); err == nil {
		t.Error("a tilt up to half the sample rate")
	}
	if _, err := slow.Filter(nil); err == nil {
		t.Error("a tilt on no grid")
	}
}

// 4 V to full scale where 2 V were: 6.02 dB less. Less than 2 V would be turned up, by 12.04 dB
// if 0.5 V were to reach it, and is refused.
func TestSensitivity(t *testing.T) {
	for full, want := range map[float64]float64{2: 1, 4: 0.5, 8: 0.25} {
		c := must[*digital.Cascade](t)(placement.Sensitivity(2, full, fs))
		if c.Gain() != want || c.Len() != 0 || c.SampleRate() != fs {
			t.Errorf("%g V: gain %g, want %g", full, c.Gain(), want)
		}
	}
	for full, want := range map[float64]string{0.5: "sensitivity of 0.5 V for a nominal one of 2 V is a gain of +12.0 dB", 1: "+6.0 dB", 1.999: "+0.0 dB"} {
		if c, err := placement.Sensitivity(2, full, fs); err == nil || !strings.Contains(err.Error(), want) || c != nil {
			t.Errorf("%g V: %v, want %q", full, err, want)
		}
	}
	for _, v := range []float64{0, -1, math.Inf(1), math.Inf(-1), math.NaN()} {
		if _, err := placement.Sensitivity(2, v, fs); err == nil {
			t.Errorf("%g V was taken", v)
		}
		if _, err := placement.Sensitivity(v, 2, fs); err == nil {
			t.Errorf("a nominal %g V was taken", v)
		}
	}
	if c := must[*digital.Cascade](t)(placement.Sensitivity(0.5, 1, fs)); c.Gain() != 0.5 {
		t.Errorf("half a volt to one: %g", c.Gain())
	}
}
