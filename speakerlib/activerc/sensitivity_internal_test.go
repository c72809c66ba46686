package activerc

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

// With ideal amplifiers a response hangs on products ω·R·C alone, so that (by hand)
//
//	Σ_R ∂H/∂ln R = Σ_C ∂H/∂ln C = ∂H/∂ln ω
func TestDerivativesSumToTheSlope(t *testing.T) {
	g, err := freq.LogGrid(20, 20e3, 3)
	if err != nil {
		t.Fatal(err)
	}
	hz := g.Hz()
	const step = 1e-5
	up, down := make([]float64, len(hz)), make([]float64, len(hz))
	for i, f := range hz {
		up[i], down[i] = f*math.Exp(step), f*math.Exp(-step)
	}
	gu, gd := oneFrequency(t, up...), oneFrequency(t, down...)
	for name, c := range ngspiceChains(t) {
		for k, s := range c.stages {
			ideal, err := s.circuit.With(Amplifier{})
			if err != nil {
				t.Fatal(err)
			}
			d := ideal.DerivativesTo(nil, g)
			hu, hd := ideal.ResponseTo(nil, gu), ideal.ResponseTo(nil, gd)
			for i := range hz {
				var sum [2]complex128
				for j, p := range ideal.parts {
					sum[p.Kind] += d[j*len(hz)+i]
				}
				slope := (hu[i] - hd[i]) / (2 * step)
				size := cmplx.Abs(hu[i]) + cmplx.Abs(slope)
				for kind, v := range sum {
					if cmplx.Abs(v-slope) > 1e-8*size {
						t.Errorf("%s, stage %d, %g Hz: derivatives of %vs sum to %v, want %v", name, k, hz[i], Kind(kind), v, slope)
					}
				}
			}
		}
	}
}

// Every derivative, with the real amplifiers, against a central difference of the response.
func TestDerivativesAreDifferences(t *testing.T) {
	g := oneFrequency(t, 37, 310, 2200, 15e3)
	n := g.Len()
	const step = 1e-5
	for name, c := range ngspiceChains(t) {
		for k, s := range c.stages {
			d := s.circuit.DerivativesTo(nil, g)
			for j := range s.circuit.parts {
				var h [2][]complex128
				for e, x := range []float64{math.Exp(step), math.Exp(-step)} {
					p := s.circuit.Parts()
					p[j].Value *= x
					c, err := NewCircuit(s.circuit.out, s.circuit.opamps, p...)
					if err != nil {
						t.Fatal(err)
					}
					h[e] = c.ResponseTo(nil, g)
				}
				for i := range n {
					want := (h[0][i] - h[1][i]) / (2 * step)
					if cmplx.Abs(d[j*n+i]-want) > 1e-8*(cmplx.Abs(h[0][i])+cmplx.Abs(want)) {
						t.Errorf("%s, stage %d, %s at %g Hz: derivative is %v, want %v", name, k, s.circuit.parts[j].Name, g.At(i), d[j*n+i], want)
					}
				}
			}
		}
	}
}

// The frequency response of a solved circuit allocates nothing per point, nor does a sample of
// a production.
func TestSamplesDoNotAllocate(t *testing.T) {
	c := ngspiceChains(t)["state"]
	g := oneFrequency(t, 37, 310, 2200, 15e3)
	p := c.newProduction(g)
	k := uint64(0)
	if n := testing.AllocsPerRun(20, func() {
		k++
		p.sample(Tolerances{R: 0.01, C: 0.05, GBW: 0.3, Distribution: Normal}, 7, k)
	}); n != 0 {
		t.Errorf("a sample allocates %v times, want 0", n)
	}
}

func BenchmarkSample(b *testing.B) {
	c := ngspiceChains(b)["state"]
	g, err := freq.LogGrid(20, 20e3, 12)
	if err != nil {
		b.Fatal(err)
	}
	p := c.newProduction(g)
	k := uint64(0)
	b.ReportAllocs()
	for b.Loop() {
		k++
		p.sample(Tolerances{R: 0.01, C: 0.05}, 7, k)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(g.Len()*len(c.stages)), "ns/point")
}
