package divide_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/divide"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

var elevations = []string{"down20", "down10", "axis", "up10", "up20"}

// standing reads ways over elevations; the woofer stands 145 mm below the tweeter, about
// which the microphone moved.
func standing(tb testing.TB, set map[string]freq.Response, way string, height float64, without int) crossover.Vertical {
	tb.Helper()
	v := crossover.Vertical{Name: way, Height: height}
	for i, e := range elevations {
		if i != without {
			v.Angles, v.Responses = append(v.Angles, float64(10*i-20)*degree), append(v.Responses, set[way+"-"+e])
		}
	}
	return v
}

func names(ways ...string) (out []string) {
	for _, w := range ways {
		for _, e := range elevations {
			out = append(out, w+"-"+e)
		}
	}
	return out
}

// Every second elevation of the demo's ways, left out, is found again from its
// neighbours 20° apart, within what is measured here: as the way sees them. As the
// tweeter's middle sees the woofer, they are not.
func TestLeftOutElevations(t *testing.T) {
	g, err := freq.LogGrid(250, 12e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	set := demo(t, g, names("woofer", "tweeter")...)
	miss := func(way string, height float64, without int, lo, hi float64) float64 {
		s, err := crossover.NewStack(air.Room(), standing(t, set, way, height, without))
		if err != nil {
			t.Fatal(err)
		}
		r, err := s.At(crossover.Arc(1, float64(10*without-20)*degree))
		if err != nil {
			t.Fatal(err)
		}
		var sum float64
		i, j := g.Between(lo, hi)
		for f := i; f < j; f++ {
			e := cmplx.Abs(r.At(f)/set[way+"-"+elevations[without]].At(f) - 1)
			sum += e * e / float64(j-i)
		}
		return math.Sqrt(sum)
	}
	for without := 1; without <= 3; without++ {
		// 2.5 % are 0.2 dB and 1.4°.
		if e := miss("woofer", -0.145, without, 250, 5000); e > 0.025 {
			t.Errorf("woofer, %s: %.3f of itself up to 5 kHz", elevations[without], e)
		}
		if e := miss("tweeter", 0, without, 500, 12e3); e > 0.1 {
			t.Errorf("tweeter, %s: %.3f of itself", elevations[without], e)
		}
		if e := miss("woofer", 0, without, 2000, 5000); e < 0.3 {
			t.Errorf("woofer taken for the tweeter, %s: only %.3f of itself", elevations[without], e)
		}
	}
}

// The voice of the passive loudspeaker at the listener's place, 2.6 m away: its network
// is found from sound, then both loudspeakers are heard there. Fitted to the voice at
// both distances the active one keeps it at both; the deviations are listed.
func TestVoiceAtTheListenersPlace(t *testing.T) {
	g, err := freq.LogGrid(120, 20e3, 48)
	if err != nil {
		t.Fatal(err)
	}
	set := demo(t, g, names("woofer", "tweeter", "passive")...)
	low, high := standing(t, set, "woofer", -0.145, -1), standing(t, set, "tweeter", 0, -1)
	passive := standing(t, set, "passive", 0, -1)
	found, err := crossover.Decompose([][]freq.Response{low.Responses, high.Responses}, passive.Responses)
	if err != nil {
		t.Fatal(err)
	}
	// Noise of the demo's files is 65 dB down.
	if most, err := found.Residual.Max(250, 12e3); err != nil || most.Value > -45 {
		t.Errorf("ways leave %+v of the passive loudspeaker", most)
	}
	bare, err := crossover.NewStack(air.Room(), low, high)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := bare.With(found.Chains[0], found.Chains[1])
	if err != nil {
		t.Fatal(err)
	}
	task := divide.Task{Ways: []divide.Way{{Name: "woofer"}, {Name: "tweeter"}}, Splits: []divide.Split{divide.Symmetric(analog.LinkwitzRiley(4), 2300)},
		SampleRate: 96e3, From: 250, To: 12e3}
	for _, p := range []struct {
		name string
		at   crossover.Place
	}{{"1 m", crossover.Arc(1, 0)}, {"1 m, 10° up", crossover.Arc(1, 10*degree)}, {"1 m, 10° down", crossover.Arc(1, -10*degree)},
		{"2.6 m", crossover.Place{Distance: 2.6}}, {"2.6 m, 0.1 m up", crossover.Place{Distance: 2.6, Height: 0.1}}, {"2.6 m, 0.1 m down", crossover.Place{Distance: 2.6, Height: -0.1}}} {
		ways, err := bare.Ways(p.at)
		if err != nil {
			t.Fatal(err)
		}
		voice, err := whole.At(p.at)
		if err != nil {
			t.Fatal(err)
		}
		task.Directions = append(task.Directions, divide.Direction{Name: p.name, Counts: 1})
		task.Ways[0].Responses = append(task.Ways[0].Responses, ways[0])
		task.Ways[1].Responses = append(task.Ways[1].Responses, ways[1])
		task.Voice = append(task.Voice, voice)
	}
	r, err := task.Run()
	if err != nil {
		t.Fatal(err)
	}
	m := crossover.Mask{From: 250, To: 12e3, LevelFrom: 300, LevelTo: 3e3, Smoothing: 12, Allowed: 0.75}
	all, err := r.Network.Voicing(m, crossover.OneLevel)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range all {
		if !p.Within {
			t.Errorf("%s: %+.2f dB at %.0f Hz", p.Position, p.Worst, p.WorstAt)
		}
	}
	// What is told of the distance is what the stack says of the network: the level on
	// the axis at 2.6 m.
	active, err := bare.With(r.Network.Transfers()...)
	if err != nil {
		t.Fatal(err)
	}
	there, err := active.At(crossover.Place{Distance: 2.6})
	if err != nil {
		t.Fatal(err)
	}
	for i := range g.Len() {
		if e := level.DB(cmplx.Abs(there.At(i) / r.Network.Sums[3].At(i))); math.Abs(e) > 1e-9 {
			t.Fatalf("%g Hz: %g dB between stack and network", g.At(i), e)
		}
	}
}

// A search with fitted sections: the candidates are real ones, with their sections and
// the polarity that was found, and of one figure with the ideal halves where the
// polarity is that of Linkwitz and Riley.
func TestFittedSearch(t *testing.T) {
	g, err := freq.LogGrid(120, 20e3, 48)
	if err != nil {
		t.Fatal(err)
	}
	set := demo(t, g, append(names("woofer", "tweeter"), "passive-axis", "woofer-side30", "tweeter-side30")...)
	task := demoTask(t)
	for d := range task.Directions {
		task.Directions[d].Counts = 0
	}
	task.Directions[0].Counts, task.Apart, task.Enough = 1, true, 0.1
	s := divide.Search{Lower: standing(t, set, "woofer", -0.145, -1), Upper: standing(t, set, "tweeter", 0, -1), Air: air.Room(), Voice: set["passive-axis"],
		Frequencies: []float64{2000, 3000}, Slopes: []divide.Slopes{same(analog.LinkwitzRiley(4))}, Distance: 1, From: 300, To: 12e3, Level: 90,
		Beam:       &divide.Seat{Name: "30°", Lower: set["woofer-side30"], Upper: set["tweeter-side30"]},
		Objectives: []divide.Objective{divide.Tilt, divide.Step, divide.Sections}, Fit: &task}
	fitted := find(t, s)
	s.Fit, s.Objectives = nil, s.Objectives[:2]
	ideal := find(t, s)
	for k, p := range fitted.Points {
		q := ideal.Points[k]
		if p.Sections < 4 || p.Inverted || p.Range > 1.2 || p.Null > -15 || math.Abs(p.Tilt-q.Tilt) > 4*degree || p.Beaming != q.Beaming {
			t.Errorf("fitted %+v,\nideal %+v", p, q)
		}
		if q.Range > 1e-6 || q.Sections != 0 || len(p.Chains()) != 2 {
			t.Errorf("%+v", q)
		}
	}
	if a, b := ideal.Points[0], ideal.Points[1]; !(b.Beaming < a.Beaming-0.3) || !(b.Step > a.Step) {
		t.Errorf("the woofer beams by %.2f dB at 2 kHz and %.2f dB at 3 kHz", a.Beaming, b.Beaming)
	}
}
