package largesignal

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/internal/testtable"
)

// against runs the sum of tones (Hz, V peak) from rest and returns the largest distance of
// five states from stored ones, each over its largest magnitude there.
func against(t *testing.T, file, which string, rate float64, method Method, tones ...[2]float64) (worst float64) {
	t.Helper()
	rows := testtable.Select(t, testtable.Read(t, "testdata/"+file), "case", which)
	w, l := woofer()
	r := start(t, build(t, w, l, Options{Method: method}), rate)
	n := int(rate*rows[len(rows)-1].Number(t, "t_s")) + 1
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
	for column, got := range map[string][]float64{"current_A": tr.Current, "cone_m": tr.Cone, "velocity_m_s": tr.Velocity, "pressure_Pa": tr.Pressure, "vent_m3_s": flow} {
		most, off := 0.0, 0.0
		for _, row := range rows {
			want := row.Number(t, column)
			most = max(most, math.Abs(want))
			off = max(off, math.Abs(got[int(math.Round(row.Number(t, "t_s")*rate))]-want))
		}
		worst = max(worst, off/most)
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
		rows := testtable.Select(t, testtable.Read(t, "testdata/woofer_harmonics.csv"), "case", name)
		cone := func(k int) complex128 {
			return complex(rows[k].Number(t, "cone_re_m"), rows[k].Number(t, "cone_im_m"))
		}
		sound := func(k int) complex128 {
			return complex(rows[k].Number(t, "sound_re_Pa"), rows[k].Number(t, "sound_im_Pa"))
		}
		for k := range rows {
			if e := cmplx.Abs(h.Cone[k]-cone(k)) / cmplx.Abs(cone(1)); !(e < 1e-5) {
				t.Errorf("%s: cone, order %d: %.3g of the fundamental off, want 1e-5", name, k, e)
			}
			if e := cmplx.Abs(h.Sound[k]-sound(k)) / cmplx.Abs(sound(1)); !(e < 1e-5) {
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
