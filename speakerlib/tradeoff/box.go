package tradeoff

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// row is what a box costs at one frequency, per pascal rms of the pressure: peaks
// squared, and the heat's share by the weight of the frequency.
type row struct {
	cone, vent, volts, amps float64
	power                   float64 // V·I rms per Pa²
	heat                    float64
}

// mount returns a woofer in a cabinet.
func (s *Study) mount(woofer int, gross, fb float64) (enclosure.Mounted, enclosure.Account, error) {
	w := &s.Woofers[woofer]
	book := s.Book
	book.Gross = gross
	book.Driver += w.Body
	m := enclosure.Mounted{Driver: w.Driver, Air: s.Air, Source: s.Source}
	if fb > 0 {
		account, err := book.Tune(fb, s.Vent, s.Air)
		box := account.Box
		box.Losses = s.VentedLosses
		m.Box = box
		return m, account, err
	}
	if err := book.Validate(); err != nil {
		return m, enclosure.Account{}, err
	}
	box := enclosure.Closed{Vb: book.Gross - book.Driver - book.Bracing - book.Electronics}
	m.Box = box
	if s.ClosedLosses != (enclosure.Losses{}) {
		fc, _, err := m.Resonance()
		if err != nil {
			return m, enclosure.Account{}, err
		}
		box.Losses, box.Reference = s.ClosedLosses, fc
		m.Box = box
	}
	return m, enclosure.Account{Box: enclosure.Vented{Vb: box.Vb}, Fits: true}, nil
}

// Build returns what a recipe is for the other rooms.
func (s *Study) Build(r Recipe) (Build, error) {
	if err := s.validate(); err != nil {
		return Build{}, err
	}
	if r.Woofer < 0 || r.Woofer >= len(s.Woofers) {
		return Build{}, fmt.Errorf("tradeoff: recipe has woofer %d of %d", r.Woofer, len(s.Woofers))
	}
	m, account, err := s.mount(r.Woofer, r.Gross, r.Tuning)
	if err != nil {
		return Build{}, err
	}
	t, err := s.filter(r.Shape, r.Extension)
	if err != nil {
		return Build{}, err
	}
	return Build{Mounted: m, Account: account, Target: t}, nil
}

// rowsTo writes what a box costs over the band. The transfers of a motion share a
// denominator, which cancels: what a pressure costs depends on numerators only, but
// for the volts, which are the denominator itself.
func (w *work) rowsTo(dst []row, m *enclosure.Motion, re float64) {
	pressure := w.squares(m.Pressure, false)
	for i, v := range pressure {
		w.perPressure[i] = 1 / v
	}
	for i, v := range w.squares(m.Cone, false) {
		dst[i].cone = 2 * v * w.perPressure[i]
	}
	for i, v := range w.squares(m.VentAir, false) {
		dst[i].vent = 2 * v * w.perPressure[i]
	}
	for i, v := range w.squares(m.Pressure, true) {
		dst[i].volts = 2 * v * w.perPressure[i]
	}
	for i, v := range w.squares(m.Current, false) {
		amps := v * w.perPressure[i]
		dst[i].amps = 2 * amps
		dst[i].heat = re * amps * w.weight[i]
		dst[i].power = math.Sqrt(dst[i].volts / 2 * amps)
	}
}

// squares returns |t|² over the band, times that of the common denominator where
// there is one; or, with input, that of the input itself, 1 V.
func (w *work) squares(t freq.Transfer, input bool) []float64 {
	q, rational := t.(*freq.PolyRatio)
	switch {
	case rational:
		p := q.Num
		if input {
			p = q.Den
		}
		w.ratio.Reset()
		w.ratio.MulNum(&p, w.grid)
		for i, a := range w.ratio.Num.Re {
			b := w.ratio.Num.Im[i]
			w.square[i] = a*a + b*b
		}
	case input:
		for i := range w.square {
			w.square[i] = 1
		}
	default:
		for i, v := range t.ResponseTo(w.values, w.grid) {
			w.square[i] = real(v)*real(v) + imag(v)*imag(v)
		}
	}
	return w.square
}
