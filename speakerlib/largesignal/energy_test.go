package largesignal

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
)

// stored returns the energy in a state, J.
func (m *Model) stored(s *state) float64 {
	q := m.place(s.x)
	e := q.l * m.saturation.energy(s.flux/q.l)
	for k := range m.coil.n {
		e += s.eddy[k] * s.eddy[k] / (2 * m.coil.l[k] * q.le)
	}
	e += m.driver.Mms * s.v * s.v / 2
	x := s.x * s.x
	for k, c := range m.kms.c {
		e += c * x / float64(k+2) / m.driver.Cms
		x *= s.x
	}
	if m.box.yield > 0 {
		e += s.p * s.p / (2 * m.box.yield)
	}
	return e + m.box.mass*s.u*s.u/2 + m.box.spring*s.y*s.y/2
}

// lost returns the power that becomes heat, W.
func (m *Model) lost(s *state, i, resistance float64) float64 {
	q, b := m.place(s.x), &m.box
	w := resistance*i*i + m.driver.Rms*s.v*s.v
	for k := range m.coil.n {
		d := i - s.eddy[k]/(m.coil.l[k]*q.le)
		w += m.coil.r[k] * q.le * d * d
	}
	p := m.pressure(s.p, s.v, s.u)
	flow := m.driver.Sd*s.v + s.u + b.leak*p
	return w + b.leak*p*p + b.absorb*flow*flow + (b.rp+b.jet*math.Abs(s.u))*s.u*s.u
}

// imbalance runs 12 V of two tones from rest over 0.1 s and returns the part of the energy
// put in that is neither stored nor lost. Powers are integrated by Simpson's rule.
func imbalance(t *testing.T, m *Model, rate float64) float64 {
	t.Helper()
	r := start(t, m, rate)
	n := int(rate/10)/2*2 + 1
	begin := m.stored(&r.s)
	in, out, end := 0.0, 0.0, 0.0
	for k := 0; k < n; k += block {
		c := min(block, n-k)
		for j := range c + 5 {
			at := float64(k+j-2) / rate
			r.drive[j] = 9*math.Sin(2*math.Pi*40*at) + 3*math.Sin(2*math.Pi*310*at)
		}
		r.advance(c, 0, nil)
		for j := range c {
			w := []float64{2, 4}[(k+j)%2]
			if k+j == 0 || k+j == n-1 {
				w = 1
			}
			o := &r.out[j]
			in += w * o.volts * o.current / (3 * rate)
			out += w * m.lost(&o.state, o.current, r.resistance) / (3 * rate)
			end = m.stored(&o.state)
		}
	}
	return math.Abs(in-out-(end-begin)) / in
}

// TestEnergyIsKept: what goes in is stored or becomes heat (the law itself), with all
// that the model has, to the order of the
// solver: four, of which ARK4 keeps three where the coil is stiff.
func TestEnergyIsKept(t *testing.T) {
	w, l := woofer()
	c, err := driver.NewPolynomial([]float64{0.42e-3, 1e-7, -6e-7}, -15, 15)
	if err != nil {
		t.Fatal(err)
	}
	l.LeCurrent = c
	boxes := map[string]enclosure.Box{
		"vented":   enclosure.Vented{Vb: 15e-3, Vent: w.Box.(enclosure.Vented).Vent, Losses: enclosure.Losses{QL: 8, QA: 20, QP: 40}},
		"radiator": enclosure.PassiveRadiator{Vb: 15e-3, Radiator: enclosure.Radiator{Mmp: 60e-3, Cmp: 0.8e-3, Rmp: 1.1, Sp: 180e-4, Count: 2}, Losses: enclosure.Losses{QL: 15, QA: 50}},
	}
	coils := map[string]driver.Coil{"Le": driver.Inductor{Le: 0.42e-3}, "two": driver.TwoLadders{Le: 0.1e-3, L2: 0.3e-3, R2: 2, L3: 0.15e-3, R3: 10}}
	for name, b := range boxes {
		for coil, c := range coils {
			for _, method := range []Method{RK4, ARK4} {
				w.Box, w.Driver.Coil = b, c
				m := build(t, w, l, Options{Method: method})
				rate := 48000.0
				if method == RK4 && coil == "two" {
					rate = 192000 // where it is stable
				}
				coarse, fine := imbalance(t, m, rate), imbalance(t, m, 2*rate)
				t.Logf("%s, %s, %v: %.2g at %.0f kHz, %.2g at twice that", name, coil, method, coarse, rate/1000, fine)
				if !(coarse < 1e-6) || !(fine < coarse/6) {
					t.Errorf("%s, %s, %v: %.2g of the energy missing, %.2g at twice the rate, want 1e-6 and less than a sixth of that", name, coil, method, coarse, fine)
				}
			}
		}
	}
}
