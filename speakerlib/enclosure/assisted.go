package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Class says which pair of poles of a sixth-order high-pass an assisting filter
// makes; the box makes the others (the numbering is that of A. N. Thiele and D. B.
// Keele, from memory).
type Class int

// The classes by the Q of the filter, those of B6 in brackets.
const (
	ClassI   Class = iota + 1 // the highest (1.932): the filter lifts the bass
	ClassII                   // the middle one (0.707)
	ClassIII                  // the lowest (0.518): the filter only cuts
)

// String returns the numeral.
func (c Class) String() string {
	switch c {
	case ClassI:
		return "class I"
	case ClassII:
		return "class II"
	case ClassIII:
		return "class III"
	}
	return fmt.Sprintf("class %d", int(c))
}

// AssistedKind is a family of alignments of a vented box with a high-pass filter in
// front: [B5], [C5], [SC5], [B6], [C6] or [SC6]. The whole is the high-pass of the
// poles of a low-pass prototype of order n,
//
//	−k·sinθ ± j·cosθ,  θ = π·(2i−1)/(2n),
//
// with s replaced by 1/s: the Butterworth with k = 1, the Chebyshev with k < 1, the
// sub-Chebyshev with k > 1. One real pole (n = 5) or one pair (n = 6) is the
// filter's, the four others are those of the box.
type AssistedKind interface {
	// String names the family.
	String() string
	assisted() assisted
}

type (
	// B5 is the Butterworth of fifth order with a first-order filter. It asks for one
	// Qt.
	B5 struct{}
	// C5 is the Chebyshev of fifth order. It begins at B5 and is for drivers of
	// higher Qt.
	C5 struct{}
	// SC5 is the sub-Chebyshev of fifth order. It begins at B5 and is for drivers of
	// lower Qt.
	SC5 struct{}
	// B6 is the Butterworth of sixth order with a second-order filter. Each class
	// asks for one Qt.
	B6 struct{ Class Class }
	// C6 is the Chebyshev of sixth order. It begins at B6 and is for drivers of higher
	// Qt.
	C6 struct{ Class Class }
	// SC6 is the sub-Chebyshev of sixth order. It begins at B6 and is for drivers of
	// lower Qt.
	SC6 struct{ Class Class }
)

func (B5) String() string    { return "B5" }
func (C5) String() string    { return "C5" }
func (SC5) String() string   { return "SC5" }
func (a B6) String() string  { return "B6 " + a.Class.String() }
func (a C6) String() string  { return "C6 " + a.Class.String() }
func (a SC6) String() string { return "SC6 " + a.Class.String() }

func (a B5) assisted() assisted  { return assisted{name: a.String(), order: 5} }
func (a C5) assisted() assisted  { return assisted{name: a.String(), order: 5, sense: -1} }
func (a SC5) assisted() assisted { return assisted{name: a.String(), order: 5, sense: 1} }
func (a B6) assisted() assisted  { return assisted{name: a.String(), order: 6, class: a.Class} }
func (a C6) assisted() assisted {
	return assisted{name: a.String(), order: 6, class: a.Class, sense: -1}
}
func (a SC6) assisted() assisted {
	return assisted{name: a.String(), order: 6, class: a.Class, sense: 1}
}

// assisted is the box of an assisted kind: a Kind whose quartic is what the filter
// leaves.
type assisted struct {
	name  string
	order int
	class Class // of order 6
	sense int   // of k along the family: −1 below 1, +1 above, 0: one alignment
}

func (a assisted) String() string { return a.name }
func (a assisted) single() bool   { return a.sense == 0 }

// factor is a pair of poles of the whole, or a real one with q = 0, in units of its
// corner.
type factor struct{ w, q float64 }

// factors returns the filter's factor and the box's two, and the whole's k, at t.
func (a assisted) factors(t float64) (filter factor, box [2]factor, k float64) {
	k = 1
	switch {
	case a.sense < 0:
		k = 1 / (1 + t)
	case a.sense > 0:
		k = 1 + t
	}
	n := 0
	for i := 1; i <= a.order/2; i++ { // the highest Q first
		sin, cos := math.Sincos(math.Pi * float64(2*i-1) / float64(2*a.order))
		r := math.Hypot(k*sin, cos)
		f := factor{w: 1 / r, q: r / (2 * k * sin)}
		if a.order == 6 && i == int(a.class) {
			filter = f
			continue
		}
		box[n] = f
		n++
	}
	if a.order == 5 {
		filter = factor{w: 1 / k}
	}
	return filter, box, k
}

// polynomial implements Kind.
func (a assisted) polynomial(t float64) ([3]float64, float64) {
	_, b, k := a.factors(t)
	r := math.Sqrt(b[0].w / b[1].w) // the box's own unit is √(w₀·w₁)
	p, q := r/b[0].q, 1/(r*b[1].q)
	return [3]float64{p + q, r*r + 1/(r*r) + p*q, p/(r*r) + q*r*r}, k
}

// Auxiliary is the high-pass in front of an assisted box:
//
//	s²/(s² + s·ω₀/Q + ω₀²),  or s/(s + ω₀) with Q = 0
type Auxiliary struct {
	F0 float64 // Hz
	Q  float64 // 0: first order
}

// Transfer returns the filter.
func (a Auxiliary) Transfer() *freq.PolyRatio {
	w := 2 * math.Pi * a.F0
	if a.Q == 0 {
		return &freq.PolyRatio{Num: freq.NewPoly(0, 1), Den: freq.NewPoly(w, 1)}
	}
	return &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1), Den: freq.NewPoly(w*w, w/a.Q, 1)}
}

// Boost returns the most that the filter gives, in dB, and where, Hz: with Q above
// 1/√2
//
//	Q²/√(Q²−1/4) at F0/√(1−1/(2Q²)),
//
// else 0 dB at +Inf.
func (a Auxiliary) Boost() (dB, hz float64) {
	v := 1 - 1/(2*a.Q*a.Q)
	if !(a.Q > ClosedButterworth && v > 0) {
		return 0, math.Inf(1)
	}
	return level.DB(a.Q * a.Q / math.Sqrt(a.Q*a.Q-0.25)), a.F0 / math.Sqrt(v)
}

// AssistedAlignment is a vented box and a filter for a driver.
type AssistedAlignment struct {
	Kind      AssistedKind
	QL        float64     // leak of the box at Fb; 0: none
	Driver    SmallSignal // what it is for; Qt is the one asked for exactly
	Vb, Fb    float64     // net volume, m³, and tuning, Hz
	Alpha, H  float64     // Vas/Vb and Fb/Fs
	Filter    Auxiliary
	F3        float64 // half-power frequency of the whole, Hz
	Peak      float64 // the most of the whole above its level at high frequencies, dB; the ripple of a C6
	Sag       float64 // the most of it below that level, above F3, dB; the ripple of a C5
	Parameter float64 // k
}

// Box returns the box with a vent of the diameter, ends and count given, and of
// the length that tunes it.
func (a AssistedAlignment) Box(v Vent, m air.Medium) (Vented, error) {
	return Alignment{Vb: a.Vb, Fb: a.Fb, QL: a.QL}.Box(v, m)
}

// AlignAssisted solves an assisted alignment for a driver and a leak QL of the box
// (0: none), with the circuit of [Align], whose coefficients are equated with the
// four poles that the filter leaves to the box. The leak is part of the solution,
// which is exact to rounding. (B5, B6 and C6 after A. N. Thiele, "Loudspeakers in
// Vented Boxes", JAES 19, 1971, and D. B. Keele, "A New Set of Sixth-Order
// Vented-Box Loudspeaker System Alignments", JAES 23, 1975; classes from memory.)
//
// A Qt for which the family does not exist is an error that says the range, as
// [AssistedQtRange] does. B5 and B6 take a driver within [QtTolerance] of the one
// they ask for.
//
// The filter lifts what is below the tuning of the box's unassisted fourth order:
// excursion, vent air and amplifier are asked for more there. Check them.
func AlignAssisted(kind AssistedKind, s SmallSignal, ql float64) (AssistedAlignment, error) {
	f, err := newAssisted(kind, ql)
	if err != nil {
		return AssistedAlignment{}, err
	}
	t, err := f.forDriver(s)
	if err != nil {
		return AssistedAlignment{}, err
	}
	return f.assistedAlignment(kind, t, s)
}

// AssistedQtRange returns the total Q of the drivers for which an assisted kind
// exists, as [QtRange] does.
func AssistedQtRange(kind AssistedKind, ql float64) (lo, hi float64, err error) {
	f, err := newAssisted(kind, ql)
	if err != nil {
		return 0, 0, err
	}
	lo, hi = f.qtRange()
	return lo, hi, nil
}

func newAssisted(kind AssistedKind, ql float64) (family, error) {
	if kind == nil {
		return family{}, fmt.Errorf("enclosure: assisted alignment has no kind, want one as B6{Class: ClassI}")
	}
	a := kind.assisted()
	if a.order == 6 && (a.class < ClassI || a.class > ClassIII) {
		return family{}, fmt.Errorf("enclosure: %v has no such class, want ClassI, ClassII or ClassIII", kind)
	}
	return newFamily(a, ql)
}

// assistedAlignment scales the member at t to a driver.
func (f family) assistedAlignment(kind AssistedKind, t float64, s SmallSignal) (AssistedAlignment, error) {
	m := f.at(t)
	filter, box, _ := f.kind.(assisted).factors(t)
	s.Qt = 1 / m.invQt
	fb := m.h * s.Fs
	fc := math.Sqrt(s.Fs * fb / (box[0].w * box[1].w))
	p := []float64{1} // 1/|G|² over y = (fc/f)²
	for _, x := range []factor{filter, box[0], box[1]} {
		w2 := x.w * x.w
		if x.q == 0 {
			p = product(p, []float64{1, w2})
			continue
		}
		p = product(p, []float64{1, (1/(x.q*x.q) - 2) * w2, w2 * w2})
	}
	half := append([]float64{-1}, p[1:]...) // = 2 at half power
	y := roots(half, 0, bound(half))
	d := make([]float64, len(p)-1)
	for i := range d {
		d[i] = float64(i+1) * p[i+1]
	}
	least, most := 1.0, 1.0
	for _, turn := range roots(d, 0, bound(d)) {
		least = math.Min(least, horner(p, turn))
		if len(y) > 0 && turn < y[0] {
			most = math.Max(most, horner(p, turn))
		}
	}
	if len(y) == 0 || !positive(s.Vas/m.alpha, fb, fc/math.Sqrt(y[0])) {
		return AssistedAlignment{}, fmt.Errorf("enclosure: a box of %v for Fs %g Hz, Qt %g and Vas %g m³ would have %g m³ and fb %g Hz, want finite values > 0", kind, s.Fs, s.Qt, s.Vas, s.Vas/m.alpha, fb)
	}
	return AssistedAlignment{
		Kind: kind, QL: f.ql, Driver: s, Vb: s.Vas / m.alpha, Fb: fb, Alpha: m.alpha, H: m.h,
		Filter: Auxiliary{F0: filter.w * fc, Q: filter.q},
		F3:     fc / math.Sqrt(y[0]), Peak: level.PowerDB(1 / least), Sag: level.PowerDB(most), Parameter: m.parameter,
	}, nil
}

// product returns a·b of polynomials of ascending powers.
func product(a, b []float64) []float64 {
	c := make([]float64, len(a)+len(b)-1)
	for i, x := range a {
		for j, y := range b {
			c[i+j] += x * y
		}
	}
	return c
}
