package directivity_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

var fullSpace = freq.Basis{Quantity: freq.Pressure, Per: freq.PerInput, Space: freq.FullSpace, Distance: 1}

func must[T any](t testing.TB) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// ideal returns the set of a pattern that is alike around the axis: amplitude over the
// angle from the axis, on the 70 directions.
func ideal(t testing.TB, pattern func(theta float64) float64) *directivity.Set {
	t.Helper()
	g := must[*freq.Grid](t)(freq.NewGrid([]float64{100, 1000}))
	return must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "ideal", func(d directivity.Direction) (freq.Transfer, error) {
		return freq.Gain(pattern(math.Abs(d.Degrees) * math.Pi / 180)), nil
	}, directivity.Orbits70()...))
}

var patterns = map[string]func(float64) float64{
	"omni":            func(float64) float64 { return 1 },
	"((1+cos)/2)^2":   func(a float64) float64 { return (1 + math.Cos(a)) / 2 },
	"cos^2":           math.Cos,
	"((1+cos)/2)^4":   func(a float64) float64 { return math.Pow((1+math.Cos(a))/2, 2) },
	"hemisphere t<90": func(a float64) float64 { return math.Sqrt(step(math.Cos(a))) },
}

func step(cos float64) float64 {
	switch {
	case cos > 1e-9:
		return 1
	case cos < -1e-9:
		return 0
	}
	return 0.5
}

func TestAveragesOfIdealPatterns(t *testing.T) {
	seen := 0
	for _, r := range testtable.Read(t, "testdata/cta2034_examples.csv") {
		name, _, _ := strings.Cut(r["pattern_energy(theta)"], " (")
		pattern, ok := patterns[name]
		if !ok {
			t.Fatalf("no pattern %q", name)
		}
		seen++
		a := must[*directivity.Averages](t)(ideal(t, pattern).Averages(directivity.Reading{}))
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"sound power", a.SoundPower.Pressure.At(0), r.Number(t, "cta_weighted_mean")},
			{"listening window", a.ListeningWindow.Pressure.At(0), r.Number(t, "LW_mean")},
			{"early reflections", a.EarlyReflections.Pressure.At(0), r.Number(t, "ER_mean_of_groups")},
			{"in room", a.InRoom.Pressure.At(0), r.Number(t, "PIR_energy")},
		} {
			if math.Abs(c.got*c.got-c.want) > 1e-9 {
				t.Errorf("%s: %s is %.10f, want %.10f", name, c.what, c.got*c.got, c.want)
			}
		}
		// The bias is against zones, which are themselves within 0.3 % of the sphere.
		want := level.PowerDB(r.Number(t, "cta_weighted_mean") / r.Number(t, "ring_weighted_mean"))
		if got := a.Bias.At(1); math.Abs(got-want) > 1e-8 {
			t.Errorf("%s: bias %g dB, want %g", name, got, want)
		}
		if exact := r.Number(t, "cta_error_db"); math.Abs(want-exact) > 0.013 {
			t.Errorf("%s: bias against zones %g dB, against the sphere %g dB", name, want, exact)
		}
		if got, want := a.SoundPowerIndex.At(0), level.PowerDB(r.Number(t, "LW_mean")/r.Number(t, "cta_weighted_mean")); math.Abs(got-want) > 1e-8 {
			t.Errorf("%s: sound power index %g dB, want %g", name, got, want)
		}
		if got, want := a.EarlyIndex.At(0), level.PowerDB(r.Number(t, "LW_mean")/r.Number(t, "ER_mean_of_groups")); math.Abs(got-want) > 1e-8 {
			t.Errorf("%s: early index %g dB, want %g", name, got, want)
		}
		if index := must[freq.Curve](t)(a.Index()); math.Abs(index.At(0)+level.PowerDB(r.Number(t, "cta_weighted_mean"))) > 1e-8 {
			t.Errorf("%s: index of the axis %g dB", name, index.At(0))
		}
		if len(a.InRoom.Doubtful) != 0 || len(a.SoundPower.Directions) != 72 {
			t.Errorf("%s: %d doubtful, %d directions of the sound power, want 0 and 72 (0° and 180° of both orbits)", name, len(a.InRoom.Doubtful), len(a.SoundPower.Directions))
		}
	}
	if seen != len(patterns) {
		t.Fatalf("%d patterns, want %d", seen, len(patterns))
	}
}

// The table of the standard, from memory, to its nine places, and quarter zones.
func TestWeights(t *testing.T) {
	var sum, zones float64
	for _, r := range testtable.Read(t, "testdata/cta2034_weights.csv") {
		a := r.Number(t, "angle_deg")
		got := directivity.Standard.At(a)
		if math.Abs(got-r.Number(t, "w_closed_form")) > 1e-12 || math.Abs(got-r.Number(t, "w_published_from_memory")) > 6e-10 {
			t.Errorf("%g°: %.12f, want %s", a, got, r["w_closed_form"])
		}
		if z := directivity.Zones.At(a); math.Abs(z-r.Number(t, "w_ring_zone_quarter")) > 1e-12 {
			t.Errorf("%g°: zone %.12f, want %s", a, z, r["w_ring_zone_quarter"])
		}
		n := r.Number(t, "multiplicity_for_unit_sum")
		sum += n * got
		zones += n * directivity.Zones.At(a)
	}
	if math.Abs(sum-1) > 1e-12 || math.Abs(zones-1) > 1e-12 {
		t.Errorf("sums are %.15f and %.15f, want 1", sum, zones)
	}
}

// The groups as the table has them.
func TestGroups(t *testing.T) {
	groups := map[string][]directivity.Direction{
		"listening_window":  directivity.ListeningWindow(),
		"floor_bounce":      directivity.FloorBounce(),
		"ceiling_bounce":    directivity.CeilingBounce(),
		"front_wall_bounce": directivity.FrontWallBounce(),
		"side_wall_bounce":  directivity.SideWallBounce(),
		"rear_wall_bounce":  directivity.RearWallBounce(directivity.RearThree),
	}
	rows := testtable.Read(t, "testdata/cta2034_groups.csv")
	for name, got := range groups {
		var want []directivity.Direction
		for _, r := range testtable.Select(t, rows, "group", name) {
			for _, a := range r.Numbers(t, "angles_deg") {
				if r["orbit"] == "V" {
					want = append(want, directivity.Up(a))
				} else {
					want = append(want, directivity.Side(a))
				}
			}
		}
		if len(got) != len(want) || len(want) == 0 {
			t.Errorf("%s: %v, want %v", name, got, want)
		}
		for _, d := range want {
			if !slices.Contains(got, d) {
				t.Errorf("%s: no %v", name, d)
			}
		}
	}
	if n := len(directivity.RearWallBounce(directivity.RearHalf)); n != 19 {
		t.Errorf("rear half has %d angles, want 19", n)
	}
	if n := len(directivity.Orbits70()); n != 70 {
		t.Errorf("two orbits have %d directions, want 70", n)
	}
}

// By hand: of a dipole's cos²θ, the mean over the 26 angles of all bounces, and the mean of the
// rear half.
func TestReadingsDiffer(t *testing.T) {
	set := ideal(t, math.Cos)
	cos2 := func(deg float64) float64 { return math.Pow(math.Cos(deg*math.Pi/180), 2) }
	var sum float64
	n := 0
	for _, c := range []struct{ lo, hi, times float64 }{{0, 0, 1}, {10, 80, 2}, {90, 90, 2}, {180, 180, 1}, {20, 40, 1}, {40, 60, 1}} {
		for a := c.lo; a <= c.hi; a += 10 {
			sum += c.times * cos2(a)
			n += int(c.times)
		}
	}
	a := must[*directivity.Averages](t)(set.Averages(directivity.Reading{Early: directivity.AnglesAlike}))
	if got := math.Pow(a.EarlyReflections.Pressure.At(0), 2); n != 26 || math.Abs(got-sum/float64(n)) > 1e-12 {
		t.Errorf("%d angles alike: %g, want 26 and %g", n, got, sum/float64(n))
	}
	sum = 1
	for deg := 90.0; deg < 180; deg += 10 {
		sum += 2 * cos2(deg)
	}
	a = must[*directivity.Averages](t)(set.Averages(directivity.Reading{Rear: directivity.RearHalf}))
	if got := math.Pow(a.Rear.Pressure.At(0), 2); math.Abs(got-sum/19) > 1e-12 {
		t.Errorf("rear half: %g, want %g", got, sum/19)
	}
}

func TestAveragesNameWhatIsMissing(t *testing.T) {
	set := ideal(t, math.Cos)
	var fewer []directivity.Point
	for _, p := range set.Points() {
		if p.Direction != directivity.Side(-140) && p.Direction != directivity.Up(60) {
			fewer = append(fewer, p)
		}
	}
	short := must[*directivity.Set](t)(directivity.NewSet(set.Clock(), fewer...))
	_, err := short.Averages(directivity.Reading{})
	if err == nil || !strings.Contains(err.Error(), "140° left") || !strings.Contains(err.Error(), "60° up") {
		t.Errorf("error %v, want both missing directions", err)
	}
	if _, err := short.Average("listening window", directivity.ListeningWindow()...); err != nil {
		t.Errorf("listening window does not need what is missing: %v", err)
	}
	b := fullSpace
	b.Space = freq.HalfSpace
	var half []directivity.Point
	for _, p := range set.Points() {
		p.Response = p.Response.Stated(b)
		half = append(half, p)
	}
	if _, err := must[*directivity.Set](t)(directivity.NewSet(set.Clock(), half...)).Averages(directivity.Reading{}); err == nil || !strings.Contains(err.Error(), "full space") {
		t.Errorf("averages in half space: %v", err)
	}
	if _, err := set.Averages(directivity.Reading{Early: 2}); err == nil {
		t.Error("a reading that there is not was taken")
	}
}

// A monopole of volume velocity Q radiates ρω²Q²/(4πc) and makes ρωQ/(4πr) at r (L. Beranek and
// T. Mellow, Acoustics, 2012; from memory).
func TestWattsOfAMonopole(t *testing.T) {
	m := air.Medium{Density: 1.2, SpeedOfSound: 340}
	g := must[*freq.Grid](t)(freq.NewGrid([]float64{100, 250}))
	b := fullSpace
	b.Distance = 2
	const flow = 1e-3
	set := must[*directivity.Set](t)(directivity.Simulate(g, b, "ideal", func(directivity.Direction) (freq.Transfer, error) {
		return &freq.PolyRatio{Num: freq.NewPoly(0, 1.2*flow/(4*math.Pi*2)), Den: freq.NewPoly(1)}, nil
	}, directivity.Orbits70()...))
	mean := must[directivity.Mean](t)(set.SoundPower(directivity.Standard))
	watts := must[freq.Curve](t)(mean.Watts(3, m))
	for i := range g.Len() {
		w := g.Omega()[i]
		want := 1.2 * w * w * 9 * flow * flow / (4 * math.Pi * 340)
		if math.Abs(watts.At(i)/want-1) > 1e-12 {
			t.Errorf("%g Hz: %g W, want %g", g.At(i), watts.At(i), want)
		}
	}
	if _, err := must[directivity.Mean](t)(set.Average("listening window", directivity.ListeningWindow()...)).Watts(3, m); err == nil || !strings.Contains(err.Error(), "SoundPower") {
		t.Errorf("watts of a listening window: %v", err)
	}
	if spl := mean.SPL(3); math.Abs(spl.At(0)-level.SPL(3*1.2*g.Omega()[0]*flow/(8*math.Pi))) > 1e-9 {
		t.Errorf("level %g dB", spl.At(0))
	}
}
