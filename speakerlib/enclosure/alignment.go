package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
)

// SmallSignal is what an alignment knows of a driver.
type SmallSignal struct {
	Fs  float64 // resonance, Hz
	Qt  float64 // total Q at Fs, with the resistance of the source
	Vas float64 // volume of air with the compliance of the suspension, m³
}

// SmallSignal returns what an alignment needs of the driver fed through the
// source's resistance: with Qes' = Qes·(Re+Source)/Re,
//
//	Qt = Qms·Qes'/(Qms+Qes')
//
// The box is not looked at. Of a suspension that changes with frequency it is what
// [driver.Params.At] has at Fs.
func (m Mounted) SmallSignal() (SmallSignal, error) {
	m.Box = InfiniteBaffle{}
	var err error
	if m.Driver.Suspension != nil {
		if err := m.Driver.Validate(); err != nil {
			return SmallSignal{}, err
		}
		if m.Driver, err = m.Driver.At(m.Driver.Fs()); err != nil {
			return SmallSignal{}, err
		}
	}
	c, err := m.circuit()
	if err != nil {
		return SmallSignal{}, err
	}
	d := m.Driver
	qes := d.Qes() * c.dc / d.Re
	s := SmallSignal{Fs: d.Fs(), Qt: d.Qms() * qes / (d.Qms() + qes), Vas: d.Vas(m.Air)}
	return s, s.validate()
}

// SmallSignalOf returns what an alignment knows of a driver fed from a source without
// resistance.
func SmallSignalOf(p driver.Params, m air.Medium) (SmallSignal, error) {
	return Mounted{Driver: p, Air: m}.SmallSignal()
}

func (s SmallSignal) validate() error {
	for _, v := range []struct {
		name, unit string
		value      float64
	}{{"Fs", " Hz", s.Fs}, {"Qt", "", s.Qt}, {"Vas", " m³", s.Vas}} {
		if !(v.value > 0) || math.IsInf(v.value, 0) {
			return fmt.Errorf("enclosure: %s is %g%s, want a finite value > 0", v.name, v.value, v.unit)
		}
	}
	return nil
}

// Kind is a family of vented-box alignments: [QB3], [B4], [C4], [SC4] or
// [Bessel]. Each says what the squared magnitude of the response
//
//	G(s) = s⁴/(s⁴ + a₁s³ + a₂s² + a₃s + 1),  s = jω/(2π√(fs·fb))
//	|G|² = 1/(1 + A₁y + A₂y² + A₃y³ + y⁴),   y = 1/|s|²
//	A₁ = a₁²−2a₂,  A₂ = a₂²+2−2a₁a₃,  A₃ = a₃²−2a₂
//
// is to look like.
type Kind interface {
	// String names the family.
	String() string
	// polynomial returns a₁, a₂, a₃ and the family's own parameter at t ≥ 0, which
	// grows from 0, where the family begins. A kind that is one alignment only has
	// no t.
	polynomial(t float64) (a [3]float64, parameter float64)
	single() bool
}

type (
	// QB3 is the quasi-Butterworth of third order: A₁ = A₂ = 0, A₃ = B² ≥ 0. It
	// begins at B4 and is for drivers of lower Qt. Its parameter is B.
	QB3 struct{}
	// B4 is the Butterworth of fourth order, maximally flat: A₁ = A₂ = A₃ = 0. It
	// asks for one Qt.
	B4 struct{}
	// C4 is the Chebyshev of fourth order, of equal ripple: the poles of the
	// low-pass prototype are those of the Butterworth with the real parts times
	// k < 1, and s is replaced by 1/s (which swaps a₁ and a₃). It begins at B4 and
	// is for drivers of higher Qt. Its parameter is k.
	C4 struct{}
	// SC4 is the sub-Chebyshev: the same with k > 1. It begins at B4 and is for
	// drivers of lower Qt. Its parameter is k.
	SC4 struct{}
	// Bessel is the fourth-order Bessel: the low-pass prototype of maximally flat
	// delay s⁴ + 10s³ + 45s² + 105s + 105 with s replaced by 1/s. It asks for one Qt.
	Bessel struct{}
)

func (QB3) String() string    { return "QB3" }
func (B4) String() string     { return "B4" }
func (C4) String() string     { return "C4" }
func (SC4) String() string    { return "SC4" }
func (Bessel) String() string { return "Bessel" }

func (QB3) single() bool    { return false }
func (B4) single() bool     { return true }
func (C4) single() bool     { return false }
func (SC4) single() bool    { return false }
func (Bessel) single() bool { return true }

func (QB3) polynomial(t float64) ([3]float64, float64) {
	// A₁ = A₂ = 0 leave a₂ free; A₃ ≥ 0 from 2+√2 on, where
	// A₃·8a₂ = (a₂²+2)² − 16a₂² = (a₂²+4a₂+2)·(a₂−2+√2)·(a₂−2−√2).
	a2 := 2 + math.Sqrt2 + t
	a1 := math.Sqrt(2 * a2)
	b2 := (a2*a2 + 4*a2 + 2) * (2*math.Sqrt2 + t) * t / (8 * a2)
	return [3]float64{a1, a2, (a2*a2 + 2) / (2 * a1)}, math.Sqrt(b2)
}

func (B4) polynomial(float64) ([3]float64, float64) { return chebyshev(1) }

func (C4) polynomial(t float64) ([3]float64, float64) { return chebyshev(1 / (1 + t)) }

func (SC4) polynomial(t float64) ([3]float64, float64) { return chebyshev(1 + t) }

// chebyshev returns the polynomial of poles −k·sinθ ± j·cosθ, θ = π/8 and 3π/8,
// inverted.
func chebyshev(k float64) ([3]float64, float64) {
	s1, c1 := math.Sincos(math.Pi / 8) // sin 3π/8 = c1
	p, q := k*k*s1*s1+c1*c1, k*k*c1*c1+s1*s1
	return inverted([4]float64{p * q, 2 * k * (s1*q + c1*p), p + q + 4*k*k*s1*c1, 2 * k * (s1 + c1)}), k
}

func (Bessel) polynomial(float64) ([3]float64, float64) {
	return inverted([4]float64{105, 105, 45, 10}), 0
}

// inverted returns a₁, a₂, a₃ of the high-pass of the low-pass with the
// denominator s⁴ + l₃s³ + l₂s² + l₁s + l₀.
func inverted(l [4]float64) [3]float64 {
	w := math.Sqrt(math.Sqrt(l[0]))
	return [3]float64{l[1] / (w * w * w), l[2] / (w * w), l[3] / w}
}

// QtTolerance is how far the Qt of a driver may be from the one that [B4] and
// [Bessel] ask for, relative: less than what drivers of one make spread (common
// practice, no source).
const QtTolerance = 0.01

// Alignment is a vented box for a driver.
type Alignment struct {
	Kind      Kind
	QL        float64     // leak of the box at Fb; 0: none
	Driver    SmallSignal // what it is for; Qt is the one asked for exactly
	Vb, Fb    float64     // net volume, m³, and tuning, Hz
	Alpha, H  float64     // Vas/Vb and Fb/Fs
	F3        float64     // half-power frequency, Hz
	Peak      float64     // the most above the level at high frequencies, dB; the ripple of a C4
	Parameter float64     // B of a QB3, k of a C4 or SC4, else 0
}

// Box returns the box with a vent of the diameter, ends and count given, and of
// the length that tunes it.
func (a Alignment) Box(v Vent, m air.Medium) (Vented, error) {
	v, err := v.LengthFor(a.Fb, a.Vb, m)
	if err != nil {
		return Vented{}, err
	}
	return Vented{Vb: a.Vb, Vent: v, Losses: Losses{QL: a.QL}}, nil
}

// Align solves the alignment of a kind for a driver and a leak QL of the box (0:
// none), with no other losses and without the coil's inductance, as the textbooks
// have it. The circuit's coefficients (R. H. Small, "Vented-Box Loudspeaker
// Systems, Part I", JAES 21, 1973; equation numbers not checked), with h = fb/fs
// and α = Vas/Vb, are
//
//	a₁ = (QL + h·Qt)/(√h·QL·Qt)
//	a₂ = (h + (α+1+h²)·QL·Qt)/(h·QL·Qt)
//	a₃ = (h·QL + Qt)/(√h·QL·Qt)
//
// They are equated with those of the kind. For each polynomial of the family, a₁
// and a₃ give the root √h of h²/QL − a₁·h^1.5 + a₃·√h − 1/QL = 0 (A. N. Thiele,
// "Loudspeakers in Vented Boxes", for QL → ∞: h = a₃/a₁) and with it Qt, a₂ then
// α; the family's parameter is found by halving until Qt is the driver's. All is
// exact to rounding.
//
// A Qt for which the family does not exist is an error that says the range, as
// [QtRange] does. B4 and Bessel ask for one Qt, and take a driver within
// [QtTolerance] of it.
func Align(kind Kind, s SmallSignal, ql float64) (Alignment, error) {
	f, err := newFamily(kind, ql)
	if err != nil {
		return Alignment{}, err
	}
	t, err := f.forDriver(s)
	if err != nil {
		return Alignment{}, err
	}
	return f.alignment(f.at(t), s)
}

// QtRange returns the total Q of the drivers for which a kind exists at a leak QL
// (0: none). For B4 and Bessel both ends are the same. The Qt of B4 is
// the upper end of QB3 and SC4 and the lower end of C4; the upper end of C4 with a
// leak is where a driver without any loss would be asked for. QB3 has no lower
// end, and C4 without a leak no upper one: there the range told is as far as the
// family is followed, to a Qt of about 10⁻⁶ and of about 10⁵.
func QtRange(kind Kind, ql float64) (lo, hi float64, err error) {
	f, err := newFamily(kind, ql)
	if err != nil {
		return 0, 0, err
	}
	lo, hi = f.qtRange()
	return lo, hi, nil
}

func leak(ql float64) string {
	if ql == 0 {
		return "no leak"
	}
	return fmt.Sprintf("QL %g", ql)
}
