package analog

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
)

// Band says what a filter passes.
type Band interface {
	fmt.Stringer
	corner() float64
	highpass() bool
}

// Lowpass passes below a corner frequency in hertz.
type Lowpass struct{ Fc float64 }

// Highpass passes above a corner frequency in hertz.
type Highpass struct{ Fc float64 }

func (b Lowpass) corner() float64  { return b.Fc }
func (b Lowpass) highpass() bool   { return false }
func (b Highpass) corner() float64 { return b.Fc }
func (b Highpass) highpass() bool  { return true }

// String names it.
func (b Lowpass) String() string { return fmt.Sprintf("low-pass %.6g Hz", b.Fc) }

// String names it.
func (b Highpass) String() string { return fmt.Sprintf("high-pass %.6g Hz", b.Fc) }

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

// Design returns the filter of a band and a prototype. A high-pass is the
// low-pass with s/ω0 replaced by ω0/s: it mirrors the magnitude about the corner
// on a logarithmic frequency axis, but not the group delay.
func Design(b Band, p Prototype) (*Filter, error) {
	if b == nil || p == nil {
		return nil, fmt.Errorf("analog: Design has the band %v and the prototype %v, want both", b, p)
	}
	fc := b.corner()
	if !(fc >= 1e-9 && fc <= 1e9) {
		return nil, fmt.Errorf("analog: corner frequency is %g Hz, want 1e-9 to 1e9 Hz", fc)
	}
	poles, err := p.Poles()
	if err != nil {
		return nil, err
	}
	w0 := 2 * math.Pi * fc
	f := &Filter{band: b, proto: p, gain: 1}
	for i := 0; i < len(poles); i++ {
		z := poles[i]
		if !(real(z) < 0) {
			return nil, fmt.Errorf("analog: %v has the pole %g, want all in the left half plane", p, z)
		}
		// s normalised: s² + s·w/Q + w².
		w, damp := cmplx.Abs(z), -2*real(z)
		pair := imag(z) != 0
		if pair {
			if i+1 == len(poles) || poles[i+1] != cmplx.Conj(z) {
				return nil, fmt.Errorf("analog: %v has the pole %g without its conjugate beside it", p, z)
			}
			i++
		}
		if b.highpass() {
			w, damp = 1/w, damp/(w*w)
			z = 1 / z
		}
		z *= complex(w0, 0)
		w *= w0
		damp *= w0
		switch {
		case pair && b.highpass():
			f.sections = append(f.sections, Section{N2: 1, D2: 1, D1: damp, D0: w * w})
		case pair:
			f.sections = append(f.sections, Section{N0: w * w, D2: 1, D1: damp, D0: w * w})
		case b.highpass():
			f.sections = append(f.sections, Section{N1: 1, D1: 1, D0: w})
		default:
			f.sections = append(f.sections, Section{N0: w, D1: 1, D0: w})
		}
		f.poles = append(f.poles, z)
		if pair {
			f.poles = append(f.poles, cmplx.Conj(z))
		}
		if !b.highpass() {
			f.gain *= w
			if pair {
				f.gain *= w
			}
		}
	}
	if b.highpass() {
		f.zeros = make([]complex128, len(f.poles))
	}
	for _, s := range f.sections {
		f.fold(s)
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

// Corner returns the corner frequency in hertz.
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

// Sections returns a copy of the sections, each of unity gain in the middle of
// its pass band (direct current or infinity).
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
// panics): Σ −Re p/|jω−p|² over the poles. The zeros of a high-pass at 0 have a
// constant phase and add nothing.
func (f *Filter) GroupDelayTo(dst []float64, g *freq.Grid) []float64 {
	dst = freq.Dst(dst, g.Len())
	clear(dst)
	for _, p := range f.poles {
		re := real(p)
		for i, w := range g.Omega() {
			d := w - imag(p)
			dst[i] -= re / (re*re + d*d)
		}
	}
	return dst
}

// GroupDelay returns the group delay in seconds as a curve.
func (f *Filter) GroupDelay(g *freq.Grid, label string) (freq.Curve, error) {
	return freq.NewCurve(g, f.GroupDelayTo(nil, g), label, "s", freq.Basis{})
}
