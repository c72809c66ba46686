package diffraction

import (
	"fmt"
	"math"
	"sync"

	"example.org/loudspeaker/speakerlib/freq"
)

// Weights at any delays become a spectrum in two steps: each weight is spread over a
// few samples of an even grid of delays, and the samples are transformed with a table
// of sines that all receivers share. What the spreading does to the spectrum is
// divided out (A. Dutt and V. Rokhlin, "Fast Fourier transforms for nonequispaced
// data", SIAM J. Sci. Comput. 14, 1993; the kernel exp(β(√(1−x²)−1)) is that of A.
// Barnett, J. Magland and L. af Klinteberg, SIAM J. Sci. Comput. 41, 2019). With 6
// samples and 4 samples per period of the highest frequency it is within 1e-5 of
// the sum of all magnitudes; looking the kernel up instead of computing it adds 1e-4 of a
// single weight at the highest frequency, which many weights average out.
const (
	spread     = 6
	perPeriod  = 4
	kernelRows = 4096
	kernelBeta = 2.30 * spread
)

func kernel(x float64) float64 {
	u := 2 * x / spread
	if u = 1 - u*u; u <= 0 {
		return 0
	}
	return math.Exp(kernelBeta * (math.Sqrt(u) - 1))
}

// kernelTable holds the six samples of the kernel for every place between two samples.
var kernelTable = sync.OnceValue(func() *[kernelRows + 1][spread]float64 {
	t := new([kernelRows + 1][spread]float64)
	for i := range t {
		for j := range t[i] {
			t[i][j] = kernel(float64(i)/kernelRows - spread/2 + float64(j))
		}
	}
	return t
})

// transform takes samples of delay to a spectrum on a frequency grid. It is immutable.
//
// Low frequencies need fewer samples: those below a quarter of the highest are taken
// from a second set four times as coarse, into which the first is spread as weights at
// delays are spread into it, and so on.
type transform struct {
	grid  *freq.Grid
	step  float64 // s, of the finest set
	tiers []tier
}

// tier is one of the sets, with the frequencies that are taken from it.
type tier struct {
	first, last int // points of the grid
	reach       int // samples to either side of the middle
	cos, sin    []float64
	gain        []float64 // what undoes the spreading, up to here
}

// coarser is how many times a tier is as coarse as the one before, and leastCoarse how
// few frequencies are not worth another tier.
const (
	coarser     = 4
	leastCoarse = 8
)

// mostTurns is how many sines a transform may hold: half a gigabyte with the cosines.
const mostTurns = 30e6

// newTransform returns the transform that reaches the given seconds to either side. It
// refuses one that is too large.
func newTransform(g *freq.Grid, seconds float64) (*transform, error) {
	if n := seconds * perPeriod * g.Last() * float64(g.Len()); !(n <= mostTurns) {
		return nil, fmt.Errorf("diffraction: delays that are %.4g s apart on %v are %.3g sines, want at most %.2g: smaller delays, fewer points or lower frequencies", 2*seconds, g, n, float64(mostTurns))
	}
	t := &transform{grid: g, step: 1 / (perPeriod * g.Last())}
	reach, step := int(math.Ceil(seconds/t.step))+spread, t.step
	last := g.Len()
	for n := 0; last > 0; n++ {
		l := tier{last: last, reach: reach}
		for l.first = last; l.first > 0 && g.At(l.first-1)*coarser*perPeriod*step > 1; l.first-- {
		}
		if l.first < leastCoarse {
			l.first = 0
		}
		for _, w := range g.Omega()[l.first:last] {
			for k := range reach {
				sin, cos := math.Sincos(w * step * float64(k+1))
				l.sin, l.cos = append(l.sin, sin), append(l.cos, cos)
			}
			gain := 1.0
			for s := t.step; s <= step*1.001; s *= coarser {
				gain /= kernelSpectrum(w * s)
			}
			l.gain = append(l.gain, gain)
		}
		t.tiers = append(t.tiers, l)
		last, reach, step = l.first, coarseReach(reach), step*coarser
	}
	return t, nil
}

// coarseReach is the reach of the next tier.
func coarseReach(reach int) int { return reach/coarser + spread/2 + 1 }

// kernelSpectrum is the Fourier transform of the kernel at a turn per sample.
func kernelSpectrum(turn float64) float64 {
	r := kernelRule()
	sum := 0.0
	for k, x := range r.x {
		x *= spread / 2
		sum += r.w[k] * spread / 2 * kernel(x) * math.Cos(turn*x)
	}
	return sum
}

var kernelRule = sync.OnceValue(func() rule { return newRules().of(40) })

// coarseTable holds the kernel's samples of the next tier for each place of a sample
// between two of them.
var coarseTable = sync.OnceValue(func() [coarser][spread]float64 {
	var t [coarser][spread]float64
	for i := range t {
		for j := range t[i] {
			t[i][j] = kernel(float64(j+1-spread/2) - float64(i)/coarser)
		}
	}
	return t
})

// samples is a window of delays, the workspace of one goroutine.
type samples struct {
	t      *transform
	middle float64 // s
	reach  int
	g      []float64 // 2·reach+1 samples around the middle
	fine   []pile    // finer of them to a sample, from the first on
}

// place makes a window for the delays from lo to hi and empties it. The transform must
// reach (hi−lo)/2.
func (s *samples) place(t *transform, lo, hi float64) {
	s.t, s.middle = t, (lo+hi)/2
	s.reach = int(math.Ceil((hi-lo)/2/t.step)) + spread/2 + 1
	if s.reach > t.tiers[0].reach {
		panic("diffraction: delays beyond the transform")
	}
	if n := 2*s.reach + 1; cap(s.g) < n {
		s.g = make([]float64, n)
	} else {
		s.g = s.g[:n]
	}
	clear(s.g)
}

// rows returns what takes a delay in seconds to rows of the table, of which there are
// kernelRows to a sample: the quotient is the first sample of the spread, and the
// remainder counts backwards in the table.
func (s *samples) rows() (perSecond, first float64) {
	return kernelRows / s.t.step, kernelRows*(float64(s.reach)-s.middle/s.t.step-spread/2+1) + 0.5
}

// addAll spreads weights at delays in seconds.
func (s *samples) addAll(delay, weight []float64) {
	table := kernelTable()
	perSecond, first := s.rows()
	g := s.g
	weight = weight[:len(delay)]
	for i, d := range delay {
		v := uint(int(d*perSecond + first)) // through int, which the processor has
		w := weight[i]
		row := &table[kernelRows-v%kernelRows]
		to := (*[spread]float64)(g[v/kernelRows:])
		to[0] += w * row[0]
		to[1] += w * row[1]
		to[2] += w * row[2]
		to[3] += w * row[3]
		to[4] += w * row[4]
		to[5] += w * row[5]
	}
}

// add spreads one weight with the kernel itself.
func (s *samples) add(delay, weight float64) {
	u := (delay-s.middle)/s.t.step + float64(s.reach)
	k := int(math.Ceil(u - spread/2))
	for j := range spread {
		s.g[k+j] += weight * kernel(float64(k+j)-u)
	}
}

// lanes is how many receivers go through the table of sines at once.
const lanes = 4

// folded holds the even and odd parts of the samples of several receivers, tier after
// tier.
type folded struct {
	even, odd [][lanes]float64
	zero      [][lanes]float64 // by tier
	coarse    [2][]float64
}

// fold takes a window into a lane, at all tiers.
func (f *folded) fold(s *samples, lane int) {
	if len(f.zero) != len(s.t.tiers) {
		f.zero = make([][lanes]float64, len(s.t.tiers))
	}
	g, reach, at := s.g, s.reach, 0
	for n := range s.t.tiers {
		if n > 0 {
			g, reach = f.reduce(g, reach, n%2)
		}
		if len(f.even) < at+reach {
			f.even = append(f.even, make([][lanes]float64, at+reach-len(f.even))...)
			f.odd = append(f.odd, make([][lanes]float64, at+reach-len(f.odd))...)
		}
		f.zero[n][lane] = g[reach]
		even, odd := f.even[at:at+reach], f.odd[at:at+reach]
		for k := range even {
			later, earlier := g[reach+1+k], g[reach-1-k]
			even[k][lane], odd[k][lane] = later+earlier, later-earlier
		}
		at += reach
	}
}

// reduce spreads samples into those of the next tier.
func (f *folded) reduce(g []float64, reach, into int) ([]float64, int) {
	table := coarseTable()
	less := coarseReach(reach)
	if n := 2*less + 1; cap(f.coarse[into]) < n {
		f.coarse[into] = make([]float64, n)
	} else {
		f.coarse[into] = f.coarse[into][:n]
		clear(f.coarse[into])
	}
	c := f.coarse[into]
	// Sample n of the fine set is at n/coarser of the coarse one, from the middle.
	for i, x := range g {
		if x == 0 {
			continue
		}
		n := i - reach + coarser*less // counted from the coarse set's first sample
		k, part := n/coarser+1-spread/2, n%coarser
		row := &table[part]
		to := c[k : k+spread : k+spread]
		for j := range to {
			to[j] += x * row[j]
		}
	}
	return c, less
}

// spectra writes the spectra of the lanes into dst, frequency i of lane l at
// dst[l][i]; turn is e^{−jωτ} of the middle of the window, reach that of the window.
func (f *folded) spectra(dst [][]complex128, t *transform, reach int, turn []complex128) {
	at := 0
	for n := range t.tiers {
		l := &t.tiers[n]
		even, odd := f.even[at:at+reach], f.odd[at:at+reach]
		for i := l.first; i < l.last; i++ {
			row := (i - l.first) * l.reach
			cos, sin := l.cos[row:][:reach], l.sin[row:][:reach]
			r0, r1, r2, r3 := f.zero[n][0], f.zero[n][1], f.zero[n][2], f.zero[n][3]
			for k, c := range cos {
				e := &even[k]
				r0 += c * e[0]
				r1 += c * e[1]
				r2 += c * e[2]
				r3 += c * e[3]
			}
			var i0, i1, i2, i3 float64
			for k, c := range sin {
				o := &odd[k]
				i0 -= c * o[0]
				i1 -= c * o[1]
				i2 -= c * o[2]
				i3 -= c * o[3]
			}
			re, im := [lanes]float64{r0, r1, r2, r3}, [lanes]float64{i0, i1, i2, i3}
			v := turn[i] * complex(l.gain[i-l.first], 0)
			for k := range dst {
				dst[k][i] = v * complex(re[k], im[k])
			}
		}
		at, reach = at+reach, coarseReach(reach)
	}
}
