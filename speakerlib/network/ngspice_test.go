package network_test

import (
	"bufio"
	"math"
	"math/cmplx"
	"os"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/network"
)

// lumped is a load as a circuit writes it: series R and L, and a list of branches across
// the rest, each a series L–C (zero is not there) or R.
type lumped struct {
	re, le float64
	across []func(w float64) complex128 // admittances
}

func (d lumped) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i, w := range g.Omega() {
		z := complex(d.re, w*d.le)
		if len(d.across) > 0 {
			var y complex128
			for _, f := range d.across {
				y += f(w)
			}
			z += 1 / y
		}
		dst[i] = z
	}
	return dst
}

func yR(r float64) func(float64) complex128 {
	return func(float64) complex128 { return complex(1/r, 0) }
}
func yL(l float64) func(float64) complex128 {
	return func(w float64) complex128 { return complex(0, -1/(w*l)) }
}
func yC(c float64) func(float64) complex128 {
	return func(w float64) complex128 { return complex(0, w*c) }
}
func yLC(l, c float64) func(float64) complex128 {
	return func(w float64) complex128 { return complex(0, -1/(w*l-1/(w*c))) }
}

// The drivers of twoway.cir; invented.
func woofer() lumped {
	return lumped{5.5, 0.42e-3, []func(float64) complex128{yR(62), yL(19.4e-3), yC(370e-6), yLC(30e-3, 610e-6)}}
}
func tweeter() lumped {
	return lumped{4.9, 0.03e-3, []func(float64) complex128{yR(6.8), yL(1e-3), yC(26e-6)}}
}

// twoWay is the network of twoway.cir.
func twoWay(t testing.TB) *network.Network {
	return must(network.New("in",
		network.Inductor{Name: "choke", A: "in", B: "w", L: 1.8e-3, R: 0.32},
		network.Capacitor{Name: "shunt", A: "w", B: "0", C: 8.2e-6, ESR: 0.1},
		network.Load{Name: "woofer", A: "w", B: "0", Z: woofer()},
		network.Capacitor{Name: "first", A: "in", B: "t", C: 5.1e-6},
		network.Inductor{Name: "coil", A: "t", B: "0", L: 0.36e-3, R: 0.3},
		network.Capacitor{Name: "second", A: "t", B: "i", C: 68e-6},
		network.Resistor{Name: "pad", A: "i", B: "j", R: 3.9},
		network.Resistor{Name: "across", A: "j", B: "0", R: 47},
		network.Load{Name: "tweeter", A: "j", B: "0", Z: tweeter()},
	))(t)
}

func must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// spice reads a table of ngspice: frequency, then real and imaginary part of each vector.
func spice(t *testing.T, file string) (*freq.Grid, [][]complex128) {
	t.Helper()
	f := must(os.Open(file))(t)
	defer f.Close()
	var hz []float64
	var vectors [][]complex128
	for lines := bufio.NewScanner(f); lines.Scan(); {
		words := strings.Fields(lines.Text())
		v := make([]float64, len(words))
		for i, w := range words {
			v[i] = must(strconv.ParseFloat(w, 64))(t)
		}
		hz = append(hz, v[0])
		if vectors == nil {
			vectors = make([][]complex128, len(v)/2)
		}
		for i := range vectors {
			vectors[i] = append(vectors[i], complex(v[1+2*i], v[2+2*i]))
		}
	}
	if len(hz) < 50 {
		t.Fatalf("%s has %d rows", file, len(hz))
	}
	return must(freq.NewGrid(hz))(t), vectors
}

// The largest difference relative to the larger of the value and a billionth.
func worst(a, b []complex128) (d float64, at int) {
	for i := range a {
		if e := cmplx.Abs(a[i]-b[i]) / math.Max(cmplx.Abs(b[i]), 1e-9); !(e <= d) {
			d, at = e, i
		}
	}
	return d, at
}

// Against .ac runs of ngspice 39: testdata/*.cir, stored by `ngspice -b NAME.cir`.
func TestAgainstNgspice(t *testing.T) {
	type probe struct{ a, b network.NodeID }
	for _, c := range []struct {
		name   string
		net    *network.Network
		source network.Source
		probes []probe
	}{
		{"twoway", twoWay(t), network.Source{R: 0.11, L: 2.4e-6},
			[]probe{{"in", "0"}, {"w", "0"}, {"j", "0"}}},
		{"bridge", bridge(t), network.Source{}, []probe{{"p", "0"}, {"q", "0"}, {"u", "q"}}},
		{"windings", windings(t), network.Source{R: 0.05}, []probe{{"tap", "0"}, {"d", "0"}, {"a", "0"}}},
	} {
		g, want := spice(t, "testdata/"+c.name+"_ngspice.txt")
		plan := must(network.NewPlan(c.net, g, c.source))(t)
		sol := must(plan.Solve())(t)
		for k, p := range c.probes {
			got := sol.VoltageTo(nil, must(plan.Port(p.a, p.b))(t))
			if e, i := worst(got, want[k]); !(e <= 1e-9) {
				t.Errorf("%s, %s to %s: %v at %.5g Hz, ngspice has %v: off by %.2g", c.name, p.a, p.b, got[i], g.At(i), want[k][i], e)
			}
		}
		// The current that ngspice counts into the source is that of e through Rs + jωLs.
		z := must(sol.InputImpedance(""))(t).Values()
		total := make([]complex128, len(z))
		for i, w := range g.Omega() {
			total[i] = -1 / (z[i] + complex(c.source.R, w*c.source.L))
		}
		if e, i := worst(total, want[len(c.probes)]); !(e <= 1e-9) {
			t.Errorf("%s, current of the source: %v A at %.5g Hz, ngspice has %v: off by %.2g", c.name, total[i], g.At(i), want[len(c.probes)][i], e)
		}
	}
}

func bridge(t testing.TB) *network.Network {
	return must(network.New("in",
		network.Inductor{Name: "L1", A: "in", B: "p", L: 1.1e-3, R: 0.2},
		network.Capacitor{Name: "C1", A: "p", B: "0", C: 33e-6},
		network.Inductor{Name: "L2", A: "p", B: "q", L: 0.4e-3, R: 0.15},
		network.Resistor{Name: "R1", A: "q", B: "0", R: 8},
		network.Inductor{Name: "L3", A: "q", B: "d", L: 0.5e-3, R: 0.05},
		network.Capacitor{Name: "C2", A: "d", B: "0", C: 5e-6},
		network.Capacitor{Name: "C3", A: "in", B: "t", C: 6.8e-6},
		network.Capacitor{Name: "C4", A: "t", B: "u", C: 10e-6},
		network.Resistor{Name: "R2", A: "in", B: "u", R: 47},
		network.Inductor{Name: "L4", A: "t", B: "0", L: 0.25e-3},
		network.Load{Name: "between", A: "u", B: "q", Z: lumped{re: 6.2, le: 0.08e-3}},
	))(t)
}

func windings(t testing.TB) *network.Network {
	return must(network.New("in",
		network.Capacitor{Name: "C1", A: "in", B: "a", C: 10e-6},
		network.Transformer{Name: "auto", Magnetising: 4e-3, Windings: []network.Winding{
			{A: "a", B: "tap", Turns: 70, R: 0.21, Leakage: 11e-6},
			{A: "tap", B: "0", Turns: 130, R: 0.33, Leakage: 17e-6},
		}},
		network.Load{Name: "tweeter", A: "tap", B: "0", Z: lumped{re: 4.9, le: 0.05e-3}},
		network.Transformer{Name: "down", Magnetising: 50e-3, Windings: []network.Winding{
			{A: "in", B: "0", Turns: 100, R: 0.4, Leakage: 60e-6},
			{A: "0", B: "d", Turns: 30, R: 0.09},
		}},
		network.Resistor{Name: "R2", A: "d", B: "0", R: 3.3},
		network.Capacitor{Name: "C2", A: "d", B: "0", C: 2.2e-6},
	))(t)
}
