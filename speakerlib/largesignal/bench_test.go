package largesignal

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/limits"
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

// Every state that there is: the coil's current and both rungs, cone, box, vent and heat.
func BenchmarkAllStates(b *testing.B) {
	w, l := woofer()
	w.Driver.Coil = driver.TwoLadders{Le: 0.05e-3, L2: 0.3e-3, R2: 2, L3: 0.15e-3, R3: 20}
	bench(b, build(b, w, l, Options{Amplifier: Amplifier{Volts: 20},
		Heat: &Heat{Network: limits.Thermal{{Resistance: 3, Capacity: 6}, {Resistance: 1.2, Capacity: 900}}}}))
}

func BenchmarkSaturatedInductor(b *testing.B) {
	w, l := woofer()
	l.LeCurrent, _ = driver.NewPolynomial([]float64{0.42e-3, -5e-7, -4e-7}, -10, 10)
	bench(b, build(b, w, l, Options{}))
}

func BenchmarkTweeterWithoutLadder(b *testing.B) {
	w, l := woofer()
	w.Driver.Coil = driver.Inductor{Le: 0.03e-3}
	bench(b, build(b, w, l, Options{}))
}

// And with an inductance over current, for which every stage is solved by iteration, and
// an amplifier that limits.
func BenchmarkEverything(b *testing.B) {
	w, l := woofer()
	l.LeCurrent, _ = driver.NewPolynomial([]float64{0.42e-3, -5e-7, -4e-7}, -10, 10)
	w.Driver.Coil = driver.TwoLadders{Le: 0.05e-3, L2: 0.3e-3, R2: 2, L3: 0.15e-3, R3: 20}
	bench(b, build(b, w, l, Options{Amplifier: Amplifier{Volts: 10, Amperes: 5},
		Heat: &Heat{Network: limits.Thermal{{Resistance: 3, Capacity: 6}, {Resistance: 1.2, Capacity: 900}}}}))
}

func BenchmarkHarmonics40Hz(b *testing.B) {
	w, l := woofer()
	m := build(b, w, l, Options{})
	b.ReportAllocs()
	for b.Loop() {
		if _, err := m.Harmonics(Tone{Hz: 40, RMS: 8}, nil); err != nil {
			b.Fatal(err)
		}
	}
}
