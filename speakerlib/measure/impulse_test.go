package measure_test

import (
	"encoding/csv"
	"math"
	"math/cmplx"
	"os"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/measure"
)

var (
	gain   = freq.Basis{Quantity: freq.Dimensionless}
	at48k  = measure.Timing{SampleRate: 48000}
	wholly = func(n int) measure.Gate { return measure.Gate{To: float64(n-1) / 48000} }
)

func impulse(t testing.TB, samples []float64, m measure.Timing) *measure.Impulse {
	t.Helper()
	h, err := measure.NewImpulse(samples, m, "h", gain)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func respond(t testing.TB, h *measure.Impulse, hz []float64) freq.Response {
	t.Helper()
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	r, err := h.Response(g)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func stored(t testing.TB, name string) map[string][]float64 {
	t.Helper()
	f, err := os.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	m := map[string][]float64{}
	for _, row := range rows {
		for _, s := range row[1:] {
			v, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			m[row[0]] = append(m[row[0]], v)
		}
	}
	return m
}

// Windows and responses against SciPy 1.10.1 (testdata/gated.py): tukey, blackman,
// bartlett, freqz and rfft.
func TestGatedAgainstSciPy(t *testing.T) {
	ref := stored(t, "testdata/gated.csv")
	x := ref["samples"]
	h := impulse(t, x, at48k)
	const fs = 48000
	tukey, blackman, bartlett := wholly(65), wholly(65), wholly(65)
	tukey.Rise, tukey.Fall = 16.0/fs, 16.0/fs
	blackman.Fall, blackman.Shape = 24.0/fs, measure.HalfBlackman
	bartlett.Rise, bartlett.Fall, bartlett.Shape = 32.0/fs, 32.0/fs, measure.Straight
	for name, g := range map[string]measure.Gate{"tukey": tukey, "blackman": blackman, "bartlett": bartlett} {
		gated, err := h.Gated(g)
		if err != nil {
			t.Fatal(err)
		}
		s := gated.Samples()
		for i, w := range ref[name] {
			if math.Abs(s[i]-w*x[i]) > 1e-12 {
				t.Errorf("%s: weight %d is %g, want %g", name, i, s[i]/x[i], w)
			}
		}
		r := respond(t, gated, ref["hz"])
		for i := range ref["hz"] {
			want := complex(ref[name+" real"][i], ref[name+" imag"][i])
			if cmplx.Abs(r.At(i)-want) > 1e-11 {
				t.Errorf("%s: %v at %g Hz, want %v", name, r.At(i), ref["hz"][i], want)
			}
		}
	}
	r := respond(t, h, ref["lines"])
	for i, f := range ref["lines"] {
		if want := complex(ref["lines real"][i], ref["lines imag"][i]); cmplx.Abs(r.At(i)-want) > 1e-11 {
			t.Errorf("%v at the line of %g Hz, want %v", r.At(i), f, want)
		}
	}
}

// Σ aⁿz⁻ⁿ = 1/(1 − a/z), started late: times e^{−jωt₀}. A long one, so that the
// errors of Horner's rule would show.
func TestResponseOfGeometricSeries(t *testing.T) {
	const a, start = 0.9995, 3.21e-3
	x := make([]float64, 100000)
	for i := range x {
		x[i] = math.Pow(a, float64(i))
	}
	h := impulse(t, x, measure.Timing{SampleRate: 48000, Start: start})
	hz := []float64{1, 20, 333.3, 1000, 12345.6, 24000}
	r := respond(t, h, hz)
	for i, f := range hz {
		w := 2 * math.Pi * f
		want := cmplx.Rect(1, -w*start) / (1 - a*cmplx.Rect(1, -w/48000))
		if cmplx.Abs(r.At(i)/want-1) > 1e-9 {
			t.Errorf("%v at %g Hz, want %v", r.At(i), f, want)
		}
	}
	g, err := freq.NewGrid([]float64{24001})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := h.Response(g); err == nil || !strings.Contains(err.Error(), "24000") {
		t.Errorf("beyond half the sample rate: %v", err)
	}
}

// A band-limited pulse that is late by no whole number of samples: sin π(n−d)/π(n−d).
func TestFlight(t *testing.T) {
	for _, d := range []float64{200.37, 801.5, 400} {
		for _, sign := range []float64{1, -0.01} {
			x := make([]float64, 2000)
			for i := range x {
				u := math.Pi * (float64(i) - d)
				x[i] = sign
				if u != 0 {
					x[i] = sign * math.Sin(u) / u
				}
			}
			h := impulse(t, x, measure.Timing{SampleRate: 48000, Start: -1e-3})
			got, err := h.Flight(500, 20000)
			if want := d/48000 - 1e-3; err != nil || math.Abs(got-want) > 0.01e-6 {
				t.Errorf("arrives after %.4f µs (%v), want %.4f", got*1e6, err, want*1e6)
			}
		}
	}
	h := impulse(t, []float64{0, 0.05, 0.2, -1, 0.5}, at48k)
	for drop, sample := range map[float64]float64{20: 2, 30: 1, 3: 3} {
		if got, err := h.Onset(drop); err != nil || got != sample/48000 {
			t.Errorf("onset at −%g dB is %g s (%v), want sample %g", drop, got, err, sample)
		}
	}
	for _, band := range [][2]float64{{0, 100}, {100, 50}, {100, 25000}, {math.NaN(), 100}, {100, 101}} {
		if _, err := h.Flight(band[0], band[1]); err == nil {
			t.Errorf("arrival in the band %v was taken", band)
		}
	}
}

// An echo 5 ms after the arrival is cut by a gate that ends before it, and the
// lowest valid frequency is 1/T: with the flight counted off, and half the flank.
func TestGateTakesAnEchoAway(t *testing.T) {
	x := make([]float64, 960)
	x[144], x[144+240] = 1, 0.4 // 3 ms and 8 ms
	h := impulse(t, x, at48k)
	if want := 48000.0 / (960 - 144); math.Abs(h.ValidFrom()-want) > 1e-9 {
		t.Errorf("valid from %g Hz, want %g", h.ValidFrom(), want)
	}
	gated, err := h.Gated(measure.Gate{From: 2e-3, To: 7.5e-3, Rise: 0.5e-3, Fall: 1e-3})
	if err != nil {
		t.Fatal(err)
	}
	if want := 1 / 4e-3; math.Abs(gated.ValidFrom()/want-1) > 1e-9 {
		t.Errorf("valid from %g Hz, want %g", gated.ValidFrom(), want)
	}
	hz := []float64{250, 1000, 9999}
	for i, v := range respond(t, gated, hz).Values() {
		if want := cmplx.Rect(1, -2*math.Pi*hz[i]*3e-3); cmplx.Abs(v-want) > 1e-12 {
			t.Errorf("%v at %g Hz, want %v", v, hz[i], want)
		}
	}
	for _, c := range []struct {
		g    measure.Gate
		want string
	}{
		{measure.Gate{From: -1e-3, To: 5e-3}, "within its record"},
		{measure.Gate{From: 1e-3, To: 25e-3}, "within its record"},
		{measure.Gate{From: 5e-3, To: 4e-3}, "positive length"},
		{measure.Gate{To: 5e-3, Rise: 3e-3, Fall: 3e-3}, "both flanks"},
		{measure.Gate{To: math.NaN()}, "finite"},
		{measure.Gate{To: 1e-3, Shape: 9}, "one of the flanks"},
		{measure.Gate{From: 4e-3, To: 5e-3}, "all of them zero"},
		{measure.Gate{From: 2e-3, To: 3e-3}, "some time after"},
		{measure.Gate{From: 1.01 / 48000, To: 1.02 / 48000}, "between two samples"},
	} {
		if _, err := h.Gated(c.g); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("gate %+v: error %v, want one with %q", c.g, err, c.want)
		}
	}
}

func TestNewImpulseRefuses(t *testing.T) {
	for _, c := range []struct {
		x    []float64
		m    measure.Timing
		want string
	}{
		{[]float64{1}, measure.Timing{}, "sample rate"},
		{[]float64{1}, measure.Timing{SampleRate: 1, Start: math.Inf(1)}, "starts at"},
		{[]float64{0, math.NaN()}, at48k, "sample 1"},
		{[]float64{0, 0}, at48k, "2 samples, all of them zero"},
		{nil, at48k, "0 samples"},
	} {
		if _, err := measure.NewImpulse(c.x, c.m, "h", gain); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v at %+v: error %v, want one with %q", c.x, c.m, err, c.want)
		}
	}
}

// Two ways of one rig: a set, from which one flight is taken.
func TestSetOfImpulses(t *testing.T) {
	make1 := func(label, zero string, at int) *measure.Impulse {
		x := make([]float64, 512)
		x[at] = 1
		h, err := measure.NewImpulse(x, measure.Timing{SampleRate: 48000, TimeZero: zero}, label, gain)
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	g, err := freq.LogGrid(200, 20000, 12)
	if err != nil {
		t.Fatal(err)
	}
	woofer, tweeter := make1("woofer", "rig", 96), make1("tweeter", "rig", 100)
	s, err := measure.SetOf(g, woofer, tweeter)
	if err != nil {
		t.Fatal(err)
	}
	flight, err := woofer.Flight(200, 20000)
	if err != nil {
		t.Fatal(err)
	}
	if s, err = s.Without(flight); err != nil {
		t.Fatal(err)
	}
	for label, late := range map[string]float64{"woofer": 0, "tweeter": 4.0 / 48000} {
		r, err := s.Response(label)
		if err != nil {
			t.Fatal(err)
		}
		for i, w := range g.Omega() {
			if want := cmplx.Rect(1, -w*late); cmplx.Abs(r.At(i)-want) > 1e-5 {
				t.Fatalf("%s is %v at %g Hz, want %v", label, r.At(i), g.At(i), want)
			}
		}
	}
	low, err := freq.LogGrid(50, 20000, 12)
	if err != nil {
		t.Fatal(err)
	}
	for want, try := range map[string]func() (*measure.Set, error){
		"no impulse response":         func() (*measure.Set, error) { return measure.SetOf(g) },
		"whose time zero":             func() (*measure.Set, error) { return measure.SetOf(g, woofer, make1("x", "", 5)) },
		`time zero of "other"`:        func() (*measure.Set, error) { return measure.SetOf(g, woofer, make1("x", "other", 5)) },
		"different labels":            func() (*measure.Set, error) { return measure.SetOf(g, woofer, woofer) },
		"no frequency below 115.4 Hz": func() (*measure.Set, error) { return measure.SetOf(low, woofer) },
	} {
		if _, err := try(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}

func BenchmarkImpulseResponse(b *testing.B) {
	x := make([]float64, 4096)
	x[7] = 1
	h := impulse(b, x, at48k)
	g, err := freq.LogGrid(20, 20000, 48)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := h.Response(g); err != nil {
			b.Fatal(err)
		}
	}
}
