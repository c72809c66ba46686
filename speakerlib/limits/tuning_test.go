package limits_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
)

// study is an invented woofer of about 6 inch in an invented cabinet of 15 L.
func study(t *testing.T) limits.TuningStudy {
	t.Helper()
	g, err := freq.LogGrid(15, 400, 48)
	if err != nil {
		t.Fatal(err)
	}
	// Sixth-order Butterworth high-pass at 39 Hz: poles at 15°, 45°, 75°.
	w := 2 * math.Pi * 39
	var target freq.Series
	for _, deg := range []float64{15, 45, 75} {
		target = append(target, &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1), Den: freq.NewPoly(w*w, 2*w*math.Cos(deg*math.Pi/180), 1)})
	}
	return limits.TuningStudy{
		Driver: driver.Params{Re: 5.5, Bl: 7.5, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.85, Sd: 0.0138, Coil: driver.Inductor{Le: 0.4e-3}},
		Book:   enclosure.Book{Gross: 0.0152, VentWall: 3e-3, VentRoom: 0.25},
		Vent:   enclosure.Vent{Diameter: 0.052, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1},
		Air:    air.Medium{Density: 1.2, SpeedOfSound: 343}, Amplifier: limits.Amplifier{PeakVolts: 26},
		Grid: g, Target: target, Level: 98.5, Excursion: 6e-3, VentAir: 20,
		ProbeFrom: 45, ProbeTo: 60, SearchFrom: 20, SearchTo: 300,
	}
}

// At a given sound pressure a lossless vented box needs the vent flow
// U₀·(fb/f)² and the cone flow U₀·(1 − (fb/f)²), with U₀ = p·2π·r/(ρω) in half
// space, whatever the driver, the amplifier and the filter: the flow into the
// compliance is U₀, and the vent carries it over the mass.
func TestCostOfATargetIsTheFlowsOfTheBox(t *testing.T) {
	s := study(t)
	c, err := s.Ceiling(40)
	if err != nil {
		t.Fatal(err)
	}
	d, err := c.Demand(s.Target, s.Level)
	if err != nil {
		t.Fatal(err)
	}
	g := s.Grid
	target := s.Target.ResponseTo(nil, g)
	area := math.Pi / 4 * 0.052 * 0.052
	for i := range g.Len() {
		tm := math.Hypot(real(target[i]), imag(target[i]))
		u0 := math.Sqrt2 * level.Pascal(98.5) * tm * 2 * math.Pi / (1.2 * g.Omega()[i])
		x := 40 / g.At(i)
		vent, cone := u0*x*x/area, u0*math.Abs(1-x*x)/(g.Omega()[i]*0.0138)
		if got := d.Each[1].At(i); math.Abs(got/vent-1) > 1e-9 {
			t.Fatalf("%g Hz: vent air %g m/s, want %g", g.At(i), got, vent)
		}
		if got := d.Each[0].At(i); math.Abs(got-cone) > 1e-9*u0 {
			t.Fatalf("%g Hz: excursion %g m, want %g", g.At(i), got, cone)
		}
	}
}

// With losses of the box, at the same sound pressure and x = fb/f: the pressure in
// the box is that of U₀ in the compliance, so that a leak carries U₀·x/QL, in phase
// with that pressure, and the vent U₀·x²/√(1 + (x/QP)²), because its resistance is
// ωb·Map/QP (Small's definitions, written out; no source of the result). The cone
// gives the rest.
func TestLossesCountInWhatATargetCosts(t *testing.T) {
	s := study(t)
	s.Losses = enclosure.Losses{QL: 6, QP: 15}
	c, err := s.Ceiling(40)
	if err != nil {
		t.Fatal(err)
	}
	d, err := c.Demand(freq.Gain(1), s.Level)
	if err != nil {
		t.Fatal(err)
	}
	for i := range s.Grid.Len() {
		w, x := s.Grid.Omega()[i], 40/s.Grid.At(i)
		u0 := math.Sqrt2 * level.Pascal(98.5) * 2 * math.Pi / (1.2 * w)
		port := complex(-x*x, 0) / complex(1, -x/15) // over U₀, as the leak
		leak := complex(0, -x/6)
		air := u0 * cmplx.Abs(port) / (math.Pi / 4 * 0.052 * 0.052)
		cone := u0 * cmplx.Abs(1+port+leak) / (w * 0.0138)
		if got := d.Each[1].At(i); math.Abs(got/air-1) > 1e-9 {
			t.Fatalf("%g Hz: vent air %g m/s, want %g", s.Grid.At(i), got, air)
		}
		if got := d.Each[0].At(i); math.Abs(got/cone-1) > 1e-9 {
			t.Fatalf("%g Hz: excursion %g m, want %g", s.Grid.At(i), got, cone)
		}
	}
}

// A lower tuning of the same driver and cabinet: longer vent, less vent air at
// the same target, less sensitivity around the old corner (common practice, no
// source).
func TestLowerTuningCosts(t *testing.T) {
	rows, err := study(t).Sweep(36, 40, 44, 49)
	if err != nil {
		t.Fatal(err)
	}
	for k := 1; k < len(rows); k++ {
		a, b := rows[k-1], rows[k]
		if !(a.Length > b.Length && a.Spare < b.Spare && a.Net < b.Net && a.Pipe < b.Pipe && a.Sensitivity < b.Sensitivity && a.VentAir < b.VentAir) {
			t.Errorf("from %g to %g Hz:\n%+v\n%+v", a.Fb, b.Fb, a, b)
		}
	}
	if rows[0].Spare > 0 || rows[0].Feasible() || rows[0].Binding != "vent room" {
		t.Errorf("36 Hz does not fit the room of 250 mm: %+v", rows[0])
	}
	if rows[3].Binding != "excursion" || rows[3].Feasible() || rows[3].VentAir < 20 {
		t.Errorf("tuned to 49 Hz the vent no longer holds the cone below, and blows: %+v", rows[3])
	}
}

// Best is where vent room and vent air bind alike: neither a step up nor a step
// down uses less.
func TestBestBalancesTheBounds(t *testing.T) {
	s := study(t)
	best, err := s.Best(30, 55)
	if err != nil {
		t.Fatal(err)
	}
	if !best.Feasible() {
		t.Errorf("best is %+v, want a feasible one", best)
	}
	for _, step := range []float64{-2, -0.5, -0.05, 0.05, 0.5, 2} {
		other, err := s.At(best.Fb + step)
		if err != nil {
			t.Fatal(err)
		}
		if other.Used < best.Used-1e-4 {
			t.Errorf("%g Hz uses %.4f of %s, less than the best, %g Hz, %.4f of %s", other.Fb, other.Used, other.Binding, best.Fb, best.Used, best.Binding)
		}
	}
	if math.Abs(best.VentAir/20-best.Length/0.25) > 2e-3 {
		t.Errorf("vent air uses %.4f and the room %.4f: at the best both bind", best.VentAir/20, best.Length/0.25)
	}
}

// Where the range ends does not matter, if what lies beyond cannot be built; and
// the search ends where float64 does not resolve its 0.01 Hz.
func TestBestOfARangeThatIsTooWide(t *testing.T) {
	want, err := study(t).Best(25, 60)
	if err != nil {
		t.Fatal(err)
	}
	for _, top := range []float64{2e3, 20e3, 1e20} {
		if b, err := study(t).Best(25, top); err != nil || math.Abs(b.Fb-want.Fb) > 0.02 {
			t.Errorf("25 to %g Hz: %g Hz, %v, want %g Hz", top, b.Fb, err, want.Fb)
		}
	}
}

func TestTuningRefusals(t *testing.T) {
	for name, c := range map[string]struct {
		change func(*limits.TuningStudy)
		fb     float64
		want   string
	}{
		"too low":      {func(*limits.TuningStudy) {}, 8, "cannot tune"},
		"too high":     {func(*limits.TuningStudy) {}, 400, "at most"},
		"no level":     {func(s *limits.TuningStudy) { s.Level = math.NaN() }, 40, "NaN"},
		"no search":    {func(s *limits.TuningStudy) { s.SearchFrom, s.SearchTo = 1, 2 }, 40, "no point"},
		"no probe":     {func(s *limits.TuningStudy) { s.ProbeTo = 0 }, 40, "sensitivity"},
		"no driver":    {func(s *limits.TuningStudy) { s.Driver.Re = 0 }, 40, "Re is 0"},
		"no grid":      {func(s *limits.TuningStudy) { s.Grid = nil }, 40, "grid is nil"},
		"no excursion": {func(s *limits.TuningStudy) { s.Excursion = 0 }, 40, "excursion is 0"},
	} {
		s := study(t)
		c.change(&s)
		if _, err := s.At(c.fb); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
	if _, err := study(t).Best(3, 5); err == nil || !strings.Contains(err.Error(), "no tuning from 3 to 5 Hz") {
		t.Errorf("nothing to be built: %v", err)
	}
	if _, err := study(t).Best(50, 40); err == nil {
		t.Error("a reversed range was accepted")
	}
}
