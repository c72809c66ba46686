package largesignal

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// project returns the complex amplitude, in the sense of e^{jωt} and a sine of phase 0,
// of the k-th harmonic of whole periods.
func project(x []float64, cycles int) complex128 {
	sum := complex128(0)
	for n, v := range x {
		sum += complex(v, 0) * cmplx.Rect(1, -2*math.Pi*float64(cycles)*float64(n)/float64(len(x)))
	}
	return sum * complex(0, 2/float64(len(x)))
}

// TestSmallSignalsAreThoseOfTheLinearModel runs 10 µV and compares with the ratios of
// polynomials of package enclosure, which is outside of this package. Each run starts in
// the linear steady state, and the last of four periods is looked at.
func TestSmallSignalsAreThoseOfTheLinearModel(t *testing.T) {
	w, l := woofer()
	boxes := map[string]enclosure.Box{
		"vented":   w.Box,
		"absorb":   enclosure.Vented{Vb: 15e-3, Vent: w.Box.(enclosure.Vented).Vent, Losses: enclosure.Losses{QL: 8, QA: 20, QP: 40}, Fill: enclosure.Fill{Isothermal: 0.3}},
		"closed":   enclosure.Closed{Vb: 9e-3, Losses: enclosure.Losses{QL: 15, QA: 12}, Reference: 70, Fill: enclosure.Fill{Isothermal: 0.5, Resistivity: 2000, Depth: 0.1}},
		"radiator": enclosure.PassiveRadiator{Vb: 15e-3, Radiator: enclosure.Radiator{Mmp: 60e-3, Cmp: 0.8e-3, Rmp: 1.1, Sp: 180e-4, Count: 2}, Losses: enclosure.Losses{QL: 15, QA: 50}},
		"open":     enclosure.InfiniteBaffle{},
	}
	coils := map[string]driver.Coil{
		"none": driver.NoCoil{}, "Le": driver.Inductor{Le: 0.42e-3}, "ladder": driver.Ladder{Le: 0.2e-3, L2: 0.4e-3, R2: 3},
		"two": driver.TwoLadders{Le: 0.05e-3, L2: 0.3e-3, R2: 2, L3: 0.15e-3, R3: 20},
	}
	for name, b := range boxes {
		for coil, c := range coils {
			for _, method := range []Method{Auto, ARK4} {
				w.Box, w.Driver.Coil = b, c
				if coil == "none" {
					l.Le = nil
				} else {
					_, l = woofer()
				}
				m := build(t, w, l, Options{Method: method})
				motion, err := w.Motion()
				if err != nil {
					t.Fatal(err)
				}
				for _, hz := range []float64{15, 48, 55, 120, 500} {
					const rate, periods = 96000, 4
					n := int(rate / hz)
					g, _ := freq.NewGrid([]float64{hz})
					tone := Tone{Hz: hz, RMS: 1e-5 / math.Sqrt2}
					u := make([]float64, n)
					for k := range u {
						u[k] = tone.at(float64(k) / (hz * float64(n)))
					}
					r := start(t, m, hz*float64(n))
					r.settle([]Tone{tone})
					r.loop(u, 0, n*(periods-1), nil)
					tr := NewTrace(n)
					r.loop(u, 0, n, tr)
					check := func(what string, x []float64, f freq.Transfer) {
						want := f.ResponseTo(nil, g)[0] * 1e-5
						got := project(x, 1)
						if e := cmplx.Abs(got-want) / cmplx.Abs(want); !(e < 1e-6) {
							t.Errorf("%s, %s, %v: %s at %g Hz is off by %.2g", name, coil, r.method, what, hz, e)
						}
					}
					check("cone", tr.Cone, motion.Cone)
					check("current", tr.Current, motion.Current)
					check("sound", tr.Sound, motion.Pressure)
					if name == "vented" || name == "radiator" {
						check("vent air", tr.VentAir, motion.VentAir)
						if hz < 200 { // above, 1.2e-6
							check("vent path", tr.VentPath, motion.Ports[0].Excursion)
						}
					}
				}
			}
		}
	}
}
