package activerc_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/activerc"
	"example.org/loudspeaker/speakerlib/analog"
)

// Any six numbers give a circuit that is near them, or an error.
func FuzzRealise(f *testing.F) {
	f.Add(1.0, 0.0, 0.0, 1.0, 8e3, 4e7, uint8(0))
	f.Add(1.0, 500.0, 2e5, 1.0, 300.0, 5e4, uint8(6))
	f.Add(0.0, -1.0, 6e3, 0.0, 1.0, 6e3, uint8(1))
	f.Add(1.0, 0.0, 1e-308, 1.0, 1e308, 1.0, uint8(6))
	f.Add(0.0, 5e-324, 1.0, 1.0, 1.0, 5e-324, uint8(3))
	coarse := activerc.Options{
		Resistors:  activerc.Range{Series: activerc.E12, Lo: 1e3, Hi: 100e3},
		Capacitors: activerc.Range{Series: activerc.E12, Lo: 1e-9, Hi: 100e-9}, Limit: 1,
	}
	f.Fuzz(func(t *testing.T, n2, n1, n0, d2, d1, d0 float64, topology uint8) {
		o := coarse
		o.Topology = activerc.Topology(topology % 8)
		st, err := activerc.Realise(analog.Section{N2: n2, N1: n1, N0: n0, D2: d2, D1: d1, D0: d0}, activerc.Amplifier{GBW: 10e6}, o)
		if err != nil {
			return
		}
		if e, _ := st.Error(); math.IsNaN(e) || math.IsInf(e, 0) {
			t.Errorf("error is %g", e)
		}
		if _, _, err := st.Resonance(); err != nil {
			t.Error(err)
		}
		for _, h := range st.ResponseTo(nil, grid(t, 20, 20e3, 1)) {
			if math.IsNaN(real(h)) || math.IsInf(real(h), 0) {
				t.Errorf("response is %v", h)
			}
		}
	})
}
