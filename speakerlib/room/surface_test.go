package room_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/room"
)

func TestAbsorber(t *testing.T) {
	a := must[*room.Absorber](t)(room.NewAbsorber(room.Band{Hz: 125, Alpha: 0.1}, room.Band{Hz: 250, Alpha: 0.3}, room.Band{Hz: 1000, Alpha: 0.5}))
	for hz, want := range map[float64]float64{20: 0.1, 125: 0.1, 125 * math.Sqrt2: 0.2, 250: 0.3, 500: 0.4, 1000: 0.5, 16e3: 0.5} {
		if got := a.Alpha(hz); math.Abs(got-want) > 1e-12 {
			t.Errorf("%g Hz: α %g, want %g", hz, got, want)
		}
		g := must[*freq.Grid](t)(freq.NewGrid([]float64{hz}))
		if r := a.ReflectionTo(nil, 0.3, g)[0]; math.Abs(real(r)-math.Sqrt(1-want)) > 1e-12 || imag(r) != 0 {
			t.Errorf("%g Hz: R %v", hz, r)
		}
		if b := a.ConductanceTo(nil, g)[0]; math.Abs(b-want/8) > 1e-12 {
			t.Errorf("%g Hz: β %g", hz, b)
		}
	}
	for _, bands := range [][]room.Band{nil, {{Hz: 0, Alpha: 0.1}}, {{Hz: 100, Alpha: 1}}, {{Hz: 100, Alpha: -0.1}}, {{Hz: 100, Alpha: math.NaN()}}, {{Hz: 200, Alpha: 0.1}, {Hz: 100, Alpha: 0.1}}} {
		if _, err := room.NewAbsorber(bands...); err == nil {
			t.Errorf("%v was taken", bands)
		}
	}
}

// α(θ) = 1 − |R|² of a locally reacting surface of small β at random incidence tends to 8β
// (Morse and Ingard): the mean over the half sphere weighted by cos θ.
func TestConductanceIsAnEighthOfAlpha(t *testing.T) {
	g := grid(t, 100, 200, 1)
	const beta = 0.002
	z := room.Impedance{Zeta: freq.Gain(1 / beta)}
	var alpha float64
	const n = 200000
	for k := range n {
		cos := (float64(k) + 0.5) / n
		r := z.ReflectionTo(nil, cos, g)[0]
		alpha += 2 * cos * (1 - real(r)*real(r)) / n
	}
	if c := z.ConductanceTo(nil, g)[0]; math.Abs(c-beta) > 1e-15 || math.Abs(alpha/(8*beta)-1) > 0.03 {
		t.Errorf("β %g, α %g, want α within 3 %% of 8β", c, alpha)
	}
}

func TestImpedanceRefuses(t *testing.T) {
	g := grid(t, 100, 200, 1)
	for _, z := range []freq.Transfer{nil, freq.Gain(-1), freq.Gain(0), freq.Gain(math.Inf(1)), freq.Gain(math.NaN())} {
		if err := (room.Impedance{Zeta: z}).CheckGrid(g); err == nil {
			t.Errorf("impedance %v was taken", z)
		}
	}
	if err := (room.Impedance{Zeta: freq.Delay(2e-3)}).CheckGrid(g); err == nil || !strings.Contains(err.Error(), "real part") {
		t.Errorf("a negative resistance: %v", err)
	}
}

// By hand: 50 m³, 85 m², 0.4 s, 340 m/s: 24·2.302585·50/(340·85·0.4) = 0.2390.
func TestSabineAlpha(t *testing.T) {
	m := medium
	m.SpeedOfSound = 340
	if a := must[float64](t)(room.SabineAlpha(50, 85, 0.4, m)); math.Abs(a-0.239022) > 1e-6 {
		t.Errorf("α %g", a)
	}
	if _, err := room.SabineAlpha(50, 85, 0.05, m); err == nil {
		t.Error("an absorption above 1 was taken")
	}
	if _, err := room.SabineAlpha(0, 85, 0.05, m); err == nil {
		t.Error("no volume was taken")
	}
}
