package largesignal

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
)

func tone(n int, rate, hz, peak float64) []float64 {
	u := make([]float64, n)
	for k := range u {
		u[k] = peak * math.Sin(2*math.Pi*hz*float64(k)/rate)
	}
	return u
}

func bench(b *testing.B, m *Model) {
	const rate = 48000
	u := tone(rate/10, rate, 40, 12)
	trace := &Trace{Cone: make([]float64, len(u)), Sound: make([]float64, len(u))}
	r := start(b, m, rate)
	b.ReportAllocs()
	for b.Loop() {
		r.Play(u, trace)
	}
	b.ReportMetric(0.1*float64(b.N)/b.Elapsed().Seconds(), "×real")
}

func BenchmarkVentedFiveStates(b *testing.B) {
	w, l := woofer()
	bench(b, build(b, w, l, Options{}))
}

func BenchmarkTwoLadders(b *testing.B) {
	w, l := woofer()
	w.Driver.Coil = driver.TwoLadders{Le: 0.05e-3, L2: 0.3e-3, R2: 2, L3: 0.15e-3, R3: 20}
	bench(b, build(b, w, l, Options{}))
}
