package enclosure_test

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/internal/testtable"
)

// The mass on a rectangular piston by the double integral itself: the distance of two
// places on it has the density 4·(w−u)(h−v), and in polar coordinates 1/r goes away.
// The mean of 1/r over a unit square is also known as 2.9732 (charged plates).
func TestSlotShapeAgainstTheIntegral(t *testing.T) {
	round := 8 / (3 * math.Pi) * math.Sqrt(1/math.Pi)
	for _, ratio := range []float64{1, 1.7, 4, 10, 50, 1000} {
		w, h := math.Sqrt(ratio), 1/math.Sqrt(ratio)
		along := func(theta float64) float64 { // ∫ (w − r·cos)(h − r·sin) dr up to the border
			s, c := math.Sincos(theta)
			r := math.Min(w/c, h/s)
			return 4 * (w*h*r - (w*s+h*c)*r*r/2 + s*c*r*r*r/3)
		}
		corner := math.Atan2(h, w)
		integral := 0.0
		integral += quad.Fixed(along, 0, corner, 40, nil, 0)
		for lo := corner; lo < math.Pi/2; lo *= 1.5 { // pieces that grow, as the border 1/sin does
			integral += quad.Fixed(along, lo, math.Min(1.5*lo, math.Pi/2), 40, nil, 0)
		}
		near(t, "shape", enclosure.SlotShape(ratio), integral/(2*math.Pi)/round, 1e-10)
		near(t, "shape turned", enclosure.SlotShape(1/ratio), enclosure.SlotShape(ratio), 1e-10)
	}
	near(t, "mean of 1/r of a square", enclosure.SlotShape(1)*round*2*math.Pi, 2.9732, 5e-5)
}

// A slot has the mass of its box of air and of two ends; along a wall the inner one is
// half of that of a slot twice as high.
func TestSlotMass(t *testing.T) {
	s := enclosure.Slot{Width: 0.15, Height: 0.02, Length: 0.2, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	a := math.Sqrt(0.003 / math.Pi)
	want := table.Density * (0.2 + (0.6133+0.8217)*a*enclosure.SlotShape(7.5)) / 0.003
	near(t, "mass", s.Mass(table)/want, 1, 1e-12)
	near(t, "displaced", s.Displaced(0.005), 0.16*0.03*0.2, 1e-15)
	s.Along = true
	a2 := math.Sqrt(0.006 / math.Pi)
	want = table.Density * (0.2 + 0.6133*a2*enclosure.SlotShape(3.75) + 0.8217*a*enclosure.SlotShape(7.5)) / 0.003
	near(t, "mass along a wall", s.Mass(table)/want, 1, 1e-12)
	near(t, "displaced along a wall", s.Displaced(0.005), 0.16*0.025*0.2, 1e-15)
	near(t, "tuning", s.Tuning(0.02, table), 1/(2*math.Pi*math.Sqrt(want*0.02/table.Stiffness())), 1e-10)
	s.Count = 2
	near(t, "two", s.Mass(table)/want, 0.5, 1e-12)
	// a square is nearly a round one of the same area: 1.2 % of the ends
	square := enclosure.Slot{Width: 0.05, Height: 0.05, Length: 0.1, Inner: enclosure.Flanged, Outer: enclosure.Flanged, Count: 1}
	round := enclosure.Vent{Diameter: 0.1 / math.Sqrt(math.Pi), Length: 0.1, Inner: enclosure.Flanged, Outer: enclosure.Flanged, Count: 1}
	near(t, "square over round", square.Mass(table)/round.Mass(table), 1, 0.006)
}

// A flare without a radius is a vent. Its mass is that of a sum over thin discs, and of a
// large flare at a thin throat nearly ∫dx/S of a parabola, π/2·√(r/(2a³))·… in closed
// form: with R ≈ a + x²/2r, ∫dx/(πR²) = √(2r)·π/(4·π·a^1.5).
func TestFlareMass(t *testing.T) {
	f := enclosure.Flare{Diameter: 0.06, Length: 0.2, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 2}
	v := enclosure.Vent{Diameter: 0.06, Length: 0.2, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 2}
	near(t, "mass without flares", f.Mass(table)/v.Mass(table), 1, 1e-12)
	near(t, "displaced without flares", f.Displaced(0.003)/v.Displaced(0.003), 1, 1e-12)
	near(t, "loss without flares", f.Loss(40, 12, table)/v.Loss(40, 12, table), 1, 1e-12)
	near(t, "tuning without flares", f.Tuning(0.03, table)/v.Tuning(0.03, table), 1, 1e-12)

	f.InnerFlare, f.OuterFlare, f.Count = 0.03, 0.02, 1
	sum, volume := 0.15/(math.Pi*0.03*0.03), 0.15*math.Pi*0.033*0.033
	const n = 200000
	for _, r := range []float64{0.03, 0.02} {
		for k := range n {
			x := (float64(k) + 0.5) / n * r // from the throat
			radius := 0.03 + r - math.Sqrt(r*r-x*x)
			sum += r / n / (math.Pi * radius * radius)
			volume += r / n * math.Pi * (radius + 0.003) * (radius + 0.003)
		}
	}
	want := table.Density * (sum + 0.6133/(math.Pi*0.06) + 0.8217/(math.Pi*0.05))
	near(t, "mass of flares", f.Mass(table)/want, 1, 1e-7)
	near(t, "displaced by flares", f.Displaced(0.003)/volume, 1, 1e-7)

	thin := enclosure.Flare{Diameter: 0.002, Length: 0.01, OuterFlare: 0.01, Count: 1}
	parabola := math.Sqrt(2*0.01) / (4 * math.Pow(0.001, 1.5))
	near(t, "large flare", thin.Mass(table)/table.Density/parabola, 1, 0.12)
}

func drawSlot(t *rapid.T) enclosure.Slot {
	return enclosure.Slot{Width: within(t, "width", 0.02, 0.4), Height: within(t, "height", 0.01, 0.1), Length: within(t, "length", 0.01, 0.6),
		Inner: enclosure.Free, Outer: enclosure.Flanged, Count: rapid.IntRange(1, 2).Draw(t, "slots"), Along: rapid.Bool().Draw(t, "along")}
}

func drawFlare(t *rapid.T) enclosure.Flare {
	f := enclosure.Flare{Diameter: within(t, "diameter", 0.02, 0.2), Inner: enclosure.Free, Outer: enclosure.Flanged, Count: rapid.IntRange(1, 2).Draw(t, "flares")}
	f.InnerFlare, f.OuterFlare = maybe(t, "inner flare", 0.002, 0.05), maybe(t, "outer flare", 0.002, 0.05)
	f.Length = f.InnerFlare + f.OuterFlare + within(t, "straight", 0.01, 0.6)
	return f
}

// The book with any tube: it adds up, has the tuning asked for, and of a round tube it
// is that of Tune.
func TestBookFitsAnyTube(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := air.Room()
		b := enclosure.Book{Gross: within(t, "gross", 5e-3, 0.2), Driver: 1e-4, VentWall: maybe(t, "wall", 1e-3, 8e-3), VentRoom: maybe(t, "room", 0.1, 0.5)}
		fb := within(t, "fb", 20, 90)
		tube := drawTube(t)
		f, err := b.Fit(fb, tube, m)
		if v, ok := tube.(enclosure.Vent); ok {
			a, tuneErr := b.Tune(fb, v, m)
			if (err == nil) != (tuneErr == nil) {
				t.Fatalf("Fit says %v, Tune says %v", err, tuneErr)
			}
			if err == nil && (math.Abs(f.Tube.(enclosure.Vent).Length-a.Box.Vent.Length) > 1e-9*a.Box.Vent.Length+1e-14 || math.Abs(f.Vb-a.Box.Vb) > 1e-12*f.Vb || f.Length != f.Tube.(enclosure.Vent).Length || f.Fits != a.Fits || math.Abs(f.Pipe/a.Pipe-1) > 1e-9) {
				t.Errorf("Fit has %+v, Tune has %+v", f, a)
			}
		}
		if err != nil {
			return
		}
		if math.Abs(f.Fb/fb-1) > 1e-9 {
			t.Errorf("tuned to %.12g Hz, want %.12g", f.Fb, fb)
		}
		if sum := f.Vb + f.Tube.Displaced(b.VentWall) + b.Driver; math.Abs(sum-b.Gross) > 1e-12*b.Gross {
			t.Errorf("volumes sum to %g m³, want %g", sum, b.Gross)
		}
		if again, err := enclosure.LengthFor(tube, fb, f.Vb, m); err != nil {
			t.Error(err)
		} else if r := again.Mass(m) / f.Tube.Mass(m); math.Abs(r-1) > 1e-9 {
			t.Errorf("length for the net volume makes %g of the mass", r)
		}
		if f.Box(false).Port != f.Tube || f.Box(true).Port != (enclosure.Pipe{Of: f.Tube}) {
			t.Errorf("boxes have the ports %v and %v", f.Box(false).Port, f.Box(true).Port)
		}
	})
}

// Flow and area: at 1 m in half space p = ωρU/2π. The table of worked vents has the
// rule of Small as 7.854 m/s, from memory.
func TestAreaForALevel(t *testing.T) {
	u, err := enclosure.FlowFor(2, 40, table)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "pressure of the flow", 2*math.Pi*40*table.Density*u/(2*math.Pi), 2, 1e-12)
	s, err := enclosure.MinimumArea(u, enclosure.UsualSpeed)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "area", s*17, u, 1e-15)
	small, err := enclosure.MinimumArea(2*math.Pi*40*6.8e-5, enclosure.SmallSpeed)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range testtable.Read(t, "../../datasets/reference/vents.csv") {
		if strings.HasPrefix(r["item"], "small_min_vent_area") {
			near(t, "area by Small's rule", small, r.Number(t, "value"), 1e-9)
		}
	}
	for _, err := range []error{
		func() error { _, err := enclosure.FlowFor(0, 40, table); return err }(),
		func() error { _, err := enclosure.FlowFor(2, math.NaN(), table); return err }(),
		func() error { _, err := enclosure.FlowFor(2, 40, air.Medium{}); return err }(),
		func() error { _, err := enclosure.MinimumArea(1, 0); return err }(),
		func() error { _, err := enclosure.MinimumArea(math.Inf(1), 10); return err }(),
	} {
		if err == nil {
			t.Error("nonsense was accepted")
		}
	}
}

func TestTubeRefusals(t *testing.T) {
	slot := enclosure.Slot{Width: 0.1, Height: 0.02, Length: 0.2, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	flare := enclosure.Flare{Diameter: 0.06, Length: 0.2, InnerFlare: 0.02, OuterFlare: 0.02, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	slotted := func(change func(*enclosure.Slot)) enclosure.Tube { s := slot; change(&s); return s }
	flared := func(change func(*enclosure.Flare)) enclosure.Tube { f := flare; change(&f); return f }
	for name, c := range map[string]struct {
		tube enclosure.Tube
		want string
	}{
		"no width":         {slotted(func(s *enclosure.Slot) { s.Width = 0 }), "slot is 0 by 0.02 m"},
		"a crack":          {slotted(func(s *enclosure.Slot) { s.Height = 1e-6 }), "ratio up to 1000"},
		"no slot":          {slotted(func(s *enclosure.Slot) { s.Count = 0 }), "0 slots"},
		"slot length":      {slotted(func(s *enclosure.Slot) { s.Length = math.NaN() }), "slot length is NaN"},
		"slot ends":        {slotted(func(s *enclosure.Slot) { s.Inner = -1 }), "-1 and 0.8217 radii"},
		"slot edge":        {slotted(func(s *enclosure.Slot) { s.Edge = -1 }), "radius of -1 m"},
		"slot of nothing":  {slotted(func(s *enclosure.Slot) { s.Length, s.Inner, s.Outer = 0, 0, 0 }), "has no mass"},
		"no throat":        {flared(func(f *enclosure.Flare) { f.Diameter = 0 }), "diameter is 0 m"},
		"wild flare":       {flared(func(f *enclosure.Flare) { f.InnerFlare = 1 }), "radii of 1 and 0.02 m"},
		"too short":        {flared(func(f *enclosure.Flare) { f.Length = 0.03 }), "at least the 0.04 m"},
		"no flared vent":   {flared(func(f *enclosure.Flare) { f.Count = 0 }), "0 flared vents"},
		"flare ends":       {flared(func(f *enclosure.Flare) { f.Outer = 3 }), "0.6133 and 3 radii"},
		"flare of nothing": {flared(func(f *enclosure.Flare) { *f = enclosure.Flare{Diameter: 0.06, Count: 1} }), "has no mass"},
		"vent edge":        {enclosure.Vent{Diameter: 0.05, Length: 0.1, Count: 1, Edge: math.NaN()}, "radius of NaN m"},
	} {
		_, err := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Cabinet{Chamber: enclosure.Chamber{Vb: 0.02}, Port: enclosure.Pipe{Of: c.tube}}}.Motion()
		if err == nil || !strings.Contains(err.Error(), c.want) || !strings.HasPrefix(err.Error(), "enclosure: ") {
			t.Errorf("%s: error %v, want one of enclosure with %q", name, err, c.want)
		}
	}
	b := enclosure.Book{Gross: 0.02, VentWall: 3e-3}
	for name, c := range map[string]struct {
		book enclosure.Book
		fb   float64
		want string
	}{
		"too high":    {b, 400, "tunes to"},
		"too low":     {b, 6, "takes more volume than it gains"},
		"no tuning":   {b, math.NaN(), "tuning is NaN Hz"},
		"no book":     {enclosure.Book{}, 40, "volume book"},
		"just a hole": {b, 151, ""},
	} {
		f, err := c.book.Fit(c.fb, flare, table)
		if c.want == "" {
			if err == nil && math.Abs(f.Fb/c.fb-1) > 1e-9 {
				t.Errorf("%s: tuned to %g Hz", name, f.Fb)
			}
		} else if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}
