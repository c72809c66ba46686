package limits_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/signal"
)

// Closed forms of ∫|h|dt.
//
// R and L in series: h = e^{−Rt/L}/L keeps its sign, so that it is 1/R, no more than
// for a sine. A driver without coil inductance on a stiff source:
//
//	Y = (1/Re)·(1 − (ω₀/Qes)·s/D),  D = s² + (ω₀/Qts)·s + ω₀²
//
// whose h is an impulse and, of the other sign first, the derivative of
// g = e^{−αt}·sin(ωd·t)/ωd with α = ω₀/2Qts, ωd² = ω₀² − α². The variation of g, whose
// extremes shrink by r = e^{−απ/ωd}, is 2·g₀/(1−r) with the first, g₀ = e^{−αt₀}/ω₀,
// at t₀ = atan(ωd/α)/ωd. So ∫|h| = (1 + (ω₀/Qes)·2g₀/(1−r))/Re.
func TestWorstCaseClosedForms(t *testing.T) {
	const re, l = 5.5, 0.42e-3
	w, err := limits.WorstCase(&freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(re, l)}, limits.WorstSetup{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(w.PerVolt*re-1) > 2e-4 || w.PerVolt < w.Sine*(1-1e-9) {
		t.Errorf("R and L: %+v, want %g for the worst and a sine", w, 1/re)
	}
	for _, q := range []struct{ qes, qms float64 }{{0.39, 4.7}, {1.15, 1.6}, {3, 10}} {
		qts := q.qes * q.qms / (q.qes + q.qms)
		if qts <= 0.5 {
			continue // ωd is not real; below is one
		}
		const f0 = 60.0
		w0 := 2 * math.Pi * f0
		alpha := w0 / (2 * qts)
		wd := math.Sqrt(w0*w0 - alpha*alpha)
		g0 := math.Exp(-alpha*math.Atan(wd/alpha)/wd) / w0
		want := (1 + w0/q.qes*2*g0/(1-math.Exp(-alpha*math.Pi/wd))) / re
		checkWorst(t, f0, q.qes, qts, re, want)
	}
	// Critically damped, Qts = 1/2: g = t·e^{−ω₀t}, of one extreme 1/(e·ω₀).
	checkWorst(t, 60, 0.6, 0.5, re, (1+1/0.6*2/math.E)/re)
}

func checkWorst(t *testing.T, f0, qes, qts, re, want float64) {
	t.Helper()
	w0 := 2 * math.Pi * f0
	y := &freq.PolyRatio{Num: freq.NewPoly(w0*w0, w0/qts-w0/qes, 1), Den: freq.NewPoly(re*w0*w0, re*w0/qts, re)}
	w, err := limits.WorstCase(y, limits.WorstSetup{Duration: 8})
	if err != nil {
		t.Fatal(err)
	}
	if e := w.PerVolt/want - 1; math.Abs(e) > 0.006 || w.Resolved > w.PerVolt {
		t.Errorf("Qes %g, Qts %g: %.6f A/V (resolved %.6f), want %.6f", qes, qts, w.PerVolt, w.Resolved, want)
	}
}

// The worst programme itself: a square wave with the signs of the impulse response,
// played backwards, draws what is told, and more than a sine.
func TestWorstProgrammeDrawsTheWorstCurrent(t *testing.T) {
	const fs = 48e3
	s := study(t)
	box := enclosure.Vented{Vb: 0.0146, Vent: enclosure.Vent{Diameter: 0.052, Length: 0.19, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}, Losses: enclosure.Losses{QL: 10}}
	m, err := enclosure.Mounted{Driver: s.Driver, Box: box, Air: air.Room()}.Motion()
	if err != nil {
		t.Fatal(err)
	}
	const cut = 2 * math.Pi * 12 // a high-pass, as what is played has no direct current
	current := freq.Series{m.Current, &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1), Den: freq.NewPoly(cut*cut, math.Sqrt2*cut, 1)}}
	w, err := limits.WorstCase(current, limits.WorstSetup{SampleRate: fs})
	if err != nil {
		t.Fatal(err)
	}
	impulse := make([]float64, fs)
	impulse[0] = 1
	blurred := freq.Series{current, blur(fs / 8)} // as the integral has it
	h, err := play(t, fs, impulse, limits.PlaySetup{Volts: 1}).Waveform(blurred)
	if err != nil {
		t.Fatal(err)
	}
	square := make([]float64, fs)
	for i := range square {
		square[i] = math.Copysign(1, h[len(square)-1-i])
	}
	i, err := play(t, fs, square, limits.PlaySetup{Volts: 1}).Waveform(blurred)
	if err != nil {
		t.Fatal(err)
	}
	peak := signal.StatisticsOf(i).Peak
	if math.Abs(peak/w.Resolved-1) > 0.01 || w.PerVolt > 1.02*w.Resolved {
		t.Errorf("square wave draws %.4f A/V, worst case is %+v", peak, w)
	}
	if w.PerVolt < 1.3*w.Sine {
		t.Errorf("worst case %.4f A/V against %.4f for a sine: stored energy plays no part", w.PerVolt, w.Sine)
	}
}

// blur is a normal distribution in time, of a width in hertz.
type blur float64

func (b blur) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		x := g.At(i) / float64(b)
		dst[i] = complex(math.Exp(-x*x/2), 0)
	}
	return dst
}

func play(t *testing.T, rate float64, x []float64, s limits.PlaySetup) *limits.Play {
	t.Helper()
	var err error
	if s.Clip, err = signal.NewClip(rate, x); err != nil {
		t.Fatal(err)
	}
	p, err := limits.NewPlay(s)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestWorstRefusals(t *testing.T) {
	output, _, _, _ := closedBox(t)
	slow := &freq.PolyRatio{Num: freq.NewPoly(0, 1), Den: freq.NewPoly(1e4, 0.5, 1)} // 16 Hz, τ = 4 s
	for want, c := range map[string]struct {
		t freq.Transfer
		s limits.WorstSetup
	}{
		"not died away":       {slow, limits.WorstSetup{}},
		"16 to":               {freq.Gain(1), limits.WorstSetup{SampleRate: 1, Duration: 1}},
		"NaN":                 {freq.Gain(math.NaN()), limits.WorstSetup{}},
		"resample":            {output, limits.WorstSetup{}},
		"at -1 Hz, want 16":   {freq.Gain(1), limits.WorstSetup{SampleRate: -1}},
		"worst case over 1e+": {freq.Gain(1), limits.WorstSetup{Duration: 1e9}},
	} {
		if w, err := limits.WorstCase(c.t, c.s); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v, %v, want an error with %q", w, err, want)
		}
	}
}

func BenchmarkWorstCase(b *testing.B) {
	for b.Loop() {
		if _, err := limits.WorstCase(&freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(5, 1e-3)}, limits.WorstSetup{}); err != nil {
			b.Fatal(err)
		}
	}
}
