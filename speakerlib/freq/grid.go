// Package freq is the currency of the library: frequency grids, complex
// responses, real curves, and the algebra of transfer functions.
//
// It knows no acoustics. A [Grid] is immutable and shared; a [Transfer] is
// anything that has a complex response on a grid; a [Response] is such a
// response written down, with a label and a [Basis] that says what it is; a
// [Curve] is a real quantity over frequency. The fast path is [Rational]:
// transfers that are ratios of polynomials in jω multiply into a [Ratio], which
// is divided once.
//
// Time dependence is e^{+jωt}.
package freq

import (
	"fmt"
	"math"
	"slices"
	"sync"
)

// Grid is a strictly increasing list of positive frequencies, with what is
// computed from them again and again. It is immutable, and safe for use by
// several goroutines. Two grids match if they are the same pointer or hold
// the same frequencies.
type Grid struct {
	hz, omega, omega2 []float64
	perOctave         int

	mu   sync.Mutex
	trig map[float64][2][]float64 // by sample rate
}

// NewGrid returns the grid of the given frequencies in hertz, which it copies.
// They must be finite, positive and strictly increasing, and at least one.
func NewGrid(hz []float64) (*Grid, error) {
	if len(hz) == 0 {
		return nil, fmt.Errorf("freq: grid has no frequency, want at least 1")
	}
	if err := increasing(hz); err != nil {
		return nil, err
	}
	return newGrid(slices.Clone(hz), 0), nil
}

// increasing reports a frequency that is not finite and positive, or not above
// the one before: float64 may not tell computed ones apart.
func increasing(hz []float64) error {
	for i, f := range hz {
		if !(f > 0) || math.IsInf(f, 0) {
			return fmt.Errorf("freq: frequency %d of the grid is %g Hz, want a finite value > 0", i, f)
		}
		if i > 0 && f <= hz[i-1] {
			return fmt.Errorf("freq: frequency %d of the grid is %g Hz after %g Hz, want strictly increasing", i, f, hz[i-1])
		}
	}
	return nil
}

// MaxPoints is the most points that [LogGrid] and [LinearGrid] make: 2^22.
const MaxPoints = 1 << 22

// LogGrid returns frequencies lo·2^(k/perOctave) up to and including the last
// that does not exceed hi (by more than a part in 10⁹).
func LogGrid(lo, hi float64, perOctave int) (*Grid, error) {
	if !(lo > 0) || !(hi > lo) || math.IsInf(hi, 0) {
		return nil, fmt.Errorf("freq: log grid from %g to %g Hz, want 0 < from < to", lo, hi)
	}
	if perOctave < 1 {
		return nil, fmt.Errorf("freq: %d points per octave, want at least 1", perOctave)
	}
	n := math.Floor(math.Log2(hi/lo)*float64(perOctave)+1e-9) + 1
	if n > MaxPoints {
		return nil, fmt.Errorf("freq: log grid of %g points, want at most %d", n, MaxPoints)
	}
	hz := make([]float64, int(n))
	for k := range hz {
		hz[k] = lo * math.Exp2(float64(k)/float64(perOctave))
	}
	if err := increasing(hz); err != nil {
		return nil, err
	}
	return newGrid(hz, perOctave), nil
}

// LinearGrid returns n equally spaced frequencies from lo to hi, both included.
func LinearGrid(lo, hi float64, n int) (*Grid, error) {
	if !(lo > 0) || !(hi > lo) || math.IsInf(hi, 0) {
		return nil, fmt.Errorf("freq: linear grid from %g to %g Hz, want 0 < from < to", lo, hi)
	}
	if n < 2 || n > MaxPoints {
		return nil, fmt.Errorf("freq: linear grid of %d points, want 2 to %d", n, MaxPoints)
	}
	hz := make([]float64, n)
	for k := range hz {
		hz[k] = lo + (hi-lo)*float64(k)/float64(n-1)
	}
	if err := increasing(hz); err != nil {
		return nil, err
	}
	return newGrid(hz, 0), nil
}

func newGrid(hz []float64, perOctave int) *Grid {
	g := &Grid{hz: hz, perOctave: perOctave, omega: make([]float64, len(hz)), omega2: make([]float64, len(hz))}
	for i, f := range hz {
		g.omega[i] = 2 * math.Pi * f
		g.omega2[i] = g.omega[i] * g.omega[i]
	}
	return g
}

// Len returns the number of frequencies.
func (g *Grid) Len() int { return len(g.hz) }

// At returns frequency i in hertz.
func (g *Grid) At(i int) float64 { return g.hz[i] }

// First and Last return the ends of the grid in hertz.
func (g *Grid) First() float64 { return g.hz[0] }

// Last returns the highest frequency in hertz.
func (g *Grid) Last() float64 { return g.hz[len(g.hz)-1] }

// Hz returns a copy of the frequencies in hertz.
func (g *Grid) Hz() []float64 { return slices.Clone(g.hz) }

// PerOctave returns the points per octave of a grid made by [LogGrid], else 0.
func (g *Grid) PerOctave() int { return g.perOctave }

// Omega returns ω = 2πf in rad/s. The slice is the grid's own: read only.
func (g *Grid) Omega() []float64 { return g.omega }

// Omega2 returns ω² in rad²/s². The slice is the grid's own: read only.
func (g *Grid) Omega2() []float64 { return g.omega2 }

// Trig returns u = 1−cos Ω, computed as 2·sin²(Ω/2) so that it keeps its
// precision at low frequencies, and sin Ω, with Ω = 2πf/sampleRate. The slices
// are the grid's own, made once per sample rate: read only.
func (g *Grid) Trig(sampleRate float64) (u, sin []float64) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if t, ok := g.trig[sampleRate]; ok {
		return t[0], t[1]
	}
	u, sin = make([]float64, len(g.hz)), make([]float64, len(g.hz))
	for i, f := range g.hz {
		s, c := math.Sincos(math.Pi * f / sampleRate)
		u[i], sin[i] = 2*s*s, 2*s*c
	}
	if g.trig == nil {
		g.trig = make(map[float64][2][]float64)
	}
	g.trig[sampleRate] = [2][]float64{u, sin}
	return u, sin
}

// Equal reports whether both grids hold the same frequencies. Identity is
// looked at first, so that it is cheap where grids are shared as they should be.
func (g *Grid) Equal(h *Grid) bool {
	return g == h || g != nil && h != nil && slices.Equal(g.hz, h.hz)
}

// Between returns the half-open range of indices [i, j) of the frequencies
// within lo … hi, both included. There is none within a NaN.
func (g *Grid) Between(lo, hi float64) (i, j int) {
	if math.IsNaN(lo) || math.IsNaN(hi) {
		return 0, 0
	}
	i, _ = slices.BinarySearch(g.hz, lo)
	j, found := slices.BinarySearch(g.hz, hi)
	if found {
		j++
	}
	return i, max(i, j)
}

// Nearest returns the index of the frequency that is nearest to hz on a
// logarithmic scale.
func (g *Grid) Nearest(hz float64) int {
	i, _ := slices.BinarySearch(g.hz, hz)
	if i == 0 {
		return 0
	}
	if i == len(g.hz) || hz*hz < g.hz[i-1]*g.hz[i] {
		return i - 1
	}
	return i
}

// String tells the range and the number of points.
func (g *Grid) String() string {
	return fmt.Sprintf("%.6g … %.6g Hz, %d points", g.First(), g.Last(), g.Len())
}

// mismatch explains why two grids that should be the same are not.
func mismatch(what string, g, h *Grid) error {
	return fmt.Errorf("freq: %s are on different grids (%v; %v), want the same: resample one on the other's grid first", what, g, h)
}
