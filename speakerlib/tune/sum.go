package tune

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/lsq"
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
