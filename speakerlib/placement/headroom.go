package placement

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Way is a way behind the controls.
type Way struct {
	Name  string
	Chain *digital.Cascade // its filter; nil: none
	// Program is the chain as it is committed; nil: it is not. With it, the sums inside are
	// looked at too, and the positions of the controls must be committed as well
	// ([Controls.Committed]). Whether it is that of the chain export.Document.CheckPrograms
	// says.
	Program *dsp.Program
	// Ceilings are what else limits the way, such as amplifier, excursion and heat, in every
	// state that counts, cold and hot.
	Ceilings []Ceiling
}

// Need is what a way needs in a combination.
type Need struct {
	Choice Choice
	Way    string
	Sine   float64 // largest gain for a sine, dB re full scale; above 0 it clips
	SineAt float64 // Hz
	// Any is Σ|h|, the largest peak of any signal of peak 1, in dB. Music comes some decibels
	// near it at most; a converter that must never clip needs it.
	Any    float64
	Rooms  []Room // of every limit: full scale, what is committed, the ceilings in their order
	Margin Room   // the least of them
}

// Room is what is left to a limit.
type Room struct {
	Limit string
	DB    float64 // below 0 it is exceeded
	At    float64 // Hz, of the sine that comes nearest; 0: of none in particular
	Where string  // of a sum: the section and its variable
}

// Headroom is what all settings together ask for.
type Headroom struct {
	Combinations int  // that can be reached, and were gone through
	Sine         Need // with the largest gain for a sine
	Any          Need // with the largest peak of any signal
	Margin       Need // with the least margin
	Neutral      []Need
	Shipped      []Need  // of each way in Controls.Shipped; nil: that is not stated
	Worst        []Worst // of every limit of every way
	// Safe is the combination to fall back to: of those in which no limit of any way is
	// exceeded, the one with the fewest controls off neutral, and of several the one with the
	// least gain. The neutral one, if it is safe.
	Safe     Choice
	SafeNeed []Need // of each way
	SafeOf   int    // how many are safe
}

// Worst is what all combinations leave to one limit.
type Worst struct {
	Way      string  `col:"way"`
	Limit    string  `col:"limit"`
	Neutral  float64 `col:"left, neutral" unit:"dB" fmt:"%+.1f"`
	Least    float64 `col:"least of all" unit:"dB" fmt:"%+.1f"`
	At       float64 `col:"at" unit:"Hz" fmt:"%.0f"` // 0: of none in particular
	With     string  `col:"with"`
	Exceeded int     `col:"combinations that exceed it"`
	Where    string  // of a sum, as in Room
}

// Headroom goes through every combination that can be reached, on a grid, and every way. The
// limits of a way are
//
//   - digital full scale at its end, for a sine of full scale at the input: where words of
//     floating point turn into fixed ones, or the output converter begins;
//   - with a program in fixed point every sum inside, of the controls and of the way, for the
//     same sine, and the accumulators for any signal within full scale: beyond their end a sum
//     wraps, which is a jump, whatever saturates;
//   - its ceilings.
//
// It is an error if no combination is safe: then the chain itself is too loud. It is one, too,
// if a resonance within the grid lies between its points, or anything from 20 Hz to 20 kHz
// beyond it, and is more than 0.1 dB above them: the grid then does not see what clips.
//
// At every level below full scale the digital limits are farther away by as much; the ceilings
// are for the input that they were made for.
func (c *Controls) Headroom(g *freq.Grid, ways ...Way) (*Headroom, error) {
	all, err := c.Combinations()
	if err != nil {
		return nil, err
	}
	ways, err = c.ways(g, ways)
	if err != nil {
		return nil, err
	}
	beyond, err := c.beyond(g)
	if err != nil {
		return nil, err
	}
	out := &Headroom{Combinations: len(all)}
	inside := newInside(c)
	leastOff, leastGain := math.MaxInt, math.Inf(1)
	for _, at := range all {
		filter, err := c.Cascade(at)
		if err != nil {
			return nil, err
		}
		needs := make([]Need, len(ways))
		gain := math.Inf(-1)
		for k, w := range ways {
			if needs[k], err = w.need(at, filter, inside, g, beyond); err != nil {
				return nil, err
			}
			gain = max(gain, needs[k].Sine)
		}
		out.take(c, needs)
		off := c.off(at)
		if off == 0 {
			out.Neutral = needs
		}
		if slices.Equal(at, c.Shipped) {
			out.Shipped = needs
		}
		if !safe(needs) {
			continue
		}
		out.SafeOf++
		if off < leastOff || off == leastOff && gain < leastGain {
			leastOff, leastGain = off, gain
			out.Safe, out.SafeNeed = at, needs
		}
	}
	out.neutral()
	if out.SafeOf == 0 {
		n := out.Neutral[0]
		for _, q := range out.Neutral {
			if q.Margin.DB < n.Margin.DB {
				n = q
			}
		}
		return nil, fmt.Errorf("placement: none of %d combinations is safe; neutral, %q has %+.2f dB left to %s at %.4g Hz: want less gain in the chains, or positions that take some", len(all), n.Way, n.Margin.DB, n.Margin.Limit, n.Margin.At)
	}
	return out, nil
}

// ShippedSafe tells whether the shipped combination exceeds no limit of any way. It is false,
// too, if none is stated: nothing is known of it then.
func (h *Headroom) ShippedSafe() bool { return h.Shipped != nil && safe(h.Shipped) }

// safe tells whether no way exceeds a limit.
func safe(needs []Need) bool {
	return !slices.ContainsFunc(needs, func(q Need) bool { return !(q.Margin.DB >= -slack) })
}

// take keeps what is the most or the least so far.
func (h *Headroom) take(c *Controls, needs []Need) {
	k := 0
	for _, q := range needs {
		if h.Sine.Way == "" || q.Sine > h.Sine.Sine {
			h.Sine = q
		}
		if h.Any.Way == "" || q.Any > h.Any.Any {
			h.Any = q
		}
		if h.Margin.Way == "" || q.Margin.DB < h.Margin.Margin.DB {
			h.Margin = q
		}
		for _, r := range q.Rooms {
			if k == len(h.Worst) {
				h.Worst = append(h.Worst, Worst{Way: q.Way, Limit: r.Limit, Least: math.Inf(1)})
			}
			w := &h.Worst[k]
			if r.DB < w.Least {
				w.Least, w.At, w.With, w.Where = r.DB, r.At, c.Words(q.Choice), r.Where
			}
			if r.DB < -slack {
				w.Exceeded++
			}
			k++
		}
	}
}

// neutral tells of every limit what the neutral combination leaves to it.
func (h *Headroom) neutral() {
	k := 0
	for _, q := range h.Neutral {
		for _, r := range q.Rooms {
			h.Worst[k].Neutral = r.DB
			k++
		}
	}
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
		if err := w.checkProgram(c); err != nil {
			return nil, err
		}
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
		if err := w.checkCeilings(rate); err != nil {
			return nil, err
		}
		out = append(out, w)
	}
	return out, nil
}

// fullScale is the limit that every way has.
const fullScale = "digital full scale"

// need computes what a way needs behind a filter.
func (w Way) need(at Choice, filter *digital.Cascade, inside *inside, g, beyond *freq.Grid) (Need, error) {
	all, err := filter.Then(w.Chain)
	if err != nil {
		return Need{}, err
	}
	peak, err := absolute(all)
	if err != nil {
		return Need{}, err
	}
	q := Need{Choice: at, Way: w.Name, Sine: math.Inf(-1), Any: level.DB(peak)}
	for i, db := range level.OfComplex(nil, all.ResponseTo(nil, g)) {
		if db > q.Sine {
			q.Sine, q.SineAt = db, g.At(i)
		}
	}
	if err := w.seen(all, q.Sine, g, beyond); err != nil {
		return Need{}, err
	}
	q.Rooms = []Room{{Limit: fullScale, DB: -q.Sine, At: q.SineAt}}
	if w.Program != nil {
		rooms, err := inside.rooms(at, w.Program)
		if err != nil {
			return Need{}, err
		}
		q.Rooms = append(q.Rooms, rooms...)
	}
	for _, l := range w.Ceilings {
		q.Rooms = append(q.Rooms, l.room(filter))
	}
	q.Margin = q.Rooms[0]
	for _, r := range q.Rooms {
		if r.DB < q.Margin.DB {
			q.Margin = r
		}
	}
	return q, nil
}

// seen reports a resonance between the points of a grid, or anything beyond it, that is louder
// than the loudest of them.
func (w Way) seen(all *digital.Cascade, loudest float64, g, beyond *freq.Grid) error {
	if beyond != nil {
		db := level.OfComplex(nil, all.ResponseTo(nil, beyond))
		most := 0
		for i, v := range db {
			if v > db[most] {
				most = i
			}
		}
		if db[most] > loudest+0.1 {
			return fmt.Errorf("placement: %q has %+.2f dB at %.4g Hz, beyond the grid of %v, where it has %+.2f dB at most: want a wider grid", w.Name, db[most], beyond.At(most), g, loudest)
		}
	}
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

// beyond returns the frequencies from 20 Hz to 20 kHz on either side of a grid, 24 an octave,
// nil if there are none.
func (c *Controls) beyond(g *freq.Grid) (*freq.Grid, error) {
	rate := c.Controls[0].Positions[0].Cascade.SampleRate()
	var hz []float64
	for k := range 24*10 + 1 {
		f := math.Min(20*math.Exp2(float64(k)/24), 20e3)
		if (f < g.First() || f > g.Last()) && f < rate/2 && (len(hz) == 0 || f > hz[len(hz)-1]) {
			hz = append(hz, f)
		}
	}
	if hz == nil {
		return nil, nil
	}
	return freq.NewGrid(hz)
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
