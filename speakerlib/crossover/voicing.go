package crossover

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Mask states how closely one loudspeaker must follow the voicing of another.
type Mask struct {
	From, To           float64 // the band of the comparison, Hz
	LevelFrom, LevelTo float64 // the band over which one level is fitted, Hz
	Smoothing          float64 // n of the 1/n-octave power average
	Allowed            float64 // the largest deviation, dB either way
}

// Validate reports bands that are empty and bounds that are not positive.
func (m Mask) Validate() error {
	if !(m.From > 0) || !(m.To > m.From) || math.IsInf(m.To, 0) {
		return fmt.Errorf("crossover: mask from %g to %g Hz, want 0 < from < to", m.From, m.To)
	}
	if !(m.LevelFrom > 0) || !(m.LevelTo > m.LevelFrom) || math.IsInf(m.LevelTo, 0) {
		return fmt.Errorf("crossover: level fitted from %g to %g Hz, want 0 < from < to", m.LevelFrom, m.LevelTo)
	}
	if !(m.Smoothing > 0) || !(m.Allowed > 0) || math.IsInf(m.Smoothing, 0) || math.IsInf(m.Allowed, 0) {
		return fmt.Errorf("crossover: mask of ±%g dB after 1/%g-octave smoothing, want finite values > 0", m.Allowed, m.Smoothing)
	}
	return nil
}

// Match is how the voicing of one loudspeaker follows that of another.
type Match struct {
	Deviation freq.Curve // dB, one level taken out, on the whole grid
	Level     float64    // the level taken out: how much louder the first is, dB
	Worst     float64    // the deviation of the largest magnitude within the mask's band, dB
	WorstAt   float64    // where, Hz
	Mask      Mask
}

// Within reports whether the deviation stays within the mask.
func (m Match) Within() bool { return math.Abs(m.Worst) <= m.Mask.Allowed }

// MatchVoicing compares two loudspeakers measured at one position with one gate.
// Each is averaged in power over a fraction of an octave ([freq.Response.SmoothPower]),
// the difference of the levels is taken, and its mean over the mask's level band,
// weighted by log frequency, is the one level that is taken out: listeners set
// the volume, but not the tone.
func MatchVoicing(active, passive freq.Response, m Mask) (Match, error) {
	if err := m.Validate(); err != nil {
		return Match{}, err
	}
	if active.Grid() == nil || passive.Grid() == nil {
		return Match{}, fmt.Errorf("crossover: voicing of %q against %q, want two responses", active.Label(), passive.Label())
	}
	if active.Basis() != passive.Basis() {
		return Match{}, fmt.Errorf("crossover: %q is %v and %q is %v: a voicing is compared on one basis", active.Label(), active.Basis(), passive.Label(), passive.Basis())
	}
	g := active.Grid()
	if g.First() > m.From || g.Last() < m.To {
		return Match{}, fmt.Errorf("crossover: %q covers %v, want all of the mask's %g … %g Hz: %.4g Hz are missing below and %.4g Hz above", active.Label(), g, m.From, m.To, max(0, g.First()-m.From), max(0, m.To-g.Last()))
	}
	a, err := active.SmoothPower(m.Smoothing, 1)
	if err != nil {
		return Match{}, err
	}
	p, err := passive.SmoothPower(m.Smoothing, 1)
	if err != nil {
		return Match{}, err
	}
	d, err := a.Minus(p)
	if err != nil {
		return Match{}, err
	}
	lev, err := d.Mean(m.LevelFrom, m.LevelTo)
	if err != nil {
		return Match{}, fmt.Errorf("crossover: level of the voicing: %w", err)
	}
	if math.IsInf(lev, 0) {
		return Match{}, fmt.Errorf("crossover: %q is %g dB above %q from %g to %g Hz: one of them is silent there", active.Label(), lev, passive.Label(), m.LevelFrom, m.LevelTo)
	}
	out := Match{Deviation: d.Plus(-lev).As("deviation of " + active.Label()).Stated(freq.Basis{}), Level: lev, Mask: m}
	out.find()
	return out, nil
}
