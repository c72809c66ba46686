package tune

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/lsq"
)

// Rung is the best fit found with a number of sections.
type Rung struct {
	Sections int     `col:"sections"`
	RMS      float64 `col:"rms" unit:"dB" fmt:"%.3f"`    // as Result.RMS
	Worst    float64 `col:"worst" unit:"dB" fmt:"%+.2f"` // as Result.Worst
	WorstAt  float64 `col:"at" unit:"Hz" fmt:"%.0f"`
	Gain     float64 `col:"rms less by" unit:"%" fmt:"%.0f"` // than with one section less
	Fit      *Result
}

// Ladder is how the error falls with the number of sections.
type Ladder struct {
	Rungs   []Rung // ascending number of sections
	Reached int    // index of the first rung whose worst error is small enough; −1: none
	Enough  float64
}

// Best returns the rung that reaches the stated error with the fewest sections, or
// the last one, which leaves the least rms error, if none does.
func (l *Ladder) Best() Rung {
	if l.Reached >= 0 {
		return l.Rungs[l.Reached]
	}
	return l.Rungs[len(l.Rungs)-1]
}

// Err returns nil if the stated error was reached, or none was stated, or an error that
// says by how much the best rung misses it, and where.
func (l *Ladder) Err() error {
	if l.Reached >= 0 || l.Enough == 0 {
		return nil
	}
	best := slices.MinFunc(l.Rungs, func(a, b Rung) int { return cmp.Compare(math.Abs(a.Worst), math.Abs(b.Worst)) })
	return fmt.Errorf("tune: %d sections leave %.3g dB at %.5g Hz, want at most %.3g dB: %.3g dB too much", best.Sections, math.Abs(best.Worst), best.WorstAt, l.Enough, math.Abs(best.Worst)-l.Enough)
}

// Climb finds how few of the free sections reach an error: the worst weighted one,
// Settings.Enough decibels. It begins with those that are Needed and adds one at a
// time, of all kinds that are left the one that takes away most (peaks tried at the
// three largest residuals, shelves over their range); after each it looks whether
// leaving out another one gives a better fit of the number before, and goes on from
// there (P. Pudil, J. Novovičová, J. Kittler, "Floating search methods in feature
// selection", Pattern Recognition Letters 15, 1994; from memory). So the first
// section found is not kept for ever, as it is in [Sections].
//
// It ends at the first rung that reaches the error, or with all sections in use; with
// Enough 0 the whole ladder is told. Settings.Least plays no part. The number is an
// upper bound of the least possible one: every fit is a local minimum.
func Climb(goal Goal, free []Free, s *Settings) (*Ladder, error) {
	if s == nil {
		s = &Settings{}
	}
	p, err := newProblem(goal, free, s)
	if err != nil {
		return nil, err
	}
	for k, f := range free {
		if f.Needed {
			p.use(k)
		}
	}
	if err := p.fit(); err != nil {
		return nil, err
	}
	least := len(p.used)
	best := []*problem{p} // by sections beyond the needed ones
	for n := 0; ; {
		p := best[n]
		if s.Enough > 0 && math.Abs(p.worst()) <= s.Enough {
			best = best[:n+1]
			break
		}
		if len(p.used) == len(free) {
			break
		}
		up, err := p.oneMore()
		if err != nil {
			return nil, err
		}
		switch {
		case n+1 == len(best):
			best = append(best, up)
		case up.rms() < best[n+1].rms()*better:
			best[n+1] = up
		}
		n++
		for n > 1 {
			down, err := best[n].oneLess()
			if err != nil {
				return nil, err
			}
			if down == nil || !(down.rms() < best[n-1].rms()*better) {
				break
			}
			n--
			best[n] = down
		}
	}
	l := &Ladder{Reached: -1, Enough: s.Enough}
	for n, p := range best {
		r, err := p.result()
		if err != nil {
			return nil, err
		}
		rung := Rung{Sections: least + n, RMS: r.RMS, Worst: r.Worst, WorstAt: r.WorstAt, Fit: r}
		if n > 0 && l.Rungs[n-1].RMS > 0 {
			rung.Gain = 1 - r.RMS/l.Rungs[n-1].RMS
		}
		l.Rungs = append(l.Rungs, rung)
		if l.Reached < 0 && s.Enough > 0 && math.Abs(r.Worst) <= s.Enough {
			l.Reached = n
		}
	}
	return l, nil
}

// better is the ratio of rms errors below which one fit counts as better than
// another, so that the search ends.
const better = 0.999

// quick are the settings of fits that only choose between candidates.
var quick = &lsq.Settings{Gradient: 1e-4, Step: 1e-6, Reduction: 1e-8, Iterations: 25, PointOnly: true}

// oneMore returns the best fit with one section more.
func (p *problem) oneMore() (*problem, error) {
	var best *problem
	var failed error
	for k, f := range p.free {
		if slices.Contains(p.used, k) || slices.ContainsFunc(p.free[:k], func(e Free) bool { return e == f }) && p.earlier(k) {
			continue
		}
		for _, start := range p.starts(k) {
			c := p.clone()
			c.useAt(k, start)
			if err := c.fitWith(quick); err != nil {
				failed = err // a start where the section does not exist
			} else if best == nil || c.rms() < best.rms() {
				best = c
			}
		}
	}
	if best == nil {
		return nil, failed
	}
	return best, best.fit()
}

// earlier reports whether an equal section before k is still left, which then
// stands for both.
func (p *problem) earlier(k int) bool {
	for e := range k {
		if p.free[e] == p.free[k] && !slices.Contains(p.used, e) {
			return true
		}
	}
	return false
}

// starts returns where a search for section k begins.
func (p *problem) starts(k int) [][]float64 {
	f := p.free[k]
	lo, hi := f.Low.ThetaTo(nil), f.High.ThetaTo(nil)
	if f.Start != nil {
		return [][]float64{f.Start.ThetaTo(nil)}
	}
	middle := make([]float64, len(lo))
	for n := range lo {
		middle[n] = (lo[n] + hi[n]) / 2
	}
	if !isPeak(f.Low) {
		var out [][]float64
		for _, part := range []float64{0.2, 0.5, 0.8} {
			s := slices.Clone(middle)
			s[0] = lo[0] + part*(hi[0]-lo[0])
			out = append(out, s)
		}
		return out
	}
	type hill struct{ height, lnf, gain float64 }
	var hills []hill
	n := len(p.residual)
	height := func(i int) float64 { return math.Abs(p.residual[i]) * p.counts[i] }
	for i := range p.residual {
		lnf := math.Log(p.grid.At(i))
		if lnf < lo[0] || lnf > hi[0] {
			continue
		}
		if (i == 0 || height(i) >= height(i-1)) && (i == n-1 || height(i) > height(i+1)) {
			hills = append(hills, hill{height(i), lnf, -p.residual[i]})
		}
	}
	slices.SortStableFunc(hills, func(a, b hill) int { return cmp.Compare(b.height, a.height) })
	out := [][]float64{}
	for _, h := range hills[:min(3, len(hills))] {
		out = append(out, []float64{h.lnf, h.gain, middle[2]})
	}
	if len(out) == 0 {
		out = append(out, middle)
	}
	return out
}

// oneLess returns the best fit without one of the sections that are not needed, or
// nil if all are.
func (p *problem) oneLess() (*problem, error) {
	var best *problem
	at := 1
	for n, k := range p.used {
		width := p.sections[n].Parameters()
		if !p.free[k].Needed {
			c := p.clone()
			c.used, c.sections = slices.Delete(c.used, n, n+1), slices.Delete(c.sections, n, n+1)
			c.x, c.lo, c.hi = slices.Delete(c.x, at, at+width), slices.Delete(c.lo, at, at+width), slices.Delete(c.hi, at, at+width)
			if err := c.fitWith(quick); err != nil {
				return nil, err
			}
			if best == nil || c.rms() < best.rms() {
				best = c
			}
		}
		at += width
	}
	if best == nil {
		return nil, nil
	}
	return best, best.fit()
}
