package tradeoff_test

import (
	"math"
	"reflect"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/tradeoff"
)

// study is two invented woofers of about 6 inch and an invented cabinet.
func study(t testing.TB) *tradeoff.Study {
	t.Helper()
	g, err := freq.LogGrid(12, 12*math.Exp2(239.0/48), 48)
	if err != nil || g.Len() != 240 {
		t.Fatalf("grid %v (%v), want 240 points", g, err)
	}
	one := driver.Params{Re: 5.5, Bl: 7.5, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.85, Sd: 0.0138, Coil: driver.Inductor{Le: 0.4e-3}}
	two := driver.Params{Re: 5.8, Bl: 8.6, Mms: 0.021, Cms: 0.9e-3, Rms: 1.1, Sd: 0.0152, Coil: driver.Inductor{Le: 0.6e-3}}
	return &tradeoff.Study{
		Woofers: []tradeoff.Woofer{{Name: "A", Driver: one, Excursion: 6e-3}, {Name: "B", Driver: two, Body: 3e-4, Excursion: 8e-3}},
		Book:    enclosure.Book{VentWall: 3e-3, VentRoom: 0.25},
		Gross:   tradeoff.Range{From: 0.012, To: 0.020, Steps: 4},
		Closed:  true, Tunings: tradeoff.Range{From: 34, To: 50, Steps: 8},
		Vent:         enclosure.Vent{Diameter: 0.052, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1},
		VentedLosses: enclosure.Losses{QL: 8, QP: 60}, ClosedLosses: enclosure.Losses{QL: 15, QA: 30}, Source: 0.05,
		Air:       air.Medium{Density: 1.2, SpeedOfSound: 343},
		Shapes:    []analog.Prototype{analog.Butterworth(4), analog.Butterworth(6), analog.Bessel(6, analog.ByMagnitude), analog.LinkwitzRiley(4), analog.Butterworth(3), analog.Butterworth(2)},
		Extension: tradeoff.Range{From: 30, To: 42, Steps: 6}, Drop: 6,
		Level: 97, Crest: 12, VentAir: 20, Amplifier: limits.Amplifier{PeakVolts: 30, PeakAmperes: 14},
		Delays: []tradeoff.DelayLimit{{At: 38.5, Most: 30e-3}, {At: 50, Most: 20e-3}},
		Grid:   g, SearchFrom: 18, SearchTo: 350,
		Objectives: []tradeoff.Objective{tradeoff.Extension, tradeoff.Level, tradeoff.Delay},
	}
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.10g, want %.10g ± %g", what, got, want, tol)
	}
}

// Every figure of a candidate by the long way: the driver in its box evaluated by
// enclosure, the target by analog, and the demand by limits.
func TestPointsAgainstTheCeiling(t *testing.T) {
	s := study(t)
	r, err := s.Search()
	if err != nil {
		t.Fatal(err)
	}
	if len(r.Points)+r.Unbuilt != 2*5*10*6*7 {
		t.Errorf("%d points and %d unbuilt of %d", len(r.Points), r.Unbuilt, 2*5*10*6*7)
	}
	third := 0
	for _, p := range r.Points {
		if p.Shape == "Butterworth order 2" {
			t.Fatalf("a leaking closed box follows a target of order 2: %+v", p)
		}
		if p.Shape == "Butterworth order 3" {
			third++
			if p.Tuning != 0 {
				t.Fatalf("a vented box follows a target of order 3: %+v", p)
			}
		}
	}
	if third != 2*5*7 {
		t.Errorf("%d closed boxes with a target of order 3", third)
	}
	closed := 0
	for n := 0; n < len(r.Points); n += 97 {
		p := r.Points[n]
		b, err := s.Build(p.Recipe())
		if err != nil {
			t.Fatal(err)
		}
		if p.Tuning == 0 {
			closed++
		}
		// The account: what stands in the cabinet and the tube are not air of the box.
		tube := 0.0
		if p.Tuning > 0 {
			tube = math.Pi * 0.029 * 0.029 * p.Length
		}
		near(t, "net volume", p.Net, p.Gross-s.Woofers[p.Recipe().Woofer].Body-tube, 1e-12)
		near(t, "target at the extension", level.DB(mag(t, b.Target, p.Extension)), -6, 1e-9)
		m, err := b.Mounted.Motion()
		if err != nil {
			t.Fatal(err)
		}
		out, err := freq.Evaluate(m.Pressure, s.Grid, "", enclosure.PressureBasis())
		if err != nil {
			t.Fatal(err)
		}
		c, err := limits.NewCeiling(out, []limits.Bound{
			{Cause: limits.Excursion, PerVolt: m.Cone, Peak: s.Woofers[p.Recipe().Woofer].Excursion},
			{Cause: limits.VentAir, PerVolt: m.VentAir, Peak: s.VentAir},
			{Cause: limits.Volts, PerVolt: freq.Gain(1), Peak: s.Amplifier.PeakVolts},
			{Cause: limits.Amperes, PerVolt: m.Current, Peak: s.Amplifier.PeakAmperes},
		})
		if err != nil {
			t.Fatal(err)
		}
		d, err := c.Demand(b.Target, s.Level)
		if err != nil {
			t.Fatal(err)
		}
		use, err := d.Worst(s.SearchFrom, s.SearchTo)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "excursion", p.Excursion, use[0].Most, 1e-9*use[0].Most)
		near(t, "vent air", p.VentAir, use[1].Most, 1e-9*use[1].Most)
		near(t, "volts", p.Volts, use[2].Most, 1e-9*use[2].Most)
		near(t, "amperes", p.Amperes, use[3].Most, 1e-9*use[3].Most)
		share, cause := 0.0, ""
		for _, u := range use {
			if u.Share() > share {
				share, cause = u.Share(), u.Bound.Cause.String()
			}
		}
		near(t, "highest level", p.MaxLevel, s.Level-level.DB(share), 1e-9)
		if p.StoppedBy != cause {
			t.Errorf("stopped by %q, want %q", p.StoppedBy, cause)
		}
		// Heat: Re·I² of each frequency of a pink programme, whose rms is Crest less
		// 3.01 dB below the sine's, as the mean over log frequency by trapezoids.
		heat, power, whole := 0.0, 0.0, 0.0
		target, amps := b.Target.ResponseTo(nil, s.Grid), m.Current.ResponseTo(nil, s.Grid)
		i, j := s.Grid.Between(s.SearchFrom, s.SearchTo)
		at := func(k int) (watts, va float64) {
			v := level.Pascal(s.Level) * absc(target[k]) / absc(out.At(k)) // V rms
			a := v * absc(amps[k])
			return b.Mounted.Driver.Re * a * a * 2 / level.PowerRatio(s.Crest), v * a
		}
		for k := i; k < j-1; k++ {
			dx := math.Log(s.Grid.At(k+1) / s.Grid.At(k))
			a, va := at(k)
			c, _ := at(k + 1)
			_, vb := at(k + 1)
			heat, whole, power = heat+dx*(a+c)/2, whole+dx, math.Max(power, math.Max(va, vb))
		}
		near(t, "heat", p.Heat, heat/whole, 1e-9*p.Heat)
		near(t, "apparent power", p.Power, power, 1e-9*p.Power)
		near(t, "delay", p.Delay, freq.GroupDelay(b.Target, one(t, 38.5), "").At(0), 1e-9)
		again, err := s.Measure(p.Recipe())
		if err != nil {
			t.Fatal(err)
		}
		if p.Used > 1 == p.Feasible() || again.Used != p.Used || again.MaxLevel != p.MaxLevel || again.Corner != p.Corner {
			t.Errorf("measured again: %+v, first %+v", again, p)
		}
	}
	if closed == 0 {
		t.Error("no closed box looked at")
	}
}

func absc(v complex128) float64 { return math.Hypot(real(v), imag(v)) }

func one(t *testing.T, hz float64) *freq.Grid {
	t.Helper()
	g, err := freq.NewGrid([]float64{hz})
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func mag(t *testing.T, f freq.Transfer, hz float64) float64 {
	return absc(f.ResponseTo(nil, one(t, hz))[0])
}

// The front against the definition, pair by pair; and twice the same.
func TestFrontAgainstEveryPair(t *testing.T) {
	s := study(t)
	s.Refine = 2
	s.Objectives = []tradeoff.Objective{tradeoff.Extension, tradeoff.Level, tradeoff.Delay, tradeoff.VentAir}
	r, err := s.Search()
	if err != nil {
		t.Fatal(err)
	}
	of := func(p tradeoff.Point) [4]float64 {
		return [4]float64{p.Extension, -p.MaxLevel, p.Delay, p.VentAir}
	}
	var want []tradeoff.Point
	for i, a := range r.Points {
		if !a.Feasible() {
			continue
		}
		beaten := false
		for j, b := range r.Points {
			if i == j || !b.Feasible() {
				continue
			}
			worse, better := false, false
			x, y := of(a), of(b)
			for k := range x {
				worse = worse || y[k] > x[k]
				better = better || y[k] < x[k]
			}
			beaten = beaten || better && !worse
		}
		if !beaten {
			want = append(want, a)
		}
	}
	if len(want) < 10 || len(want) != len(r.Front) {
		t.Fatalf("%d points on the front of %d, want %d (10 at least)", len(r.Front), len(r.Points), len(want))
	}
	set := map[tradeoff.Recipe]bool{}
	for _, p := range want {
		set[p.Recipe()] = true
	}
	for k, p := range r.Front {
		if !set[p.Recipe()] {
			t.Errorf("%+v is beaten", p)
		}
		if k > 0 && p.Extension < r.Front[k-1].Extension {
			t.Errorf("front is not in order at %d", k)
		}
	}
	again, err := s.Search()
	if err != nil || !reflect.DeepEqual(r, again) {
		t.Errorf("the same study has another result (%v)", err)
	}
}

// Refined, the front of extension and level is that of the whole fine grid.
func TestRefinementFindsTheFineFront(t *testing.T) {
	s := study(t)
	s.Gross = tradeoff.Range{From: 0.015}
	s.Objectives = []tradeoff.Objective{tradeoff.Extension, tradeoff.Level}
	best := func(refine int) (levels map[float64]float64, tried int) {
		s.Refine = refine
		r, err := s.Search()
		if err != nil {
			t.Fatal(err)
		}
		levels = map[float64]float64{}
		for _, p := range r.Front {
			levels[p.Extension] = max(levels[p.Extension], p.MaxLevel)
		}
		return levels, len(r.Points) + r.Unbuilt
	}
	coarse, _ := best(0)
	refined, tried := best(3)
	s.Tunings.Steps *= 8
	s.Extension.Steps *= 8
	fine, all := best(0)
	if tried > all/3 {
		t.Errorf("refinement tries %d candidates of %d", tried, all)
	}
	gain := 0.0
	for hz, level := range fine {
		if coarse[hz] > 0 {
			gain += level - coarse[hz]
		}
		if math.Abs(refined[hz]-level) > 1e-9 {
			t.Errorf("at %g Hz %g dB refined, %g dB coarse, %g dB on the fine grid", hz, refined[hz], coarse[hz], level)
		}
	}
	if len(refined) != len(fine) || !(gain > 0.01) {
		t.Errorf("%d extensions refined, %d on the fine grid; gain over the coarse one %g dB", len(refined), len(fine), gain)
	}
}

// What binds besides the levels: each of these bounds, made tight, is the one that is
// told, with the share that it is by hand.
func TestBoundsBesideTheLevel(t *testing.T) {
	r := tradeoff.Recipe{Gross: 0.0152, Tuning: 40, Shape: analog.Butterworth(6), Extension: 35}
	for want, tighten := range map[string]func(s *tradeoff.Study, p tradeoff.Point) float64{
		"vent room":      func(s *tradeoff.Study, p tradeoff.Point) float64 { s.Book.VentRoom = 0.05; return p.Length / 0.05 },
		"pipe resonance": func(s *tradeoff.Study, p tradeoff.Point) float64 { s.Pipe = 3000; return 3000 / p.Pipe },
		"group delay": func(s *tradeoff.Study, p tradeoff.Point) float64 {
			s.Delays[0].Most = 5e-3
			return p.Delay / 5e-3
		},
	} {
		s := study(t)
		p, err := s.Measure(r)
		if err != nil {
			t.Fatal(err)
		}
		share := tighten(s, p)
		q, err := s.Measure(r)
		if err != nil {
			t.Fatal(err)
		}
		near(t, want, q.Used, share, 1e-12*share)
		if q.Binding != want || q.Feasible() || q.MaxLevel != p.MaxLevel || q.StoppedBy != p.StoppedBy || q.Fits != (want != "vent room") {
			t.Errorf("%s: %+v", want, q)
		}
	}
}
