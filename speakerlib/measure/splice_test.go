package measure_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
)

// pistonNear is the pressure at the middle of a flat round piston in an infinite
// baffle, and pistonFar that on its axis at r ≫ a²/λ in the limit of low
// frequencies, both for a volume velocity of 1 m³/s (L. Beranek and T. Mellow,
// Acoustics, 2012, section 13.7): ρc/(πa²)·(1 − e^{−jka}), and jωρ/(2πr).
func pistonNear(f, a float64, m air.Medium) complex128 {
	ka := 2 * math.Pi * f / m.SpeedOfSound * a
	return complex(m.Impedance()/(math.Pi*a*a), 0) * (1 - cmplx.Rect(1, -ka))
}

func pistonFar(f, r float64, m air.Medium) complex128 {
	return complex(0, f*m.Density/r)
}

func TestFarFromNearOfAPiston(t *testing.T) {
	m := air.Room()
	g := logGrid(t, 10, 1000, 12)
	near := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.NearField}
	make := func(a, flow float64) freq.Response {
		v := make([]complex128, g.Len())
		for i := range v {
			v[i] = complex(flow, 0) * pistonNear(g.At(i), a, m)
		}
		r, err := freq.NewResponse(g, v, "near", near)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	const cone, vent = 0.066, 0.027
	sum, err := measure.SumNear(make(cone, 1), make(vent, -0.3), cone, vent, 2)
	if err != nil {
		t.Fatal(err)
	}
	if want := (freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 2}); sum.Basis() != want {
		t.Errorf("basis %v, want %v", sum.Basis(), want)
	}
	limit := measure.NearFieldLimit(cone, m)
	for i := range g.Len() {
		f := g.At(i)
		want := 0.7 * pistonFar(f, 2, m)
		// The near field is delayed by a/2 and lower by sin(ka/2)/(ka/2): 0.36 dB at ka = 1.
		if db := math.Abs(level.DB(cmplx.Abs(sum.At(i) / want))); f < limit/4 && db > 0.06 || f < limit && db > 0.6 {
			t.Errorf("%g Hz: %.3f dB off", f, db)
		}
	}
	ka1 := pistonNear(limit, cone, m)
	if db := level.DB(cmplx.Abs(ka1) * cone / 2 / cmplx.Abs(pistonFar(limit, 1, m))); math.Abs(db+0.36) > 0.01 {
		t.Errorf("at ka = 1 the near field is %.3f dB off, want −0.36", db)
	}
	for _, bad := range []func() error{
		func() error { _, err := measure.FarFromNear(sum, cone, 1); return err },
		func() error { _, err := measure.FarFromNear(make(cone, 1), 0, 1); return err },
		func() error { _, err := measure.FarFromNear(make(cone, 1), cone, math.Inf(1)); return err },
		func() error { _, err := measure.SumNear(make(cone, 1), sum, cone, vent, 1); return err },
		func() error { _, err := measure.SumNear(sum, make(cone, 1), cone, vent, 1); return err },
	} {
		if bad() == nil {
			t.Error("a bad near field without an error")
		}
	}
}

// One response, known in two parts with another gain and delay, is put together
// again.
func TestSpliceFindsGainAndDelay(t *testing.T) {
	w := 2 * math.Pi * 60
	whole := freq.Series{
		&freq.PolyRatio{Num: freq.NewPoly(0, 0, 1/(w*w)), Den: freq.NewPoly(1, 1.2/w, 1/(w*w))},
		resonance(900, 1, 0.4), freq.Delay(0.1e-3),
	}
	low := evaluate(t, append(freq.Series{freq.Gain(2)}, whole...), logGrid(t, 15, 800, 24), "near", farBasis)
	high := evaluate(t, append(freq.Series{freq.Delay(4e-3)}, whole...), logGrid(t, 250, 16e3, 48), "far", farBasis)
	g := logGrid(t, 20, 15e3, 24)
	got, join, err := measure.Splice(low, high, 300, 600, g)
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(join.Gain-0.5) > 1e-4 || math.Abs(join.Delay-4e-3) > 1e-7 || join.Level > 1e-3 || join.Phase > 1e-3 {
		t.Errorf("%v", join)
	}
	for i, want := range append(freq.Series{freq.Delay(4e-3)}, whole...).ResponseTo(nil, g) {
		if d := cmplx.Abs(got.At(i)/want - 1); d > 1e-3 {
			t.Errorf("%g Hz: off by %.2g", g.At(i), d)
		}
	}
	if got.Label() != "far" || got.Basis() != farBasis {
		t.Errorf("%q, %v", got.Label(), got.Basis())
	}
	inverted := evaluate(t, append(freq.Series{freq.Gain(-2)}, whole...), low.Grid(), "inverted", farBasis)
	wide := logGrid(t, 10, 15e3, 12)
	for want, f := range map[string]func() error{
		"want the same polarity": func() error { _, _, err := measure.Splice(inverted, high, 300, 600, g); return err },
		"want the same basis":    func() error { _, _, err := measure.Splice(low.Stated(freq.Basis{}), high, 300, 600, g); return err },
		"want both there":        func() error { _, _, err := measure.Splice(low, high, 300, 900, g); return err },
		"want 0 < from < to":     func() error { _, _, err := measure.Splice(low, high, 600, 300, g); return err },
		"on no grid":             func() error { _, _, err := measure.Splice(low, high, 300, 600, nil); return err },
		"extrapolation is refus": func() error { _, _, err := measure.Splice(low, high, 300, 600, wide); return err },
	} {
		if err := f(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}
