package analog

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Section is a second-order section (N2·s² + N1·s + N0)/(D2·s² + D1·s + D0), s
// in rad/s, or a first-order one with N2 = D2 = 0.
type Section struct{ N2, N1, N0, D2, D1, D0 float64 }

// Filter is a filter in s. It is immutable, and implements [freq.Transfer] and
// [freq.Rational].
type Filter struct {
	band     Band
	proto    Prototype
	zeros    []complex128
	poles    []complex128
	gain     float64
	sections []Section
	num, den []freq.Poly
}

// Design returns the filter of a band and a prototype. A high-pass mirrors the
// magnitude of the low-pass about the corner on a logarithmic frequency axis, but
// not its group delay. A band-pass or band-stop has twice the order of the
// prototype.
func Design(b Band, p Prototype) (*Filter, error) {
	if b == nil || p == nil {
		return nil, fmt.Errorf("analog: Design has the band %v and the prototype %v, want both", b, p)
	}
	if err := b.check(); err != nil {
		return nil, err
	}
	units, dc, err := unitsOf(p)
	if err != nil {
		return nil, err
	}
	f := &Filter{band: b, proto: p, gain: 1}
	for i, u := range units {
		for k, s := range b.place(u) {
			if i == 0 && k == 0 && dc != 1 {
				s.section.N2 *= dc
				s.section.N1 *= dc
				s.section.N0 *= dc
			}
			f.sections = append(f.sections, s.section)
			f.poles = append(f.poles, s.poles...)
			f.zeros = append(f.zeros, s.zeros...)
			switch n := s.section; {
			case n.N2 != 0:
				f.gain *= n.N2
			case n.N1 != 0:
				f.gain *= n.N1
			default:
				f.gain *= n.N0
			}
			f.fold(s.section)
		}
	}
	return f, nil
}

// fold multiplies sections out as far as a Poly holds them. Coefficients are
// scaled by powers of the corner, so that they stay within range.
func (f *Filter) fold(s Section) {
	// Divide numerator and denominator by the size of the denominator at the
	// corner: the product of many sections stays near 1 there.
	w := 2 * math.Pi * f.band.corner()
	k := 1 / (s.D2*w*w + s.D1*w + s.D0)
	num := freq.NewPoly(s.N0*k, s.N1*k, s.N2*k)
	den := freq.NewPoly(s.D0*k, s.D1*k, s.D2*k)
	const most = 4 // a product of two sections is safe in precision and in degree
	if n := len(f.den); n > 0 && f.den[n-1].Degree()+den.Degree() <= most {
		f.num[n-1], f.den[n-1] = f.num[n-1].Mul(num), f.den[n-1].Mul(den)
		return
	}
	f.num, f.den = append(f.num, num), append(f.den, den)
}

// Band returns what the filter passes.
func (f *Filter) Band() Band { return f.band }

// Corner returns the corner frequency in hertz, √(Lo·Hi) of a band-pass or
// band-stop.
func (f *Filter) Corner() float64 { return f.band.corner() }

// Prototype returns what it was designed from.
func (f *Filter) Prototype() Prototype { return f.proto }

// Order returns the number of poles.
func (f *Filter) Order() int { return len(f.poles) }

// Zeros returns a copy of the finite zeros in rad/s.
func (f *Filter) Zeros() []complex128 { return append([]complex128(nil), f.zeros...) }

// Poles returns a copy of the poles in rad/s, conjugates next to each other.
func (f *Filter) Poles() []complex128 { return append([]complex128(nil), f.poles...) }

// Gain returns k of H(s) = k·Π(s−zᵢ)/Π(s−pᵢ), s in rad/s.
func (f *Filter) Gain() float64 { return f.gain }

// Sections returns a copy of the sections, each of unity gain where the band
// passes (direct current, infinity, or the centre of a band-pass); the first one
// has besides what the prototype loses at direct current.
func (f *Filter) Sections() []Section { return append([]Section(nil), f.sections...) }

// String names band and prototype.
func (f *Filter) String() string { return fmt.Sprintf("%v, %v", f.band, f.proto) }

// MulTo implements [freq.Rational]. It does not allocate.
func (f *Filter) MulTo(r *freq.Ratio, g *freq.Grid) {
	for i := range f.num {
		r.MulNum(&f.num[i], g)
		r.MulDen(&f.den[i], g)
	}
}

// ResponseTo implements [freq.Transfer].
func (f *Filter) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	return freq.RationalResponseTo(dst, f, g)
}

// GroupDelayTo writes −dφ/dω in seconds into dst (nil allocates, another length
// panics): Σ −Re p/|jω−p|² over the poles less the same over the zeros. Zeros on
// the imaginary axis have a constant phase but for a jump, and add nothing.
func (f *Filter) GroupDelayTo(dst []float64, g *freq.Grid) []float64 {
	dst = freq.Dst(dst, g.Len())
	clear(dst)
	add := func(p complex128, sign float64) {
		re := real(p)
		for i, w := range g.Omega() {
			d := w - imag(p)
			dst[i] -= sign * re / (re*re + d*d)
		}
	}
	for _, p := range f.poles {
		add(p, 1)
	}
	for _, z := range f.zeros {
		if real(z) != 0 {
			add(z, -1)
		}
	}
	return dst
}

// GroupDelay returns the group delay in seconds as a curve.
func (f *Filter) GroupDelay(g *freq.Grid, label string) (freq.Curve, error) {
	return freq.NewCurve(g, f.GroupDelayTo(nil, g), label, "s", freq.Basis{})
}
