package fir_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/internal/testtable"
)

func goals(edges, gains, weights []float64) []fir.Goal {
	var g []fir.Goal
	for k := range gains {
		g = append(g, fir.Goal{Lo: edges[2*k], Hi: edges[2*k+1], Gain: gains[k], Weight: weights[k]})
	}
	return g
}

// largest returns the largest weighted error of symmetric taps on the grid of the
// method: 16 points a coefficient.
func largest(taps []float64, fs float64, g []fir.Goal) float64 {
	var worst float64
	step := fs / 2 / float64(16*((len(taps)+1)/2))
	for _, b := range g {
		for hz := b.Lo; hz <= b.Hi; hz += step {
			if hz+step > b.Hi {
				hz = b.Hi
			}
			var a float64
			for i, h := range taps {
				a += h * math.Cos(2*math.Pi*hz/fs*(float64(i)-float64(len(taps)-1)/2))
			}
			worst = math.Max(worst, b.Weight*math.Abs(a-b.Gain))
		}
	}
	return worst
}

// SciPy's remez (testdata/scipy_remez.py), whose grid is the same: the same taps,
// or taps that are nearer to the optimum. (Of the long filter of even length SciPy
// stops at a ripple 0.3 % above it.)
func TestEquirippleAgainstSciPy(t *testing.T) {
	rows := testtable.Read(t, "testdata/scipy_remez.csv")
	if len(rows) != 7 {
		t.Errorf("table has %d rows", len(rows))
	}
	for _, row := range rows {
		name, n := row.Text(t, "name"), int(row.Number(t, "taps"))
		g := goals(row.Numbers(t, "edges_hz"), row.Numbers(t, "gains"), row.Numbers(t, "weights"))
		f, err := fir.Equiripple(48000, n, g...)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		var worst float64
		got, theirs := f.Taps(), make([]float64, n)
		for i, want := range row.Numbers(t, "first half of the taps") {
			worst = math.Max(worst, math.Abs(got[i]-want))
			theirs[i], theirs[n-1-i] = want, want
		}
		mine, scipy := largest(got, 48000, g), largest(theirs, 48000, g)
		if worst > 1e-9 && !(name == "long even" && worst < 1e-7 && mine < 0.998*scipy) {
			t.Errorf("%s: taps are off by %.2g; largest error %.9g, SciPy's %.9g", name, worst, mine, scipy)
		}
		if math.Abs(mine/f.Ripple-1) > 1e-8 {
			t.Errorf("%s: ripple is %.12g, found %.12g", name, f.Ripple, mine)
		}
	}
}

// The alternation theorem (P. L. Chebyshev): the error of the optimum reaches its
// largest size at no fewer than r+1 frequencies with alternating sign, here found
// on a grid of its own, four times as fine.
func TestEquirippleAlternates(t *testing.T) {
	const fs = 48000.0
	for _, n := range []int{31, 64, 127} {
		g := []fir.Goal{{0, 3000, 1, 1}, {4500, 9000, 0.5, 2}, {11000, 24000, 0, 5}}
		f, err := fir.Equiripple(fs, n, g...)
		if err != nil {
			t.Fatal(err)
		}
		count, last, worst := 0, 0.0, 0.0
		for _, b := range g {
			var prev, cur float64
			m := int((b.Hi - b.Lo) / fs * 2 * 64 * float64(n) / 2)
			for i := 0; i <= m+1; i++ {
				next := 0.0
				if i <= m {
					hz := b.Lo + (b.Hi-b.Lo)*float64(i)/float64(m)
					a := f.At(hz) * cmplx.Rect(1, math.Pi*hz/fs*float64(n-1))
					next = b.Weight * (real(a) - b.Gain)
				}
				if i > 0 && math.Abs(cur) >= f.Ripple*0.99 && math.Abs(cur) >= math.Abs(prev) && math.Abs(cur) >= math.Abs(next) && cur*last <= 0 {
					count++
					last = cur
				}
				worst = math.Max(worst, math.Abs(cur))
				prev, cur = cur, next
			}
		}
		if count < (n+1)/2+1 || worst > f.Ripple*1.03 {
			t.Errorf("%v: %d alternations of up to %.6g, want at least %d of %.6g", f, count, worst, (n+1)/2+1, f.Ripple)
		}
		if !f.LinearPhase() || f.Samples() != float64(n-1)/2 {
			t.Errorf("%v is linear-phase: %v", f, f.LinearPhase())
		}
	}
}

// Random goals: the error on the whole grid is nowhere larger than the ripple that
// the exchange stopped at, which by the theorem of de la Vallée Poussin is a lower
// bound of the optimum.
func TestEquirippleOfRandomGoals(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	failed := 0
	const runs = 150
	for range runs {
		n := 20 + rng.IntN(200)
		var g []fir.Goal
		at := 0.0
		for {
			width := 24000 / float64(n) * (4 + 30*rng.Float64())
			if at+width > 23000 {
				break
			}
			g = append(g, fir.Goal{Lo: at, Hi: at + width, Gain: 2 * rng.Float64(), Weight: 1 + 9*rng.Float64()})
			at += width + 24000/float64(n)*(2+4*rng.Float64())
		}
		if len(g) < 2 { // one constant is met exactly
			continue
		}
		if n%2 == 0 {
			g[len(g)-1].Gain = 0
		}
		g[len(g)-1].Hi = 24000
		f, err := fir.Equiripple(48000, n, g...)
		if err != nil {
			failed++
			continue
		}
		if worst := largest(f.Taps(), 48000, g); worst > f.Ripple*(1+1e-6)+1e-11 {
			t.Errorf("largest error %.9g, ripple %.9g of %v for %v", worst, f.Ripple, f, g)
		}
	}
	if failed > runs/20 {
		t.Errorf("%d of %d designs fail", failed, runs)
	}
}

func TestEquirippleRefuses(t *testing.T) {
	ok := []fir.Goal{{0, 2000, 1, 1}, {3000, 24000, 0, 1}}
	for _, c := range []struct {
		fs   float64
		taps int
		g    []fir.Goal
		want string
	}{
		{math.NaN(), 31, ok, "sample rate is NaN"},
		{48000, 2, ok, "2 taps"},
		{48000, 9001, ok, "at most 8191"},
		{48000, 31, nil, "without goals"},
		{40000, 31, ok, "at most 20000 Hz"},
		{48000, 31, []fir.Goal{ok[1], ok[0]}, "above the one before (24000 Hz)"},
		{48000, 31, []fir.Goal{{0, 2000, 1, 1}, {2000, 24000, 0, 1}}, "goal 2 of 2 is from 2000 to 24000 Hz, want it above the one before (2000 Hz)"},
		{48000, 31, []fir.Goal{{0, 100, math.Inf(1), 1}}, "gain of goal 1"},
		{48000, 31, []fir.Goal{{0, 100, 1, 0}}, "weight of goal 1"},
		{48000, 32, []fir.Goal{{0, 2000, 0, 1}, {3000, 24000, 1, 1}}, "want an odd number"},
		{48000, 55, []fir.Goal{{0, 5963, 1.97, 8.4}, {6883, 17673, 1.32, 3}}, "no goal binds it"},
		{48000, 401, []fir.Goal{{0, 1000, 1, 1}, {20000, 24000, 0, 1}}, "leave more room than the taps need"},
	} {
		if _, err := fir.Equiripple(c.fs, c.taps, c.g...); err == nil || !strings.HasPrefix(err.Error(), "fir: ") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v Hz, %d taps, %v: error %v, want one with %q", c.fs, c.taps, c.g, err, c.want)
		}
	}
}

// SciPy's time for the same: testdata/scipy_remez.py time.
func BenchmarkEquiripple511(b *testing.B) {
	for b.Loop() {
		if _, err := fir.Equiripple(48000, 511, fir.Goal{Lo: 0, Hi: 2000, Gain: 1, Weight: 1}, fir.Goal{Lo: 2300, Hi: 24000, Gain: 0, Weight: 10}); err != nil {
			b.Fatal(err)
		}
	}
}
