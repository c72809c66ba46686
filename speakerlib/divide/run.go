package divide

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/tune"
)

// Fit is how a way was fitted to its part of the voice.
type Fit struct {
	Way      string
	Goal     tune.Directions // levels of the way and of its target in every direction
	Ladder   *tune.Ladder    // the error by the number of sections
	Together *tune.Together  // what the rung that was taken leaves in every direction
}

// Result is a divided loudspeaker with all that led to it.
type Result struct {
	Fits    []Fit                 // of each way
	Aligned []crossover.Alignment // of neighbours, in the first direction, the lowest pair first
	Apart   *Network              // the ways as they were fitted apart, aligned
	Sum     *tune.Summed          // the fit of the sum, with the sections of each way, what is left in each direction, and the bounds that hold; nil if the task has it left out
	Network *Network              // what came out: Apart, or that of Sum, if it is better
	Tries   []Try                 // what each error per way led to, and what was left without the sections that the sum can do without; one, unless the task has a Reach

	joint *joint // the fit of the sum that Network is of; nil if it is Apart
}

// Try is a design with an error that each way had to reach.
type Try struct {
	Enough   float64 `col:"error per way" unit:"dB" fmt:"%.3f"`
	Sections int     `col:"sections"`
	Error    float64 `col:"rms of the sum" unit:"dB" fmt:"%.3f"`
	Worst    float64 `col:"worst" unit:"dB" fmt:"%+.2f"`
	At       float64 `col:"at" unit:"Hz" fmt:"%.0f"`
	In       string  `col:"in direction"`
}

// Err returns nil if the sum reaches what the task asks for, or an error that says by
// how much it does not, and where.
func (r *Result) Err() error {
	n := r.Network
	if reach := n.task.Reach; reach > 0 && math.Abs(n.Worst) > reach {
		return fmt.Errorf("divide: sum is %+.2f dB off the voice at %.5g Hz in direction %q, want within ±%.2f dB: %.2f dB too much", n.Worst, n.WorstAt, n.WorstIn, reach, math.Abs(n.Worst)-reach)
	}
	return nil
}

// Run designs the crossover.
//
//  1. Each way is fitted to its part of the voice, the voice times the magnitude of
//     its halves of the splits, over all directions at once, with as few sections as
//     reach Enough ([tune.Climb]). An error counts by how much of the way is heard.
//  2. Neighbours are aligned in the first direction, delay and polarity from the phase
//     ([crossover.Align]), within an octave of their crossover.
//  3. Gains, delays and sections of all ways are fitted together to the voice of the
//     sum over all directions ([tune.Sum]), first with the delays free, then, if they
//     are whole samples, around the rounded ones. Where only one direction counts its
//     level tells neither delays nor the phase between the ways: delays stay as they
//     were aligned, and where the halves are in phase by design, such as
//     Linkwitz–Riley's, a fit that takes 0.01 or more from Null.Coherence is held
//     more to the ways fitted apart, or not taken.
//
// Step 3 never makes the sum worse, by the measure of the task: else it is left out.
// With a Reach all of it is done again with half the error per way, and so more
// sections, until the sum reaches it; if none does, the best is returned, and
// Result.Err says what is missing. Of one that reaches it sections are taken away
// again, each time that which the sum misses least, all others being fitted anew, as
// long as it still does.
func (t Task) Run() (*Result, error) {
	t, err := t.withDefaults()
	if err != nil {
		return nil, err
	}
	var best *Result
	var tries []Try
	tell := func(r *Result, sections int) {
		n := r.Network
		tries = append(tries, Try{Enough: t.Enough, Sections: sections, Error: n.Error, Worst: n.Worst, At: n.WorstAt, In: n.WorstIn})
	}
	for range 5 {
		r, err := t.run()
		if err != nil {
			return nil, err
		}
		n, sections := r.Network, 0
		for _, f := range r.Fits {
			sections += f.Ladder.Best().Sections
		}
		more := len(tries) == 0 || sections > tries[len(tries)-1].Sections
		tell(r, sections)
		if best == nil || math.Abs(n.Worst) < math.Abs(best.Network.Worst) {
			best = r
		}
		if t.Reach == 0 || math.Abs(n.Worst) <= t.Reach || !more && exhausted(r) {
			break
		}
		t.Enough /= 2
	}
	if best.joint != nil && t.Reach > 0 && math.Abs(best.Network.Worst) <= t.Reach {
		left, err := t.prune(best)
		if err != nil {
			return nil, err
		}
		tell(best, left)
	}
	best.Tries = tries
	return best, nil
}

// exhausted reports whether no way reaches its error with all sections it has.
func exhausted(r *Result) bool {
	for _, f := range r.Fits {
		if f.Ladder.Reached >= 0 {
			return false
		}
	}
	return true
}

// run is one design.
func (t Task) run() (*Result, error) {
	g := t.Voice[0].Grid()
	out := &Result{}
	behind := make([][]freq.Response, len(t.Ways)) // ways behind what is before them
	for k, w := range t.Ways {
		for _, r := range w.Responses {
			if w.Before != nil {
				b, err := freq.Evaluate(w.Before, g, "before", freq.Basis{})
				if err != nil {
					return nil, fmt.Errorf("divide: way %q: %w", w.Name, err)
				}
				if r, err = r.Mul(b); err != nil {
					return nil, fmt.Errorf("divide: way %q: %w", w.Name, err)
				}
			}
			behind[k] = append(behind[k], r)
		}
		f, err := t.fit(k, behind[k])
		if err != nil {
			return nil, fmt.Errorf("divide: way %q: %w", w.Name, err)
		}
		out.Fits = append(out.Fits, f)
	}
	delays, inverted, err := t.align(out, behind)
	if err != nil {
		return nil, err
	}
	cascades := make([]*digital.Cascade, len(t.Ways))
	for k, f := range out.Fits {
		cascades[k] = f.Ladder.Best().Fit.Cascade.WithPolarity(inverted[k])
	}
	if out.Apart, err = t.network(cascades, delays); err != nil {
		return nil, err
	}
	out.Network = out.Apart
	if t.Apart {
		return out, nil
	}
	return out, t.together(out, behind, delays, inverted)
}

// fit fits a way to its part of the voice.
func (t *Task) fit(k int, behind []freq.Response) (Fit, error) {
	g := behind[0].Grid()
	part, err := t.target(k, g)
	if err != nil {
		return Fit{}, err
	}
	weight, err := freq.NewCurve(g, part, "heard", "1", freq.Basis{})
	if err != nil {
		return Fit{}, err
	}
	from, to := t.band(k)
	f := Fit{Way: t.Ways[k].Name, Goal: tune.Directions{Spacing: t.Spacing, From: from, To: to, SampleRate: t.SampleRate}}
	for d, r := range behind {
		source, err := r.SmoothPower(t.Smoothing, level.Reference)
		if err != nil {
			return Fit{}, err
		}
		voice := t.Voice[d].Values()
		for i := range voice {
			voice[i] *= complex(part[i], 0)
		}
		goal, err := freq.NewResponse(g, voice, "goal of "+t.Ways[k].Name, r.Basis())
		if err != nil {
			return Fit{}, err
		}
		target, err := goal.SmoothPower(t.Smoothing, level.Reference)
		if err != nil {
			return Fit{}, err
		}
		f.Goal.Views = append(f.Goal.Views, tune.View{Name: t.Directions[d].Name, Source: source, Target: target, Weight: weight, Counts: t.Directions[d].Counts})
	}
	goal, err := f.Goal.Goal()
	if err != nil {
		return Fit{}, err
	}
	if f.Ladder, err = tune.Climb(goal, t.sections(k), &tune.Settings{Enough: t.Enough, Cosine: 1e-6}); err != nil {
		return Fit{}, err
	}
	filter, err := freq.Evaluate(f.Ladder.Best().Fit.Cascade, g, "filter", freq.Basis{})
	if err != nil {
		return Fit{}, err
	}
	f.Together, err = f.Goal.Together(filter.DB(1))
	return f, err
}

// align returns delay and polarity of each way.
func (t *Task) align(out *Result, behind [][]freq.Response) (delays []float64, inverted []bool, err error) {
	delays, inverted = make([]float64, len(t.Ways)), make([]bool, len(t.Ways))
	filtered := func(k int) (freq.Response, error) {
		h, err := freq.Evaluate(out.Fits[k].Ladder.Best().Fit.Cascade, behind[k][0].Grid(), "filter", freq.Basis{})
		if err != nil {
			return freq.Response{}, err
		}
		return behind[k][0].Mul(h)
	}
	lower, err := filtered(0)
	if err != nil {
		return nil, nil, err
	}
	least := 0.0
	for k := 1; k < len(t.Ways); k++ {
		upper, err := filtered(k)
		if err != nil {
			return nil, nil, err
		}
		fc := t.Splits[k-1].Fc
		most := t.Delays.Most
		if t.Delays.None {
			most = 0
		}
		a, err := crossover.Align(lower, upper, fc/2, fc*2, most)
		if err != nil {
			return nil, nil, fmt.Errorf("divide: ways %q and %q: %w", t.Ways[k-1].Name, t.Ways[k].Name, err)
		}
		if most > 0 && math.Abs(a.Delay) > most*(1-1e-9) {
			return nil, nil, fmt.Errorf("divide: ways %q and %q are not aligned by any delay within ±%.4g ms; the best found is at its end: want a longest delay above that, or one flight taken out of both", t.Ways[k-1].Name, t.Ways[k].Name, 1e3*most)
		}
		out.Aligned = append(out.Aligned, a)
		delays[k], inverted[k] = delays[k-1]+a.Delay, inverted[k-1] != a.Inverted
		least = min(least, delays[k])
		lower = upper
	}
	for k := range delays {
		delays[k] -= least
	}
	return delays, inverted, nil
}
