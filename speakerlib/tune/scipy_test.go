package tune_test

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/tune"
)

// stored reads a minimum that testdata/scipy_fits.py found: rms in nepers, then the
// parameters.
func stored(t *testing.T, name string) []float64 {
	t.Helper()
	f, err := os.Open("testdata/scipy_fits.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		if row[0] != name {
			continue
		}
		var v []float64
		for _, s := range row[1:] {
			x, err := strconv.ParseFloat(s, 64)
			if err != nil {
				t.Fatal(err)
			}
			v = append(v, x)
		}
		return v
	}
	t.Fatalf("no fit %q", name)
	return nil
}

// nepers turns an rms in decibels into nepers.
func nepers(db float64) float64 { return math.Log(level.Ratio(db)) }

// The minimum that SciPy's least_squares finds from the same start.
func TestEightPeaksAreSciPys(t *testing.T) {
	want := stored(t, "eight")
	goal, free := eight(t)
	for cosine, near := range map[float64]float64{0: 1e-9, 1e-3: 1e-7} {
		r, err := tune.Sections(goal, free, &tune.Settings{Cosine: cosine})
		if err != nil {
			t.Fatal(err)
		}
		if e := math.Abs(nepers(r.RMS)/want[0] - 1); e > near {
			t.Errorf("cosine %g: rms %.12g Np, want %.12g: off by %.2g of it", cosine, nepers(r.RMS), want[0], e)
		}
		for k, s := range r.Sections {
			for n, v := range s.ThetaTo(nil) {
				if w := want[2+3*k+n]; math.Abs(v-w) > 1e-3*math.Sqrt(near/1e-9) {
					t.Errorf("cosine %g: section %d, parameter %d: %.9g, want %.9g", cosine, k, n, v, w)
				}
			}
		}
	}
}

// Three directions that one filter serves: SciPy has all residuals stacked, the fit
// here has their mean.
func TestDirectionsAreSciPysStack(t *testing.T) {
	want := stored(t, "directions")
	g, err := freq.LogGrid(200, 200*math.Exp2(5), 24)
	if err != nil {
		t.Fatal(err)
	}
	make1 := func(f func(hz float64) float64) freq.Curve {
		v := make([]float64, g.Len())
		for i := range v {
			v[i] = f(g.At(i))
		}
		c, err := freq.NewCurve(g, v, "made", "dB", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	zero := make1(func(float64) float64 { return 0 })
	d := tune.Directions{From: 200, To: 6400, SampleRate: 96e3, Views: []tune.View{
		{Name: "axis", Counts: 1, Target: zero, Source: make1(func(f float64) float64 { return 3 * math.Sin(math.Log(f/200)*1.3) })},
		{Name: "up", Counts: 0.7, Target: zero, Source: make1(func(f float64) float64 { return 2 * math.Cos(math.Log(f/300)*1.1) })},
		{Name: "side", Counts: 0.4, Target: zero, Source: make1(func(f float64) float64 { return 4 * math.Sin(math.Log(f/150)) })}}}
	goal, err := d.Goal()
	if err != nil {
		t.Fatal(err)
	}
	n := func(v float64) float64 { return math.Exp(v) }
	low, high := digital.Peak{F0: 200, Gain: n(-2), Q: 0.2}, digital.Peak{F0: 6000, Gain: n(2), Q: 6}
	r, err := tune.Sections(goal, []tune.Free{
		{Low: low, High: high, Start: digital.Peak{F0: 500, Gain: n(0.1), Q: 1}},
		{Low: low, High: high, Start: digital.Peak{F0: 3000, Gain: n(-0.1), Q: 1}}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	filter, err := freq.Evaluate(r.Cascade, g, "filter", freq.Basis{})
	if err != nil {
		t.Fatal(err)
	}
	all, err := d.Together(filter.DB(1))
	if err != nil {
		t.Fatal(err)
	}
	if e := math.Abs(nepers(all.RMS)/want[0] - 1); e > 1e-6 {
		t.Errorf("rms %.9g Np over all directions, want %.9g", nepers(all.RMS), want[0])
	}
	got := []float64{math.Log(r.Gain)}
	for _, s := range r.Sections {
		got = append(got, s.ThetaTo(nil)...)
	}
	for k, v := range got {
		if math.Abs(v-want[1+k]) > 2e-3 {
			t.Errorf("parameter %d: %.6g, want %.6g", k, v, want[1+k])
		}
	}
	// Pythagoras: what is left of the mean and what no filter takes away. The weight of
	// the goal is even over frequency here, so that both are weighted alike.
	if e := math.Hypot(r.RMS, all.Floor) - all.RMS; math.Abs(e) > 1e-9 {
		t.Errorf("rms %g dB of the mean and a floor of %g dB, but %g dB of all", r.RMS, all.Floor, all.RMS)
	}
}

// The complex sum of two ways in two directions.
func TestSumIsSciPys(t *testing.T) {
	want := stored(t, "sum")
	g, err := freq.LogGrid(500, 8000, 24)
	if err != nil {
		t.Fatal(err)
	}
	response := func(tr freq.Transfer) freq.Response {
		r, err := freq.Evaluate(tr, g, "made", freq.Basis{})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	target := func(db float64) freq.Curve { return response(freq.Gain(level.Ratio(db))).DB(1) }
	lw, hw := 2*math.Pi*4000, 2*math.Pi*900
	low := &freq.PolyRatio{Num: freq.NewPoly(1), Den: freq.NewPoly(1, 1/lw)}
	high := &freq.PolyRatio{Num: freq.NewPoly(0, 1/hw), Den: freq.NewPoly(1, 1/hw)}
	q := math.Exp(0.7)
	branches := []tune.Branch{
		{Name: "low", Gain: 1, GainDB: level.DB(q), Sources: []freq.Response{response(low), response(freq.Series{low, freq.Delay(60e-6)})},
			Sections: []tune.Free{
				{Low: digital.Lowpass{F0: 800, Q: 0.4}, High: digital.Lowpass{F0: 5000, Q: 2}, Start: digital.Lowpass{F0: 2000, Q: 0.7}},
				{Low: digital.Peak{F0: 600, Gain: math.Exp(-1), Q: 0.4}, High: digital.Peak{F0: 3000, Gain: math.E, Q: 4}, Start: digital.Peak{F0: 1000, Gain: math.Exp(0.2), Q: 1}}}},
		{Name: "high", Gain: 1, GainDB: level.DB(q), Delay: 30e-6, Play: 100e-6, Inverted: true, Sources: []freq.Response{response(high), response(high)},
			Sections: []tune.Free{{Low: digital.Highpass{F0: 800, Q: 0.4}, High: digital.Highpass{F0: 5000, Q: 2}, Start: digital.Highpass{F0: 2000, Q: 0.7}}}},
	}
	goal := tune.SumGoal{Reference: 1, From: 500, To: 8000, SampleRate: 96e3, Views: []tune.Aim{
		{Name: "axis", Target: target(0), Counts: 1}, {Name: "down", Target: target(-1), Counts: 0.5}}}
	r, err := tune.Sum(goal, branches, nil)
	if err != nil {
		t.Fatal(err)
	}
	if e := math.Abs(nepers(r.RMS)/want[0] - 1); e > 1e-5 || r.Before < 2*r.RMS {
		t.Errorf("rms %.9g Np (at the start %.3g), want %.9g: %v", nepers(r.RMS), nepers(r.Before), want[0], r.Stopped)
	}
	x := []float64{math.Log(r.Branches[0].Gain)}
	for _, s := range r.Branches[0].Sections {
		x = append(x, s.ThetaTo(nil)...)
	}
	x = append(x, math.Log(r.Branches[1].Gain), r.Branches[1].Delay/1e-4)
	x = append(x, r.Branches[1].Sections[0].ThetaTo(nil)...)
	for k, v := range x {
		if math.Abs(v-want[1+k]) > 5e-3 {
			t.Errorf("parameter %d: %.6g, want %.6g", k, v, want[1+k])
		}
	}
	if len(r.Branches[0].Bound) == 0 { // ln Q of the low-pass is ln 0.4 in SciPy's minimum
		t.Error("the low-pass ended on its bound of Q, and nobody says so")
	}
	// What is told of each direction is what the exported chains do.
	for d, v := range r.Views {
		sum := make([]complex128, g.Len())
		for k, b := range r.Branches {
			h := response(freq.Series{b.Cascade, freq.Delay(b.Delay), branches[k].Sources[d]})
			for i := range sum {
				sum[i] += h.At(i)
			}
		}
		for i, z := range sum {
			if got := level.DB(math.Hypot(real(z), imag(z))) - goal.Views[d].Target.At(i); math.Abs(got-v.Residual.At(i)) > 1e-9 {
				t.Fatalf("%s at %g Hz: the chains leave %.9f dB, told are %.9f", v.Name, g.At(i), got, v.Residual.At(i))
			}
		}
	}
}
