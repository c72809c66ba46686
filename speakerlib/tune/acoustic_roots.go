package tune

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"gonum.org/v1/gonum/mat"
)

// box is the high-pass of a driver in a box: plateau·s^order·Π(s−zeros)/Π(s−poles),
// rad/s.
type box struct {
	poles, zeros []complex128
	order        int
	plateau      float64 // Pa/V
	exact        bool
}

func boxRoots(m enclosure.Mounted) (box, error) {
	whole, err := m.Motion()
	if err != nil {
		return box{}, err
	}
	bare := m
	bare.Driver.Coil = nil
	if bare.Driver.Suspension != nil {
		if bare.Driver, err = bare.Driver.At(bare.Driver.Fs()); err != nil {
			return box{}, err
		}
		bare.Driver.Coil, bare.Driver.Suspension = nil, nil
	}
	alone, err := bare.Motion()
	if err != nil {
		return box{}, err
	}
	unit := 2 * math.Pi * m.Driver.Fs()
	without := alone.Pressure.(*freq.PolyRatio) // no coil, no suspension: always one
	with, exact := whole.Pressure.(*freq.PolyRatio)
	if !exact {
		with = without
	}
	b := box{exact: exact}
	var lead float64
	if b.zeros, b.order, lead, err = roots(without.Num, unit); err != nil {
		return box{}, err
	}
	poles, atZero, _, err := roots(with.Den, unit)
	if err != nil {
		return box{}, err
	}
	b.order -= atZero // a lossless box has some on both sides
	n := without.Den.Degree() - atZero
	if poles, b.poles = poles[n:], poles[:n]; split(b.poles) {
		return box{}, fmt.Errorf("tune: the coil's poles lie among those of the box, the nearest at %.4g Hz, want them apart", cmplx.Abs(poles[0])/(2*math.Pi))
	}
	for _, p := range b.poles {
		if !(real(p) < 0) {
			return box{}, fmt.Errorf("tune: driver and box have a pole at %.4g rad/s, want its real part below 0", p)
		}
	}
	// The plateau is where the box's roots are far below and the coil's far above: the
	// coil's factors of Num and Den count as at direct current.
	den := with.Den.Coefficients()
	scale := den[len(den)-1]
	for _, p := range poles {
		scale *= cmplx.Abs(p) // Π(−p)
	}
	num := with.Num.Coefficients()
	ratio := 1.0
	if i := slices.IndexFunc(num, func(v float64) bool { return v != 0 }); i >= 0 {
		ratio = num[i] / without.Num.Coefficients()[i] // of the coil's denominator at direct current
	}
	b.plateau = lead * ratio / scale
	return b, nil
}

// split reports whether the last of the roots has its conjugate outside.
func split(r []complex128) bool {
	n := 0
	for _, v := range r {
		switch {
		case imag(v) > 0:
			n++
		case imag(v) < 0:
			n--
		}
	}
	return n != 0
}

// roots returns the roots of a polynomial but those at 0, of which it tells the
// number, in ascending magnitude, conjugates next to each other; and its leading
// coefficient. Eigenvalues of the companion matrix in s/unit, polished by Newton's
// steps.
func roots(p freq.Poly, unit float64) (r []complex128, atZero int, lead float64, err error) {
	c := p.Coefficients()
	for len(c) > 0 && c[0] == 0 {
		c, atZero = c[1:], atZero+1
	}
	n := len(c) - 1
	if n < 0 {
		return nil, 0, 0, fmt.Errorf("tune: driver and box have no response at all")
	}
	lead = c[n]
	if n == 0 {
		return nil, atZero, lead, nil
	}
	x := make([]float64, n+1) // monic, in s/unit
	for k, u := n, 1.0; k >= 0; k, u = k-1, u*unit {
		x[k] = c[k] / (lead * u)
	}
	companion := mat.NewDense(n, n, nil)
	for k := range n {
		if k > 0 {
			companion.Set(k, k-1, 1)
		}
		companion.Set(k, n-1, -x[k])
	}
	var e mat.Eigen
	if !e.Factorize(companion, mat.EigenNone) {
		return nil, 0, 0, fmt.Errorf("tune: roots of a polynomial of degree %d are not found", n)
	}
	for _, v := range e.Values(nil) {
		if imag(v) < 0 {
			continue // its conjugate is done
		}
		for range 3 {
			f, d := complex(0, 0), complex(0, 0)
			for k := n; k >= 0; k-- {
				d = d*v + f
				f = f*v + complex(x[k], 0)
			}
			if next := v - f/d; d != 0 && cmplx.Abs(next-v) < 1e-6*cmplx.Abs(v) {
				v = next
			}
		}
		v *= complex(unit, 0)
		r = append(r, v)
		if imag(v) != 0 {
			r = append(r, cmplx.Conj(v))
		}
	}
	slices.SortStableFunc(r, func(a, b complex128) int { return cmp.Compare(cmplx.Abs(a), cmplx.Abs(b)) })
	return r, atZero, lead, nil
}

// factors makes factors of roots: conjugates together, real ones two by two, the last
// of an odd number alone; in ascending frequency, one of first order last.
func factors(roots []complex128) []factor {
	var out []factor
	var real1 []float64
	for _, r := range roots {
		switch {
		case imag(r) > 0:
			out = append(out, factor{c1: -2 * real(r), c0: real(r)*real(r) + imag(r)*imag(r)})
		case imag(r) == 0:
			real1 = append(real1, math.Abs(real(r)))
		}
	}
	slices.Sort(real1)
	for len(real1) > 1 {
		out = append(out, factor{c1: real1[0] + real1[1], c0: real1[0] * real1[1]})
		real1 = real1[2:]
	}
	slices.SortStableFunc(out, func(a, b factor) int { return cmp.Compare(a.c0, b.c0) })
	for _, r := range real1 {
		out = append(out, factor{first: true, c0: r})
	}
	return out
}
