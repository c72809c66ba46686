package dsp

import "fmt"

// Structure is how a section is computed. The coefficients are named by
// [Structure.Names], and their order is that of [Section.Coefficients].
type Structure int

// The structures, with x the input, y the output and the section's InputShift k.
const (
	// Automatic lets Realise choose; it is no structure of a section.
	Automatic Structure = iota
	// DirectI sums all five products in one accumulator: one rounding.
	//
	//	y = b0·x + b1·x₁ + b2·x₂ − a1·y₁ − a2·y₂
	DirectI
	// DirectII has the poles first and two states.
	//
	//	w = 2^k·x − a1·w₁ − a2·w₂,  2^k·y = b0·w + b1·w₁ + b2·w₂
	DirectII
	// TransposedI is DirectI transposed: poles first, four states.
	//
	//	v = 2^k·x + p₁,  p₁ = p₂ − a1·v,  p₂ = −a2·v
	//	y = b0·v/2^k + q₁,  q₁ = q₂ + b1·v/2^k,  q₂ = b2·v/2^k
	TransposedI
	// TransposedII has two states. In floating point it is the usual one.
	//
	//	y = b0·x + s₁,  s₁ = s₂ + b1·x − a1·y,  s₂ = b2·x − a2·y
	TransposedII
	// Coupled turns its state in the plane by the pole (C. M. Rader and B. Gold,
	// "Effects of parameter quantization on the poles of a digital filter", Proc.
	// IEEE 55, 1967; from memory): poles on a square grid, and no limit cycles if
	// rounding does not lengthen the state. Two different real poles have the
	// symmetric matrix instead; a double pole has none.
	//
	//	y = c0·x + (c1·s₁ + c2·s₂)/2^k
	//	s₁ = d·s₁ + u·s₂ + 2^k·x,  s₂ = l·s₁ + d·s₂
	Coupled
	// StateVariable chains two integrators: low noise and low sensitivity at low
	// frequencies, where g is small; the zeros of a high-pass at direct current are
	// exact by construction, its taps band and low being 0.
	//
	//	h = 2^k·x − q·s₁ − s₂,  2^k·y = high·h + band·s₁ + low·s₂
	//	s₁ = s₁ + g·h,  s₂ = s₂ + g·s₁ (the new one)
	//
	// with g² = 1 + a1 + a2, g·q = 1 − a2, high = b0, band = (b0 − b2)/g and
	// low = (b0 + b1 + b2)/g²: by comparison of coefficients of z.
	StateVariable
	// Lattice is the two-multiplier lattice with ladder taps (A. H. Gray and J. D.
	// Markel, "Digital lattice and ladder filter synthesis", IEEE Trans. Audio
	// Electroacoust. 21, 1973; from memory): stable as long as |k1|, |k2| < 1.
	//
	//	f₁ = 2^k·x − k2·g₁,  G₂ = k2·f₁ + g₁,  f₀ = f₁ − k1·g₀,  G₁ = k1·f₀ + g₀
	//	2^k·y = v0·f₀ + v1·G₁ + v2·G₂,  g₁ = G₁,  g₀ = f₀
	Lattice
)

// Structures returns all structures, without Automatic.
func Structures() []Structure {
	return []Structure{DirectI, DirectII, TransposedI, TransposedII, Coupled, StateVariable, Lattice}
}

// String names the structure.
func (s Structure) String() string {
	switch s {
	case Automatic:
		return "automatic"
	case DirectI:
		return "direct form I"
	case DirectII:
		return "direct form II"
	case TransposedI:
		return "transposed direct form I"
	case TransposedII:
		return "transposed direct form II"
	case Coupled:
		return "coupled form"
	case StateVariable:
		return "state-variable form"
	case Lattice:
		return "lattice"
	}
	return fmt.Sprintf("Structure(%d)", int(s))
}

// Names returns the names of the coefficients in their order, nil for Automatic.
func (s Structure) Names() []string {
	switch s {
	case DirectI, DirectII, TransposedI, TransposedII:
		return []string{"b0", "b1", "b2", "a1", "a2"}
	case Coupled:
		return []string{"d", "u", "l", "c0", "c1", "c2"}
	case StateVariable:
		return []string{"g", "q", "high", "band", "low"}
	case Lattice:
		return []string{"k1", "k2", "v0", "v1", "v2"}
	}
	return nil
}

// takesShift reports whether the section scales its input by 2^k.
func (s Structure) takesShift() bool { return s != DirectI && s != TransposedII }

// factor is a term of a sum: a variable times a coefficient by its index, or
// times unity, or times 2^k. A tap's product is shifted by 2^−k.
type factor struct {
	variable, coefficient int
	minus, tap            bool
}

const (
	unity   = -1
	shifted = -2 // 2^InputShift
)

type sum struct {
	dst   int
	terms []factor
}

// form is a structure as a list of sums: variable 0 is the input. Sums may write
// a state whose old value is not needed any more; moves copy in their order.
type form struct {
	variables []string
	states    []int
	sums      []sum
	moves     [][2]int // to, from
	out       int
	inner     []int // variables that go with 2^k
}

func (s Structure) form() form {
	plus := func(v, c int) factor { return factor{variable: v, coefficient: c} }
	minus := func(v, c int) factor { return factor{variable: v, coefficient: c, minus: true} }
	tap := func(v, c int) factor { return factor{variable: v, coefficient: c, tap: true} }
	switch s {
	case DirectI:
		const x, y, x1, x2, y1, y2 = 0, 1, 2, 3, 4, 5
		return form{
			variables: []string{"x", "y", "x1", "x2", "y1", "y2"}, states: []int{x1, x2, y1, y2},
			sums:  []sum{{y, []factor{plus(x, 0), plus(x1, 1), plus(x2, 2), minus(y1, 3), minus(y2, 4)}}},
			moves: [][2]int{{x2, x1}, {x1, x}, {y2, y1}, {y1, y}}, out: y,
		}
	case DirectII:
		const x, y, w, w1, w2 = 0, 1, 2, 3, 4
		return form{
			variables: []string{"x", "y", "w", "w1", "w2"}, states: []int{w1, w2},
			sums: []sum{
				{w, []factor{plus(x, shifted), minus(w1, 3), minus(w2, 4)}},
				{y, []factor{tap(w, 0), tap(w1, 1), tap(w2, 2)}}},
			moves: [][2]int{{w2, w1}, {w1, w}}, out: y, inner: []int{w},
		}
	case TransposedI:
		const x, y, v, p1, p2, q1, q2 = 0, 1, 2, 3, 4, 5, 6
		return form{
			variables: []string{"x", "y", "v", "p1", "p2", "q1", "q2"}, states: []int{p1, p2, q1, q2},
			sums: []sum{
				{v, []factor{plus(x, shifted), plus(p1, unity)}},
				{p1, []factor{plus(p2, unity), minus(v, 3)}},
				{p2, []factor{minus(v, 4)}},
				{y, []factor{tap(v, 0), plus(q1, unity)}},
				{q1, []factor{plus(q2, unity), tap(v, 1)}},
				{q2, []factor{tap(v, 2)}}},
			out: y, inner: []int{v, p1, p2},
		}
	case TransposedII:
		const x, y, s1, s2 = 0, 1, 2, 3
		return form{
			variables: []string{"x", "y", "s1", "s2"}, states: []int{s1, s2},
			sums: []sum{
				{y, []factor{plus(x, 0), plus(s1, unity)}},
				{s1, []factor{plus(s2, unity), plus(x, 1), minus(y, 3)}},
				{s2, []factor{plus(x, 2), minus(y, 4)}}},
			out: y,
		}
	case Coupled:
		const x, y, s1, s2, t = 0, 1, 2, 3, 4
		return form{
			variables: []string{"x", "y", "s1", "s2", "t"}, states: []int{s1, s2},
			sums: []sum{
				{y, []factor{plus(x, 3), tap(s1, 4), tap(s2, 5)}},
				{t, []factor{plus(s1, 0), plus(s2, 1), plus(x, shifted)}},
				{s2, []factor{plus(s1, 2), plus(s2, 0)}}},
			moves: [][2]int{{s1, t}}, out: y, inner: []int{t, s2},
		}
	case StateVariable:
		const x, y, s1, s2, h = 0, 1, 2, 3, 4
		return form{
			variables: []string{"x", "y", "s1", "s2", "h"}, states: []int{s1, s2},
			sums: []sum{
				{h, []factor{plus(x, shifted), minus(s1, 1), minus(s2, unity)}},
				{y, []factor{tap(h, 2), tap(s1, 3), tap(s2, 4)}},
				{s1, []factor{plus(s1, unity), plus(h, 0)}},
				{s2, []factor{plus(s2, unity), plus(s1, 0)}}},
			out: y, inner: []int{h, s1, s2},
		}
	case Lattice:
		const x, y, g1, g0, f1, f0, n1, n2 = 0, 1, 2, 3, 4, 5, 6, 7
		return form{
			variables: []string{"x", "y", "g1", "g0", "f1", "f0", "n1", "n2"}, states: []int{g1, g0},
			sums: []sum{
				{f1, []factor{plus(x, shifted), minus(g1, 1)}},
				{n2, []factor{plus(f1, 1), plus(g1, unity)}},
				{f0, []factor{plus(f1, unity), minus(g0, 0)}},
				{n1, []factor{plus(f0, 0), plus(g0, unity)}},
				{y, []factor{tap(f0, 2), tap(n1, 3), tap(n2, 4)}}},
			moves: [][2]int{{g1, n1}, {g0, f0}}, out: y, inner: []int{f1, n2, f0, n1},
		}
	}
	panic("dsp: form of a section without a structure")
}
