package analog

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Band says what a filter passes. The kinds of band are [Lowpass], [Highpass],
// [Bandpass] and [Bandstop].
type Band interface {
	fmt.Stringer
	// check reports an edge that is out of range.
	check() error
	// corner returns the corner or the centre in hertz.
	corner() float64
	// place returns what becomes of a real pole or a pair of poles of the
	// prototype, together with its zeros.
	place(u unit) []placed
}

// Lowpass passes below a corner frequency in hertz: s/ω0 for the s of the
// prototype.
type Lowpass struct{ Fc float64 }

// Highpass passes above a corner frequency in hertz: ω0/s for the s of the
// prototype.
type Highpass struct{ Fc float64 }

// Bandpass passes between two edges in hertz: with ω0² = ω₁·ω₂ and B = ω₂ − ω₁,
// (s² + ω0²)/(B·s) for the s of the prototype. It has twice the order, and
// mirrors about √(Lo·Hi) on a logarithmic frequency axis.
type Bandpass struct{ Lo, Hi float64 }

// Bandstop passes below Lo and above Hi, in hertz: B·s/(s² + ω0²) for the s of
// the prototype, with ω0 and B as for [Bandpass].
type Bandstop struct{ Lo, Hi float64 }

func (b Lowpass) corner() float64  { return b.Fc }
func (b Highpass) corner() float64 { return b.Fc }
func (b Bandpass) corner() float64 { return math.Sqrt(b.Lo) * math.Sqrt(b.Hi) }
func (b Bandstop) corner() float64 { return math.Sqrt(b.Lo) * math.Sqrt(b.Hi) }

func (b Lowpass) check() error  { return checkCorner(b.Fc) }
func (b Highpass) check() error { return checkCorner(b.Fc) }
func (b Bandpass) check() error { return checkEdges("band-pass", b.Lo, b.Hi) }
func (b Bandstop) check() error { return checkEdges("band-stop", b.Lo, b.Hi) }

func checkCorner(fc float64) error {
	if !(fc >= 1e-9 && fc <= 1e9) {
		return fmt.Errorf("analog: corner frequency is %g Hz, want 1e-9 to 1e9 Hz", fc)
	}
	return nil
}

func checkEdges(what string, lo, hi float64) error {
	if !(lo >= 1e-9 && hi <= 1e9 && lo < hi) {
		return fmt.Errorf("analog: edges of a %s are %g and %g Hz, want the lower one first, within 1e-9 to 1e9 Hz", what, lo, hi)
	}
	// Below this the coefficients of a section no longer hold the width.
	if hi-lo < 1e-6*lo {
		return fmt.Errorf("analog: edges of a %s are %g and %g Hz, want them at least 1e-6 of their frequency apart", what, lo, hi)
	}
	return nil
}

// String names it.
func (b Lowpass) String() string { return fmt.Sprintf("low-pass %.6g Hz", b.Fc) }

// String names it.
func (b Highpass) String() string { return fmt.Sprintf("high-pass %.6g Hz", b.Fc) }

// String names it.
func (b Bandpass) String() string { return fmt.Sprintf("band-pass %.6g to %.6g Hz", b.Lo, b.Hi) }

// String names it.
func (b Bandstop) String() string { return fmt.Sprintf("band-stop %.6g to %.6g Hz", b.Lo, b.Hi) }

// unit is a real pole or a conjugate pair of poles of a prototype, and, if
// zeroed, the conjugate pair of zeros that goes with the latter.
type unit struct {
	pole, zero   complex128
	pair, zeroed bool
}

// placed is a unit, or half of one, where its band wants it.
type placed struct {
	section      Section
	poles, zeros []complex128
}

func both(z complex128) []complex128 { return []complex128{z, cmplx.Conj(z)} }

func (b Lowpass) place(u unit) []placed {
	w0 := 2 * math.Pi * b.Fc
	z := u.pole * complex(w0, 0)
	w, damp := cmplx.Abs(u.pole), -2*real(u.pole)
	w *= w0
	damp *= w0
	if !u.pair {
		return []placed{{section: Section{N0: w, D1: 1, D0: w}, poles: []complex128{z}}}
	}
	out := placed{section: Section{N0: w * w, D2: 1, D1: damp, D0: w * w}, poles: both(z)}
	if u.zeroed {
		v := cmplx.Abs(u.zero) * w0
		k := w / v * (w / v)
		out.section.N2, out.section.N1 = k, -2*real(u.zero)*w0*k
		out.zeros = both(u.zero * complex(w0, 0))
	}
	return []placed{out}
}

func (b Highpass) place(u unit) []placed {
	w0 := 2 * math.Pi * b.Fc
	w, damp := cmplx.Abs(u.pole), -2*real(u.pole)
	w, damp = 1/w, damp/(w*w)
	z := 1 / u.pole * complex(w0, 0)
	w *= w0
	damp *= w0
	if !u.pair {
		return []placed{{section: Section{N1: 1, D1: 1, D0: w}, poles: []complex128{z}, zeros: []complex128{0}}}
	}
	out := placed{section: Section{N2: 1, D2: 1, D1: damp, D0: w * w}, poles: both(z), zeros: []complex128{0, 0}}
	if u.zeroed {
		v := w0 / cmplx.Abs(u.zero)
		out.section.N1, out.section.N0 = -2*real(u.zero)/w0*(v*v), v*v
		out.zeros = both(1 / u.zero * complex(w0, 0))
	}
	return []placed{out}
}

// split returns the roots of s² − 2·h·s + w0², the larger first, each with a
// positive imaginary part: the larger one without cancellation, the other from
// their product.
func split(h complex128, w0 float64) (large, small complex128) {
	r := cmplx.Sqrt(h*h - complex(w0*w0, 0))
	large = h + r
	if other := h - r; cmplx.Abs(other) > cmplx.Abs(large) {
		large = other
	}
	if imag(large) < 0 {
		large = cmplx.Conj(large)
	}
	small = cmplx.Conj(complex(w0*w0, 0) / large)
	return large, small
}

func (b Bandpass) place(u unit) []placed {
	w0, width := 2*math.Pi*b.corner(), 2*math.Pi*(b.Hi-b.Lo)
	if !u.pair {
		d := -real(u.pole) * width
		roots := realSplit(-d/2, w0)
		return []placed{{section: Section{N1: d, D2: 1, D1: d, D0: w0 * w0}, poles: roots, zeros: []complex128{0}}}
	}
	var out []placed
	p1, p2 := split(u.pole*complex(width/2, 0), w0)
	z1, z2 := complex128(0), complex128(0)
	if u.zeroed {
		z1, z2 = split(u.zero*complex(width/2, 0), w0)
	}
	for _, pz := range [][2]complex128{{p1, z1}, {p2, z2}} {
		p, z := pz[0], pz[1]
		// |D(jω0)|; D0 − ω0² as a product, since they may nearly cancel.
		r := cmplx.Abs(p)
		den := math.Hypot((r-w0)*(r+w0), 2*real(p)*w0)
		s := placed{section: Section{D2: 1, D1: -2 * real(p), D0: r * r}, poles: both(p)}
		if u.zeroed {
			v := cmplx.Abs(z)
			k := den / math.Hypot((v-w0)*(v+w0), 2*real(z)*w0)
			s.section.N2, s.section.N1, s.section.N0 = k, -2*real(z)*k, v*v*k
			s.zeros = both(z)
		} else {
			s.section.N1 = den / w0
			s.zeros = []complex128{0}
		}
		out = append(out, s)
	}
	return out
}

func (b Bandstop) place(u unit) []placed {
	w0, width := 2*math.Pi*b.corner(), 2*math.Pi*(b.Hi-b.Lo)
	centre := complex(0, w0)
	if !u.pair {
		d := -width / real(u.pole)
		return []placed{{section: Section{N2: 1, N0: w0 * w0, D2: 1, D1: d, D0: w0 * w0}, poles: realSplit(-d/2, w0), zeros: both(centre)}}
	}
	var out []placed
	p1, p2 := split(complex(width/2, 0)/u.pole, w0)
	z1, z2 := centre, centre
	if u.zeroed {
		z1, z2 = split(complex(width/2, 0)/u.zero, w0)
	}
	for _, pz := range [][2]complex128{{p1, z1}, {p2, z2}} {
		p, z := pz[0], pz[1]
		r, v := cmplx.Abs(p), cmplx.Abs(z)
		out = append(out, placed{
			section: Section{N2: 1, N1: -2 * real(z), N0: v * v, D2: 1, D1: -2 * real(p), D0: r * r},
			poles:   both(p), zeros: both(z),
		})
	}
	return out
}

// realSplit returns both roots of s² − 2·h·s + w0² for a real h < 0: a
// conjugate pair, or two real ones.
func realSplit(h, w0 float64) []complex128 {
	if -h >= w0 {
		large := h - math.Sqrt((-h-w0)*(-h+w0))
		return []complex128{complex(large, 0), complex(w0/large*w0, 0)}
	}
	return both(complex(h, math.Sqrt((w0+h)*(w0-h))))
}
