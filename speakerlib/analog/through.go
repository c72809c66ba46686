package analog

import (
	"fmt"
	"math"
	"math/cmplx"
)

// HighpassThrough designs the high-pass of a prototype whose magnitude is ratio
// at a frequency: "6 dB down at 35.5 Hz" is HighpassThrough(p, 35.5,
// level.Ratio(−6)). The corner is found by bisection on the magnitude, to the
// last bits; the prototype's magnitude must fall steadily there, as that of all
// prototypes here does outside their ripple: a ratio within the ripple of the pass
// band or below the edge of the stop band is refused.
func HighpassThrough(p Prototype, hz, ratio float64) (*Filter, error) {
	corner, err := cornerThrough(p, hz, ratio)
	if err != nil {
		return nil, err
	}
	return Design(Highpass{Fc: hz * corner}, p)
}

// LowpassThrough designs the low-pass of a prototype whose magnitude is ratio at
// a frequency.
func LowpassThrough(p Prototype, hz, ratio float64) (*Filter, error) {
	corner, err := cornerThrough(p, hz, ratio)
	if err != nil {
		return nil, err
	}
	return Design(Lowpass{Fc: hz / corner}, p)
}

// spanned is a prototype with ripple: its magnitude falls steadily only where it
// is below pass, and has fallen to stop for the first time.
type spanned interface{ span() (pass, stop float64) }

// cornerThrough returns the x in rad/s at which |H(jx)| of the prototype is
// ratio.
func cornerThrough(p Prototype, hz, ratio float64) (float64, error) {
	if !(hz > 0) || math.IsInf(hz, 0) {
		return 0, fmt.Errorf("analog: %v through a point at %g Hz, want a finite frequency > 0", p, hz)
	}
	if !(ratio > 1e-6 && ratio < 1) {
		return 0, fmt.Errorf("analog: %v through a ratio of %g, want more than 1e-6 and less than 1", p, ratio)
	}
	if r, ok := p.(spanned); ok {
		if pass, stop := r.span(); !(ratio < pass && ratio > stop) {
			return 0, fmt.Errorf("analog: %v through a ratio of %g, want less than %g (its ripple) and more than %g (its stop band)", p, ratio, pass, stop)
		}
	}
	f, err := Design(Lowpass{Fc: 1 / (2 * math.Pi)}, p)
	if err != nil {
		return 0, err
	}
	magnitude := func(x float64) float64 {
		h := complex(f.Gain(), 0)
		for i, pole := range f.poles {
			h /= complex(0, x) - pole
			if i < len(f.zeros) {
				h *= complex(0, x) - f.zeros[i]
			}
		}
		return cmplx.Abs(h)
	}
	lo, hi := -20.0, 20.0 // ln x
	for range 70 {
		mid := (lo + hi) / 2
		if magnitude(math.Exp(mid)) > ratio {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Exp((lo + hi) / 2), nil
}
