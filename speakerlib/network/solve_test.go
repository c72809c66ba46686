package network_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/network"
	"example.org/loudspeaker/speakerlib/twoport"
)

func grid(t testing.TB, lo, hi float64, perOctave int) *freq.Grid {
	return must(freq.LogGrid(lo, hi, perOctave))(t)
}

// A ladder against the product of its chain matrices (package twoport): voltage ratio 1/A and
// impedance A/C of the cascade that ends in the load.
func TestAgainstChainMatrices(t *testing.T) {
	g := grid(t, 10, 40e3, 7)
	plan := must(network.NewPlan(twoWay(t), g, network.Source{}))(t)
	sol := must(plan.Solve())(t)
	low := sol.VoltageTo(nil, must(plan.Across("woofer"))(t))
	high := sol.VoltageTo(nil, must(plan.Across("tweeter"))(t))
	z := must(sol.InputImpedance(""))(t)
	zw, zt := woofer().ResponseTo(nil, g), tweeter().ResponseTo(nil, g)
	for i, w := range g.Omega() {
		a := twoport.Cascade(
			twoport.Series(complex(0.32, w*1.8e-3)),
			twoport.Shunt(1/complex(0.1, -1/(w*8.2e-6))),
			twoport.Shunt(1/zw[i]))
		b := twoport.Cascade(
			twoport.Series(complex(0, -1/(w*5.1e-6))),
			twoport.Shunt(1/complex(0.3, w*0.36e-3)),
			twoport.Series(complex(3.9, -1/(w*68e-6))),
			twoport.Shunt(1.0/47),
			twoport.Shunt(1/zt[i]))
		near(t, g.At(i), "low way", low[i], 1/a.A, 1e-13)
		near(t, g.At(i), "high way", high[i], 1/b.A, 1e-13)
		near(t, g.At(i), "input", z.At(i), 1/(a.C/a.A+b.C/b.A), 1e-13)
	}
}

func near(t testing.TB, hz float64, what string, got, want complex128, tol float64) {
	t.Helper()
	if !(cmplx.Abs(got-want) <= tol*cmplx.Abs(want)) {
		t.Errorf("%s at %.5g Hz is %v, want %v", what, hz, got, want)
	}
}

// Tellegen's theorem: Σ V·I* over the parts is what enters at the input.
func TestPowerBalance(t *testing.T) {
	g := grid(t, 5, 40e3, 12)
	for _, net := range []*network.Network{twoWay(t), bridge(t)} {
		plan := must(network.NewPlan(net, g, network.Source{R: 0.2, L: 3e-6}))(t)
		sol := must(plan.Solve())(t)
		in := sol.VoltageTo(nil, must(plan.Port("in", network.Ground))(t))
		z := must(sol.InputImpedance(""))(t)
		sum := make([]complex128, g.Len())
		magnitude := make([]float64, g.Len())
		for _, p := range net.Parts() {
			cur := must(sol.Current(p.Label()))(t)
			v := sol.VoltageTo(nil, must(plan.Across(p.Label()))(t))
			for i := range sum {
				s := v[i] * cmplx.Conj(cur.At(i))
				sum[i] += s
				magnitude[i] += cmplx.Abs(s)
			}
		}
		for i := range sum {
			enters := in[i] * cmplx.Conj(in[i]/z.At(i))
			if !(cmplx.Abs(sum[i]-enters) <= 1e-13*magnitude[i]) {
				t.Errorf("at %.5g Hz parts take %v VA, want %v that enter", g.At(i), sum[i], enters)
			}
		}
	}
}

// line is a noise at one frequency only.
type line float64

func (l line) Amplitude(hz float64) float64 {
	if hz == float64(l) {
		return 1
	}
	return 0
}

// The heat of all parts, windings among them, is the real part of what enters.
func TestHeatBalance(t *testing.T) {
	g := grid(t, 5, 40e3, 3)
	for _, net := range []*network.Network{twoWay(t), bridge(t), windings(t)} {
		plan := must(network.NewPlan(net, g, network.Source{R: 0.2}))(t)
		sol := must(plan.Solve())(t)
		in := sol.VoltageTo(nil, must(plan.Port("in", network.Ground))(t))
		z := must(sol.InputImpedance(""))(t)
		for i := range in {
			rows := must(sol.Stress(network.Drive{Shape: line(g.At(i)), Volts: 10, From: g.First(), To: g.Last(), Peak: 1}))(t)
			var sum float64
			for _, r := range rows {
				sum += r.Watts
			}
			want := 100 * real(in[i]*cmplx.Conj(in[i]/z.At(i)))
			if !(math.Abs(sum-want) <= 1e-11*want) {
				t.Errorf("at %.5g Hz the parts' heat is %.15g W, want %.15g", g.At(i), sum, want)
			}
		}
	}
}

// An ideal transformer turns an impedance into (N₁/N₂)²·Z and a voltage into N₂/N₁ of it, an
// autotransformer of tap k into Z/k² and k (any textbook of circuits); with the magnetising
// inductance across.
func TestIdealWindings(t *testing.T) {
	g := grid(t, 20, 20e3, 3)
	net := func(mag float64) *network.Network {
		return must(network.New("in",
			network.Transformer{Name: "T", Magnetising: mag, Windings: []network.Winding{
				{A: "in", B: "tap", Turns: 1}, {A: "tap", B: "0", Turns: 3}}},
			network.Resistor{Name: "R", A: "tap", B: "0", R: 9}))(t)
	}
	turned := func(n *network.Network) *network.Network { // both windings upside down: the same
		tr := must(n.Part("T"))(t).(network.Transformer)
		tr.Windings = slices.Clone(tr.Windings)
		for i, w := range tr.Windings {
			tr.Windings[i].A, tr.Windings[i].B = w.B, w.A
		}
		return must(n.With(tr))(t)
	}
	for _, c := range []struct {
		net   *network.Network
		whole float64
	}{
		{net(math.Inf(1)), math.Inf(1)}, {net(2e-3), 16 * 2e-3}, {turned(net(2e-3)), 16 * 2e-3},
	} {
		plan := must(network.NewPlan(c.net, g, network.Source{}))(t)
		sol := must(plan.Solve())(t)
		tap := sol.VoltageTo(nil, must(plan.Port("tap", "0"))(t))
		z := must(sol.InputImpedance(""))(t)
		for i, w := range g.Omega() {
			near(t, g.At(i), "tap", tap[i], 0.75, 1e-14)
			near(t, g.At(i), "input", z.At(i), 1/(1.0/16+1/complex(0, w*c.whole)), 1e-13)
		}
	}
}

// Behind a source the network is a divider with it. The cable's resistance: 2·5 m of 1/58
// Ω·mm²/m (IEC 60028, from memory).
func TestSource(t *testing.T) {
	g := grid(t, 20, 20e3, 3)
	wire := must(network.Cable{Length: 5, Area: 2.5e-6, Inductance: 0.6e-6}.Source())(t)
	if math.Abs(wire.R-10/(58*2.5)) > 1e-15 || math.Abs(wire.L-3e-6) > 1e-18 {
		t.Errorf("5 m of 2.5 mm²: %v, want 69.0 mΩ and 3 µH", wire)
	}
	wire.Z = lumped{re: 0.05, le: 1e-6}
	plan := must(network.NewPlan(must(network.New("in", network.Load{Name: "D", A: "in", B: "0", Z: woofer()}))(t), g, wire))(t)
	sol := must(plan.Solve())(t)
	h := must(sol.Voltage(must(plan.Across("D"))(t), "D"))(t)
	z := woofer().ResponseTo(nil, g)
	for i, w := range g.Omega() {
		near(t, g.At(i), "divider", h.At(i), z[i]/(z[i]+complex(10/(58*2.5)+0.05, w*4e-6)), 1e-14)
	}
	if (h.Basis() != freq.Basis{Quantity: freq.Dimensionless, Per: freq.PerInput}) {
		t.Errorf("basis is %v", h.Basis())
	}
	for _, c := range []network.Cable{{Length: -1, Area: 1e-6}, {Length: 1}, {Length: 1, Area: 1e-6, Inductance: -1}} {
		if _, err := c.Source(); err == nil {
			t.Errorf("%+v is accepted", c)
		}
	}
}

// What a network must refuse, and what of it the error names.
func TestRefusals(t *testing.T) {
	r := func(name string, a, b network.NodeID) network.Part {
		return network.Resistor{Name: name, A: a, B: b, R: 1}
	}
	for _, c := range []struct {
		parts []network.Part
		want  string
	}{
		{nil, `no part is on the input "in"`},
		{[]network.Part{r("R", "in", "0"), r("R", "in", "0")}, `"R"`},
		{[]network.Part{r("", "in", "0")}, "no name"},
		{[]network.Part{r("R", "in", "in")}, `both ends of "R" are on node "in"`},
		{[]network.Part{r("R", "in", "")}, `"R" is on no node`},
		{[]network.Part{r("R", "in", "0"), r("S", "in", "typo")}, `node "typo" is the end of one part`},
		{[]network.Part{r("R", "in", "0"), r("S", "a", "b"), r("T", "b", "a")}, `from node "a" to ground`},
		{[]network.Part{r("R", "in", "a"), r("S", "in", "a"), r("T", "b", "0"), r("U", "b", "0")}, `from node "in" to ground`},
		{[]network.Part{r("R", "in", "0"), nil}, "part 1 is nil"},
		{[]network.Part{&network.Resistor{Name: "R", A: "in", B: "0", R: 1}}, "pointer"},
		{[]network.Part{network.Resistor{Name: "R", A: "in", B: "0"}}, `resistance of "R" is 0 Ω`},
		{[]network.Part{network.Resistor{Name: "R", A: "in", B: "0", R: math.NaN()}}, `resistance of "R" is NaN Ω`},
		{[]network.Part{network.Inductor{Name: "L", A: "in", B: "0", L: 1e-3, R: -1}}, `resistance of "L" is -1 Ω`},
		{[]network.Part{network.Inductor{Name: "L", A: "in", B: "0", L: math.Inf(1)}}, `inductance of "L" is +Inf H`},
		{[]network.Part{network.Capacitor{Name: "C", A: "in", B: "0", C: -1}}, `capacitance of "C" is -1 F`},
		{[]network.Part{network.Capacitor{Name: "C", A: "in", B: "0", C: 1, ESR: math.NaN()}}, `series resistance of "C" is NaN Ω`},
		{[]network.Part{network.Load{Name: "D", A: "in", B: "0"}}, `load "D" has no impedance`},
		{[]network.Part{network.Transformer{Name: "T", Magnetising: 1}}, `"T" has no winding`},
		{[]network.Part{network.Transformer{Name: "T", Windings: []network.Winding{{A: "in", B: "0", Turns: 1}}}}, `inductance of "T" is 0 H`},
		{[]network.Part{network.Transformer{Name: "T", Magnetising: 1, Windings: []network.Winding{{A: "in", B: "0"}}}}, `turns of "T" is 0`},
	} {
		if _, err := network.New("in", c.parts...); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error is %v, want one with %q", err, c.want)
		}
	}
	if _, err := network.New("0", r("R", "0", "a")); err == nil {
		t.Error("ground as input is accepted")
	}
}

// A network does not change with what its parts were made of.
func TestNetworkKeepsItsParts(t *testing.T) {
	w := []network.Winding{{A: "in", B: "0", Turns: 1}, {A: "a", B: "0", Turns: 1}}
	parts := []network.Part{network.Transformer{Name: "T", Magnetising: 1, Windings: w}, network.Resistor{Name: "R", A: "a", B: "0", R: 1}}
	n := must(network.New("in", parts...))(t)
	w[1].Turns, parts[1] = 5, nil
	n.Parts()[1] = nil
	if tr := must(n.Part("T"))(t).(network.Transformer); tr.Windings[1].Turns != 1 || n.Parts()[1] == nil {
		t.Error("the network changed with the slices of its caller")
	}
	if n.Input() != "in" {
		t.Errorf("input is %q", n.Input())
	}
	if _, err := n.With(network.Resistor{Name: "S", A: "a", B: "0", R: 1}); err == nil {
		t.Error("a part that is not there is replaced")
	}
	if _, err := n.With(nil); err == nil {
		t.Error("a part is replaced by nil")
	}
}

// What a plan must refuse.
func TestPlanRefusals(t *testing.T) {
	g := grid(t, 100, 1000, 3)
	other := must(freq.NewResponse(grid(t, 100, 1000, 4), make([]complex128, 14), "", freq.Basis{Quantity: freq.Impedance}))(t)
	for _, c := range []struct {
		z    freq.Transfer
		want string
	}{
		{freq.Gain(0), `load "D" is 0 Ω at 100 Hz`},
		{freq.Gain(-1), `load "D" has a resistance of -1 Ω at 100 Hz`},
		{freq.Gain(math.Inf(1)), `load "D" is (+Inf+0i) Ω`},
		{other, `load "D"`},
	} {
		n := must(network.New("in", network.Load{Name: "D", A: "in", B: "0", Z: c.z}))(t)
		if _, err := network.NewPlan(n, g, network.Source{}); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error is %v, want one with %q", err, c.want)
		}
	}
	pressure := must(freq.NewResponse(g, make([]complex128, g.Len()), "", freq.Basis{Quantity: freq.Pressure}))(t)
	if _, err := network.New("in", network.Load{Name: "D", A: "in", B: "0", Z: pressure}); err == nil {
		t.Error("sound pressure is accepted as an impedance")
	}
	if _, err := network.NewPlan(twoWay(t), g, network.Source{R: -1}); err == nil {
		t.Error("a source of −1 Ω is accepted")
	}
	plan := must(network.NewPlan(twoWay(t), g, network.Source{}))(t)
	v := plan.Nominal()
	v[0] = 0
	if err := plan.SolveTo(plan.NewSolution(), v); err == nil || !strings.Contains(err.Error(), `value of "choke" is 0`) {
		t.Errorf("a choke of 0 H: error is %v", err)
	}
	if err := plan.SolveTo(plan.NewSolution(), v[1:]); err == nil {
		t.Error("too few values are accepted")
	}
}

// Networks without an answer: two ideal windings in parallel share a current in any way, and
// a circuit without loss at its resonance has any voltage between.
func TestSingular(t *testing.T) {
	g := must(freq.NewGrid([]float64{1 / (2 * math.Pi), 1}))(t) // ω = 1 first
	for _, c := range []struct {
		want  string
		parts []network.Part
	}{
		{`transformer "T"`, []network.Part{network.Transformer{Name: "T", Magnetising: 1, Windings: []network.Winding{
			{A: "a", B: "0", Turns: 1}, {A: "a", B: "0", Turns: 1}}}, network.Resistor{Name: "R", A: "in", B: "a", R: 1}}},
		// 3 : 1 and back by 0.1 : 0.3, whose ratio is not 1 : 3 to the last bit
		{"transformer", []network.Part{
			network.Transformer{Name: "T", Magnetising: 1, Windings: []network.Winding{{A: "a", B: "0", Turns: 3}, {A: "b", B: "0", Turns: 1}}},
			network.Transformer{Name: "U", Magnetising: 1, Windings: []network.Winding{{A: "b", B: "0", Turns: 0.1}, {A: "a", B: "0", Turns: 0.3}}},
			network.Resistor{Name: "R", A: "in", B: "a", R: 1}}},
		{`node "b" is not determined at 0.159`, []network.Part{network.Resistor{Name: "R", A: "in", B: "0", R: 1},
			network.Inductor{Name: "L", A: "b", B: "0", L: 1}, network.Capacitor{Name: "C", A: "b", B: "0", C: 1}}},
		// the same to rounding: the resonance of odd values is not quite at a float64
		{`node "b" is not determined at 1`, []network.Part{network.Resistor{Name: "R", A: "in", B: "0", R: 1},
			network.Inductor{Name: "L", A: "b", B: "0", L: 3}, network.Capacitor{Name: "C", A: "b", B: "0", C: 1 / (4 * math.Pi * math.Pi * 3)}}},
	} {
		plan := must(network.NewPlan(must(network.New("in", c.parts...))(t), g, network.Source{}))(t)
		if _, err := plan.Solve(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error is %v, want one with %q", err, c.want)
		}
	}
}

// The loop over frequencies does not allocate.
func TestSolveDoesNotAllocate(t *testing.T) {
	plan := must(network.NewPlan(twoWay(t), grid(t, 20, 20e3, 24), network.Source{R: 0.1}))(t)
	sol, v := plan.NewSolution(), plan.Nominal()
	port := must(plan.Across("woofer"))(t)
	dst := make([]complex128, plan.Grid().Len())
	if n := testing.AllocsPerRun(10, func() {
		if err := plan.SolveTo(sol, v); err != nil {
			t.Fatal(err)
		}
		sol.VoltageTo(dst, port)
	}); n != 0 {
		t.Errorf("%g allocations, want none", n)
	}
}

func BenchmarkSolve(b *testing.B) {
	for _, c := range []struct {
		name string
		net  *network.Network
	}{{"9 parts", twoWay(b)}, {"11 parts", bridge(b)}} {
		b.Run(c.name, func(b *testing.B) {
			plan := must(network.NewPlan(c.net, grid(b, 20, 20e3, 48), network.Source{R: 0.1}))(b)
			sol, v := plan.NewSolution(), plan.Nominal()
			for b.Loop() {
				if err := plan.SolveTo(sol, v); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*plan.Grid().Len()), "ns/point")
		})
	}
}

func ExampleSolution_Voltage() {
	net, _ := network.New("in",
		network.Inductor{Name: "choke", A: "in", B: "w", L: 1.8e-3, R: 0.32},
		network.Load{Name: "woofer", A: "w", B: network.Ground, Z: freq.Gain(6)})
	g, _ := freq.NewGrid([]float64{20, 2000})
	plan, _ := network.NewPlan(net, g, network.Source{})
	sol, _ := plan.Solve()
	port, _ := plan.Across("woofer")
	h, _ := sol.Voltage(port, "woofer")
	fmt.Printf("%.3f %.3f\n", h.Magnitude().At(0), h.Magnitude().At(1))
	// Output: 0.949 0.255
}
