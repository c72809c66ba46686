// Package tune finds what a study would otherwise type: the frequencies, gains
// and Qs of filter sections that bring a response to its target.
package tune

import (
	"fmt"
	"math"
	"strings"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/lsq"
)

// Goal says what is to be filtered, and into what.
type Goal struct {
	Source     freq.Curve // level of what is filtered, dB
	Target     freq.Curve // level that it shall have, dB, on the same grid
	Weight     freq.Curve // how much an error counts, ≥ 0, on the same grid; the zero Curve: 1 everywhere
	Spacing    Spacing    // what an error counts for besides: its share of ln f, or of the ear's bands
	From, To   float64    // the band that counts, Hz
	SampleRate float64    // of the sections, Hz
}

// Free is a section whose parameters a fit may choose between two others of the
// same kind: digital.Peak{F0: 50, Gain: 0.5, Q: 0.5} and {F0: 500, Gain: 2, Q: 4}.
type Free struct {
	Low, High digital.Tunable
	Start     digital.Tunable // where the search begins, within the bounds; nil: found
	Needed    bool            // whether [Climb] keeps it whatever it helps: the high-pass that protects a tweeter
}

// Settings of a fit. Nil means the zero value.
type Settings struct {
	Enough float64 // stop adding peaks when the worst error is below this, dB, weighted; 0: never enough
	Least  float64 // the part of the rms error that a peak must take away to be kept, below 1; 0: 0.1
	// Cosine is where a fit ends: the largest cosine between what is left and what a
	// parameter changes, lsq.Settings.Gradient; 0: 1e-10, which is far more than a
	// filter needs. With 1e-3 a fit is within about 1e-7 of its least sum of squares.
	// A fit that may end early also begins with shorter steps (lsq.Settings.Damping of
	// 1), which saves what is tried in vain, and, where there are eight times as many points as
	// parameters or more, on means of two to four neighbours each.
	Cosine float64
}

// Result is a fit.
type Result struct {
	Cascade  *digital.Cascade  // the sections in the order they were given, the gain included
	Sections []digital.Tunable // the same sections with their parameters
	Used     []int             // which of the free sections each of them is
	Gain     float64           // amplitude ratio
	Residual freq.Curve        // filtered source − target, dB, on the whole grid
	RMS      float64           // over the band, weighted, by log frequency, dB
	Worst    float64           // the residual of the largest magnitude in the band, times its weight (of at most 1), dB
	WorstAt  float64           // where, Hz
	Bound    []string          // parameters that ended on a bound of theirs: "Q of peak 500 Hz, …"
	Stopped  lsq.Status        // why the last fit stopped
}

// Sections finds parameters of the free sections, and one gain for all, that
// minimise
//
//	∫ w²·(L_source + 20·log10|G·ΠH_k| − L_target)² d ln f
//
// over the band, w being the weight and ln f the [Spacing] unless the goal asks for another, on the points of the grid by the trapezoid rule. |H_k| are the
// exact responses of the digital sections, warping included, with analytic
// derivatives; the solver is [lsq.Minimize]. No start values are asked for, and sections that have one are used at once:
// shelves, high-passes and low-passes start in the (geometric) middle of their
// bounds; then peaks are added one at a time in the order given, each at the
// frequency within its bounds where the residual is largest, with the gain that
// takes it away, and all parameters are fitted anew. It ends when the worst error
// is small enough (Settings.Enough), or with a peak that does not take away its
// part of the rms error (Settings.Least), which is left out: so that no two peaks
// undo each other, and the result is short.
//
// The result is a local minimum, and a function of its arguments alone.
func Sections(goal Goal, free []Free, s *Settings) (*Result, error) {
	if s == nil {
		s = &Settings{}
	}
	p, err := newProblem(goal, free, s)
	if err != nil {
		return nil, err
	}
	if !(s.Least >= 0 && s.Least < 1) {
		return nil, fmt.Errorf("tune: a peak shall take away %g of the error, want 0 to 1", s.Least)
	}
	least := s.Least
	if least == 0 {
		least = 0.1
	}
	var peaks []int
	for k, f := range free {
		if isPeak(f.Low) && f.Start == nil {
			peaks = append(peaks, k)
			continue
		}
		p.use(k)
	}
	if err := p.fit(); err != nil {
		return nil, err
	}
	for _, k := range peaks {
		if s.Enough > 0 && math.Abs(p.worst()) <= s.Enough {
			break
		}
		before := p.clone()
		p.usePeak(k)
		if err := p.fit(); err != nil {
			return nil, err
		}
		if p.rms() > (1-least)*before.rms() {
			return before.result()
		}
	}
	return p.result()
}

// boundOf names a parameter that ended on a bound.
func boundOf(name string, s digital.Tunable) string {
	return fmt.Sprintf("%s of %v", strings.TrimPrefix(name, "ln "), s)
}

func (p *problem) result() (*Result, error) {
	out := &Result{Gain: math.Exp(p.x[0]), Stopped: p.stopped}
	at := 1
	byIndex := make(map[int]digital.Tunable)
	for n, k := range p.used {
		width := len(p.sections[n].Names())
		byIndex[k] = p.sections[n].With(p.x[at : at+width])
		at += width
	}
	var sections []digital.Section
	for k := range p.free {
		if s, ok := byIndex[k]; ok {
			sections, out.Sections, out.Used = append(sections, s), append(out.Sections, s), append(out.Used, k)
		}
	}
	at = 1
	for n, k := range p.used {
		for m, name := range p.sections[n].Names() {
			if p.bounds[at+m] != lsq.Free {
				out.Bound = append(out.Bound, boundOf(name, byIndex[k]))
			}
		}
		at += len(p.sections[n].Names())
	}
	c, err := digital.NewCascade(p.goal.SampleRate, sections...)
	if err != nil {
		return nil, fmt.Errorf("tune: %w", err)
	}
	if out.Cascade, err = c.WithGain(out.Gain); err != nil {
		return nil, fmt.Errorf("tune: %w", err)
	}
	g := p.goal.Source.Grid()
	r, err := freq.Evaluate(out.Cascade, g, "residual", freq.Basis{})
	if err != nil {
		return nil, fmt.Errorf("tune: %w", err)
	}
	filtered := r.DB(1).Values()
	for i := range filtered {
		filtered[i] += p.goal.Source.At(i) - p.goal.Target.At(i)
	}
	if out.Residual, err = freq.NewCurve(g, filtered, "residual", "dB", freq.Basis{}); err != nil {
		return nil, fmt.Errorf("tune: %w", err)
	}
	for i, r := range p.residual {
		if db := level.DB(math.Exp(r * p.counts[i])); math.Abs(db) > math.Abs(out.Worst) {
			out.Worst, out.WorstAt = db, p.grid.At(i)
		}
	}
	out.RMS = level.DB(math.Exp(p.rms()))
	return out, nil
}
