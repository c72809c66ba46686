package activerc

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Distribution is how the values of parts are spread within their tolerance.
type Distribution int

const (
	// Uniform: all values within the tolerance are as likely as each other.
	Uniform Distribution = iota
	// Normal: a bell whose third standard deviation is the tolerance, cut there.
	Normal
)

// String returns the name.
func (d Distribution) String() string { return [...]string{"uniform", "normal, cut at 3 σ"}[d] }

// Tolerances are what values may be off by, either way and relative: 0.01 is 1 %. Every part is
// drawn on its own; parts of one reel are more alike than that.
type Tolerances struct {
	R, C float64
	// GBW is that of the gain-bandwidth product, one draw for each amplifier.
	GBW          float64
	Distribution Distribution
}

func (t Tolerances) validate() error {
	for _, v := range []float64{t.R, t.C, t.GBW} {
		if !(v >= 0 && v < 1) {
			return fmt.Errorf("activerc: tolerances are %g (R), %g (C) and %g (gain-bandwidth), want each within 0 … 1", t.R, t.C, t.GBW)
		}
	}
	if t.Distribution != Uniform && t.Distribution != Normal {
		return fmt.Errorf("activerc: distribution is %d, want uniform or normal", int(t.Distribution))
	}
	return nil
}

// Trials says how many samples of the production are drawn, and from which seed. Sample k
// draws from (Seed, k): the result does not depend on the number of workers.
type Trials struct {
	Samples int // 100 … 1000000
	Seed    uint64
	Workers int // 0 is as many as there are processors
}

// Spread is how far the level of a production is from that of the nominal values, in dB.
type Spread struct {
	grid    *freq.Grid
	off     [][]float64 // by frequency, ascending
	largest []float64   // by sample, ascending: its largest deviation over the grid
}

// Spread draws samples of the chain and computes each by nodal analysis with its real
// amplifiers: exact for any tolerance. Levels are compared over the whole grid: choose it as
// wide as the way plays, since far down the skirt a filter spreads more than anybody hears.
func (c *Chain) Spread(g *freq.Grid, t Tolerances, n Trials) (*Spread, error) {
	if err := t.validate(); err != nil {
		return nil, err
	}
	if n.Samples < 100 || n.Samples > 1000000 || n.Samples*g.Len() > 1<<25 {
		return nil, fmt.Errorf("activerc: %d samples at %d frequencies, want 100 … 1000000 samples and at most %d values", n.Samples, g.Len(), 1<<25)
	}
	if n.Workers < 0 {
		return nil, fmt.Errorf("activerc: %d workers, want 0 or more", n.Workers)
	}
	if n.Workers == 0 {
		n.Workers = runtime.GOMAXPROCS(0)
	}
	nominal := level.OfComplex(nil, c.ResponseTo(nil, g))
	for i, v := range nominal {
		if math.IsInf(v, 0) || math.IsNaN(v) {
			return nil, fmt.Errorf("activerc: level of the chain at %g Hz is %g dB, want a finite one to compare with", g.At(i), v)
		}
	}
	s := &Spread{grid: g, off: make([][]float64, g.Len()), largest: make([]float64, n.Samples)}
	for i := range s.off {
		s.off[i] = make([]float64, n.Samples)
	}
	var next atomic.Int64
	var wait sync.WaitGroup
	for range min(n.Workers, n.Samples) {
		wait.Go(func() {
			p := c.newProduction(g)
			for {
				k := int(next.Add(1)) - 1
				if k >= n.Samples {
					return
				}
				p.sample(t, n.Seed, uint64(k))
				for i, h := range p.h {
					d := level.DB(math.Sqrt(square(h))) - nominal[i]
					s.off[i][k] = d
					s.largest[k] = max(s.largest[k], math.Abs(d))
				}
			}
		})
	}
	wait.Wait()
	for i := range s.off {
		slices.Sort(s.off[i])
	}
	slices.Sort(s.largest)
	return s, nil
}

// production computes samples of a chain. It belongs to one goroutine.
type production struct {
	c    *Chain
	grid *freq.Grid
	work []*workspace
	amps [][]ampStamp
	h    []complex128
	pcg  rand.PCG
}

func (c *Chain) newProduction(g *freq.Grid) *production {
	p := &production{c: c, grid: g, h: make([]complex128, g.Len())}
	for _, s := range c.stages {
		// a circuit of its own, whose amplifiers may change
		own := *s.circuit
		own.amps = slices.Clone(own.amps)
		p.work = append(p.work, own.workspace())
		p.amps = append(p.amps, s.circuit.amps)
	}
	return p
}

// sample writes the response of sample k into h.
func (p *production) sample(t Tolerances, seed, k uint64) {
	p.pcg.Seed(seed, k)
	r := rand.New(&p.pcg)
	for j := range p.h {
		p.h[j] = 1
	}
	for i, s := range p.c.stages {
		w := p.work[i]
		for j, part := range s.circuit.parts {
			tol := t.R
			if part.Kind == Capacitor {
				tol = t.C
			}
			w.stamps[j].set(part.Kind, part.Value*(1+tol*draw(r, t.Distribution)))
		}
		for j := range w.c.amps {
			w.c.amps[j].c1 = p.amps[i][j].c1 / (1 + t.GBW*draw(r, t.Distribution))
		}
		for j, om := range p.grid.Omega() {
			w.solve(om)
			p.h[j] *= w.x[w.c.load]
		}
	}
}

// draw returns a number within −1 … 1.
func draw(r *rand.Rand, d Distribution) float64 {
	if d == Uniform {
		return 2*r.Float64() - 1
	}
	for {
		if v := r.NormFloat64() / 3; v >= -1 && v <= 1 {
			return v
		}
	}
}

// Percentile returns the deviation in dB below which a share of the samples lies, at every
// frequency: 0.025 and 0.975 enclose 95 % of them.
func (s *Spread) Percentile(share float64, label string) (freq.Curve, error) {
	if !(share >= 0 && share <= 1) {
		return freq.Curve{}, fmt.Errorf("activerc: share is %g, want one within 0 … 1", share)
	}
	v := make([]float64, len(s.off))
	for i, o := range s.off {
		v[i] = quantile(o, share)
	}
	return freq.NewCurve(s.grid, v, label, "dB", freq.Basis{})
}

// Within returns the deviation in dB, either way, that a share of the samples keeps at all
// frequencies of the grid: what the production may be sold as.
func (s *Spread) Within(share float64) (float64, error) {
	if !(share >= 0 && share <= 1) {
		return 0, fmt.Errorf("activerc: share is %g, want one within 0 … 1", share)
	}
	return quantile(s.largest, share), nil
}

// quantile interpolates between order statistics, x at (n−1)·share (R. J. Hyndman and Y. Fan,
// "Sample quantiles in statistical packages", Amer. Statistician 50, 1996, definition 7; from
// memory).
func quantile(sorted []float64, share float64) float64 {
	at := share * float64(len(sorted)-1)
	i := min(int(at), len(sorted)-2)
	f := at - float64(i)
	return sorted[i]*(1-f) + sorted[i+1]*f
}

// Bounds are the deviations in dB of parts at their tolerances, to first order.
type Bounds struct {
	Worst freq.Curve // all at the worst end at once: Σ |S·t|
	RMS   freq.Curve // one standard deviation of parts of the distribution: √Σ (S·t·σ)²
}

// Bounds returns what the derivatives of the response say of the tolerances of resistors and
// capacitors: quick, and exact as tolerances go to 0. σ is 1/√3 of a tolerance for a uniform
// distribution, and 0.3289 for a normal one (1/3, less what the cut takes).
func (c *Chain) Bounds(g *freq.Grid, t Tolerances) (Bounds, error) {
	if err := t.validate(); err != nil {
		return Bounds{}, err
	}
	sigma := 1 / math.Sqrt(3)
	if t.Distribution == Normal {
		// the variance of a normal variable cut at ±a is 1 − 2aφ(a)/(2Φ(a) − 1)
		const a = 3
		sigma = math.Sqrt(1-2*a*math.Exp(-a*a/2)/math.Sqrt(2*math.Pi)/math.Erf(a/math.Sqrt2)) / a
	}
	worst, rms := make([]float64, g.Len()), make([]float64, g.Len())
	for k, s := range c.stages {
		all, err := s.circuit.Sensitivities(g)
		if err != nil {
			return Bounds{}, fmt.Errorf("stage %d: %w", k+1, err)
		}
		for _, one := range all {
			tol := t.R
			if one.Kind == Capacitor {
				tol = t.C
			}
			for i := range worst {
				d := tol * one.Level.At(i)
				worst[i] += math.Abs(d)
				rms[i] += d * d * sigma * sigma
			}
		}
	}
	for i := range rms {
		rms[i] = math.Sqrt(rms[i])
	}
	w, err := freq.NewCurve(g, worst, "worst case", "dB", freq.Basis{})
	if err != nil {
		return Bounds{}, err
	}
	r, err := freq.NewCurve(g, rms, "standard deviation", "dB", freq.Basis{})
	return Bounds{w, r}, err
}
