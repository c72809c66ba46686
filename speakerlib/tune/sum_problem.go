package tune

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"gonum.org/v1/gonum/mat"
)

// sum is a fit in the making. x holds for each branch ln gain, the delay in units of
// unit seconds, and the parameters of the sections.
type sum struct {
	goal     SumGoal
	branches []Branch
	kinds    [][]digital.Tunable
	grid     *freq.Grid
	unit     float64
	stay     float64 // nepers
	sources  [][][]complex128
	target   [][]float64 // nepers
	weight   [][]float64 // Σw² = 1 over all
	x, lo    []float64
	hi, x0   []float64
	window   []window
	h        [][]complex128 // of each branch on the grid
	jac      [][]complex128
	total    []complex128
	power    []float64
	smooth   []float64
	slope    []float64
}

func newSum(goal SumGoal, branches []Branch, stay float64) (*sum, error) {
	if len(branches) == 0 || len(goal.Views) == 0 {
		return nil, fmt.Errorf("tune: sum of %d ways in %d directions, want at least one of each", len(branches), len(goal.Views))
	}
	if !(goal.Reference > 0) || math.IsInf(goal.Reference, 0) || !(goal.Smoothing >= 0) || math.IsInf(goal.Smoothing, 0) {
		return nil, fmt.Errorf("tune: reference %g and smoothing 1/%g octave, want finite values, > 0 and ≥ 0", goal.Reference, goal.Smoothing)
	}
	if !(goal.From > 0) || !(goal.To > goal.From) {
		return nil, fmt.Errorf("tune: band from %g to %g Hz, want 0 < from < to", goal.From, goal.To)
	}
	if goal.Views[0].Target.Grid() == nil {
		return nil, fmt.Errorf("tune: %s has no target", goal.Views[0].Name)
	}
	g := goal.Views[0].Target.Grid()
	if err := covers(g, goal.From, goal.To, goal.Views[0].Target.Label()); err != nil {
		return nil, err
	}
	p := &sum{goal: goal, branches: branches, grid: g, unit: 1 / (2 * math.Pi * goal.To), stay: math.Log(level.Ratio(stay))}
	if err := p.aims(g); err != nil {
		return nil, err
	}
	for _, b := range branches {
		if len(b.Sources) != len(goal.Views) {
			return nil, fmt.Errorf("tune: way %q has %d directions, want %d as the goal", b.Name, len(b.Sources), len(goal.Views))
		}
		var all [][]complex128
		for d, r := range b.Sources {
			if !r.Grid().Equal(g) {
				return nil, fmt.Errorf("tune: way %q in direction %q is on %v, want %v", b.Name, goal.Views[d].Name, r.Grid(), g)
			}
			if is := branches[0].Sources[d].Basis(); r.Basis() != is {
				return nil, fmt.Errorf("tune: way %q in direction %q is %v, want %v as way %q", b.Name, goal.Views[d].Name, r.Basis(), is, branches[0].Name)
			}
			all = append(all, r.Values())
		}
		p.sources = append(p.sources, all)
		if err := p.start(b); err != nil {
			return nil, err
		}
	}
	p.x0 = append([]float64(nil), p.x...)
	n := g.Len()
	for k := range branches {
		p.h = append(p.h, make([]complex128, n))
		p.jac = append(p.jac, make([]complex128, n*p.width(k)))
	}
	p.total, p.power, p.smooth, p.slope = make([]complex128, n), make([]float64, n), make([]float64, n), make([]float64, n)
	if goal.Smoothing > 0 {
		p.window = windows(g, goal.Smoothing)
	}
	if rows := p.points(); rows < len(p.x) {
		return nil, fmt.Errorf("tune: %d points that count from %g to %g Hz for %d parameters, want at least as many points", rows, goal.From, goal.To, len(p.x))
	}
	return p, nil
}

// aims takes over targets and weights.
func (p *sum) aims(g *freq.Grid) error {
	i0, j0 := g.Between(p.goal.From, p.goal.To)
	var all float64
	for _, v := range p.goal.Views {
		if v.Target.Grid() == nil || !v.Target.Grid().Equal(g) || v.Target.Unit() != "dB" {
			return fmt.Errorf("tune: target of %q is on %v in %q, want %v in dB", v.Name, v.Target.Grid(), v.Target.Unit(), g)
		}
		if v.Weight.Grid() != nil && !v.Weight.Grid().Equal(g) {
			return fmt.Errorf("tune: weight of %q is on %v, want %v", v.Name, v.Weight.Grid(), g)
		}
		if !(v.Counts >= 0) || math.IsInf(v.Counts, 0) {
			return fmt.Errorf("tune: %q counts %g, want a finite value ≥ 0", v.Name, v.Counts)
		}
		target, weight := make([]float64, g.Len()), make([]float64, g.Len())
		for i := range target {
			t := v.Target.At(i)
			target[i] = math.Log(level.Ratio(t))
			if i < i0 || i >= j0 {
				continue
			}
			w := View{Weight: v.Weight, Counts: v.Counts}.weight(i)
			if !(w >= 0) || math.IsInf(w, 0) || math.IsInf(t, 0) {
				return fmt.Errorf("tune: target of %q is %g dB with weight %g at %g Hz, want finite values, the weight ≥ 0", v.Name, t, w, g.At(i))
			}
			w *= math.Sqrt(p.goal.Spacing.Between(g.At(max(i-1, i0)), g.At(min(i+1, j0-1))) / 2)
			weight[i] = w
			all += w * w
		}
		p.target, p.weight = append(p.target, target), append(p.weight, weight)
	}
	if !(all > 0) {
		return fmt.Errorf("tune: nothing counts from %g to %g Hz: the weight is 0 everywhere", p.goal.From, p.goal.To)
	}
	for _, w := range p.weight {
		for i := range w {
			w[i] /= math.Sqrt(all)
		}
	}
	return nil
}

// start takes over the parameters of a branch.
func (p *sum) start(b Branch) error {
	if !(b.Gain > 0) || math.IsInf(b.Gain, 0) || !(b.GainDB >= 0) || !(b.Delay >= 0) || !(b.Play >= 0) || math.IsInf(b.Delay+b.Play+b.GainDB, 0) {
		return fmt.Errorf("tune: way %q: gain %g ± %g dB, delay %g ± %g s, want finite values, the gain > 0, others ≥ 0", b.Name, b.Gain, b.GainDB, b.Delay, b.Play)
	}
	gain, d := math.Log(b.Gain), math.Log(level.Ratio(b.GainDB))
	p.x = append(p.x, gain, b.Delay/p.unit)
	p.lo = append(p.lo, gain-d, max(0, b.Delay-b.Play)/p.unit)
	p.hi = append(p.hi, gain+d, (b.Delay+b.Play)/p.unit)
	var kinds []digital.Tunable
	for k, f := range b.Sections {
		if absent(f.Low) || absent(f.High) || absent(f.Start) {
			return fmt.Errorf("tune: section %d of way %q has not both bounds and a start", k, b.Name)
		}
		if kind(f.Low) != kind(f.High) || kind(f.Low) != kind(f.Start) {
			return fmt.Errorf("tune: section %d of way %q is a %s between a %s and a %s, want the same kind", k, b.Name, kind(f.Start), kind(f.Low), kind(f.High))
		}
		lo, hi, x := f.Low.ThetaTo(nil), f.High.ThetaTo(nil), f.Start.ThetaTo(nil)
		for n, v := range x {
			if !(v >= lo[n]-1e-9 && v <= hi[n]+1e-9) || math.IsInf(lo[n], 0) || math.IsInf(hi[n], 0) {
				return fmt.Errorf("tune: section %d of way %q: %s is %g between %g and %g, want finite values in order", k, b.Name, f.Low.Names()[n], v, lo[n], hi[n])
			}
			x[n] = max(lo[n], min(hi[n], v))
		}
		for _, s := range []digital.Tunable{f.High, f.Start} {
			if _, err := s.Biquad(p.goal.SampleRate); err != nil {
				return fmt.Errorf("tune: section %d of way %q: %w", k, b.Name, err)
			}
		}
		p.x, p.lo, p.hi = append(p.x, x...), append(p.lo, lo...), append(p.hi, hi...)
		kinds = append(kinds, f.Low)
	}
	p.kinds = append(p.kinds, kinds)
	if half := p.goal.SampleRate / 2; p.grid.Last() >= half {
		return fmt.Errorf("tune: grid goes up to %g Hz, want < %g Hz, half the sample rate", p.grid.Last(), half)
	}
	return nil
}

// width returns the number of section parameters of branch k.
func (p *sum) width(k int) (n int) {
	for _, s := range p.kinds[k] {
		n += s.Parameters()
	}
	return n
}

// points returns how many points count; rows has the rows that hold parameters too.
func (p *sum) points() (n int) {
	for _, w := range p.weight {
		for _, v := range w {
			if v > 0 {
				n++
			}
		}
	}
	return n
}

func (p *sum) rows() int {
	if p.stay > 0 {
		return p.points() + len(p.x)
	}
	return p.points()
}

func (p *sum) rms(x []float64) float64 {
	r := make([]float64, p.rows())
	p.evaluate(r, nil, x)
	var s float64
	for _, v := range r[:p.points()] {
		s += v * v
	}
	return level.DB(math.Exp(math.Sqrt(s)))
}

// branchTo computes the chain of a branch and the derivatives of its logarithm.
func (p *sum) branchTo(k int, x []float64, jac bool) {
	h, n := p.h[k], p.width(k)
	gain, tau := math.Exp(x[0]), x[1]*p.unit
	if p.branches[k].Inverted {
		gain = -gain
	}
	for i, w := range p.grid.Omega() {
		s, c := math.Sincos(w * tau)
		h[i] = complex(gain*c, -gain*s)
	}
	at := 0
	for _, s := range p.kinds[k] {
		m := s.Parameters()
		var sub []complex128
		if jac {
			sub = p.jac[k][at:]
		}
		complexTo(h, sub, n, s, x[2+at:2+at+m], p.grid, p.goal.SampleRate)
		at += m
	}
}

// evaluate writes the weighted residuals in nepers and, unless jac is nil, their
// derivatives.
func (p *sum) evaluate(res []float64, jac *mat.Dense, x []float64) {
	at := 0
	for k := range p.branches {
		n := 2 + p.width(k)
		p.branchTo(k, x[at:at+n], jac != nil)
		at += n
	}
	row := 0
	for d, weight := range p.weight {
		for i := range p.total {
			var z complex128
			for k, h := range p.h {
				z += h[i] * p.sources[k][d][i]
			}
			p.total[i] = z
			p.power[i] = real(z)*real(z) + imag(z)*imag(z)
		}
		p.average(p.smooth, p.power)
		first := row
		for i, w := range weight {
			if w == 0 {
				continue
			}
			res[row] = w * (0.5*math.Log(p.smooth[i]/(p.goal.Reference*p.goal.Reference)) - p.target[d][i])
			row++
		}
		if jac == nil {
			continue
		}
		column := 0
		for k := range p.branches {
			n := p.width(k)
			for m := range 2 + n {
				for i, z := range p.total {
					// Re(conj(p)·∂p) = ½·∂|p|²
					v := complex(real(z), -imag(z)) * p.h[k][i] * p.sources[k][d][i]
					switch m {
					case 0:
						p.slope[i] = real(v)
					case 1:
						p.slope[i] = p.grid.Omega()[i] * p.unit * imag(v) // −jωτ
					default:
						p.slope[i] = real(v * p.jac[k][i*n+m-2])
					}
				}
				p.slopeTo(jac, first, column, weight)
				column++
			}
		}
	}
	if p.stay == 0 {
		return
	}
	for k, v := range x {
		res[row] = p.stay * (v - p.x0[k])
		if jac != nil {
			for c := range x {
				jac.Set(row, c, 0)
			}
			jac.Set(row, k, p.stay)
		}
		row++
	}
}

// slopeTo writes a column of the Jacobian.
func (p *sum) slopeTo(jac *mat.Dense, row, column int, weight []float64) {
	raw := jac.RawMatrix()
	for i, w := range weight {
		if w == 0 {
			continue
		}
		v := p.slope[i]
		if p.window != nil {
			v = p.window[i].of(p.slope)
		}
		raw.Data[row*raw.Stride+column] = w * v / p.smooth[i]
		row++
	}
}

func (p *sum) average(dst, src []float64) {
	if p.window == nil {
		copy(dst, src)
		return
	}
	for i, w := range p.window {
		dst[i] = w.of(src)
	}
}
