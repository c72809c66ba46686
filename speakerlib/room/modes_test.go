package room_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/room"
)

// The first modes of 5.1 × 4.3 × 2.6 m by hand: c/2·√(…) with c = 343 m/s.
func TestModesOfARoom(t *testing.T) {
	modes := must[[]room.Mode](t)(closed(room.Rigid{}).Modes(80))
	want := []struct {
		n    [3]int
		hz   float64
		kind room.Kind
	}{
		{[3]int{0, 0, 0}, 0, room.Pressure},
		{[3]int{1, 0, 0}, 33.627, room.Axial},
		{[3]int{0, 1, 0}, 39.884, room.Axial},
		{[3]int{1, 1, 0}, 52.168, room.Tangential},
		{[3]int{0, 0, 1}, 65.962, room.Axial},
		{[3]int{2, 0, 0}, 67.255, room.Axial},
		{[3]int{1, 0, 1}, 74.039, room.Tangential},
		{[3]int{0, 1, 1}, 77.082, room.Tangential},
		{[3]int{2, 1, 0}, 78.191, room.Tangential},
		{[3]int{0, 2, 0}, 79.767, room.Axial},
	}
	if len(modes) != len(want) {
		t.Fatalf("%d modes up to 80 Hz, want %d", len(modes), len(want))
	}
	for i, m := range modes {
		if m.N != want[i].n || math.Abs(m.Hz-want[i].hz) > 0.001 || m.Kind() != want[i].kind {
			t.Errorf("%v at %.3f Hz, %v, want %+v", m.N, m.Hz, m.Kind(), want[i])
		}
		if !math.IsInf(m.Decay(), 1) {
			t.Errorf("%v of a rigid room dies in %g s", m.N, m.Decay())
		}
	}
}

// The number of modes: 4πV/3·(f/c)³ + πS/4·(f/c)² + L/8·f/c (H. Kuttruff, Room Acoustics,
// chapter 3; from memory), with L the sum of all edges. It counts the one at 0 Hz as an
// eighth, and ripples by some.
func TestNumberOfModes(t *testing.T) {
	for _, hz := range []float64{600, 800, 1600} {
		n := float64(len(must[[]room.Mode](t)(closed(room.Rigid{}).Modes(hz))))
		k := hz / 343
		v, s, l := 5.1*4.3*2.6, 2*(5.1*4.3+5.1*2.6+4.3*2.6), 4*(5.1+4.3+2.6)
		want := 4*math.Pi/3*v*k*k*k + math.Pi/4*s*k*k + l/8*k
		if math.Abs(n/want-1) > 0.005 {
			t.Errorf("%g modes up to %g Hz, want about %.1f", n, hz, want)
		}
	}
}

// Oblique modes die in Sabine's time 55.26·V/(c·αS), axial ones later: those between two
// walls of area A have half the loss on the other four.
func TestDecayOfModes(t *testing.T) {
	const alpha = 0.08
	w := closed(must[*room.Absorber](t)(room.NewAbsorber(room.Band{Hz: 100, Alpha: alpha})))
	v, s := 5.1*4.3*2.6, 2*(5.1*4.3+5.1*2.6+4.3*2.6)
	sabine := 24 * math.Ln10 * v / (343 * alpha * s)
	for _, m := range must[[]room.Mode](t)(w.Modes(150)) {
		loss := 0.0 // absorbing area, of which walls that are grazed count half
		for k, area := range []float64{4.3 * 2.6, 5.1 * 2.6, 5.1 * 4.3} {
			e := 2.0
			if m.N[k] == 0 {
				e = 1
			}
			loss += e * area * alpha
		}
		want := 24 * math.Ln10 * v / (343 * loss)
		if math.Abs(m.Decay()/want-1) > 1e-12 {
			t.Errorf("%v dies in %g s, want %g", m.N, m.Decay(), want)
		}
		if m.Kind() == room.Oblique && math.Abs(m.Decay()/sabine-1) > 1e-12 {
			t.Errorf("oblique %v dies in %g s, Sabine says %g", m.N, m.Decay(), sabine)
		}
		if m.Kind() == room.Axial && !(m.Decay() > 1.2*sabine) {
			t.Errorf("axial %v dies in %g s, Sabine says %g", m.N, m.Decay(), sabine)
		}
		if m.Hz > 0 && math.Abs(m.Q()-math.Pi*m.Hz*m.Decay()/(3*math.Ln10)) > 1e-9 {
			t.Errorf("Q of %v is %g", m.N, m.Q())
		}
	}
}

// With absorption that rises from band to band each mode has that of its own frequency; the
// pressure of the whole room that of the lowest.
func TestDecayFollowsFrequency(t *testing.T) {
	a := must[*room.Absorber](t)(room.NewAbsorber(room.Band{Hz: 30, Alpha: 0.02}, room.Band{Hz: 120, Alpha: 0.22}))
	modes := must[[]room.Mode](t)(closed(a).Modes(120))
	for i, m := range modes {
		hz := m.Hz
		if i == 0 {
			hz = modes[1].Hz
		}
		var want float64
		for k, l := range []float64{5.1, 4.3, 2.6} {
			e := 2.0
			if m.N[k] == 0 {
				e = 1
			}
			want += 343. / 2 * e * 2 * a.Alpha(hz) / 8 / l
		}
		if math.Abs(m.Damping/want-1) > 1e-12 {
			t.Errorf("%v at %g Hz: δ = %g, want %g", m.N, m.Hz, m.Damping, want)
		}
	}
}

func TestCouplings(t *testing.T) {
	w := closed(room.Rigid{})
	for _, c := range must[[]room.Coupling](t)(w.Couplings(room.Point{}, room.Point{X: 2.55, Y: 4.3, Z: 1.3}, 100)) {
		if c.Source != 1 {
			t.Errorf("%v in the corner: %g, want 1", c.N, c.Source)
		}
		// In the middle of length and height, at the far side wall.
		want := [4]float64{1, 0, -1, 0}[c.N[0]%4] * [2]float64{1, -1}[c.N[1]%2] * [4]float64{1, 0, -1, 0}[c.N[2]%4]
		if math.Abs(c.Listener-want) > 1e-12 || math.Abs(c.Product()-want) > 1e-12 {
			t.Errorf("%v at the listener: %g, want %g", c.N, c.Listener, want)
		}
	}
}

// At the frequency of a lone mode the response is that mode's peak, 4π·ε·ψψ/V·c²/(2ωδ); at low
// frequencies it is the pressure of the compressed air, −4πc²/(ω²V).
func TestModalPeakAndPressure(t *testing.T) {
	w := closed(must[*room.Absorber](t)(room.NewAbsorber(room.Band{Hz: 100, Alpha: 0.02})))
	s, r := room.Point{X: 0.4, Y: 0.5, Z: 0.6}, room.Point{X: 4.2, Y: 3.1, Z: 1.1}
	f := must[*room.ModalField](t)(w.Modal(s, r, 400))
	m := f.Couplings[1]
	g := grid(t, m.Hz, 2*m.Hz, 1)
	v := 5.1 * 4.3 * 2.6
	omega := 2 * math.Pi * m.Hz
	peak := 4 * math.Pi / v * 2 * m.Product() * 343 * 343 / (2 * omega * m.Damping)
	if h := f.ResponseTo(nil, g)[0]; math.Abs(cmplx.Abs(h)/math.Abs(peak)-1) > 0.02 || math.Abs(imag(h)/(-peak)-1) > 0.02 {
		t.Errorf("at %g Hz %v, want −j·%g", m.Hz, h, peak)
	}
	g = grid(t, 3, 6, 1)
	omega = 2 * math.Pi * 3
	if h := f.ResponseTo(nil, g)[0]; math.Abs(real(h)/(-4*math.Pi*343*343/(omega*omega*v))-1) > 0.02 {
		t.Errorf("at 3 Hz %v, want %g", h, -4*math.Pi*343*343/(omega*omega*v))
	}
}

func TestModesRefuse(t *testing.T) {
	in := room.Point{X: 1, Y: 1, Z: 1}
	open := closed(room.Rigid{})
	open.Surfaces[room.Ceiling] = nil
	if _, err := open.Modes(100); err == nil || !strings.Contains(err.Error(), "ceiling") {
		t.Errorf("modes without a ceiling: %v", err)
	}
	if _, err := closed(room.Rigid{}).Modal(in, in, 100); err == nil || !strings.Contains(err.Error(), "damping") {
		t.Errorf("response of a rigid room: %v", err)
	}
	if _, err := closed(room.Rigid{}).Modes(1e5); err == nil || !strings.Contains(err.Error(), "at most") {
		t.Errorf("modes up to 100 kHz: %v", err)
	}
	pipe := closed(room.Rigid{})
	pipe.Length, pipe.Width, pipe.Height = 1e12, 1e-6, 1e-6 // little volume, but 6e12 modes along it
	if _, err := pipe.Modes(1000); err == nil || !strings.Contains(err.Error(), "at most") {
		t.Errorf("modes of an endless pipe: %v", err)
	}
	for _, hz := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := closed(room.Rigid{}).Modes(hz); err == nil {
			t.Errorf("modes up to %g Hz", hz)
		}
	}
	if _, err := closed(room.Rigid{}).Couplings(in, room.Point{X: 6}, 100); err == nil || !strings.Contains(err.Error(), "rear wall") {
		t.Errorf("a listener outside: %v", err)
	}
	a := closed(must[*room.Absorber](t)(room.NewAbsorber(room.Band{Hz: 100, Alpha: 0.1})))
	if err := must[*room.ModalField](t)(a.Modal(in, in, 100)).CheckGrid(grid(t, 50, 200, 1)); err == nil {
		t.Error("a response beyond the modes")
	}
	// By hand: 2000·√(0.5/50) = 200 Hz.
	if f := must[float64](t)(room.Schroeder(50, 0.5)); math.Abs(f-200) > 1e-9 {
		t.Errorf("Schroeder frequency %g Hz", f)
	}
}
