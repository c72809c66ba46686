package diffraction_test

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/freq"
)

// demo is the cabinet of the benchmarks: 190 × 330 × 260 mm.
func demo(t testing.TB) *diffraction.Cabinet {
	t.Helper()
	c, err := diffraction.NewBox(0.19, 0.33, 0.26, diffraction.Rounding{}, diffraction.Rounding{})
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// orbits returns the 70 directions of the horizontal and the vertical orbit in steps
// of 10°.
func orbits() []diffraction.Receiver {
	var r []diffraction.Receiver
	for k := range 36 {
		r = append(r, diffraction.Angles(rad(float64(10*k)), 0))
	}
	for k := range 36 {
		if k != 0 && k != 18 {
			r = append(r, diffraction.Angles(0, rad(float64(10*k))))
		}
	}
	return r
}

// audio returns 200 frequencies from 20 Hz to 20 kHz, evenly spaced in their logarithm.
func audio(t testing.TB) *freq.Grid {
	t.Helper()
	hz := make([]float64, 200)
	for i := range hz {
		hz[i] = 20 * pow(1000, float64(i)/199)
	}
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// The peer is NumPy with one thread, testdata/box_numpy.py time, which sums over the same
// numbers of nodes. Processor time on one core of an EPYC, both in the same minutes:
//
//	first order           0.285 ms   NumPy 63 ms with complex exponentials (220 times)
//	                                       13 ms with cos and sin apart (46 times)
//	first and second order 13.8 ms   NumPy 19.2 s and 2.5 s of the sum as it is written (1400 and 180 times)
//	                                       1.85 s and 1.23 s with the phases shared by all directions (134 and 89 times)
//
// Two cores take 0.149 ms and 7.5 ms, 1.9 and 1.85 times as fast.
// The difference to the exact sums is below 1e-4 of the half space's level
// (TestBoxAgainstNumPy). All orders up to 3.7 kHz take 0.2 s on two cores
// and their plan 36 ms, a map of 500 places 51 ms on one and 29 ms on two.
func benchmarkBox(b *testing.B, order diffraction.Order, workers int) {
	p, err := diffraction.NewPlan(diffraction.Setup{Cabinet: demo(b), Air: still, Grid: audio(b), Receivers: orbits(), Order: order, Workers: workers, Reference: r3.Vec{Y: 0.05}})
	if err != nil {
		b.Fatal(err)
	}
	st := p.NewState()
	src := diffraction.Source{Elements: point(0, 0.07, 0)}
	dst := make([]complex128, p.Len())
	b.ReportAllocs()
	for b.Loop() {
		if _, err := st.SolveTo(dst, src); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkFirstOrderOneCore(b *testing.B)   { benchmarkBox(b, diffraction.First, 1) }
func BenchmarkFirstOrderTwoCores(b *testing.B)  { benchmarkBox(b, diffraction.First, 2) }
func BenchmarkSecondOrderOneCore(b *testing.B)  { benchmarkBox(b, diffraction.Second, 1) }
func BenchmarkSecondOrderTwoCores(b *testing.B) { benchmarkBox(b, diffraction.Second, 2) }

// A map of 500 and some places with nine directions of a listening window and 200
// frequencies, first order.
func benchmarkMap(b *testing.B, workers int) {
	s, err := diffraction.NewStudy(diffraction.Setup{Cabinet: demo(b), Air: still, Grid: audio(b), Receivers: listening(), Workers: workers},
		point(0, 0, 0), nil, diffraction.Ripple{From: 200, To: 10000})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		places, err := s.Map(0.0087, 0.01)
		if err != nil || len(places) < 500 {
			b.Fatalf("%d places (%v), want at least 500", len(places), err)
		}
	}
}

func BenchmarkMapOneCore(b *testing.B)  { benchmarkMap(b, 1) }
func BenchmarkMapTwoCores(b *testing.B) { benchmarkMap(b, 2) }

// All orders up to 5·c/size (3.7 kHz; 151 of the 200 frequencies).
func BenchmarkAllOrders(b *testing.B) { benchmarkBox(b, diffraction.All, 0) }
