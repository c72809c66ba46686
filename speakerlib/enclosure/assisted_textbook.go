package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
)

// Textbook is one alignment that exists for a driver. A closed box has Fb 0; an
// alignment without a filter has FilterAt 0, one with a filter of first order
// FilterQ 0.
type Textbook struct {
	Name     string  `col:"alignment"`
	Vb       float64 `col:"net volume" unit:"L" fmt:"%.2f"`
	Fb       float64 `col:"tuning" unit:"Hz" fmt:"%.1f"`
	F3       float64 `col:"half power at" unit:"Hz" fmt:"%.1f"`
	Peak     float64 `col:"peak" unit:"dB" fmt:"%.2f"`
	Sag      float64 `col:"sag" unit:"dB" fmt:"%.2f"`
	FilterAt float64 `col:"filter" unit:"Hz" fmt:"%.1f"`
	FilterQ  float64 `col:"filter's Q" fmt:"%.3f"`
	Lift     float64 `col:"filter lifts" unit:"dB" fmt:"%.2f"`
	QL       float64 `col:"QL" fmt:"%.0f"` // of vented boxes; 0: no leak
}

// Textbooks returns every alignment that exists for a driver with a leak QL of the
// vented boxes (0: none): the closed critically damped, Bessel and Butterworth, QB3,
// B4, C4, SC4, Bessel, and B5, C5, SC5, B6, C6 and SC6 in their classes, in this
// order. Those of one Qt are listed if the driver is within [QtTolerance] of it.
// That a driver has an alignment does not say that it is wanted: a C4 with a peak of
// 6 dB is listed too. Peak and Sag are how far the whole rises and falls from its
// level at high frequencies, above F3.
func Textbooks(s SmallSignal, ql float64) ([]Textbook, error) {
	if err := s.validate(); err != nil {
		return nil, err
	}
	if !(ql >= 0) || math.IsInf(ql, 0) {
		return nil, fmt.Errorf("enclosure: QL is %g, want a finite value > 0, or 0 for no leak", ql)
	}
	var list []Textbook
	for _, c := range []struct {
		name string
		qtc  float64
	}{{"closed, critically damped", CriticallyDamped}, {"closed Bessel", ClosedBessel}, {"closed Butterworth", ClosedButterworth}} {
		if a, err := AlignClosed(c.qtc, s); err == nil { // else the driver's Qt is too high
			list = append(list, Textbook{Name: c.name, Vb: a.Vb, F3: a.F3, Peak: a.Peak})
		}
	}
	for _, kind := range []Kind{QB3{}, B4{}, C4{}, SC4{}, Bessel{}} {
		if a, err := Align(kind, s, ql); err == nil { // else no member of the family has this Qt
			list = append(list, Textbook{Name: kind.String(), Vb: a.Vb, Fb: a.Fb, F3: a.F3, Peak: a.Peak, QL: ql})
		}
	}
	kinds := []AssistedKind{B5{}, C5{}, SC5{}}
	for _, c := range []Class{ClassI, ClassII, ClassIII} {
		kinds = append(kinds, B6{c}, C6{c}, SC6{c})
	}
	for _, kind := range kinds {
		if a, err := AlignAssisted(kind, s, ql); err == nil {
			lift, _ := a.Filter.Boost()
			list = append(list, Textbook{Name: kind.String(), Vb: a.Vb, Fb: a.Fb, F3: a.F3, Peak: a.Peak, Sag: a.Sag, FilterAt: a.Filter.F0, FilterQ: a.Filter.Q, Lift: lift, QL: ql})
		}
	}
	return list, nil
}

// Housed is a textbook alignment in a cabinet.
type Housed struct {
	Name   string  `col:"alignment"`
	Gross  float64 `col:"gross volume asked for" unit:"L" fmt:"%.2f"`
	Over   float64 `col:"left of the cabinet" unit:"L" fmt:"%.2f"` // negative: too small
	Length float64 `col:"vent length" unit:"mm" fmt:"%.0f"`
	Tube   float64 `col:"tube" unit:"L" fmt:"%.2f"`
	Spare  float64 `col:"room left" unit:"mm" fmt:"%.1f"` // 0 if no room is stated
	Pipe   float64 `col:"pipe resonance" unit:"Hz" fmt:"%.0f"`
	Fits   bool    `col:"fits"`
}

// House returns what an alignment asks of a cabinet: the tube that tunes its net
// volume, the volume of that tube, the gross volume with all that stands in it, and
// what of the cabinet is left, which is filled up with something solid. It fits if
// nothing is missing of volume and length. For an alignment that uses the cabinet
// as it is, with another Qt, see [Book.Align]. A vent too narrow for any length is
// an error.
func (b Book) House(t Textbook, v Vent, m air.Medium) (Housed, error) {
	if err := b.Validate(); err != nil {
		return Housed{}, err
	}
	h := Housed{Name: t.Name, Gross: t.Vb + b.Driver + b.Bracing + b.Electronics, Fits: true}
	if t.Fb > 0 {
		v, err := v.LengthFor(t.Fb, t.Vb, m)
		if err != nil {
			return Housed{}, fmt.Errorf("enclosure: %s: %w", t.Name, err)
		}
		h.Length, h.Tube, h.Pipe = v.Length, v.Displaced(b.VentWall), v.PipeResonance(m)
		h.Gross += h.Tube
		if b.VentRoom > 0 {
			h.Spare = b.VentRoom - h.Length
			h.Fits = h.Spare >= 0
		}
	}
	h.Over = b.Gross - h.Gross
	h.Fits = h.Fits && h.Over >= 0
	return h, nil
}
