package network_test

import (
	"fmt"
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/network"
)

// values returns L in H and C in F of the parts.
func values(parts []network.Part) []float64 {
	var v []float64
	for _, p := range parts {
		switch q := p.(type) {
		case network.Inductor:
			v = append(v, q.L)
		case network.Capacitor:
			v = append(v, q.C)
		}
	}
	return v
}

// Printed values of ladders for 1 Ω at 1 rad/s from a source without resistance.
// Butterworth: the closed form a_k = sin((2k−1)π/2n), c_k = cos²(kπ/2n), g₁ = a₁, g_k = a_k·a_{k−1}/(c_{k−1}·g_{k−1})
// from the load (L. Weinberg, Network Analysis and Synthesis, 1962; from memory), for 3: 3/2, 4/3, 1/2
// and for 4: 1.5307, 1.5772, 1.0824, 0.3827 (table 10.2 there, from memory).
// Linkwitz–Riley: D = (s+1)² and (s²+√2s+1)² expanded by hand: 2, 1/2 and 1.8856 = 4√2/3,
// 1.5910 = 9/(4√2), 0.9428 = 2√2/3, 0.3536 = 1/(2√2).
func TestPrintedLadders(t *testing.T) {
	const w = 2 * math.Pi * 1000
	for _, c := range []struct {
		p    analog.Prototype
		want []float64
		tol  float64
	}{
		{analog.Butterworth(1), []float64{1}, 1e-14},
		{analog.Butterworth(2), []float64{math.Sqrt2, 1 / math.Sqrt2}, 1e-14},
		{analog.Butterworth(3), []float64{1.5, 4.0 / 3, 0.5}, 1e-14},
		{analog.Butterworth(4), []float64{1.5307, 1.5772, 1.0824, 0.3827}, 5e-5},
		{analog.Butterworth(4), butterworth(4), 1e-14},
		{analog.Butterworth(7), butterworth(7), 1e-13},
		{analog.LinkwitzRiley(2), []float64{2, 0.5}, 1e-14},
		{analog.LinkwitzRiley(4), []float64{4 * math.Sqrt2 / 3, 9 / (4 * math.Sqrt2), 2 * math.Sqrt2 / 3, 1 / (2 * math.Sqrt2)}, 1e-14},
	} {
		low := values(must(network.Ladder(analog.Lowpass{Fc: 1000}, c.p, 8, "x", "in", "out"))(t))
		high := values(must(network.Ladder(analog.Highpass{Fc: 1000}, c.p, 8, "x", "in", "out"))(t))
		if len(low) != len(c.want) || len(high) != len(c.want) {
			t.Fatalf("%v: %d and %d parts, want %d", c.p, len(low), len(high), len(c.want))
		}
		for i, g := range c.want {
			l, h := g*8/w, 1/(g*8*w)
			if i%2 == 1 {
				l, h = g/(8*w), 8/(g*w)
			}
			if math.Abs(low[i]/l-1) > c.tol || math.Abs(high[i]/h-1) > c.tol {
				t.Errorf("%v, part %d: %g and %g, want %g and %g", c.p, i+1, low[i], high[i], l, h)
			}
		}
	}
}

// butterworth is the closed form, from the source on.
func butterworth(n int) []float64 {
	g := make([]float64, n)
	var last, a0 float64
	for k := 1; k <= n; k++ {
		a := math.Sin(float64(2*k-1) * math.Pi / float64(2*n))
		v := a
		if k > 1 {
			c := math.Cos(float64(k-1) * math.Pi / float64(2*n))
			v = a * a0 / (c * c * last)
		}
		g[n-k], last, a0 = v, v, a
	}
	return g
}

// With its resistor the ladder has the response of the polynomial: the filter in s of
// package analog, which is checked against tables of its own.
func TestLaddersMakeTheResponse(t *testing.T) {
	g := grid(t, 20, 20e3, 12)
	prototypes := []analog.Prototype{analog.LinkwitzRiley(2), analog.LinkwitzRiley(4), analog.Bessel(3, analog.ByDelay), analog.ChebyshevI{Order: 5, Ripple: 1.06}}
	for n := 1; n <= 4; n++ {
		prototypes = append(prototypes, analog.Butterworth(n))
	}
	for _, p := range prototypes {
		for _, band := range []analog.Band{analog.Lowpass{Fc: 2300}, analog.Highpass{Fc: 2300}} {
			parts := must(network.Ladder(band, p, 5.6, "x", "in", "out"))(t)
			parts = append(parts, network.Resistor{Name: "load", A: "out", B: "0", R: 5.6})
			h := voltage(t, g, "load", parts)
			want := must(analog.Design(band, p))(t).ResponseTo(nil, g)
			for i := range h {
				near(t, g.At(i), fmt.Sprint(band, " ", p), h[i], want[i], 1e-12)
			}
		}
	}
}

func voltage(t testing.TB, g *freq.Grid, across string, parts []network.Part) []complex128 {
	t.Helper()
	plan := must(network.NewPlan(must(network.New("in", parts...))(t), g, network.Source{}))(t)
	return must(plan.Solve())(t).VoltageTo(nil, must(plan.Across(across))(t))
}

func TestLadderRefusals(t *testing.T) {
	low := analog.Lowpass{Fc: 1000}
	for _, c := range []struct {
		band analog.Band
		p    analog.Prototype
		r    float64
	}{
		{low, analog.Butterworth(2), 0},
		{low, nil, 8},
		{nil, analog.Butterworth(2), 8},
		{analog.Lowpass{}, analog.Butterworth(2), 8},
		{analog.Bandpass{Lo: 100, Hi: 1000}, analog.Butterworth(2), 8},
		{low, analog.Elliptic{Order: 3, Ripple: 1.01, Stop: 100}, 8},
		{low, analog.Butterworth(-1), 8},
		{low, unstable{}, 8},
	} {
		if parts, err := network.Ladder(c.band, c.p, c.r, "x", "in", "out"); err == nil {
			t.Errorf("%v, %v, %g Ω gives %v, want an error", c.band, c.p, c.r, parts)
		}
	}
}

type unstable struct{}

func (unstable) String() string               { return "unstable" }
func (unstable) Poles() ([]complex128, error) { return []complex128{0.5 + 1i, 0.5 - 1i}, nil }

// The pair of driver and cell is Re: exact for the circuit (by hand, Re + Z in parallel with
// Re + Re²/Z is Re).
func TestFlatten(t *testing.T) {
	g := grid(t, 10, 40e3, 24)
	const re = 5.5
	for _, c := range []struct {
		name string
		le   float64
		res  *network.Resonator
	}{
		{"coil", 0.42e-3, nil},
		{"resonance", 0, &network.Resonator{R: 62, L: 19.4e-3, C: 370e-6}},
		{"both", 0.42e-3, &network.Resonator{R: 62, L: 19.4e-3, C: 370e-6}},
	} {
		d := lumped{re: re, le: c.le}
		if c.res != nil {
			d.across = []func(float64) complex128{yR(c.res.R), yL(c.res.L), yC(c.res.C)}
		}
		parts := must(network.Flatten(re, c.le, c.res, "Z", "in", "0"))(t)
		parts = append(parts, network.Load{Name: "driver", A: "in", B: "0", Z: d})
		plan := must(network.NewPlan(must(network.New("in", parts...))(t), g, network.Source{}))(t)
		z := must(must(plan.Solve())(t).InputImpedance("flat"))(t)
		for i := range z.Len() {
			near(t, g.At(i), c.name, z.At(i), re, 1e-13)
		}
	}
	for _, f := range []func() ([]network.Part, error){
		func() ([]network.Part, error) { return network.Flatten(0, 1e-3, nil, "Z", "in", "0") },
		func() ([]network.Part, error) { return network.Flatten(5, -1, nil, "Z", "in", "0") },
		func() ([]network.Part, error) { return network.Flatten(5, 0, nil, "Z", "in", "0") },
		func() ([]network.Part, error) {
			return network.Flatten(5, 0, &network.Resonator{R: 1, L: 1}, "Z", "in", "0")
		},
	} {
		if parts, err := f(); err == nil {
			t.Errorf("%v, want an error", parts)
		}
	}
}

// The pad of 6.02 dB on 8 Ω is 4 Ω and 8 Ω, and what it and its load are together.
func TestPad(t *testing.T) {
	half := must(network.PadFor(8, 0.5))(t)
	if half != (network.Pad{Series: 4, Shunt: 8}) {
		t.Errorf("half on 8 Ω: %+v, want 4 and 8 Ω", half)
	}
	g := must(freq.NewGrid([]float64{1000}))(t)
	for _, k := range []float64{0.05, 0.3, 0.7, 0.99} {
		parts := must(network.PadFor(5.1, k))(t).Parts("P", "in", "out")
		parts = append(parts, network.Resistor{Name: "load", A: "out", B: "0", R: 5.1})
		near(t, 1000, "share", voltage(t, g, "load", parts)[0], complex(k, 0), 1e-14)
		plan := must(network.NewPlan(must(network.New("in", parts...))(t), g, network.Source{}))(t)
		near(t, 1000, "input", must(must(plan.Solve())(t).InputImpedance(""))(t).At(0), 5.1, 1e-13)
	}
	for _, c := range [][2]float64{{0, 0.5}, {8, 0}, {8, 1}, {8, math.NaN()}} {
		if p, err := network.PadFor(c[0], c[1]); err == nil {
			t.Errorf("%v gives %v, want an error", c, p)
		}
	}
}
