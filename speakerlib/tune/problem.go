package tune

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/lsq"
	"gonum.org/v1/gonum/mat"
)

// problem is a fit in the making. x holds the level in nepers and then the
// parameters of the sections in use, in the order in which they came into use.
type problem struct {
	goal     Goal
	free     []Free
	points             // of the band; weights are w·√Δ of the spacing
	few      points    // that a fit which may end early begins with
	counts   []float64 // w relative to the largest
	used     []int     // indices into free
	sections []digital.Tunable
	x        []float64
	lo, hi   []float64
	residual []float64
	bounds   []lsq.Bound
	stopped  lsq.Status
	settings *lsq.Settings
}

func newProblem(goal Goal, free []Free, s *Settings) (*problem, error) {
	if !(s.Enough >= 0) || math.IsInf(s.Enough, 0) {
		return nil, fmt.Errorf("tune: error that is enough is %g dB, want a finite value ≥ 0", s.Enough)
	}
	if !(s.Cosine >= 0 && s.Cosine < 1) {
		return nil, fmt.Errorf("tune: a fit shall end at a cosine of %g, want 0 to 1", s.Cosine)
	}
	g := goal.Source.Grid()
	if g == nil || goal.Target.Grid() == nil {
		return nil, fmt.Errorf("tune: goal has no source or no target")
	}
	if goal.Source.Unit() != "dB" || goal.Target.Unit() != "dB" {
		return nil, fmt.Errorf("tune: source %q is in %s and target %q in %s, want both in dB", goal.Source.Label(), goal.Source.Unit(), goal.Target.Label(), goal.Target.Unit())
	}
	diff, err := goal.Source.Minus(goal.Target)
	if err != nil {
		return nil, fmt.Errorf("tune: %w", err)
	}
	if !(goal.From > 0) || !(goal.To > goal.From) {
		return nil, fmt.Errorf("tune: band from %g to %g Hz, want 0 < from < to", goal.From, goal.To)
	}
	if err := covers(g, goal.From, goal.To, goal.Source.Label()); err != nil {
		return nil, err
	}
	i, j := g.Between(goal.From, goal.To)
	params := 1
	for k, f := range free {
		if absent(f.Low) || absent(f.High) || f.Start != nil && absent(f.Start) {
			return nil, fmt.Errorf("tune: section %d has not both bounds", k)
		}
		if kind(f.Low) != kind(f.High) {
			return nil, fmt.Errorf("tune: bounds of section %d are a %s and a %s, want the same kind", k, kind(f.Low), kind(f.High))
		}
		for _, bound := range []digital.Tunable{f.Low, f.High} {
			if _, err := bound.Biquad(goal.SampleRate); err != nil {
				return nil, fmt.Errorf("tune: bound of section %d: %w", k, err)
			}
		}
		lo, hi := f.Low.ThetaTo(nil), f.High.ThetaTo(nil)
		for n, name := range f.Low.Names() {
			if !(lo[n] <= hi[n]) || math.IsInf(lo[n], 0) || math.IsInf(hi[n], 0) {
				return nil, fmt.Errorf("tune: bounds of section %d are %v and %v: %s lies between %.4g and %.4g, want finite bounds in order", k, f.Low, f.High, name, lo[n], hi[n])
			}
		}
		if f.Start != nil {
			if kind(f.Start) != kind(f.Low) {
				return nil, fmt.Errorf("tune: section %d starts as a %s, want a %s as its bounds", k, kind(f.Start), kind(f.Low))
			}
			for n, v := range f.Start.ThetaTo(nil) {
				if !(v >= lo[n]-1e-12 && v <= hi[n]+1e-12) {
					return nil, fmt.Errorf("tune: section %d: %s starts at %g, want %g to %g", k, f.Low.Names()[n], v, lo[n], hi[n])
				}
			}
		}
		params += len(lo)
	}
	if j-i < params {
		return nil, fmt.Errorf("tune: %d points from %g to %g Hz for %d parameters, want at least as many points", j-i, goal.From, goal.To, params)
	}
	band, err := freq.NewGrid(g.Hz()[i:j])
	if err != nil {
		return nil, err
	}
	p := &problem{goal: goal, free: free, points: points{grid: band}, x: []float64{0}, lo: []float64{math.Inf(-1)}, hi: []float64{math.Inf(1)}, settings: &lsq.Settings{Gradient: s.Cosine, PointOnly: true}}
	if s.Cosine > 0 {
		p.settings.Damping = 1
	}
	weighted := goal.Weight.Grid() != nil
	if weighted && !goal.Weight.Grid().Equal(g) {
		return nil, fmt.Errorf("tune: weight is on %v and the source on %v, want the same grid", goal.Weight.Grid(), g)
	}
	p.need, p.weight, p.counts = make([]float64, 0, j-i), make([]float64, 0, j-i), make([]float64, 0, j-i)
	var sum, most float64
	for k := range j - i {
		d := diff.At(i + k)
		if math.IsInf(d, 0) {
			return nil, fmt.Errorf("tune: source − target is %g dB at %g Hz, want finite levels", d, band.At(k))
		}
		p.need = append(p.need, math.Log(level.Ratio(d)))
		width := goal.Spacing.Between(band.At(max(k-1, 0)), band.At(min(k+1, j-i-1))) / 2
		w := 1.0
		if weighted {
			w = goal.Weight.At(i + k)
		}
		if !(w >= 0) || math.IsInf(w, 0) {
			return nil, fmt.Errorf("tune: weight is %g at %g Hz, want a finite value ≥ 0", w, band.At(k))
		}
		p.weight, p.counts, most = append(p.weight, w*w*width), append(p.counts, w), max(most, w)
		sum += w * w * width
	}
	if !(sum > 0) {
		return nil, fmt.Errorf("tune: nothing counts from %g to %g Hz: the weight is 0 everywhere", goal.From, goal.To)
	}
	for k, w := range p.weight {
		p.weight[k] = math.Sqrt(w / sum)
		p.counts[k] /= most
		p.x[0] -= p.need[k] * w / sum
	}
	p.residual = make([]float64, j-i)
	if n := (j - i) / (4 * params); s.Cosine > 0 && n > 1 {
		if p.few, err = p.coarse(min(n, 4)); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// clone returns a copy that a later fit of p leaves alone.
func (p *problem) clone() *problem {
	c := *p
	c.used, c.sections = slices.Clone(p.used), slices.Clone(p.sections)
	c.x, c.lo, c.hi = slices.Clone(p.x), slices.Clone(p.lo), slices.Clone(p.hi)
	c.residual, c.bounds = slices.Clone(p.residual), slices.Clone(p.bounds)
	return &c
}

// rms returns the weighted rms residual in nepers.
func (p *problem) rms() float64 {
	var sum float64
	for i, r := range p.residual {
		sum += r * r * p.weight[i] * p.weight[i]
	}
	return math.Sqrt(sum)
}

// use takes section k into use, at its start or in the middle of its bounds.
func (p *problem) use(k int) {
	lo, hi := p.free[k].Low.ThetaTo(nil), p.free[k].High.ThetaTo(nil)
	start := make([]float64, len(lo))
	for n := range lo {
		start[n] = (lo[n] + hi[n]) / 2
	}
	if s := p.free[k].Start; s != nil {
		s.ThetaTo(start)
	}
	p.useAt(k, start)
}

// useAt takes section k into use at a start, moved into its bounds.
func (p *problem) useAt(k int, start []float64) {
	lo, hi := p.free[k].Low.ThetaTo(nil), p.free[k].High.ThetaTo(nil)
	for n, v := range start {
		p.x = append(p.x, max(lo[n], min(hi[n], v)))
	}
	p.add(k, lo, hi)
}

func (p *problem) add(k int, lo, hi []float64) {
	p.used = append(p.used, k)
	p.sections = append(p.sections, p.free[k].Low)
	p.lo, p.hi = append(p.lo, lo...), append(p.hi, hi...)
}

// usePeak takes peak k into use where the residual is largest.
func (p *problem) usePeak(k int) {
	lo, hi := p.free[k].Low.ThetaTo(nil), p.free[k].High.ThetaTo(nil)
	clamp := func(v float64, n int) float64 { return max(lo[n], min(hi[n], v)) }
	at, most := (lo[0]+hi[0])/2, 0.0
	gain := 0.0
	for i, r := range p.residual {
		lnf := math.Log(p.grid.At(i))
		if v := math.Abs(r) * p.counts[i]; lnf >= lo[0] && lnf <= hi[0] && v > most {
			at, most, gain = lnf, v, -r
		}
	}
	p.x = append(p.x, at, clamp(gain, 1), (lo[2]+hi[2])/2)
	p.add(k, lo, hi)
}

// on returns the function that writes the weighted residuals in nepers at some points
// and, unless jac is nil, their derivatives.
func (p *problem) on(at points) func(res []float64, jac *mat.Dense, x []float64) {
	return func(res []float64, jac *mat.Dense, x []float64) {
		var data, sub []float64
		stride := len(x)
		if jac != nil {
			raw := jac.RawMatrix()
			data, stride = raw.Data, raw.Stride
			sub = data[1:]
		}
		digital.LogMagnitudeTo(res, sub, stride, p.sections, x[1:], at.grid, p.goal.SampleRate)
		for i, w := range at.weight {
			res[i] = w * (res[i] + x[0] + at.need[i])
			if jac != nil {
				row := data[i*stride : i*stride+len(x)]
				row[0] = 1
				for k := range row {
					row[k] *= w
				}
			}
		}
	}
}

// fit solves for all parameters in use.
func (p *problem) fit() error { return p.fitWith(p.settings) }

func (p *problem) fitWith(s *lsq.Settings) error {
	if n := len(p.few.need); n >= 4*len(p.x) {
		r, err := lsq.Minimize(lsq.Problem{Residuals: n, Func: p.on(p.few), Lower: p.lo, Upper: p.hi}, p.x, &lsq.Settings{Gradient: 1e-2, Damping: s.Damping, Iterations: 100, PointOnly: true})
		if err != nil {
			return fmt.Errorf("tune: %w", err)
		}
		near := *s
		near.Damping = 1e-6
		p.x, s = r.X, &near
	}
	r, err := lsq.Minimize(lsq.Problem{Residuals: len(p.weight), Func: p.on(p.points), Lower: p.lo, Upper: p.hi}, p.x, s)
	if err != nil {
		return fmt.Errorf("tune: %w", err)
	}
	p.x, p.bounds, p.stopped = r.X, r.Bounds, r.Status
	digital.LogMagnitudeTo(p.residual, nil, 0, p.sections, p.x[1:], p.grid, p.goal.SampleRate)
	for i := range p.residual {
		p.residual[i] += p.x[0] + p.need[i]
	}
	return nil
}

// worst returns the weighted residual of the largest magnitude, dB.
func (p *problem) worst() float64 {
	var most float64
	for i, r := range p.residual {
		if r *= p.counts[i]; math.Abs(r) > math.Abs(most) {
			most = r
		}
	}
	return level.DB(math.Exp(most))
}
