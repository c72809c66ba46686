package signalpath_test

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
	"example.org/loudspeaker/speakerlib/signalpath"
)

func must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// tweeterImpedance is the driver of testdata/tweeter.cir, invented.
func tweeterImpedance() network.Impedance {
	return func(dst []complex128, g *freq.Grid) []complex128 {
		dst = freq.Dst(dst, g.Len())
		for i, w := range g.Omega() {
			dst[i] = complex(4.9, w*0.03e-3) + motional(w)
		}
		return dst
	}
}

func motional(w float64) complex128 { return 1 / complex(1/6.8, w*26e-6-1/(w*1e-3)) }

// evenPressure is a sound pressure of so much per volt, the same at all frequencies.
func evenPressure(paPerVolt float64) (freq.Transfer, freq.Basis) {
	return freq.Gain(paPerVolt), freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}
}

// tweeterPath is the circuit of testdata/tweeter.cir.
func tweeterPath() signalpath.Path {
	pressure, basis := evenPressure(0.2)
	return signalpath.Path{
		Name: "tweeter",
		Elements: []signalpath.Element{
			signalpath.Amplifier{Name: "amplifier", Gain: 10, Output: network.Source{R: 0.02, L: 0.1e-6},
				InputNoise: signalpath.Johnson(1000, 293.15)},
			signalpath.OutputFilter{Name: "filter", L: 10e-6, R: 0.03, C: 0.47e-6, ESR: 0.02, DampR: 10, DampC: 1e-6},
			signalpath.Cable{Name: "cable", Length: 3, Resistance: 20e-3, Inductance: 0.6e-6, Capacitance: 100e-12},
			signalpath.SeriesCapacitor{Name: "capacitor", C: 22e-6, ESR: 0.05},
		},
		Driver: signalpath.Driver{Name: "driver", Impedance: tweeterImpedance(), Pressure: pressure, Basis: basis, Re: 4.9},
	}
}

// readTable reads rows of numbers.
func readTable(t *testing.T, file string, columns int) [][]float64 {
	t.Helper()
	f := must(os.Open(file))(t)
	defer f.Close()
	var rows [][]float64
	for lines := bufio.NewScanner(f); lines.Scan(); {
		words := strings.Fields(lines.Text())
		if len(words) != columns {
			t.Fatalf("%s: %d columns, want %d", file, len(words), columns)
		}
		row := make([]float64, columns)
		for i, w := range words {
			row[i] = must(strconv.ParseFloat(w, 64))(t)
		}
		rows = append(rows, row)
	}
	if len(rows) < 100 {
		t.Fatalf("%s: %d rows", file, len(rows))
	}
	return rows
}

func gridOf(t *testing.T, rows [][]float64) *freq.Grid {
	t.Helper()
	hz := make([]float64, len(rows))
	for i, r := range rows {
		hz[i] = r[0]
	}
	return must(freq.NewGrid(hz))(t)
}

// testdata/tweeter.cir, ngspice 39, .ac: the amplifier, the output filter, the cable and the
// protection capacitor, each into its load.
func TestResponsesAgreeWithCircuitSimulation(t *testing.T) {
	rows := readTable(t, "testdata/tweeter_ac_ngspice.txt", 13)
	s := must(tweeterPath().On(gridOf(t, rows)))(t)
	total := must(s.Response("all"))(t)
	for i, r := range rows {
		v := make([]complex128, 6)
		for k := range v {
			v[k] = complex(r[1+2*k], r[2+2*k])
		}
		for k, name := range []string{"amplifier", "filter", "cable", "capacitor"} {
			want := v[k+1] / v[k]
			if k == 0 {
				want = v[1]
			}
			got := must(s.Element(name))(t).At(i)
			if d := cmplx.Abs(got-want) / cmplx.Abs(want); !(d < 1e-9) {
				t.Errorf("%s at %.5g Hz is %v, want %v: off by %.2g", name, r[0], got, want, d)
			}
		}
		if d := cmplx.Abs(total.At(i)-v[4]) / cmplx.Abs(v[4]); !(d < 1e-9) {
			t.Errorf("whole path at %.5g Hz is %v, want %v: off by %.2g", r[0], total.At(i), v[4], d)
		}
	}
}

// testdata/tweeter.cir, ngspice 39, .noise at the coil's inner node, where the noise of the coil's
// own resistance shows as what it does to the motion. The simulation's Boltzmann constant is an
// older one, 1.38064852e-23 (CODATA 2014).
func TestNoiseAgreesWithCircuitSimulation(t *testing.T) {
	rows := readTable(t, "testdata/tweeter_noise_ngspice.txt", 9)
	g := gridOf(t, rows)
	s := must(tweeterPath().On(g))(t)
	z := tweeterImpedance().ResponseTo(nil, g)
	const old = 1.38064852e-23 / signalpath.Boltzmann
	all := must(s.Noise("all"))(t)
	part := map[string]freq.Curve{}
	for _, name := range []string{"amplifier", "filter", "cable", "capacitor", "driver"} {
		part[name] = must(s.TerminalNoise(name))(t)
	}
	for i, r := range rows {
		toCoil := cmplx.Abs(motional(g.Omega()[i])/z[i]) * math.Sqrt(old)
		check := func(what string, density float64, want ...float64) {
			var power float64
			for _, v := range want {
				power += v * v
			}
			got := math.Sqrt(density) * toCoil
			if d := math.Abs(got/math.Sqrt(power) - 1); !(d < 1e-8) {
				t.Errorf("%s at %.5g Hz is %.12g V/√Hz, want %.12g: off by %.2g", what, r[0], got, math.Sqrt(power), d)
			}
		}
		check("all", all.At(i), r[1])
		check("amplifier", part["amplifier"].At(i), r[2])
		check("filter", part["filter"].At(i), r[3], r[4], r[5])
		check("cable", part["cable"].At(i), r[6])
		check("capacitor", part["capacitor"].At(i), r[7])
		check("coil", part["driver"].At(i), r[8])
	}
}
