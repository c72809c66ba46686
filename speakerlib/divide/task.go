// Package divide designs the active crossover of a loudspeaker whose ways were
// measured on the cabinet, in one call and with everything in between open, and
// searches frequencies, slopes and topologies for what nothing else beats.
//
// A [Task] has the responses of each way in several directions, what their sum shall
// be (a voice that is known, or a flat one), and how the ways are divided. Run finds
// sections for each way, delay and polarity, fits all of it together to the sum over
// the directions, and tells what came out. A [Search] tries many divisions, ideal or
// fitted, and tells lobe, ripple, excursion, heat, delay and beaming of each.
//
// All of it is small signals in a free field. Levels like those that a search is
// asked for can damage drivers and hearing: a tweeter dies of what is below its range.
package divide

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/tune"
)

// Way is a way as it was measured on the cabinet, per volt at its terminals.
type Way struct {
	Name      string
	Responses []freq.Response // in the order of the task's directions
	Before    freq.Transfer   // what is in front of it anyway, such as a bass filter; nil: nothing
	Sections  []tune.Free     // that a fit may take; nil: see Task.Run
}

// Direction is a direction of the measurements, or a place: what each way does at a
// listener's place ([crossover.Stack.Ways]) is a direction as good as a measured one,
// and the distance may differ from one to the next.
type Direction struct {
	Name   string
	Counts float64 // how much its errors count against others, ≥ 0; the first direction aligns the ways and must count
}

// Split is where and how two neighbours are divided: acoustic slopes, of the ways'
// sound and not of their filters.
type Split struct {
	Low, High analog.Prototype // of the lower way's low-pass and the upper way's high-pass
	Fc        float64          // Hz
	HighFc    float64          // of the high-pass, if it is another, Hz; 0: Fc
}

// Symmetric returns the split with one prototype for both slopes, such as
// analog.LinkwitzRiley(4), analog.Butterworth(3) or analog.Bessel(4, analog.ByPhase).
func Symmetric(p analog.Prototype, fc float64) Split { return Split{Low: p, High: p, Fc: fc} }

// String names it.
func (s Split) String() string {
	hz := s.Fc
	if s.HighFc != 0 {
		hz = s.HighFc
	}
	return fmt.Sprintf("%v low-pass at %g Hz, %v high-pass at %g Hz", s.Low, s.Fc, s.High, hz)
}

// Halves returns the two halves.
func (s Split) Halves() (low, high *analog.Filter, err error) {
	if s.Low == nil || s.High == nil {
		return nil, nil, fmt.Errorf("divide: split at %g Hz has not both slopes", s.Fc)
	}
	if low, err = analog.Design(analog.Lowpass{Fc: s.Fc}, s.Low); err != nil {
		return nil, nil, fmt.Errorf("divide: %w", err)
	}
	fc := s.HighFc
	if fc == 0 {
		fc = s.Fc
	}
	if high, err = analog.Design(analog.Highpass{Fc: fc}, s.High); err != nil {
		return nil, nil, fmt.Errorf("divide: %w", err)
	}
	return low, high, nil
}

// Delays says how delays are made.
type Delays struct {
	// Thiran is the order of an all-pass that delays by the part of a sample
	// ([digital.Thiran]), 1 to 12, behind whole samples; every way is then later by
	// Thiran samples besides. 0: delays are rounded to whole samples, and the
	// sections are fitted once more around the rounded ones.
	Thiran int
	None   bool    // no delay: the ways are left as the baffle has them, and only the polarity is found
	Most   float64 // the longest delay between neighbours that is looked for, s; 0: 1 ms. Ways that need more are refused
}

// Task is what is to be divided, and into what.
type Task struct {
	Ways       []Way // the lowest first, at least 2
	Splits     []Split
	Directions []Direction     // at least 1; the first is the one that the ways are aligned in
	Voice      []freq.Response // what the sum shall be in each direction, per volt at the input: the passive one's, or Flat; magnitudes only
	SampleRate float64         // Hz
	From, To   float64         // the band that counts, Hz

	Smoothing float64      // n of the 1/n-octave power average in which sum and voice are compared; 0: 12
	Spacing   tune.Spacing // of the errors
	Skirt     float64      // a way counts up to this ratio beyond its crossover frequencies, by the magnitude of its target; 0: 3
	Enough    float64      // worst error at which a way gets no more sections, dB; 0: 0.25
	Reach     float64      // worst deviation of the sum from the voice, in a direction by how much it counts against the most, dB: Enough is halved up to four times until it is reached; 0: Enough as it is
	Delays    Delays
	Apart     bool    // leave the ways as they were fitted apart
	Stay      float64 // how much a fit of the sum holds to the ways fitted apart, as tune.SumSettings.Stay, dB; 0: 0.05
}

// withDefaults checks a task.
func (t Task) withDefaults() (Task, error) {
	if len(t.Ways) < 2 || len(t.Splits) != len(t.Ways)-1 {
		return t, fmt.Errorf("divide: %d ways and %d splits, want at least 2 ways and a split between neighbours", len(t.Ways), len(t.Splits))
	}
	if len(t.Directions) == 0 || len(t.Voice) != len(t.Directions) {
		return t, fmt.Errorf("divide: %d directions and %d voices, want one voice for each, at least 1", len(t.Directions), len(t.Voice))
	}
	if !(t.Directions[0].Counts > 0) {
		return t, fmt.Errorf("divide: first direction %q counts %g, want > 0: the ways are aligned there", t.Directions[0].Name, t.Directions[0].Counts)
	}
	for _, v := range []struct {
		name    string
		at      *float64
		or, min float64
	}{
		{"smoothing", &t.Smoothing, 12, 0}, {"skirt", &t.Skirt, 3, 1}, {"error that is enough", &t.Enough, 0.25, 0},
		{"longest delay", &t.Delays.Most, 1e-3, 0}, {"stay", &t.Stay, 0.05, 0},
	} {
		if *v.at == 0 {
			*v.at = v.or
		}
		if !(*v.at > v.min) || math.IsInf(*v.at, 0) {
			return t, fmt.Errorf("divide: %s is %g, want a finite value > %g", v.name, *v.at, v.min)
		}
	}
	if !(t.Reach >= 0) || math.IsInf(t.Reach, 0) {
		return t, fmt.Errorf("divide: sum shall reach %g dB, want a finite value ≥ 0", t.Reach)
	}
	if t.Delays.Thiran < 0 || t.Delays.Thiran > digital.MaxThiran {
		return t, fmt.Errorf("divide: Thiran order %d, want 0 to %d", t.Delays.Thiran, digital.MaxThiran)
	}
	if !(t.From > 0) || !(t.To > t.From) || !(t.SampleRate > 2*t.To) || math.IsInf(t.SampleRate, 0) {
		return t, fmt.Errorf("divide: band from %g to %g Hz at %g samples a second, want 0 < from < to < half of them", t.From, t.To, t.SampleRate)
	}
	g := t.Voice[0].Grid()
	for d, v := range t.Voice {
		if b := v.Basis(); !v.Grid().Equal(g) || b.Per != freq.PerInput {
			return t, fmt.Errorf("divide: voice in direction %q is %v on %v, want it per volt at the input, on %v as the first", t.Directions[d].Name, b, v.Grid(), g)
		}
	}
	for k, w := range t.Ways {
		if w.Name == "" || slices.ContainsFunc(t.Ways[:k], func(o Way) bool { return o.Name == w.Name }) {
			return t, fmt.Errorf("divide: way %d is called %q, want names that differ", k+1, w.Name)
		}
		if len(w.Responses) != len(t.Directions) {
			return t, fmt.Errorf("divide: way %q has %d responses, want %d, one for each direction", w.Name, len(w.Responses), len(t.Directions))
		}
		for d, r := range w.Responses {
			b := r.Basis()
			if b.Per != freq.PerTerminals {
				return t, fmt.Errorf("divide: way %q in direction %q is %v, want a response per volt at its terminals", w.Name, t.Directions[d].Name, b)
			}
			b.Per = freq.PerInput
			basis := t.Voice[d].Basis()
			if !r.Grid().Equal(g) || b != basis {
				return t, fmt.Errorf("divide: way %q in direction %q is %v on %v, want %v on %v as the voice", w.Name, t.Directions[d].Name, r.Basis(), r.Grid(), basis, g)
			}
		}
		if w.Before != nil {
			if err := freq.CheckGrid(w.Before, g); err != nil {
				return t, fmt.Errorf("divide: what is before way %q: %w", w.Name, err)
			}
		}
		if k > 0 {
			if f := t.Splits[k-1].HighFc; f != 0 && !(f > t.From && f < t.To) {
				return t, fmt.Errorf("divide: high-pass of crossover %d at %g Hz, want it within %g … %g Hz", k, f, t.From, t.To)
			}
		}
		if k > 0 && !(t.Splits[k-1].Fc > t.From && t.Splits[k-1].Fc < t.To && (k == 1 || t.Splits[k-1].Fc > t.Splits[k-2].Fc)) {
			return t, fmt.Errorf("divide: crossover %d at %g Hz, want them ascending within %g … %g Hz", k, t.Splits[k-1].Fc, t.From, t.To)
		}
	}
	if g.First() > t.From || g.Last() < t.To {
		return t, fmt.Errorf("divide: responses cover %v, want all of %g … %g Hz: %.4g Hz are missing below and %.4g Hz above", g, t.From, t.To, max(0, g.First()-t.From), max(0, t.To-g.Last()))
	}
	return t, nil
}

// Flat returns a voice that is flat: a sound pressure level (dB SPL rms) at a drive in
// V rms at the input, on the grid and basis of a response.
func Flat(spl, volts float64, like freq.Response) (freq.Response, error) {
	if !(volts > 0) || math.IsInf(volts, 0) || math.IsNaN(spl) || math.IsInf(spl, 0) {
		return freq.Response{}, fmt.Errorf("divide: voice of %g dB at %g V, want a finite level and a finite drive > 0", spl, volts)
	}
	b := like.Basis()
	b.Per = freq.PerInput
	return freq.Evaluate(freq.Gain(level.Pascal(spl)/volts), like.Grid(), fmt.Sprintf("flat, %.4g dB at %.4g V", spl, volts), b)
}

// target returns the magnitude of what a way shall be, as a part of the voice.
func (t *Task) target(k int, g *freq.Grid) ([]float64, error) {
	out := make([]float64, g.Len())
	for i := range out {
		out[i] = 1
	}
	mul := func(f *analog.Filter) {
		for i, v := range f.ResponseTo(nil, g) {
			out[i] *= cmplx.Abs(v)
		}
	}
	if k > 0 {
		_, high, err := t.Splits[k-1].Halves()
		if err != nil {
			return nil, err
		}
		mul(high)
	}
	if k < len(t.Splits) {
		low, _, err := t.Splits[k].Halves()
		if err != nil {
			return nil, err
		}
		mul(low)
	}
	return out, nil
}

// band returns where a way is fitted.
func (t *Task) band(k int) (from, to float64) {
	from, to = t.From, t.To
	if k > 0 {
		from = max(from, t.Splits[k-1].Fc/t.Skirt)
	}
	if k < len(t.Splits) {
		to = min(to, t.Splits[k].Fc*t.Skirt)
	}
	return from, to
}

// sections returns what a way may take if nothing was said: for each crossover as many
// low- or high-passes of second order as half the slope's order, rounded up, the first
// high-pass needed; a low and a high shelf; six peaks.
func (t *Task) sections(k int) []tune.Free {
	if s := t.Ways[k].Sections; s != nil {
		return s
	}
	var out []tune.Free
	order := func(p analog.Prototype) int {
		poles, _ := p.Poles() // the prototype was designed with before
		return (len(poles) + 1) / 2
	}
	most := 0.45 * t.SampleRate
	if k > 0 {
		s := t.Splits[k-1]
		for n := range order(s.High) {
			out = append(out, tune.Free{Low: digital.Highpass{F0: s.Fc / 4, Q: 0.4}, High: digital.Highpass{F0: min(2*s.Fc, most), Q: 3}, Needed: n == 0})
		}
	}
	if k < len(t.Splits) {
		s := t.Splits[k]
		for n := range order(s.Low) {
			out = append(out, tune.Free{Low: digital.Lowpass{F0: s.Fc / 2, Q: 0.4}, High: digital.Lowpass{F0: min(4*s.Fc, most), Q: 3}, Needed: n == 0})
		}
	}
	from, to := t.band(k)
	to = min(to, most)
	gain := level.Ratio(12)
	out = append(out,
		tune.Free{Low: digital.LowShelf{F0: from, Gain: 1 / gain, Q: 0.4}, High: digital.LowShelf{F0: to, Gain: gain, Q: 0.9}},
		tune.Free{Low: digital.HighShelf{F0: from, Gain: 1 / gain, Q: 0.4}, High: digital.HighShelf{F0: to, Gain: gain, Q: 0.9}})
	peak := tune.Free{Low: digital.Peak{F0: from, Gain: 1 / level.Ratio(9), Q: 0.4}, High: digital.Peak{F0: to, Gain: level.Ratio(9), Q: 4}}
	for range 6 {
		out = append(out, peak)
	}
	return out
}

// pairs returns active and voice in every direction, for the comparison of voicings.
func (t *Task) pairs(sums []freq.Response) []crossover.Pair {
	out := make([]crossover.Pair, len(sums))
	for d, s := range sums {
		out[d] = crossover.Pair{Name: t.Directions[d].Name, Active: s, Passive: t.Voice[d]}
	}
	return out
}
