package directivity_test

import (
	"math"
	"math/cmplx"
	"os"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

var medium = air.Medium{Density: 1.2, SpeedOfSound: soundSpeed}

var perTerminals = freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}

// monopole is a point source above the reference point, at a place: e^{−jkρ}/ρ.
func monopole(x, y, height float64) pattern {
	rho := math.Hypot(x, y-height)
	return func(hz float64) complex128 {
		return cmplx.Rect(1/rho, -2*math.Pi*hz/soundSpeed*rho)
	}
}

func way(t *testing.T, g *freq.Grid, name string, height, step float64) directivity.Way {
	t.Helper()
	set := must[*directivity.Set](t)(directivity.Simulate(g, perTerminals, "z", func(d directivity.Direction) (freq.Transfer, error) {
		_, up, forward := d.Unit()
		return monopole(forward, up, height), nil
	}, orbit(directivity.Vertical, -60, 60, step)...))
	return directivity.Way{Name: name, Set: set, Centre: height}
}

// Two point sources 145 mm apart with the delay and polarity of a chain: the exact sum of
// spherical waves.
func TestSumOfPointSources(t *testing.T) {
	g := grid(t, 300, 5000, 12)
	low, high := way(t, g, "woofer", -0.145, 10), way(t, g, "tweeter", 0, 10)
	low.Chain = crossover.Chain{Stages: freq.Series{freq.Gain(0.5)}, Inverted: true}
	high.Chain = crossover.Chain{Delay: 80e-6}
	sum := must[*directivity.Set](t)(directivity.Sum(low, high))
	if sum.Basis().Per != freq.PerInput {
		t.Errorf("sum is %v", sum.Basis())
	}
	for _, p := range sum.Points() {
		_, y, x := p.Direction.Unit()
		for i := range g.Len() {
			hz := g.At(i)
			want := -0.5*monopole(x, y, -0.145)(hz) + monopole(x, y, 0)(hz)*cmplx.Rect(1, -2*math.Pi*hz*80e-6)
			if cmplx.Abs(p.Response.At(i)-want) > 1e-12 {
				t.Fatalf("%v at %g Hz: %v, want %v", p.Direction, hz, p.Response.At(i), want)
			}
		}
	}
}

// From a set at 1 m to 2.6 m and other heights: against the spherical waves themselves.
func TestLobeOfPointSources(t *testing.T) {
	g := grid(t, 300, 5000, 12)
	ways := []directivity.Way{way(t, g, "woofer", -0.145, 10), way(t, g, "tweeter", 0, 10)}
	heights := []float64{-0.6, -0.2, 0, 0.1, 0.5, 0.9}
	in := directivity.Interpolation{Method: directivity.LogPhase}
	lobe := must[*directivity.Lobe](t)(directivity.LobeAt(ways, 2.6, heights, in, medium))
	for k, h := range heights {
		for i := range g.Len() {
			hz := g.At(i)
			want := monopole(2.6, h, -0.145)(hz) + monopole(2.6, h, 0)(hz)
			scale := cmplx.Abs(monopole(2.6, h, 0)(hz))
			if e := cmplx.Abs(lobe.Sums[k].At(i)-want) / scale; e > 0.004 {
				t.Errorf("%+g m at %.0f Hz: off by %.4f of one way", h, hz, e)
			}
		}
		if b := lobe.Sums[k].Basis(); math.Abs(b.Distance-math.Hypot(2.6, h)) > 1e-12 || b.Per != freq.PerInput {
			t.Errorf("%+g m is %v", h, b)
		}
	}
	// The tweeter on its own axis is met exactly, the woofer between angles.
	if p := must[directivity.Point](t)(ways[1].Set.Heard(directivity.Listener{Distance: 2.6}, 0, in, medium)); p.Origin != directivity.Given {
		t.Errorf("on axis of the tweeter: %v", p.Origin)
	}
	if lobe.Origins[2] != directivity.Interpolated {
		t.Errorf("sum on axis: %v", lobe.Origins[2])
	}
	// The parallax: 18.7 µs from 1 m to 2.6 m (crossover.Parallax, a closed form).
	shift := must[float64](t)(crossover.Parallax{Separation: 0.145, Air: medium}.Shift(1, 2.6))
	w := must[directivity.Point](t)(ways[0].Set.Heard(directivity.Listener{Distance: 2.6}, -0.145, in, medium))
	u := must[directivity.Point](t)(ways[1].Set.Heard(directivity.Listener{Distance: 2.6}, 0, in, medium))
	near := must[freq.Response](t)(ways[0].Set.Response(directivity.Up(0)))
	nearU := must[freq.Response](t)(ways[1].Set.Response(directivity.Up(0)))
	at := g.Nearest(3000)
	lag := func(a, b freq.Response) float64 { return -cmplx.Phase(a.At(at)/b.At(at)) / (2 * math.Pi * g.At(at)) }
	if got := lag(w.Response, u.Response) - lag(near, nearU); math.Abs(got-shift) > 0.2e-6 || math.Abs(shift+18.7e-6) > 0.1e-6 {
		t.Errorf("the lag changes by %.2f µs, want %.2f µs and about −18.7 µs", got*1e6, shift*1e6)
	}
}

// Of two equal point sources in phase, the sum at the height h is 2·cos(k·Δ/2) of one: it is
// 1 dB below that of the middle where cos is 0.891.
func TestWindowOfTwoSources(t *testing.T) {
	g := must[*freq.Grid](t)(freq.NewGrid([]float64{2000}))
	ways := []directivity.Way{way(t, g, "lower", -0.0725, 5), way(t, g, "upper", 0.0725, 5)}
	var heights []float64
	for k := -60; k <= 60; k++ {
		heights = append(heights, float64(k)*0.02)
	}
	in := directivity.Interpolation{Method: directivity.LogPhase}
	lobe := must[*directivity.Lobe](t)(directivity.LobeAt(ways, 2.6, heights, in, medium))
	w := must[directivity.Window](t)(lobe.Window(0, 1, 1999, 2001))
	last := 0.0
	for _, h := range heights {
		a, b := math.Hypot(2.6, h+0.0725), math.Hypot(2.6, h-0.0725)
		p := cmplx.Abs(cmplx.Rect(1/a, -2*math.Pi*2000/soundSpeed*a) + cmplx.Rect(1/b, -2*math.Pi*2000/soundSpeed*b))
		if h >= 0 && level.DB(p/(2/math.Hypot(2.6, 0.0725))) > -1 {
			last = h
		}
	}
	if w.Open || math.Abs(w.High-last) > 1e-9 || math.Abs(w.Low+last) > 1e-9 || last < 0.1 {
		t.Errorf("window %+v, want ±%g m", w, last)
	}
	if w := must[directivity.Window](t)(lobe.Window(0, 40, 1999, 2001)); !w.Open || w.High != 1.2 {
		t.Errorf("wide window %+v, want open", w)
	}
	if _, err := lobe.Window(0.01, 1, 1999, 2001); err == nil {
		t.Error("a height that the lobe has not")
	}
	if spl := must[[]freq.Curve](t)(lobe.Levels(2)); math.Abs(spl[60].At(0)-level.DB(2*2/math.Hypot(2.6, 0.0725)/20e-6)) > 0.01 {
		t.Errorf("level %g dB", spl[60].At(0))
	}
}

// The demo's set: woofer and tweeter in parallel were measured too, in every direction.
func TestSumOfTheDemoIsWhatWasMeasured(t *testing.T) {
	read := func(name string) *directivity.Set {
		return must[*directivity.FolderSet](t)(directivity.ReadFolder(os.DirFS(farField), ".", demo(name))).Set
	}
	// "both" has each driver at 2.83 V at its terminals: the same wire to either.
	sum := must[*directivity.Set](t)(directivity.Sum(directivity.Way{Name: "woofer", Set: read("woofer")}, directivity.Way{Name: "tweeter", Set: read("tweeter")}))
	both := read("both")
	for _, p := range sum.Points() {
		q := must[directivity.Point](t)(both.Point(p.Direction))
		i, j := p.Response.Grid().Between(300, 10e3)
		var e, n float64
		for k := i; k < j; k++ {
			d := p.Response.At(k) - q.Response.At(k)
			e += real(d)*real(d) + imag(d)*imag(d)
			n += math.Pow(cmplx.Abs(q.Response.At(k)), 2)
		}
		if r := level.PowerDB(e / n); r > -30 {
			t.Errorf("%v: residual %.1f dB, want below −30 dB (common practice, no source)", p.Direction, r)
		}
	}
}

func TestSumRefuses(t *testing.T) {
	g := grid(t, 300, 5000, 12)
	a, b := way(t, g, "a", 0, 10), way(t, g, "b", 0.1, 10)
	change := func(c directivity.Clock, basis freq.Basis) directivity.Way {
		w := b
		var points []directivity.Point
		for _, p := range b.Set.Points() {
			p.Response = p.Response.Stated(basis)
			points = append(points, p)
		}
		w.Set = must[*directivity.Set](t)(directivity.NewSet(c, points...))
		return w
	}
	far, input := perTerminals, perTerminals
	far.Distance, input.Per = 2, freq.PerInput
	fewer := b
	fewer.Set = must[*directivity.Set](t)(directivity.NewSet(b.Set.Clock(), b.Set.Points()[1:]...))
	late := b
	late.Set = must[*directivity.Set](t)(b.Set.Without(1e-3))
	named := b
	named.Name = "a"
	faulty := b
	faulty.Chain.Delay = -1
	off := b
	off.Chain.Stages = freq.Series{must[freq.Response](t)(freq.Evaluate(freq.Gain(1), grid(t, 300, 600, 3), "short", freq.Basis{}))}
	for name, c := range map[string]struct {
		ways []directivity.Way
		want string
	}{
		"no ways":         {nil, "no way"},
		"no set":          {[]directivity.Way{a, {Name: "b"}}, "no set"},
		"separate phases": {[]directivity.Way{a, change(directivity.Clock{Phases: directivity.Separate}, perTerminals)}, "do not add"},
		"other time zero": {[]directivity.Way{a, change(directivity.Clock{TimeZero: "y"}, perTerminals)}, `"y"`},
		"other flight":    {[]directivity.Way{a, late}, "0.001 s"},
		"other distance":  {[]directivity.Way{a, change(directivity.Clock{TimeZero: "z"}, far)}, "same basis"},
		"per input":       {[]directivity.Way{a, change(directivity.Clock{TimeZero: "z"}, input)}, "terminals"},
		"fewer angles":    {[]directivity.Way{a, fewer}, "60° down"},
		"more angles":     {[]directivity.Way{fewer, a}, "60° down"},
		"other grid":      {[]directivity.Way{a, way(t, grid(t, 300, 2500, 12), "b", 0, 10)}, "same frequencies"},
		"same name":       {[]directivity.Way{a, named}, "called"},
		"faulty chain":    {[]directivity.Way{a, faulty}, "delay"},
		"stage off grid":  {[]directivity.Way{a, off}, "short"},
	} {
		if _, err := directivity.Sum(c.ways...); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	in := directivity.Interpolation{Method: directivity.LogPhase}
	for name, c := range map[string]struct {
		l      directivity.Listener
		centre float64
		want   string
	}{
		"inside":        {directivity.Listener{Distance: 0.4}, 0, "farther"},
		"behind":        {directivity.Listener{Distance: -2}, 0, "in front"},
		"not a number":  {directivity.Listener{Distance: math.NaN()}, 0, "in front"},
		"beyond angles": {directivity.Listener{Distance: 1, Height: 3}, 0, "extrapolation"},
		"far centre":    {directivity.Listener{Distance: 2}, 0.7, "centre"},
	} {
		if _, err := a.Set.Heard(c.l, c.centre, in, medium); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}
