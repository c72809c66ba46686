package divide

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Chain is what a processor gets for a way.
type Chain struct {
	Way     string
	Cascade *digital.Cascade // sections, gain, polarity, delay of whole samples, Thiran's all-pass
	Delay   float64          // as it is realised, re the way that is not delayed, s
	Latency float64          // of whole samples and all-pass at low frequencies, s
}

// Null is how deep the sum of two neighbours falls with one of them inverted.
type Null struct {
	Between string  `col:"between"`
	Depth   float64 `col:"reverse null" unit:"dB" fmt:"%.1f"` // the lowest level within an octave of the crossover, re the sum
	At      float64 `col:"at" unit:"Hz" fmt:"%.0f"`
	// Coherence is that of crossover.Align with the realised delays: 1 in phase
	// wherever both are heard.
	Coherence float64 `col:"coherence" fmt:"%.3f"`
}

// Network is a division with what it does.
type Network struct {
	Chains []Chain
	Ways   [][]freq.Response // by direction, then by way, per volt at the input
	Sums   []freq.Response   // by direction

	Error      float64    // rms of sum re voice over all directions, as the task counts them, a level per direction not taken out, dB
	Range      float64    // largest less smallest of sum re voice in the first direction within the band, smoothed, dB
	RMS        float64    // rms of the same about its mean, dB
	Worst      float64    // largest deviation of sum from voice, smoothed, less the mean of the first direction, times how much its direction counts against the most, dB
	WorstAt    float64    // where, Hz
	WorstIn    string     // in which direction
	Flatness   freq.Curve // sum re voice in the first direction, smoothed, less its mean in the band, dB
	Nulls      []Null     // of neighbours, in the first direction
	GroupDelay freq.Curve // of the sum in the first direction, flight and drivers included, s; the zero Curve where the phase turns too far from point to point to be told

	task *Task
}

// network realises delays and tells what comes out.
func (t *Task) network(cascades []*digital.Cascade, delays []float64) (*Network, error) {
	n := &Network{task: t}
	for k, c := range cascades {
		chain, err := t.realise(c, delays[k])
		if err != nil {
			return nil, fmt.Errorf("divide: way %q: %w", t.Ways[k].Name, err)
		}
		chain.Way = t.Ways[k].Name
		n.Chains = append(n.Chains, chain)
	}
	g := t.Voice[0].Grid()
	for d := range t.Directions {
		var ways []freq.Response
		var sum freq.Response
		for k, w := range t.Ways {
			b := w.Responses[d].Basis()
			b.Per = freq.PerInput
			stages := freq.Series{w.Responses[d], n.Chains[k].Cascade}
			if w.Before != nil {
				stages = append(stages, w.Before)
			}
			r, err := freq.Evaluate(stages, g, w.Name, b)
			if err != nil {
				return nil, fmt.Errorf("divide: way %q: %w", w.Name, err)
			}
			ways = append(ways, r)
			if k == 0 {
				sum = r
			} else if sum, err = sum.Add(r); err != nil {
				return nil, fmt.Errorf("divide: %w", err)
			}
		}
		n.Ways, n.Sums = append(n.Ways, ways), append(n.Sums, sum.As(t.Directions[d].Name))
	}
	return n, n.judge()
}

// realise puts a delay into a cascade.
func (t *Task) realise(c *digital.Cascade, delay float64) (Chain, error) {
	samples := delay * t.SampleRate
	whole := math.Round(samples)
	out := Chain{Cascade: c}
	var err error
	if order := t.Delays.Thiran; order > 0 {
		if samples == whole { // whole samples are exact
			whole += float64(order)
		} else {
			s, err := digital.Thiran(t.SampleRate, float64(order)+samples-whole, order)
			if err != nil {
				return Chain{}, err
			}
			all, err := digital.NewCascade(t.SampleRate, s...)
			if err != nil {
				return Chain{}, err
			}
			if out.Cascade, err = c.Then(all); err != nil {
				return Chain{}, err
			}
		}
		out.Delay = delay
		out.Latency = delay + float64(order)/t.SampleRate
	} else {
		out.Delay = whole / t.SampleRate
		out.Latency = out.Delay
	}
	out.Cascade, err = out.Cascade.WithDelay(int(whole))
	return out, err
}

// judge computes the figures.
func (n *Network) judge() error {
	t := n.task
	var all, norm, level1, most float64
	for _, d := range t.Directions {
		most = max(most, d.Counts)
	}
	for d, s := range n.Sums {
		diff, err := n.against(d)
		if err != nil {
			return err
		}
		g := s.Grid()
		i, j := g.Between(t.From, t.To)
		mean, err := diff.Mean(t.From, t.To)
		if err != nil {
			return fmt.Errorf("divide: %w", err)
		}
		if d == 0 {
			level1 = mean
		}
		v := t.Directions[d].Counts
		for k := i; k < j; k++ {
			w := v * v * t.Spacing.Between(g.At(max(k-1, i)), g.At(min(k+1, j-1)))
			all += w * diff.At(k) * diff.At(k)
			norm += w
			if x := (diff.At(k) - level1) * v / most; math.Abs(x) > math.Abs(n.Worst) {
				n.Worst, n.WorstAt, n.WorstIn = x, g.At(k), t.Directions[d].Name
			}
		}
		if d > 0 {
			continue
		}
		n.Flatness = diff.Plus(-mean).As("sum re voice")
		lo, hi := math.Inf(1), math.Inf(-1)
		var square, width float64
		for k := i; k < j; k++ {
			x, w := n.Flatness.At(k), math.Log(g.At(min(k+1, j-1))/g.At(max(k-1, i)))
			lo, hi = min(lo, x), max(hi, x)
			square += w * x * x
			width += w
		}
		n.Range, n.RMS = hi-lo, math.Sqrt(square/width)
	}
	n.Error = math.Sqrt(all / norm)
	if delay, err := n.Sums[0].GroupDelay(); err == nil {
		n.GroupDelay = delay
	}
	for k, s := range t.Splits {
		lower, upper := n.Ways[0][k], n.Ways[0][k+1]
		null, err := crossover.ReverseNull(lower, upper)
		if err != nil {
			return fmt.Errorf("divide: %w", err)
		}
		low, err := null.DB(1).Min(s.Fc/2, s.Fc*2)
		if err != nil {
			return fmt.Errorf("divide: %w", err)
		}
		a, err := crossover.Align(lower, upper, s.Fc/2, s.Fc*2, 0)
		if err != nil {
			return fmt.Errorf("divide: %w", err)
		}
		c := a.Coherence
		if a.Inverted {
			c = a.Other
		}
		n.Nulls = append(n.Nulls, Null{Between: t.Ways[k].Name + " and " + t.Ways[k+1].Name, Depth: low.Value, At: low.Hz, Coherence: c})
	}
	return nil
}

// against returns sum re voice in a direction, smoothed, dB.
func (n *Network) against(d int) (freq.Curve, error) {
	s, err := n.Sums[d].SmoothPower(n.task.Smoothing, level.Reference)
	if err != nil {
		return freq.Curve{}, fmt.Errorf("divide: %w", err)
	}
	v, err := n.task.Voice[d].SmoothPower(n.task.Smoothing, level.Reference)
	if err != nil {
		return freq.Curve{}, fmt.Errorf("divide: %w", err)
	}
	return s.Minus(v)
}

// Voicing compares the sums with the voices, the first direction first.
func (n *Network) Voicing(m crossover.Mask, rule crossover.LevelRule) ([]crossover.PositionMatch, error) {
	return crossover.MatchVoicings(n.task.pairs(n.Sums), m, rule)
}

// Transfers returns the chains with what is before them, in the order of the ways: for
// [crossover.Stack.With], which tells lobes and the height of the ears.
func (n *Network) Transfers() []freq.Transfer {
	out := make([]freq.Transfer, len(n.Chains))
	for k, c := range n.Chains {
		s := freq.Series{c.Cascade}
		if b := n.task.Ways[k].Before; b != nil {
			s = append(s, b)
		}
		out[k] = s
	}
	return out
}

// Active returns the chains as a dividing network, for package system.
func (n *Network) Active() crossover.Active {
	var a crossover.Active
	for k, c := range n.Chains {
		a.Ways = append(a.Ways, crossover.Chain{Name: c.Way, Stages: n.Transfers()[k].(freq.Series)})
	}
	return a
}
