package freq

import (
	"fmt"
	"math"
)

// Transfer is anything with a complex response over frequency. ResponseTo
// writes it into dst, which has the length of the grid; nil allocates, and
// another length panics. It returns dst.
//
// A Transfer is immutable once it is in use.
type Transfer interface {
	ResponseTo(dst []complex128, g *Grid) []complex128
}

// Dst returns dst, or a new slice of n values if dst is nil. It panics if the
// length of dst is not n: the rule that all functions named …To keep.
func Dst[T complex128 | float64](dst []T, n int) []T {
	if dst == nil {
		return make([]T, n)
	}
	if len(dst) != n {
		panic("freq: dst has not the length of the grid")
	}
	return dst
}

// Gain is a frequency-independent real factor; a negative one inverts polarity.
type Gain float64

// ResponseTo implements [Transfer].
func (k Gain) ResponseTo(dst []complex128, g *Grid) []complex128 {
	dst = Dst(dst, g.Len())
	for i := range dst {
		dst[i] = complex(float64(k), 0)
	}
	return dst
}

// MulTo implements [Rational].
func (k Gain) MulTo(r *Ratio, g *Grid) {
	for i := range r.Num.Re {
		r.Num.Re[i] *= float64(k)
		r.Num.Im[i] *= float64(k)
	}
}

// Delay is a pure delay in seconds: e^{−jωτ}.
type Delay float64

// ResponseTo implements [Transfer].
func (d Delay) ResponseTo(dst []complex128, g *Grid) []complex128 {
	dst = Dst(dst, g.Len())
	for i, w := range g.Omega() {
		s, c := math.Sincos(-w * float64(d))
		dst[i] = complex(c, s)
	}
	return dst
}

// MulTo implements [Rational]: the phasor goes into the numerator.
func (d Delay) MulTo(r *Ratio, g *Grid) {
	for i, w := range g.Omega() {
		s, c := math.Sincos(-w * float64(d))
		re, im := r.Num.Re[i], r.Num.Im[i]
		r.Num.Re[i], r.Num.Im[i] = re*c-im*s, re*s+im*c
	}
}

// Series is a chain of transfers: the product of their responses. The empty
// chain is unity.
type Series []Transfer

// ResponseTo implements [Transfer]. Rational stages share one division.
func (c Series) ResponseTo(dst []complex128, g *Grid) []complex128 {
	dst = Dst(dst, g.Len())
	var ratio *Ratio
	var rest []Transfer
	for _, t := range c {
		if q, ok := t.(Rational); ok {
			if ratio == nil {
				ratio = NewRatio(g.Len())
			}
			q.MulTo(ratio, g)
			continue
		}
		rest = append(rest, t)
	}
	if ratio != nil {
		ratio.DivideTo(dst)
	} else {
		for i := range dst {
			dst[i] = 1
		}
	}
	var tmp []complex128
	for _, t := range rest {
		tmp = t.ResponseTo(tmp, g)
		for i, v := range tmp {
			dst[i] *= v
		}
	}
	return dst
}

// Inverse is 1/Of: what takes the response Of to unity. It has poles where Of
// has zeros, and need not be realisable.
type Inverse struct{ Of Transfer }

// ResponseTo implements [Transfer].
func (v Inverse) ResponseTo(dst []complex128, g *Grid) []complex128 {
	dst = v.Of.ResponseTo(dst, g)
	for i, z := range dst {
		dst[i] = 1 / z
	}
	return dst
}

// ResponseTo implements [Transfer] for a response used as a stage of a chain. It
// is known only at the points of its own grid and panics on another, because a
// transfer has no way to return an error: whoever takes transfers from a user
// calls [CheckGrid] first, as [Evaluate] does.
func (r Response) ResponseTo(dst []complex128, g *Grid) []complex128 {
	if !g.Equal(r.grid) {
		panic("freq: a measured response is used on another grid than its own")
	}
	dst = Dst(dst, g.Len())
	copy(dst, r.values)
	return dst
}

// Sampled is a transfer that holds, or may hold, responses that are known only
// on their own grid. CheckGrid says why it cannot be evaluated on g, or nil.
type Sampled interface {
	Transfer
	CheckGrid(g *Grid) error
}

// CheckGrid reports a transfer or a grid that is nil, and a transfer that cannot
// be evaluated on g.
func CheckGrid(t Transfer, g *Grid) error {
	if t == nil {
		return fmt.Errorf("freq: transfer is nil")
	}
	if g == nil {
		return fmt.Errorf("freq: grid is nil, want one as LogGrid makes it")
	}
	if s, ok := t.(Sampled); ok {
		return s.CheckGrid(g)
	}
	return nil
}

// CheckGrid implements [Sampled].
func (r Response) CheckGrid(g *Grid) error {
	if !g.Equal(r.grid) {
		return fmt.Errorf("freq: response %q is on %v, want %v: resample it first", r.label, r.grid, g)
	}
	return nil
}

// CheckGrid implements [Sampled].
func (c Series) CheckGrid(g *Grid) error {
	for i, t := range c {
		if err := CheckGrid(t, g); err != nil {
			return fmt.Errorf("freq: stage %d: %w", i, err)
		}
	}
	return nil
}

// CheckGrid implements [Sampled].
func (v Inverse) CheckGrid(g *Grid) error { return CheckGrid(v.Of, g) }
