package tradeoff

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// costs is what a box costs over the band, per pascal rms of the pressure.
type costs struct {
	column [columns]column
	heat   []float64 // W/Pa², by the weight of the frequency: to be summed
}

// The columns of costs, which the largest is looked for of.
const (
	cone    = iota // peak², m²/Pa²
	vent           // peak², (m/s)²/Pa²
	volts          // peak², V²/Pa²
	amperes        // peak², A²/Pa²
	power          // V·I of rms values, W/Pa²

	columns
)

func newCosts(n int) costs {
	c := costs{heat: make([]float64, n)}
	for k := range c.column {
		c.column[k] = newColumn(n)
	}
	return c
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

// order returns that of the high-pass that a box is.
func (s *Study) order(vented bool) int {
	switch {
	case vented:
		return 4
	case s.ClosedLosses.QL > 0:
		return 3
	}
	return 2
}

// Build returns what a recipe is for the other rooms.
func (s *Study) Build(r Recipe) (Build, error) {
	if err := s.validate(); err != nil {
		return Build{}, err
	}
	if err := r.validate(s); err != nil {
		return Build{}, err
	}
	if r.Extension < s.SearchFrom || r.Extension > s.SearchTo {
		return Build{}, fmt.Errorf("tradeoff: recipe has an extension of %g Hz, want it within %g to %g Hz, where bounds count", r.Extension, s.SearchFrom, s.SearchTo)
	}
	m, account, err := s.mount(r.Woofer, r.Gross, r.Tuning)
	if err != nil {
		return Build{}, err
	}
	t, err := s.filter(r.Shape, r.Extension)
	if err != nil {
		return Build{}, err
	}
	if least := s.order(r.Tuning > 0); t.Order() < least {
		return Build{}, fmt.Errorf("tradeoff: target %v for a box of order %d, want no lower one: its filter would have a gain without end towards direct current", r.Shape, least)
	}
	return Build{Mounted: m, Account: account, Target: t}, nil
}

// cost finds what a box costs over the band. The transfers of a motion share a
// denominator, which cancels: what a pressure costs depends on numerators only, but
// for the volts, which are the denominator itself.
func (w *work) cost(m *enclosure.Motion, re float64) {
	for i, v := range w.squares(m.Pressure, false) {
		w.perPressure[i] = 1 / v
	}
	for k, t := range [...]freq.Transfer{cone: m.Cone, vent: m.VentAir, volts: m.Pressure, amperes: m.Current} {
		value := w.costs.column[k].value
		for i, v := range w.squares(t, k == volts) {
			value[i] = 2 * v * w.perPressure[i]
		}
	}
	for i := range w.costs.heat {
		a := w.costs.column[amperes].value[i]
		w.costs.heat[i] = re * a / 2 * w.weight[i]
		w.costs.column[power].value[i] = math.Sqrt(a*w.costs.column[volts].value[i]) / 2
	}
	for k := range w.costs.column {
		w.costs.column[k].summarise()
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
