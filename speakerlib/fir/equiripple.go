package fir

import (
	"fmt"
	"math"
)

// EquirippleDesign is what [Equiripple] found.
type EquirippleDesign struct {
	*Filter
	// Ripple is the largest error of a goal of weight 1, an amplitude; a goal of
	// weight w has Ripple/w.
	Ripple float64
	// Exchanges is how many sets of extremal frequencies were tried.
	Exchanges int
}

// density is how many points of the grid there are to a coefficient.
const density = 16

// Equiripple returns the linear-phase filter whose largest weighted error over the
// goals is the least: by the exchange of E. Ya. Remez, as T. W. Parks and J. H.
// McClellan brought it to filters ("Chebyshev Approximation for Nonrecursive
// Digital Filters with Linear Phase", IEEE Trans. Circuit Theory 19, 1972), on
// their grid of 16 points a coefficient. Interpolation is barycentric, with the
// nodes' products scaled by the capacity of the interval, so that a thousand
// coefficients stay within the range of float64.
//
// The optimum is that of the grid; between its points the ripple is larger by up to
// some hundredths. It is an error if the exchange does not settle, as happens
// where the ripple falls to the precision of float64 (bands far apart for the
// number of taps). Latency: (taps−1)/2 samples.
func Equiripple(sampleRate float64, taps int, goals ...Goal) (*EquirippleDesign, error) {
	if err := checkGoals(sampleRate, taps, goals); err != nil {
		return nil, err
	}
	const most = 8191
	if taps > most {
		return nil, fmt.Errorf("fir: equal ripple with %d taps, want at most %d", taps, most)
	}
	e := newExchange(sampleRate, taps, goals)
	if len(e.x) < e.r+1 {
		return nil, fmt.Errorf("fir: equal ripple with %d taps over %d frequencies, want goals that are wider", taps, len(e.x))
	}
	n, err := e.run()
	if err != nil {
		return nil, err
	}
	a := e.coefficients()
	// Where nothing is asked the optimum may rise without bound, and its
	// coefficients with it, until the rest is lost in their rounding.
	if bulge, hz := e.bulge(sampleRate); bulge > 1e4 {
		return nil, fmt.Errorf("fir: equal ripple with %d taps rises to %.3g times its largest gain at %.6g Hz, where no goal binds it: want narrower gaps between goals, or fewer taps", taps, bulge, hz)
	}
	f, err := linear(sampleRate, a, taps%2 == 0, "equal ripple, linear phase")
	if err != nil {
		return nil, err
	}
	return &EquirippleDesign{Filter: f, Ripple: math.Abs(e.dev), Exchanges: n}, nil
}
