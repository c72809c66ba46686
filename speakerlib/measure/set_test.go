package measure_test

import (
	"bytes"
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
)

var farBasis = freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}

// asTable writes a response down and reads it back, with the name of a set.
func asTable(t testing.TB, r freq.Response, timeZero string) *measure.Table {
	t.Helper()
	var file bytes.Buffer
	if err := measure.Write(&file, r); err != nil {
		t.Fatal(err)
	}
	tb, err := measure.ReadResponse(&file, r.Label()+".txt", measure.Format{TimeZero: timeZero})
	if err != nil {
		t.Fatal(err)
	}
	return tb
}

// twoWays are a low-pass and a high-pass with the given times of flight.
func twoWays(t testing.TB, g *freq.Grid, low, high, both float64) (woofer, tweeter, sum freq.Response) {
	t.Helper()
	w := 2 * math.Pi * 2300
	lp := &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1.4/w, 1/(w*w))}
	hp := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1/(w*w)), Den: freq.NewPoly(1, 1.4/w, 1/(w*w))}
	woofer = evaluate(t, freq.Series{lp, freq.Delay(low)}, g, "woofer", farBasis)
	tweeter = evaluate(t, freq.Series{hp, freq.Delay(high)}, g, "tweeter", farBasis)
	later := evaluate(t, freq.Series{hp, freq.Delay(both)}, g, "both", farBasis)
	sum, err := later.Add(woofer)
	if err != nil {
		t.Fatal(err)
	}
	return woofer, tweeter, sum
}

// The check finds a delay that was put in, to a hundredth of a microsecond.
func TestCheckFindsTheDelay(t *testing.T) {
	g := logGrid(t, 200, 20e3, 48)
	for _, shift := range []float64{0, 1e-6, -25e-6, 400e-6} {
		w, tw, both := twoWays(t, g, 3.00e-3, 2.91e-3, 2.91e-3+shift)
		louder, err := both.Mul(evaluate(t, freq.Gain(1.02), g, "", farBasis))
		if err != nil {
			t.Fatal(err)
		}
		s, err := measure.NewSet(asTable(t, w, "a"), asTable(t, tw, "a"), asTable(t, louder, "a"))
		if err != nil {
			t.Fatal(err)
		}
		c, err := s.Check("woofer", "tweeter", "both", 300, 15e3)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(c.Delay-shift) > 1e-8 || math.Abs(c.Gain-1.02) > 1e-6 || c.Left > -90 {
			t.Errorf("shift %g s: %v", shift, c)
		}
		// With no shift only the gain is left: 0.02/1.02 is −34.2 dB.
		if shift == 0 && math.Abs(c.Residual-level.DB(0.02/1.02)) > 1e-6 {
			t.Errorf("residual %.3f dB, want %.3f", c.Residual, level.DB(0.02/1.02))
		}
		if shift == 400e-6 && c.Residual < -10 {
			t.Errorf("residual %.1f dB with a shift of 400 µs", c.Residual)
		}
	}
}

func TestFlightOfAPureDelay(t *testing.T) {
	lines, err := freq.LinearGrid(93.75, 24000, 1021)
	if err != nil {
		t.Fatal(err)
	}
	for _, flight := range []float64{0, 1e-4, 4.2786e-3, 19e-3} {
		for _, gain := range []freq.Gain{1, -0.2} {
			r := evaluate(t, freq.Series{gain, freq.Delay(flight)}, lines, "delay", farBasis)
			s, err := measure.NewSet(asTable(t, r, "a"))
			if err != nil {
				t.Fatal(err)
			}
			got, err := s.Flight("delay", 1000, 20e3, 20e-3)
			if err != nil || math.Abs(got-flight) > 1e-9 {
				t.Errorf("%g s (%v), want %g", got, err, flight)
			}
			moved, err := s.Without(got)
			if err != nil {
				t.Fatal(err)
			}
			m, err := moved.Response("delay")
			if err != nil {
				t.Fatal(err)
			}
			if d := cmplx.Abs(m.At(500) - complex(float64(gain), 0)); d > 1e-3 || moved.Removed() != got {
				t.Errorf("after removing %g s it is %v", moved.Removed(), m.At(500))
			}
			back, err := moved.Without(-got)
			if err != nil || back.Removed() != 0 {
				t.Errorf("put back, %g s are removed (%v)", back.Removed(), err)
			}
		}
	}
}

func TestSetRefuses(t *testing.T) {
	g, h := logGrid(t, 200, 20e3, 12), logGrid(t, 300, 20e3, 12)
	w, tw, both := twoWays(t, g, 0, 0, 0)
	other, _, _ := twoWays(t, h, 0, 0, 0)
	for want, tables := range map[string][]*measure.Table{
		"set of no table":                    nil,
		"tweeter.txt does not say whose":     {asTable(t, w, "a"), asTable(t, tw, "")},
		`time zero of "b", want "a"`:         {asTable(t, w, "a"), asTable(t, tw, "b")},
		"want the same frequencies":          {asTable(t, w, "a"), asTable(t, other.As("other"), "a")},
		`two tables of the set are labelled`: {asTable(t, w, "a"), asTable(t, w, "a")},
	} {
		if _, err := measure.NewSet(tables...); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
	s, err := measure.NewSet(asTable(t, w, "a"), asTable(t, tw, "a"), asTable(t, both, "a"),
		asTable(t, w.As("per input").Stated(freq.Basis{Quantity: freq.Pressure, Per: freq.PerInput, Space: freq.FullSpace, Distance: 1}), "a"))
	if err != nil {
		t.Fatal(err)
	}
	if s.TimeZero() != "a" || fmt.Sprint(s.Labels()) != "[woofer tweeter both per input]" {
		t.Errorf("%q, %v", s.TimeZero(), s.Labels())
	}
	for want, f := range map[string]func() error{
		`no "nobody" in the set, want one of woofer`: func() error { _, err := s.Response("nobody"); return err },
		`no "x"`:                func() error { _, err := s.Check("x", "tweeter", "both", 1, 2); return err },
		`no "y"`:                func() error { _, err := s.Check("woofer", "y", "both", 1, 2); return err },
		`no "z"`:                func() error { _, err := s.Check("woofer", "tweeter", "z", 1, 2); return err },
		"want the same basis":   func() error { _, err := s.Check("per input", "tweeter", "both", 300, 1e4); return err },
		"0 points within":       func() error { _, err := s.Check("woofer", "tweeter", "both", 1, 2); return err },
		"want at least 8":       func() error { _, err := s.Flight("tweeter", 1000, 1100, 1e-3); return err },
		"latest arrival":        func() error { _, err := s.Flight("tweeter", 1000, 2e4, 1); return err },
		"want a finite value":   func() error { _, err := s.Without(math.NaN()); return err },
		"more than 0 and less ": func() error { _, err := s.Flight("tweeter", 1000, 2e4, math.NaN()); return err },
	} {
		if err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

// Searches end, whatever a file holds: silence has no arrival, and a line at an
// absurd frequency would make the steps of a search endless.
func TestSearchesEnd(t *testing.T) {
	set := func(hz []float64, v complex128) *measure.Set {
		g, err := freq.NewGrid(hz)
		if err != nil {
			t.Fatal(err)
		}
		s, err := measure.NewSet(asTable(t, evaluate(t, freq.Gain(real(v)), g, "x", farBasis), "a"))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	lines := []float64{1, 2, 3, 4, 5, 6, 7, 8, 9}
	if _, err := set(lines, 0).Flight("x", 1, 9, 1e9); err == nil || !strings.Contains(err.Error(), "silent") {
		t.Errorf("flight of silence: %v", err)
	}
	absurd := append(lines[:8:8], 1e140)
	if _, err := set(absurd, 1).Check("x", "x", "x", 1, 1e150); err == nil || !strings.Contains(err.Error(), "trial") {
		t.Errorf("check up to 1e140 Hz: %v", err)
	}
	for i := range absurd {
		absurd[i] = 1e140 + float64(i)*1e130
	}
	if _, err := set(absurd, 1).Flight("x", 1, 1e150, 1e-131); err == nil || !strings.Contains(err.Error(), "trials") {
		t.Errorf("flight at 1e140 Hz: %v", err)
	}
	g := logGrid(t, 100, 1e12, 12)
	r := evaluate(t, freq.Gain(1), g, "x", farBasis)
	if _, _, err := measure.Splice(r, r, 200, 1e11, g); err == nil || !strings.Contains(err.Error(), "trial") {
		t.Errorf("joining up to 1e11 Hz: %v", err)
	}
}
