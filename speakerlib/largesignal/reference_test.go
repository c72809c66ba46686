package largesignal

import (
	"encoding/csv"
	"math"
	"math/cmplx"
	"os"
	"strconv"
	"testing"
)

// table reads a file of testdata: the rows of a case, numbers only.
func table(t *testing.T, name, which string) (rows [][]float64) {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	c := csv.NewReader(f)
	c.Comment = '#'
	all, err := c.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range all[1:] {
		if line[0] != which {
			continue
		}
		row := make([]float64, len(line)-1)
		for k := range row {
			if row[k], err = strconv.ParseFloat(line[k+1], 64); err != nil {
				t.Fatal(err)
			}
		}
		rows = append(rows, row)
	}
	if len(rows) == 0 {
		t.Fatalf("%s has no case %s", name, which)
	}
	return rows
}

// against runs the sum of tones (Hz, V peak) from rest and returns the largest distance of
// five states from stored ones, each over its largest magnitude there.
func against(t *testing.T, file, which string, rate float64, method Method, tones ...[2]float64) (worst float64) {
	t.Helper()
	rows := table(t, file, which)
	w, l := woofer()
	r := start(t, build(t, w, l, Options{Method: method}), rate)
	n := int(rate*rows[len(rows)-1][0]) + 1
	at := func(k int) (u float64) {
		for _, o := range tones {
			u += o[1] * math.Sin(2*math.Pi*o[0]*float64(k)/rate)
		}
		return u
	}
	tr, flow := NewTrace(n), make([]float64, n)
	for k := 0; k < n; k += block {
		m := min(block, n-k)
		for j := range m + 5 {
			r.drive[j] = at(k + j - 2)
		}
		r.advance(m, k, tr)
		for j := range m {
			flow[k+j] = r.out[j].u
		}
	}
	var most, off [5]float64
	for _, row := range rows {
		k := int(math.Round(row[0] * rate))
		for j, got := range []float64{tr.Current[k], tr.Cone[k], tr.Velocity[k], tr.Pressure[k], flow[k]} {
			most[j] = max(most[j], math.Abs(row[j+1]))
			off[j] = max(off[j], math.Abs(got-row[j+1]))
		}
	}
	for j := range off {
		worst = max(worst, off[j]/most[j])
	}
	return worst
}

// TestAgainstAnAdaptiveSolver compares with solve_ivp at 1e-11 (testdata/woofer.py), from
// rest over 0.3 s.
func TestAgainstAnAdaptiveSolver(t *testing.T) {
	for _, method := range []Method{RK4, ARK4} {
		for name, tones := range map[string][][2]float64{
			"mild": {{40, 4}}, "loud": {{40, 14}}, "two": {{50, 8}, {325, 2}},
		} {
			e := against(t, "woofer_scipy.csv", name, 48000, method, tones...)
			t.Logf("%v, %s: %.2g", method, name, e)
			if !(e < 1e-5) {
				t.Errorf("%v, %s: off by %.2g, want 1e-5", method, name, e)
			}
		}
	}
}

// TestOrder is the convergence study: with half the step the error of both methods falls
// to about 1/16, against the same stored run.
func TestOrder(t *testing.T) {
	for _, method := range []Method{RK4, ARK4} {
		coarse := against(t, "woofer_scipy.csv", "two", 16000, method, [2]float64{50, 8}, [2]float64{325, 2})
		fine := against(t, "woofer_scipy.csv", "two", 32000, method, [2]float64{50, 8}, [2]float64{325, 2})
		t.Logf("%v: %.3g at 16 kHz, %.3g at 32 kHz: order %.2f", method, coarse, fine, math.Log2(coarse/fine))
		if p := math.Log2(coarse / fine); !(p > 3.6) {
			t.Errorf("%v: order %.2f between 16 and 32 kHz, want 4", method, p)
		}
	}
}

// TestAgainstNgspice compares with a transient of the same equations as a circuit of
// behavioural sources (testdata/woofer.cir, made by woofer.py).
func TestAgainstNgspice(t *testing.T) {
	if e := against(t, "woofer_ngspice.csv", "loud", 48000, Auto, [2]float64{40, 14}); !(e < 1e-4) {
		t.Errorf("off by %.2g, want 1e-4", e)
	}
}

// TestHarmonicsAgainstAnAdaptiveSolver compares dc and five harmonics of cone and sound,
// over the fundamental, with those of solve_ivp at 1e-11 (testdata/woofer.py).
func TestHarmonicsAgainstAnAdaptiveSolver(t *testing.T) {
	w, l := woofer()
	m := build(t, w, l, Options{})
	for name, peak := range map[string]float64{"mild": 4, "loud": 14} {
		h, err := m.Harmonics(Tone{Hz: 40, RMS: peak / math.Sqrt2}, nil)
		if err != nil {
			t.Fatal(err)
		}
		rows := table(t, "woofer_harmonics.csv", name)
		cone := complex(rows[1][1], rows[1][2])
		sound := complex(rows[1][3], rows[1][4])
		for k, row := range rows {
			if e := cmplx.Abs(h.Cone[k]-complex(row[1], row[2])) / cmplx.Abs(cone); !(e < 1e-5) {
				t.Errorf("%s: cone, order %d: %.3g of the fundamental off, want 1e-5", name, k, e)
			}
			if e := cmplx.Abs(h.Sound[k]-complex(row[3], row[4])) / cmplx.Abs(sound); !(e < 1e-5) {
				t.Errorf("%s: sound, order %d: %.3g of the fundamental off, want 1e-5", name, k, e)
			}
		}
	}
}

// TestClippingConverges is the convergence study where voltage or current has kinks: the
// cone after 0.1 s of a clipped tone against the same with a step of 1/32, over 4 mm, its
// peak. Whether the limits are right in themselves, TestShares says.
func TestClippingConverges(t *testing.T) {
	w, l := woofer()
	for name, c := range map[string]struct {
		amp        Amplifier
		want, half float64 // at 48 and 192 kHz
	}{"volts": {Amplifier{Volts: 8}, 3e-6, 3e-8}, "amperes": {Amplifier{Amperes: 1}, 3e-4, 1e-5}} {
		m := build(t, w, l, Options{Amplifier: c.amp})
		end := func(rate int) float64 {
			u := tone(rate/10+1, float64(rate), 47, 12)
			tr := NewTrace(len(u))
			start(t, m, float64(rate)).Play(u, tr)
			return tr.Cone[len(u)-1]
		}
		best := end(32 * 48000)
		for rate, want := range map[int]float64{48000: c.want, 192000: c.half} {
			if e := math.Abs(end(rate)-best) / 4e-3; !(e < want) {
				t.Errorf("%s: off by %.2g at %d Hz, want %.2g", name, e, rate, want)
			}
		}
	}
}
