package loudness_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/loudness"
	"example.org/loudspeaker/speakerlib/signal"
	"gonum.org/v1/gonum/integrate/quad"
)

func cascade(t testing.TB, gain float64, s ...digital.Section) *digital.Cascade {
	t.Helper()
	c, err := digital.NewCascade(48000, s...)
	if err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithGain(gain); err != nil {
		t.Fatal(err)
	}
	return c
}

// Two that are told apart by more than level: a small loudspeaker that ends early
// at both ends, and a large one.
func pair(t testing.TB) []loudness.Variant {
	return []loudness.Variant{
		{Name: "large", Response: cascade(t, 0.7, digital.Highpass{F0: 35, Q: math.Sqrt2 / 2}, digital.Lowpass{F0: 15000, Q: math.Sqrt2 / 2})},
		{Name: "small", Response: cascade(t, 0.4, digital.Highpass{F0: 90, Q: math.Sqrt2 / 2}, digital.Lowpass{F0: 3000, Q: math.Sqrt2 / 2})},
	}
}

func fromClip(t testing.TB, c *signal.Clip) *loudness.Programme {
	t.Helper()
	p, err := loudness.FromClip(c)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func match(t testing.TB, v []loudness.Variant, p *loudness.Programme, s loudness.Settings) *loudness.Matching {
	t.Helper()
	m, err := loudness.Match(v, p, s)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// SciPy: the same two variants as recursive filters, gated loudness of each.
func TestMatchAgainstSciPy(t *testing.T) {
	m := match(t, pair(t), fromClip(t, clip(t, 48000, 9.73, left)), loudness.Settings{})
	louder := scipy(t, "variants")[0].Number(t, "c")
	got := level.DB(m.Variants[1].Gain / m.Variants[0].Gain)
	if math.Abs(got-louder) > 0.002 {
		t.Errorf("the small one is %.4f dB up, want %.4f", got, louder)
	}
	if m.Residual > 0.001 {
		t.Errorf("measured again they differ by %g dB", m.Residual)
	}
	// The programme's pauses carry nothing of another spectrum, so both routes agree.
	if m.Routes > 0.02 || !m.Within() {
		t.Errorf("routes differ by %g dB", m.Routes)
	}
	if m.Variants[1].Gain != 1 || m.Common != 1 {
		t.Errorf("the quietest has a gain of %g, all were lowered by %g; want 1 and 1", m.Variants[1].Gain, m.Common)
	}
}

// The gain for pink noise by adaptive quadrature of |K|²·|H|²/f: neither route's way.
func TestMatchOfPinkNoiseByQuadrature(t *testing.T) {
	setup := signal.NoiseSetup{SampleRate: 48000, Duration: 10, From: 20, To: 20000, Shape: signal.Pink{}, Seed: 3, RMS: 0.1}
	p, err := loudness.FromShape(setup)
	if err != nil {
		t.Fatal(err)
	}
	v := pair(t)
	m := match(t, v, p, loudness.Settings{})
	k, err := loudness.Weighting(48000)
	if err != nil {
		t.Fatal(err)
	}
	power := func(h freq.Transfer) float64 {
		return quad.Fixed(func(u float64) float64 {
			g, err := freq.NewGrid([]float64{math.Exp(u)})
			if err != nil {
				panic(err)
			}
			z := freq.Series{k, h}.ResponseTo(nil, g)[0]
			return real(z)*real(z) + imag(z)*imag(z)
		}, math.Log(20), math.Log(20000), 200, quad.Legendre{}, 1)
	}
	want := level.PowerDB(power(v[0].Response) / power(v[1].Response))
	got := level.DB(m.Variants[1].Gain / m.Variants[0].Gain)
	t.Logf("by quadrature %.4f dB, through time %.4f dB, routes %.4f dB apart", want, got, m.Routes)
	if math.Abs(got-want) > 0.005 || m.Routes > 0.005 {
		t.Errorf("through time %.4f dB, want %.4f; routes %.4f dB apart", got, want, m.Routes)
	}
	if math.Abs(got+m.Variants[1].Route-want) > 0.002 {
		t.Errorf("by the spectrum %.4f dB, want %.4f", got+m.Variants[1].Route, want)
	}
}

// A tone is as loud as the response at its frequency says, whatever else it does;
// at 997 Hz the level at the seat is its sound pressure level. A wire that is silent at
// direct current, as all are here, is an impulse less a 16384th of every sample around it,
// which at 997 Hz adds up to at most 1/(16384·2·sin(π·997/48000)) = 5e-4 of it at the
// ends of a clip: 0.004 dB at each.
func TestMatchOfATone(t *testing.T) {
	v := []loudness.Variant{
		{Name: "active", Response: freq.Gain(0.2)},
		{Name: "passive", Response: freq.Series{freq.Gain(-0.05), freq.Delay(0.0031)}, Drive: 28},
	}
	m := match(t, v, fromClip(t, clip(t, 48000, 4, sine(997, 0.5))), loudness.Settings{})
	if got, want := m.Variants[1].Gain, 0.2/(0.05*28); math.Abs(got/want-1) > 5e-4 {
		t.Errorf("gain %g, want %g", got, want)
	}
	want := level.SPL(0.2 * 0.5 / math.Sqrt2)
	for _, x := range m.Variants {
		if math.Abs(x.Level-want) > 0.008 {
			t.Errorf("%s: %.4f dB at the seat, want %.4f", x.Name, x.Level, want)
		}
	}
}

// A programme whose soft passages have another spectrum: gated, the loud one decides,
// and the routes say that they disagree.
func TestRoutesDisagreeAboutAProgrammeOfTwoSpectra(t *testing.T) {
	p := fromClip(t, clip(t, 48000, 10, func(t float64) float64 {
		if t < 2 {
			return 0.5 * math.Sin(2*math.Pi*1000*t)
		}
		return 0.08 * math.Sin(2*math.Pi*60*t) // gated in either variant
	}))
	v := []loudness.Variant{
		{Name: "full", Response: freq.Gain(0.5)},
		{Name: "thin", Response: cascade(t, 0.5, digital.Highpass{F0: 250, Q: 0.7})},
	}
	m := match(t, v, p, loudness.Settings{})
	// The passage at 1 kHz alone decides. (Blocks across the seam count too.)
	z := v[1].Response.ResponseTo(nil, mustGrid(t, 1000))[0]
	want := 0.5 / math.Hypot(real(z), imag(z))
	got := m.Variants[1].Gain / m.Variants[0].Gain
	if math.Abs(level.DB(got/want)) > 0.05 {
		t.Errorf("gain %.4f, want about %.4f", got, want)
	}
	if m.Routes < 0.15 || m.Within() {
		t.Errorf("routes %.4f dB apart, within = %v; want more than 0.15 dB", m.Routes, m.Within())
	}
	if _, err := loudness.NewPlan(m, loudness.PlanSetup{Trials: 16}); err == nil || !strings.Contains(err.Error(), "two routes") {
		t.Errorf("a plan of it: %v", err)
	}
}

func mustGrid(t testing.TB, hz ...float64) *freq.Grid {
	t.Helper()
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// An equaliser that lifts the programme by 6 dB at a converter lowers all variants, and
// no more than it must.
func TestNothingClips(t *testing.T) {
	boost := cascade(t, 2)
	v := []loudness.Variant{
		{Name: "boosted", Response: freq.Gain(1), Outputs: []loudness.Output{{"woofer", cascade(t, 0.1)}, {"tweeter", boost}}},
		{Name: "plain", Response: freq.Gain(1.25)},
	}
	p := fromClip(t, clip(t, 48000, 2, func(t float64) float64 {
		w := math.Sin(math.Pi * t / 2)
		return 0.9 * w * w * math.Sin(2*math.Pi*1000*t)
	}))
	m := match(t, v, p, loudness.Settings{})
	a, b := m.Variants[0], m.Variants[1]
	if math.Abs(a.Peak-1) > 1e-9 || a.Output != "tweeter" || math.Abs(m.Common-1/1.8) > 1e-3 {
		t.Errorf("boosted has a peak of %g at %q, all lowered by %g; want 1, tweeter, %g", a.Peak, a.Output, m.Common, 1/1.8)
	}
	if math.Abs(b.Gain/a.Gain-0.8) > 1e-3 || math.Abs(b.Peak-0.9*b.Gain) > 1e-3 || b.Output != "" {
		t.Errorf("plain: %+v", b)
	}
	if m = match(t, v, p, loudness.Settings{Ceiling: 0.5}); math.Abs(m.Variants[0].Peak-0.5) > 1e-9 {
		t.Errorf("peak of %g under a ceiling of 0.5", m.Variants[0].Peak)
	}
	if _, err := loudness.Match(v, p, loudness.Settings{Hold: "plain"}); err == nil || !strings.Contains(err.Error(), "above the ceiling") {
		t.Errorf("plain held: %v", err)
	}
	quiet := fromClip(t, clip(t, 48000, 2, sine(1000, 0.1)))
	m = match(t, v, quiet, loudness.Settings{Hold: "plain"})
	if m.Variants[1].Gain != 1 || math.Abs(m.Variants[0].Gain-1.25) > 1e-3 {
		t.Errorf("held: %+v", m.Variants)
	}
}

// A chain that passes direct current passes that of a programme, and its peak.
func TestPeakOfAProgrammeWithAMeanValue(t *testing.T) {
	p := fromClip(t, clip(t, 48000, 4, func(t float64) float64 {
		w := math.Sin(math.Pi * t / 4)
		return w * w * (0.3 + 0.2*math.Sin(2*math.Pi*1000*t))
	}))
	v := pair(t)
	v[1].Outputs = []loudness.Output{{"w", cascade(t, 1.2)}}
	m := match(t, v, p, loudness.Settings{})
	if x := m.Variants[1]; math.Abs(x.Peak-0.6) > 0.005 || x.Output != "w" {
		t.Errorf("peak %g at %q, want 0.6 at w", x.Peak, x.Output)
	}
}

// A measured response that is known on the lines only, and three channels.
func TestMatchOfWrittenResponses(t *testing.T) {
	g, err := loudness.Lines(48000, 8192)
	if err != nil {
		t.Fatal(err)
	}
	v := pair(t)
	for i := range v {
		if v[i].Response, err = freq.Evaluate(v[i].Response, g, v[i].Name, freq.Basis{}); err != nil {
			t.Fatal(err)
		}
	}
	p := fromClip(t, clip(t, 48000, 5, left, right, left))
	a, b := match(t, v, p, loudness.Settings{Lines: 8192}), match(t, pair(t), p, loudness.Settings{Lines: 32768})
	if d := level.DB(a.Variants[0].Gain / b.Variants[0].Gain); math.Abs(d) > 0.002 {
		t.Errorf("8192 and 32768 lines differ by %g dB", d)
	}
	short := fromClip(t, clip(t, 48000, 0.5, left))
	// Half space and full space, or two distances, are two things; per what is not.
	half := freq.Basis{Quantity: freq.Pressure, Space: freq.HalfSpace, Distance: 1, Per: freq.PerFullScale}
	for _, c := range []struct {
		b    freq.Basis
		good bool
	}{
		{freq.Basis{Quantity: freq.Pressure, Space: freq.HalfSpace, Distance: 1, Per: freq.PerInput}, true},
		{freq.Basis{Quantity: freq.Pressure, Space: freq.FullSpace, Distance: 1, Per: freq.PerFullScale}, false},
		{freq.Basis{Quantity: freq.Pressure, Space: freq.HalfSpace, Distance: 2, Per: freq.PerFullScale}, false},
		{freq.Basis{Quantity: freq.Voltage, Space: freq.HalfSpace, Distance: 1, Per: freq.PerFullScale}, false},
	} {
		w := []loudness.Variant{{Name: "one", Response: v[0].Response.(freq.Response).Stated(half)}, {Name: "other", Response: v[1].Response.(freq.Response).Stated(c.b)}}
		if _, err := loudness.Match(w, short, loudness.Settings{Lines: 8192}); (err == nil) != c.good {
			t.Errorf("%v and %v: %v", half, c.b, err)
		}
	}
	if _, err := loudness.Match(v, p, loudness.Settings{}); err == nil || !strings.Contains(err.Error(), `variant "large"`) {
		t.Errorf("on lines that it is not known on: %v", err)
	}
}

// stating is a response of 1 that says what it is.
func stating(t testing.TB, b freq.Basis) freq.Response {
	t.Helper()
	g, err := loudness.Lines(48000, 16384)
	if err != nil {
		t.Fatal(err)
	}
	r, err := freq.Evaluate(freq.Gain(1), g, "response", b)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestMatchRefuses(t *testing.T) {
	p := fromClip(t, clip(t, 48000, 1, sine(1000, 0.5)))
	good := pair(t)
	for name, c := range map[string]struct {
		v []loudness.Variant
		p *loudness.Programme
		s loudness.Settings
	}{
		"one":             {good[:1], p, loudness.Settings{}},
		"no programme":    {good, nil, loudness.Settings{}},
		"one name":        {[]loudness.Variant{good[0], good[0]}, p, loudness.Settings{}},
		"no name":         {[]loudness.Variant{good[0], {Response: freq.Gain(1)}}, p, loudness.Settings{}},
		"no response":     {[]loudness.Variant{good[0], {Name: "x"}}, p, loudness.Settings{}},
		"silent":          {[]loudness.Variant{good[0], {Name: "x", Response: freq.Gain(0)}}, p, loudness.Settings{}},
		"not finite":      {[]loudness.Variant{good[0], {Name: "x", Response: freq.Gain(math.NaN())}}, p, loudness.Settings{}},
		"negative drive":  {[]loudness.Variant{good[0], {Name: "x", Response: freq.Gain(1), Drive: -1}}, p, loudness.Settings{}},
		"empty output":    {[]loudness.Variant{good[0], {Name: "x", Response: freq.Gain(1), Outputs: []loudness.Output{{Name: "w"}}}}, p, loudness.Settings{}},
		"nameless output": {[]loudness.Variant{good[0], {Name: "x", Response: freq.Gain(1), Outputs: []loudness.Output{{Transfer: freq.Gain(1)}}}}, p, loudness.Settings{}},
		"impedance": {[]loudness.Variant{{Name: "x", Response: stating(t, freq.Basis{Quantity: freq.Impedance})},
			{Name: "y", Response: stating(t, freq.Basis{Quantity: freq.Impedance})}}, p, loudness.Settings{}},
		"driven twice": {[]loudness.Variant{good[0], {Name: "x", Drive: 20,
			Response: stating(t, freq.Basis{Quantity: freq.Pressure, Per: freq.PerFullScale, Space: freq.FullSpace, Distance: 1})}}, p, loudness.Settings{}},
		"odd lines":     {good, p, loudness.Settings{Lines: 999}},
		"not died away": {[]loudness.Variant{good[0], {Name: "x", Response: cascade(t, 1, digital.Lowpass{F0: 60, Q: 5})}}, p, loudness.Settings{Lines: 1024}},
		"few lines":     {good, p, loudness.Settings{Lines: 128}},
		"ceiling":       {good, p, loudness.Settings{Ceiling: 1.1}},
		"held":          {good, p, loudness.Settings{Hold: "x"}},
	} {
		if _, err := loudness.Match(c.v, c.p, c.s); err == nil || !strings.HasPrefix(err.Error(), "loudness: ") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := loudness.FromClip(clip(t, 48000, 1, sine(1000, 0))); err == nil {
		t.Error("silence taken as a programme")
	}
	if _, err := loudness.FromShape(signal.NoiseSetup{}); err == nil {
		t.Error("empty noise taken as a programme")
	}
	if _, err := loudness.FromClip(nil); err == nil {
		t.Error("no clip taken as a programme")
	}
}

// A response that begins ahead of its time zero, as one has whose flight was taken out by
// another way's, is as loud as the same on time, by both routes: power does not know when it
// began.
func TestEarlyIsAsLoud(t *testing.T) {
	p, err := loudness.FromShape(signal.NoiseSetup{SampleRate: 48000, Duration: 5, From: 250, To: 12000, Shape: signal.Programme{}, RMS: 0.1, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	both := pair(t)[:1]
	both = append(both, loudness.Variant{Name: "early", Response: freq.Series{both[0].Response, freq.Delay(-3.3e-4)}})
	m, err := loudness.Match(both, p, loudness.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	if math.Abs(level.DB(m.Variants[1].Gain/m.Variants[0].Gain)) > 0.003 || m.Routes > 0.003 {
		t.Errorf("the early one needs %.4f dB more, and the routes are %.4f dB apart, want 0", level.DB(m.Variants[1].Gain/m.Variants[0].Gain), m.Routes)
	}
}
