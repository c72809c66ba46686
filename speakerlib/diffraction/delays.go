package diffraction

import (
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
// the sum of all magnitudes; looking the kernel up instead of computing it adds 2e-4 of a
// single weight, which many weights average out.
const (
	spread     = 6
	perPeriod  = 4
	kernelRows = 2048
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
var kernelTable = sync.OnceValue(func() [][spread]float64 {
	t := make([][spread]float64, kernelRows+1)
	for i := range t {
		for j := range t[i] {
			t[i][j] = kernel(float64(i)/kernelRows - spread/2 + float64(j))
		}
	}
	return t
})

// transform takes samples of delay to a spectrum on a frequency grid. It is immutable.
type transform struct {
	grid     *freq.Grid
	step     float64 // s
	reach    int     // samples to either side of the middle
	cos, sin []float64
	gain     []float64 // what undoes the spreading
}

// newTransform returns the transform that reaches the given seconds to either side.
func newTransform(g *freq.Grid, seconds float64) *transform {
	t := &transform{grid: g, step: 1 / (perPeriod * g.Last())}
	t.reach = int(math.Ceil(seconds/t.step)) + spread
	n := g.Len()
	t.cos, t.sin, t.gain = make([]float64, n*t.reach), make([]float64, n*t.reach), make([]float64, n)
	r := newRules().of(40)
	for i, w := range g.Omega() {
		for k := range t.reach {
			t.sin[i*t.reach+k], t.cos[i*t.reach+k] = math.Sincos(w * t.step * float64(k+1))
		}
		sum := 0.0
		for k, x := range r.x {
			x *= spread / 2
			sum += r.w[k] * spread / 2 * kernel(x) * math.Cos(w*t.step*x)
		}
		t.gain[i] = 1 / sum
	}
	return t
}

// samples is a window of delays, the workspace of one goroutine.
type samples struct {
	t      *transform
	middle float64 // s
	reach  int
	g      []float64 // 2·reach+1 samples around the middle
}

// place makes a window for the delays from lo to hi and empties it. The transform must
// reach (hi−lo)/2.
func (s *samples) place(t *transform, lo, hi float64) {
	s.t, s.middle = t, (lo+hi)/2
	s.reach = int(math.Ceil((hi-lo)/2/t.step)) + spread/2 + 1
	if s.reach > t.reach {
		panic("diffraction: delays beyond the transform")
	}
	if n := 2*s.reach + 1; cap(s.g) < n {
		s.g = make([]float64, n)
	} else {
		s.g = s.g[:n]
	}
	clear(s.g)
}

// addAll spreads weights at delays in seconds.
func (s *samples) addAll(delay, weight []float64) {
	table := kernelTable()
	perSecond, first := 1/s.t.step, float64(s.reach)-s.middle/s.t.step-spread/2+1
	g := s.g
	weight = weight[:len(delay)]
	for i, d := range delay {
		u := d*perSecond + first
		k := int(u) // u > 0: the first sample is ahead of u by 1 − (u − k)
		w := weight[i]
		row := &table[int((1-(u-float64(k)))*kernelRows+0.5)]
		to := g[k : k+spread : k+spread]
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

// folded holds the even and odd parts of the samples of several receivers.
type folded struct {
	even, odd [][lanes]float64
	zero      [lanes]float64
}

// fold takes a window into a lane.
func (f *folded) fold(s *samples, lane int) {
	if cap(f.even) < s.reach {
		f.even, f.odd = make([][lanes]float64, s.reach), make([][lanes]float64, s.reach)
	}
	f.even, f.odd = f.even[:s.reach], f.odd[:s.reach]
	f.zero[lane] = s.g[s.reach]
	for k := range s.reach {
		later, earlier := s.g[s.reach+1+k], s.g[s.reach-1-k]
		f.even[k][lane], f.odd[k][lane] = later+earlier, later-earlier
	}
}

// spectra writes the spectra of the lanes into dst, frequency i of lane l at
// dst[l][i]; turn is e^{−jωτ} of the middle of the window.
func (f *folded) spectra(dst [][]complex128, t *transform, turn []complex128) {
	n := len(f.even)
	for i := range t.gain {
		cos, sin := t.cos[i*t.reach:][:n], t.sin[i*t.reach:][:n]
		r0, r1, r2, r3 := f.zero[0], f.zero[1], f.zero[2], f.zero[3]
		for k, c := range cos {
			e := &f.even[k]
			r0 += c * e[0]
			r1 += c * e[1]
			r2 += c * e[2]
			r3 += c * e[3]
		}
		var i0, i1, i2, i3 float64
		for k, c := range sin {
			o := &f.odd[k]
			i0 -= c * o[0]
			i1 -= c * o[1]
			i2 -= c * o[2]
			i3 -= c * o[3]
		}
		re, im := [lanes]float64{r0, r1, r2, r3}, [lanes]float64{i0, i1, i2, i3}
		v := turn[i] * complex(t.gain[i], 0)
		for l := range dst {
			dst[l][i] = v * complex(re[l], im[l])
		}
	}
}
