package tune

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/lsq"
	"gonum.org/v1/gonum/mat"
)

// Branch is one way of a sum that is fitted: what it does in each direction, and the
// sections in front of it.
type Branch struct {
	Name     string
	Sources  []freq.Response // in the order of the goal's directions, in each of the basis and time zero of the other ways; whatever is fixed included
	Sections []Free          // each with a Start
	Gain     float64         // where its gain starts, an amplitude ratio > 0
	GainDB   float64         // how far its gain may move from there, dB either way; 0: held
	Delay    float64         // where its delay starts, s
	Play     float64         // how far its delay may move from there, s either way, and not below 0; 0: held
	Inverted bool
}

// SumGoal says what a sum of ways shall be.
type SumGoal struct {
	Views      []Aim
	Reference  float64 // what 0 dB of the targets is, in the unit of the sources
	Smoothing  float64 // n of the 1/n-octave power average of the sum, as the targets have it; 0: none
	Spacing    Spacing
	From, To   float64 // Hz
	SampleRate float64 // Hz
}

// Aim is what a sum shall be in one direction.
type Aim struct {
	Name   string
	Target freq.Curve // level, dB
	Weight freq.Curve // over frequency; the zero Curve: 1
	Counts float64    // against other directions, ≥ 0
}

// SumSettings of a fit of a sum. Nil means the zero value.
type SumSettings struct {
	// Stay holds parameters near their start: a parameter that has moved by 1 (a
	// neper, or a factor e of frequency or Q) counts like a rms error of Stay
	// decibels. 0: not held. Where ways hardly overlap a little of it keeps the
	// sections from wandering to where they change nothing.
	Stay       float64
	Iterations int // most steps; 0: as lsq.Settings
}

// Summed is the fit of a sum.
type Summed struct {
	Branches    []Fitted
	Views       []Seen     // what is left in each direction
	Before, RMS float64    // over all directions, weighted, at the start and at the end, dB
	Stopped     lsq.Status // why it stopped
}

// Fitted is a branch with what was found.
type Fitted struct {
	Name     string
	Sections []digital.Tunable
	Cascade  *digital.Cascade // sections, gain and polarity; without the delay
	Gain     float64          // amplitude ratio
	Delay    float64          // s
	Bound    []string         // parameters that ended on a bound
}

// Sum fits the sections, gains and delays of several ways together, so that their
// complex sum meets the targets in all directions:
//
//	minimise Σ_d v_d² ∫ w_d²·(20·log10|Σ_k G_k·H_k·e^{−jωτ_k}·S_kd| − T_d)² df′
//
// Ways that were fitted apart each to its own goal ([Sections]) leave errors where
// both are heard, because what each leaves turns its phase; here the phase of the
// digital sections is part of the model. Derivatives are analytic, through the sum:
// ∂ln|p| = Re(∂p/p). With Smoothing the power of the sum is averaged as
// [freq.Response.SmoothPower] does it, before the logarithm, and so are the
// derivatives. It is a local search from the starts: first fit apart and align, then
// this.
func Sum(goal SumGoal, branches []Branch, s *SumSettings) (*Summed, error) {
	if s == nil {
		s = &SumSettings{}
	}
	if !(s.Stay >= 0) || math.IsInf(s.Stay, 0) || s.Iterations < 0 {
		return nil, fmt.Errorf("tune: stay of %g dB and %d iterations, want finite values ≥ 0", s.Stay, s.Iterations)
	}
	p, err := newSum(goal, branches, s.Stay)
	if err != nil {
		return nil, err
	}
	before := p.rms(p.x)
	r, err := lsq.Minimize(lsq.Problem{Residuals: p.rows(), Func: p.evaluate, Lower: p.lo, Upper: p.hi}, p.x, &lsq.Settings{Iterations: s.Iterations})
	if err != nil {
		return nil, fmt.Errorf("tune: sum: %w", err)
	}
	out := &Summed{Before: before, RMS: p.rms(r.X), Stopped: r.Status}
	return out, p.result(out, r)
}

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
		if f.Low == nil || f.High == nil || f.Start == nil {
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

func (p *sum) result(out *Summed, r *lsq.Result) error {
	at := 0
	for k, b := range p.branches {
		n := 2 + p.width(k)
		x, bounds := r.X[at:at+n], r.Bounds[at:at+n]
		at += n
		f := Fitted{Name: b.Name, Gain: math.Exp(x[0]), Delay: x[1] * p.unit}
		if b.GainDB > 0 && bounds[0] != lsq.Free {
			f.Bound = append(f.Bound, "gain")
		}
		if b.Play > 0 && bounds[1] != lsq.Free {
			f.Bound = append(f.Bound, "delay")
		}
		from := 2
		var sections []digital.Section
		for _, kind := range p.kinds[k] {
			m := kind.Parameters()
			s := kind.With(x[from : from+m])
			sections, f.Sections = append(sections, s), append(f.Sections, s)
			for q, name := range kind.Names() {
				if bounds[from+q] != lsq.Free {
					f.Bound = append(f.Bound, boundOf(name, s))
				}
			}
			from += m
		}
		c, err := digital.NewCascade(p.goal.SampleRate, sections...)
		if err != nil {
			return fmt.Errorf("tune: way %q: %w", b.Name, err)
		}
		if c, err = c.WithGain(f.Gain); err != nil {
			return fmt.Errorf("tune: way %q: %w", b.Name, err)
		}
		f.Cascade = c.WithPolarity(b.Inverted)
		out.Branches = append(out.Branches, f)
	}
	return p.seen(out, r.X)
}

// seen tells what is left in each direction.
func (p *sum) seen(out *Summed, x []float64) error {
	at := 0
	for k := range p.branches {
		n := 2 + p.width(k)
		p.branchTo(k, x[at:at+n], false)
		at += n
	}
	for d, weight := range p.weight {
		for i := range p.total {
			var z complex128
			for k, h := range p.h {
				z += h[i] * p.sources[k][d][i]
			}
			p.power[i] = real(z)*real(z) + imag(z)*imag(z)
		}
		p.average(p.smooth, p.power)
		left := make([]float64, len(weight))
		for i := range left {
			left[i] = level.PowerDB(p.smooth[i]/(p.goal.Reference*p.goal.Reference)) - p.goal.Views[d].Target.At(i)
		}
		c, err := freq.NewCurve(p.grid, left, p.goal.Views[d].Name, "dB", freq.Basis{})
		if err != nil {
			return fmt.Errorf("tune: %w", err)
		}
		out.Views = append(out.Views, see(c, p.goal.Views[d].Weight, p.goal.From, p.goal.To, p.goal.Spacing))
	}
	return nil
}
