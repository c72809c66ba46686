package placement

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Way is a way behind the controls.
type Way struct {
	Name  string
	Chain *digital.Cascade // its filter; nil: none
	// Ceiling is the largest gain from the input to the end of the chain that the way bears
	// at each frequency when the input is at full scale, in dB: what is left by amplifier,
	// excursion or heat, from package limits (its Ceiling.Input is at the loudspeaker's input:
	// a way without a chain, and Input.DB(V peak at full scale)). The zero curve: full
	// scale, 0 dB.
	Ceiling freq.Curve
}

// Need is what a way needs in a combination.
type Need struct {
	Choice Choice
	Way    string
	Sine   float64 // largest gain for a sine, dB re full scale; above 0 it clips
	SineAt float64 // Hz
	// Any is Σ|h|, the largest peak of any signal of peak 1, in dB. Music comes some decibels
	// near it at most; a converter that must never clip needs it.
	Any      float64
	Margin   float64 // the least of ceiling − gain, dB; below 0 the way is overdriven at full scale
	MarginAt float64 // Hz
}

// Headroom is what all settings together ask for.
type Headroom struct {
	Combinations int  // that can be reached, and were gone through
	Sine         Need // with the largest gain for a sine
	Any          Need // with the largest peak of any signal
	Margin       Need // with the least margin
	Neutral      []Need
	// Safe is the combination to fall back to: of those in which no sine at full scale
	// clips and no way has a margin below 0, the one with the fewest controls off neutral, and
	// of several the one with the least gain. The neutral one, if it is safe.
	Safe     Choice
	SafeNeed []Need // of each way
	SafeOf   int    // how many are safe
}

// Headroom goes through every combination that can be reached, on a grid, and every way.
// It is an error if none is safe: then the chain itself is too loud. It is one, too, if a
// resonance within the grid lies between its points and is more than 0.1 dB above them: the
// grid then does not see what clips.
//
// Digital full scale is where floating-point words turn into fixed ones, at the end of a
// way; a fixed-point chain clips inside earlier. At every level below full scale what is
// needed is less by as much.
func (c *Controls) Headroom(g *freq.Grid, ways ...Way) (*Headroom, error) {
	all, err := c.Combinations()
	if err != nil {
		return nil, err
	}
	ways, err = c.ways(g, ways)
	if err != nil {
		return nil, err
	}
	out := &Headroom{Combinations: len(all)}
	leastOff, leastGain := math.MaxInt, math.Inf(1)
	for n, at := range all {
		filter, err := c.Cascade(at)
		if err != nil {
			return nil, err
		}
		needs := make([]Need, len(ways))
		safe, gain := true, math.Inf(-1)
		for k, w := range ways {
			if needs[k], err = w.need(at, filter, g); err != nil {
				return nil, err
			}
			q := needs[k]
			if first := n == 0 && k == 0; first || q.Sine > out.Sine.Sine {
				out.Sine = q
			}
			if first := n == 0 && k == 0; first || q.Any > out.Any.Any {
				out.Any = q
			}
			if first := n == 0 && k == 0; first || q.Margin < out.Margin.Margin {
				out.Margin = q
			}
			safe = safe && q.Sine <= slack && q.Margin >= -slack
			gain = max(gain, q.Sine)
		}
		off := c.off(at)
		if off == 0 {
			out.Neutral = needs
		}
		if !safe {
			continue
		}
		out.SafeOf++
		if off < leastOff || off == leastOff && gain < leastGain {
			leastOff, leastGain = off, gain
			out.Safe, out.SafeNeed = at, needs
		}
	}
	if out.SafeOf == 0 {
		n := out.Neutral[0]
		return nil, fmt.Errorf("placement: none of %d combinations is safe; neutral, %q has %+.2f dB re full scale at %.4g Hz and a margin of %+.2f dB at %.4g Hz: want less gain in the chains, or positions that take some", len(all), n.Way, n.Sine, n.SineAt, n.Margin, n.MarginAt)
	}
	return out, nil
}

// slack is what rounding may leave of 0 dB.
const slack = 1e-9

// ways checks the ways.
func (c *Controls) ways(g *freq.Grid, ways []Way) ([]Way, error) {
	if g == nil || len(ways) == 0 {
		return nil, fmt.Errorf("placement: headroom of %d ways on a grid, want a grid and at least 1 way", len(ways))
	}
	rate := c.Controls[0].Positions[0].Cascade.SampleRate()
	names := map[string]bool{}
	var out []Way
	for _, w := range ways {
		if w.Name == "" || names[w.Name] {
			return nil, fmt.Errorf("placement: way is called %q, want a name of its own", w.Name)
		}
		names[w.Name] = true
		if w.Chain == nil {
			wire, err := digital.NewCascade(rate)
			if err != nil {
				return nil, err
			}
			w.Chain = wire
		}
		if w.Chain.SampleRate() != rate {
			return nil, fmt.Errorf("placement: way %q is at %g Hz, want %g Hz as the controls", w.Name, w.Chain.SampleRate(), rate)
		}
		if err := w.Chain.CheckGrid(g); err != nil {
			return nil, err
		}
		if w.Ceiling.Grid() == nil {
			zero, err := freq.NewCurve(g, make([]float64, g.Len()), "full scale", "dB", freq.Basis{})
			if err != nil {
				return nil, err
			}
			w.Ceiling = zero
		}
		if w.Ceiling.Unit() != "dB" || !w.Ceiling.Grid().Equal(g) {
			return nil, fmt.Errorf("placement: ceiling of %q is in %q on %v, want dB on %v", w.Name, w.Ceiling.Unit(), w.Ceiling.Grid(), g)
		}
		out = append(out, w)
	}
	return out, nil
}

// need computes what a way needs behind a filter.
func (w Way) need(at Choice, filter *digital.Cascade, g *freq.Grid) (Need, error) {
	all, err := filter.Then(w.Chain)
	if err != nil {
		return Need{}, err
	}
	peak, err := absolute(all)
	if err != nil {
		return Need{}, err
	}
	q := Need{Choice: at, Way: w.Name, Sine: math.Inf(-1), Margin: math.Inf(1), Any: level.DB(peak)}
	for i, v := range all.ResponseTo(nil, g) {
		db := level.DB(math.Hypot(real(v), imag(v)))
		if db > q.Sine {
			q.Sine, q.SineAt = db, g.At(i)
		}
		if m := w.Ceiling.At(i) - db; m < q.Margin {
			q.Margin, q.MarginAt = m, g.At(i)
		}
	}
	return q, w.seen(all, q.Sine, g)
}

// seen reports a resonance between the points of a grid that is louder than the loudest of
// them.
func (w Way) seen(all *digital.Cascade, loudest float64, g *freq.Grid) error {
	for k := range all.Len() {
		p := all.At(k).Poles()[0]
		hz := math.Abs(cmplx.Phase(p)) / (2 * math.Pi) * all.SampleRate()
		if imag(p) == 0 || !(hz > g.First() && hz < g.Last()) {
			continue
		}
		one, err := freq.NewGrid([]float64{hz})
		if err != nil {
			return err
		}
		if db := level.DB(cmplx.Abs(all.ResponseTo(nil, one)[0])); db > loudest+0.1 {
			return fmt.Errorf("placement: %q has %+.2f dB at %.4g Hz, between the points of the grid, where it has %+.2f dB at most: want a finer grid", w.Name, db, hz, loudest)
		}
	}
	return nil
}

// absolute returns Σ|h[n]| of a cascade: the most that any signal within full scale can
// become. It runs the impulse response until what is left is a part in 10⁶ of it by the
// slowest pole, at most four million samples. A delay does not matter.
func absolute(c *digital.Cascade) (float64, error) {
	const block = 4096
	c, err := c.WithDelay(0)
	if err != nil {
		return 0, err
	}
	r := c.PoleRadius()
	n := block
	if r > 0 {
		n = int(min(1<<22, 20/(1-r)+block))
	}
	f := c.NewFilter()
	x, y := make([]float64, block), make([]float64, block)
	x[0] = 1
	var sum float64
	for done := 0; done < n; done += block {
		for _, v := range f.Process(y, x) {
			sum += math.Abs(v)
		}
		x[0] = 0
	}
	return sum, nil
}
