package activerc

import (
	"bufio"
	"flag"
	"math"
	"math/cmplx"
	"os"
	"strconv"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
)

var write = flag.Bool("write", false, "write the netlists in testdata anew")

// placed is a stage of given values, without a search.
func placed(t testing.TB, s analog.Section, topology Topology, a Amplifier, values ...float64) *Stage {
	t.Helper()
	n, turned := positive(s)
	l, err := topology.bind(n)
	if err != nil {
		t.Fatal(err)
	}
	if len(values) != len(l.slots) {
		t.Fatalf("%d values, want %v", len(values), l.slots)
	}
	parts, opamps := l.build(values)
	for i := range opamps {
		opamps[i].Amplifier = a
	}
	c, err := NewCircuit("out", opamps, parts...)
	if err != nil {
		t.Fatal(err)
	}
	return &Stage{target: s, topology: topology, circuit: c, ideal: l.ideal(values), inverted: l.inverts != turned}
}

// Invented amplifiers.
var (
	white = Amplifier{Name: "white", Voltage: 5e-9, Current: 1e-12}
	slow  = Amplifier{Name: "slow", GBW: 1e6, DCGain: 1e5, Voltage: 12e-9, Current: 0.4e-12}
	leaky = Amplifier{Name: "leaky", GBW: 2e6, DCGain: 1e5, Voltage: 9e-9, Output: 70}
	quick = Amplifier{Name: "quick", GBW: 10e6, Voltage: 4e-9, Current: 1.5e-12, Differential: 8e-12, Common: 4e-12}
)

func ngspiceChains(t testing.TB) map[string]*Chain {
	chain := func(s ...*Stage) *Chain {
		c, err := NewChain(s...)
		if err != nil {
			t.Fatal(err)
		}
		return c
	}
	return map[string]*Chain{
		// Sallen–Key with and without gain, ideal amplifiers
		"sallenkey": chain(
			placed(t, Lowpass(2200, 0.71, 1), SallenKey, white, 22e-9, 10e-9, 4.87e3, 4.87e3),
			placed(t, Highpass(300, 0.9, 2), SallenKey, white, 47e-9, 33e-9, 9.53e3, 18.2e3, 10e3, 10e3),
		),
		// one stage: a second one would load the first
		"leak": chain(placed(t, Lowpass(2200, 0.71, 1), SallenKey, leaky, 22e-9, 10e-9, 4.87e3, 4.87e3)),
		// multiple feedback of all kinds and both first-order circuits of the inverting kind
		"feedback": chain(
			placed(t, Lowpass(3000, 0.71, 0.5), MultipleFeedback, slow, 10e-9, 2.2e-9, 12.1e3, 6.04e3, 17.4e3),
			placed(t, Highpass(200, 1.3, 1), MultipleFeedback, slow, 33e-9, 33e-9, 22e-9, 9.09e3, 61.9e3),
			placed(t, Bandpass(800, 3, 1), MultipleFeedback, slow, 15e-9, 15e-9, 39.2e3, 2.32e3, 78.7e3),
			placed(t, FirstShelf(700, 350, 1), FirstOrder, slow, 22e-9, 22e-9, 10.5e3, 20.5e3),
		),
		// state variables, the all-pass and the sums with a band-pass
		"state": chain(
			placed(t, LowShelf(120, 2, 0.7), StateVariable, quick, 150e-9, 10e3, 8.45e3, 20.5e3, 20e3, 10e3, 13.3e3, 13.3e3, 6.65e3, 10e3, 22.1e3),
			placed(t, Allpass(3000, 2), StateVariable, quick, 12e-9, 4.42e3, 4.42e3, 49.9e3, 10e3, 10e3, 10e3, 10e3, 10e3, 20e3),
			placed(t, Lowpass(2200, 8, 1), StateVariable, quick, 10e-9, 7.32e3, 7.15e3, 45.3e3, 2.05e3, 10e3, 10e3),
			placed(t, FirstAllpass(1000), FirstOrder, quick, 10e-9, 15.8e3, 10e3),
		),
		"relocation": chain(
			placed(t, Relocate(62, 1.1, 36, 0.707), BridgedT, slow, 270e-9, 47e-9, 100e-9, 22.6e3, 5.49e3, 66.5e3),
			placed(t, Peak(90, 2, 2), BandpassSum, slow, 270e-9, 120e-9, 19.6e3, 1.74e3, 60.4e3, 11.3e3, 10.7e3, 11.3e3, 10.7e3),
			placed(t, Peak(900, 0.5, 3), BandpassSum, slow, 5.6e-9, 47e-9, 71.5e3, 1.62e3, 75e3, 10.2e3, 10.2e3, 19.1e3),
		),
	}
}

const analyses = `Vs in 0 dc 0 ac 1
.ac dec 10 5 200k
.noise v(out) Vs dec 10 5 200k
.control
set wr_singlescale
set numdgt=15
run
setplot ac1
wrdata NAME_ac.txt v(out)
setplot noise1
wrdata NAME_noise.txt onoise_spectrum
quit
.endc
.end
`

func table(t testing.TB, name string) [][]float64 {
	t.Helper()
	f, err := os.Open("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var rows [][]float64
	for s := bufio.NewScanner(f); s.Scan(); {
		var row []float64
		for _, w := range strings.Fields(s.Text()) {
			if v, err := strconv.ParseFloat(w, 64); err == nil {
				row = append(row, v)
			}
		}
		if len(row) > 1 {
			rows = append(rows, row)
		}
	}
	if len(rows) == 0 {
		t.Fatalf("%s has no rows", name)
	}
	return rows
}

// Stored runs of ngspice 39 on our netlists: response with ideal amplifiers and with those of
// one pole, and noise, all to 1e-9. It has 1.38064852e-23 J/K for Boltzmann's constant, which is
// 0.35e-6 of the power too little (the value of CODATA 2014).
func TestNgspice(t *testing.T) {
	for name, c := range ngspiceChains(t) {
		t.Run(name, func(t *testing.T) {
			netlist, err := c.Netlist(name+", invented values", 300.15)
			if err != nil {
				t.Fatal(err)
			}
			netlist += strings.ReplaceAll(analyses, "NAME", name)
			if *write {
				if err := os.WriteFile("testdata/"+name+".cir", []byte(netlist), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			stored, err := os.ReadFile("testdata/" + name + ".cir")
			if err != nil {
				t.Fatal(err)
			}
			if string(stored) != netlist {
				t.Errorf("netlist is\n%s\nwant that of the stored run\n%s", netlist, stored)
			}
			rows := table(t, name+"_ac.txt")
			hz := make([]float64, len(rows))
			for i, r := range rows {
				hz[i] = r[0]
			}
			g, err := freq.NewGrid(hz)
			if err != nil {
				t.Fatal(err)
			}
			worst := 0.0
			for i, h := range c.ResponseTo(nil, g) {
				want := complex(rows[i][1], rows[i][2])
				worst = max(worst, cmplx.Abs(h-want)/cmplx.Abs(want))
			}
			if worst > 1e-9 {
				t.Errorf("response is off by %.2g, want at most 1e-9", worst)
			}
			rows = table(t, name+"_noise.txt") // of other frequencies, for reasons of its own
			for i, r := range rows {
				hz[i] = r[0]
			}
			if g, err = freq.NewGrid(hz); err != nil {
				t.Fatal(err)
			}
			noise, err := c.NoiseTo(nil, g, 300.15)
			if err != nil {
				t.Fatal(err)
			}
			off := 0.0
			for i, r := range rows {
				off = max(off, math.Abs(math.Sqrt(noise[i]*1.38064852e-23/boltzmann)/r[1]-1))
			}
			if off > 1e-9 {
				t.Errorf("noise is off by %.2g, want at most 1e-9", off)
			}
			t.Logf("response off by %.2g, noise by %.2g", worst, off)
		})
	}
}
