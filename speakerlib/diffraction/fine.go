package diffraction

import "sync"

// finer is how many fine samples there are to a sample of the window, 64 per period of the
// highest frequency. Where weights are very many, each goes to the two fine samples beside
// it, in proportion to its distance from the other one: two additions and nothing to look
// up, where the kernel takes six.
//
// A line is blunt by sinc²(f·step), which is undone, and it lets through at f what the
// weights have at 1/step ∓ f in the ratio of the squares of both frequencies: at most 1/63²,
// of a spectrum that is made of thousands of weights and so far beyond what their points
// were chosen for that next to nothing is left of it.
const finer = 16

// pile is what comes at a fine sample or between it and the next: the weights, and how much
// of them belongs to the next.
type pile struct{ all, next float64 }

// fineTable holds the kernel's samples for each place of a fine sample between two
// samples, sharpened by what lines blunt: −1/12, 7/6, −1/12 is 1/sinc² but for 1e-6.
var fineTable = sync.OnceValue(func() *[finer][spread]float64 {
	t := new([finer][spread]float64)
	for i := range t {
		for j := range t[i] {
			x := float64(j+1-spread/2) - float64(i)/finer
			t[i][j] = (14*kernel(x) - kernel(x-1.0/finer) - kernel(x+1.0/finer)) / 12
		}
	}
	return t
})

// placeFine empties the fine samples of the window.
func (s *samples) placeFine() {
	if n := finer * len(s.g); cap(s.fine) < n {
		s.fine = make([]pile, n)
	} else {
		s.fine = s.fine[:n]
		clear(s.fine)
	}
}

// cells returns what takes a delay in seconds to fine samples.
func (s *samples) cells() (perSecond, first float64) {
	return finer / s.t.step, finer * (float64(s.reach) - s.middle/s.t.step)
}

// takeFine spreads the fine samples into the others.
func (s *samples) takeFine() {
	table := fineTable()
	before := 0.0
	for k := spread / 2; k < len(s.g)-spread/2; k++ { // the margin is empty
		fine := (*[finer]pile)(s.fine[finer*k:])
		to := (*[spread]float64)(s.g[k+1-spread/2:])
		for i := range fine {
			x := fine[i].all - fine[i].next + before
			before = fine[i].next
			row := &table[i]
			to[0] += x * row[0]
			to[1] += x * row[1]
			to[2] += x * row[2]
			to[3] += x * row[3]
			to[4] += x * row[4]
			to[5] += x * row[5]
		}
	}
}

// sized returns a slice of n values, the same one if it is large enough.
func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}
