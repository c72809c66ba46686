package signal_test

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/signal"
)

// Against scipy.signal.chirp of SciPy 1.10.1 (testdata/sweep.py). SciPy reduces a
// phase of 2·10⁴ rad after it has been rounded, which leaves it 1e-11.
func TestSweepAgainstSciPy(t *testing.T) {
	s, err := signal.NewSweep(signal.SweepSetup{SampleRate: 48000, From: 20, To: 20000, Duration: 1.5, Amplitude: 1, Exact: true})
	if err != nil {
		t.Fatal(err)
	}
	x := s.Samples()
	if len(x) != 72000 {
		t.Fatalf("%d samples, want 72000", len(x))
	}
	rows, err := csv.NewReader(bytes.NewReader(file(t, "sweep.csv"))).ReadAll()
	if err != nil || len(rows) != 11 {
		t.Fatal(len(rows), err)
	}
	for _, row := range rows {
		n, _ := strconv.Atoi(row[0])
		want, err := strconv.ParseFloat(row[1], 64)
		if err != nil || math.Abs(x[n]-want) > 2e-10 {
			t.Errorf("sample %d is %.12g (%v), want %.12g", n, x[n], err, want)
		}
	}
}

// Novak et al. 2015: with From·L whole, m times the phase of the sweep is, but for
// whole turns, the phase of the sweep L·ln m later; at the unsynchronised one it is not.
func TestSynchronisedSweep(t *testing.T) {
	setup := signal.SweepSetup{SampleRate: 48000, From: 20, To: 20000, Duration: 5, Amplitude: 1}
	s, err := signal.NewSweep(setup)
	if err != nil {
		t.Fatal(err)
	}
	turns := setup.From * s.L()
	if math.Abs(turns-math.Round(turns)) > 1e-9 || math.Abs(s.Setup().Duration-5) > 0.5*math.Log(1000)/20 {
		t.Errorf("%g turns in L and %g s, want a whole number and the nearest to 5 s", turns, s.Setup().Duration)
	}
	if math.Abs(s.HzAt(s.Setup().Duration)/20000-1) > 1e-12 {
		t.Errorf("ends at %g Hz, want 20 kHz", s.HzAt(s.Setup().Duration))
	}
	// The nearest one is shorter or longer, by half of ln(1000)/20 s at most.
	for _, wish := range []float64{5, 5.1, 5.2, 5.3, 5.4} {
		near := setup
		near.Duration = wish
		if s, err := signal.NewSweep(near); err != nil || math.Abs(s.Setup().Duration-wish) > 0.5*math.Log(1000)/20+1e-9 {
			t.Errorf("%g s became %v (%v)", wish, s.Setup().Duration, err)
		}
	}
	setup.Exact, setup.Duration = true, s.Setup().Duration*1.002
	other, err := signal.NewSweep(setup)
	if err != nil {
		t.Fatal(err)
	}
	phase := func(s *signal.Sweep, at float64) float64 { return setup.From * s.L() * math.Expm1(at/s.L()) } // turns
	apart := func(s *signal.Sweep, m int, at float64) float64 {
		d := float64(m)*phase(s, at) - phase(s, at+s.Lead(m))
		return math.Abs(d - math.Round(d))
	}
	for m := 2; m <= 5; m++ {
		for _, at := range []float64{0, 0.77, 2, 3.3} {
			if d := apart(s, m, at); d > 1e-9 {
				t.Errorf("harmonic %d at %g s is %g turns off", m, at, d)
			}
		}
	}
	if d := apart(other, 2, 1); d < 0.01 {
		t.Errorf("the unsynchronised sweep is only %g turns off", d)
	}
}

func TestSweepFadesAndRefusals(t *testing.T) {
	good := signal.SweepSetup{SampleRate: 48000, From: 20, To: 20000, Duration: 1, FadeIn: 0.1, FadeOut: 0.01}
	s, err := signal.NewSweep(good)
	if err != nil {
		t.Fatal(err)
	}
	bare := good
	bare.FadeIn, bare.FadeOut = 0, 0
	b, err := signal.NewSweep(bare)
	if err != nil {
		t.Fatal(err)
	}
	x, y := s.Samples(), b.Samples()
	if c := s.Clip(); c.Peak() > 0.5 || c.Peak() < 0.4999 || c.SampleRate() != 48000 {
		t.Errorf("peak %g at %g Hz, want 0.5 at 48 kHz", c.Peak(), c.SampleRate())
	}
	for n, want := range map[int]float64{2400: 0.5, 1200: 0.5 - math.Sqrt(0.125), 20000: 1} { // cos π/4 = √½
		if math.Abs(x[n]-want*y[n]) > 1e-12 {
			t.Errorf("sample %d is %g of the unfaded one, want %g", n, x[n]/y[n], want)
		}
	}
	if last := x[len(x)-1]; math.Abs(last) > 1e-4 {
		t.Errorf("ends with %g, want next to nothing", last)
	}
	for want, change := range map[string]func(*signal.SweepSetup){
		"half the sample rate": func(s *signal.SweepSetup) { s.To = 24001 },
		"0 < from":             func(s *signal.SweepSetup) { s.From = 0 },
		"from < to":            func(s *signal.SweepSetup) { s.To = 10 },
		"finite":               func(s *signal.SweepSetup) { s.Duration = math.NaN() },
		"samples":              func(s *signal.SweepSetup) { s.Duration = 1e6 },
		"at least 0.173 s":     func(s *signal.SweepSetup) { s.Duration = 0.1 },
		"fades":                func(s *signal.SweepSetup) { s.FadeIn = 2 },
		"amplitude":            func(s *signal.SweepSetup) { s.Amplitude = -1 },
	} {
		bad := good
		change(&bad)
		if _, err := signal.NewSweep(bad); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%+v: error %v, want one with %q", bad, err, want)
		}
	}
}
