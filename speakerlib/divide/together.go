package divide

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/tune"
)

// joint is a fit of the sum: what it shall be, and the ways with their sections.
type joint struct {
	goal     tune.SumGoal
	branches []tune.Branch
	stay     float64 // as Task.Stay, dB
}

// joint returns the fit of the sum that begins with the ways as they were fitted apart.
// Delays that are whole samples begin, and unless they are free stay, rounded.
func (t *Task) joint(fits []Fit, behind [][]freq.Response, delays []float64, inverted []bool) (*joint, error) {
	j := &joint{stay: t.Stay, goal: tune.SumGoal{Reference: level.Reference, Smoothing: t.Smoothing, Spacing: t.Spacing, From: t.From, To: t.To, SampleRate: t.SampleRate}}
	seen := 0
	for d, v := range t.Voice {
		target, err := v.SmoothPower(t.Smoothing, level.Reference)
		if err != nil {
			return nil, err
		}
		j.goal.Views = append(j.goal.Views, tune.Aim{Name: t.Directions[d].Name, Target: target, Counts: t.Directions[d].Counts})
		if t.Directions[d].Counts > 0 {
			seen++
		}
	}
	play := 0.25 / t.Splits[len(t.Splits)-1].Fc // a quarter of a period
	if t.Delays.None || seen < 2 {
		play = 0
	}
	for k, f := range fits {
		best, free := f.Ladder.Best().Fit, t.sections(k)
		b := tune.Branch{Name: f.Way, Sources: behind[k], Gain: best.Gain, GainDB: 6, Delay: delays[k], Play: play, Inverted: inverted[k]}
		for n, s := range best.Sections {
			one := free[best.Used[n]]
			one.Start = s
			b.Sections = append(b.Sections, one)
		}
		j.branches = append(j.branches, b)
	}
	if play == 0 {
		j.hold(t)
	}
	return j, nil
}

// hold holds the delays, if they are whole samples at the nearest of them.
func (j *joint) hold(t *Task) {
	for k := range j.branches {
		b := &j.branches[k]
		if b.Play = 0; t.Delays.Thiran == 0 {
			b.Delay = math.Round(b.Delay*t.SampleRate) / t.SampleRate
		}
	}
}

// solve fits the sum once, and lets the next fit begin where this one ended, the
// earliest way without delay.
func (j *joint) solve(t *Task, iterations int) (*tune.Summed, []*digital.Cascade, []float64, error) {
	s, err := tune.Sum(j.goal, j.branches, &tune.SumSettings{Stay: j.stay, Iterations: iterations})
	if err != nil {
		return nil, nil, nil, fmt.Errorf("divide: %w", err)
	}
	least := math.Inf(1)
	for _, b := range s.Branches {
		least = min(least, b.Delay)
	}
	var cascades []*digital.Cascade
	var delays []float64
	for k, f := range s.Branches {
		b := &j.branches[k]
		b.Gain, b.Delay = f.Gain, f.Delay-least
		for n := range f.Sections {
			b.Sections[n].Start = f.Sections[n]
		}
		cascades, delays = append(cascades, f.Cascade), append(delays, b.Delay)
	}
	return s, cascades, delays, nil
}

// together fits the sum and takes the result if it is better. A fit that loses the
// phase between the ways is tried again, held four times as much, up to 4 dB.
func (t *Task) together(out *Result, behind [][]freq.Response, delays []float64, inverted []bool) error {
	for stay := t.Stay; ; stay *= 4 {
		j, err := t.joint(out.Fits, behind, delays, inverted)
		if err != nil {
			return err
		}
		j.stay = stay
		free := j.branches[0].Play > 0
		s, cascades, found, err := j.solve(t, 60)
		if err != nil {
			return err
		}
		if j.hold(t); free && t.Delays.Thiran == 0 {
			if s, cascades, found, err = j.solve(t, 60); err != nil {
				return err
			}
		}
		n, err := t.network(cascades, found)
		if err != nil {
			return err
		}
		out.Sum = s
		kept := t.inPhase(n, out.Apart)
		if kept && n.Error < out.Apart.Error {
			out.Network, out.joint = n, j
		}
		if kept || stay > 1 {
			return nil
		}
	}
}

// lostPhase is by how much the coherence of two neighbours may fall in a fit of their
// sum: 0.01 of two in phase are 8° between them, and a reverse null of 23 dB.
const lostPhase = 0.01

// inPhase reports whether a network keeps halves in phase that are so by design, such as
// Linkwitz–Riley's. Where only one direction counts its level does not tell the phase
// between the ways, and a fit pays with it for what is nothing on the axis and decibels
// beside it; several directions do tell it, and there it is theirs to choose.
func (t *Task) inPhase(n, apart *Network) bool {
	seen := 0
	for _, d := range t.Directions {
		if d.Counts > 0 {
			seen++
		}
	}
	if seen > 1 {
		return true
	}
	for k, s := range t.Splits {
		if s.inPhase() && n.Nulls[k].Coherence < apart.Nulls[k].Coherence-lostPhase {
			return false
		}
	}
	return true
}

// inPhase reports whether the halves are in phase or opposed at all frequencies.
func (s Split) inPhase() bool {
	low, high, err := s.Halves()
	if err != nil {
		return false
	}
	g, err := freq.LogGrid(s.Fc/2, s.Fc*2, 6)
	if err != nil {
		return false
	}
	h := high.ResponseTo(nil, g)
	for i, l := range low.ResponseTo(nil, g) {
		if r := h[i] / l; math.Abs(imag(r)) > 1e-3*math.Abs(real(r)) {
			return false
		}
	}
	return true
}

// without returns the fit without section n of way k.
func (j *joint) without(k, n int) *joint {
	out := &joint{goal: j.goal, stay: j.stay}
	for i, b := range j.branches {
		b.Sections = append([]tune.Free(nil), b.Sections...)
		if i == k {
			b.Sections = append(b.Sections[:n], b.Sections[n+1:]...)
		}
		out.branches = append(out.branches, b)
	}
	return out
}

// prune takes away sections that the sum can do without, and returns how many are left.
func (t *Task) prune(r *Result) (int, error) {
	for {
		var best *joint
		var network *Network
		var sum *tune.Summed
		left := 0
		for k, b := range r.joint.branches {
			left += len(b.Sections)
			for n, f := range b.Sections {
				if f.Needed {
					continue
				}
				j := r.joint.without(k, n)
				s, cascades, delays, err := j.solve(t, 30)
				if err != nil {
					return 0, err
				}
				net, err := t.network(cascades, delays)
				if err != nil {
					return 0, err
				}
				if math.Abs(net.Worst) <= t.Reach && t.inPhase(net, r.Apart) && (best == nil || math.Abs(net.Worst) < math.Abs(network.Worst)) {
					best, network, sum = j, net, s
				}
			}
		}
		if best == nil {
			return left, nil
		}
		r.joint, r.Network, r.Sum = best, network, sum
	}
}
