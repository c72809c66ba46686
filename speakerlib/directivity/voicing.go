package directivity

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
)

// Voicing compares what a room gets of two loudspeakers, as crossover.MatchVoicings
// compares positions: on the axis first, then in the listening window, the early
// reflections and the sound power, each a mean of power over its directions
// ([Set.Averages]), smoothed, of which the mask's level is taken out: that of the axis with
// crossover.OneLevel. A voice that is kept on the axis and not here sounds the same in the
// open and different in a room.
//
// Both sets are on one grid and one basis and have all 70 directions. Their phases do not
// count, but if ways were added, their time zero did.
func Voicing(active, passive *Set, r Reading, m crossover.Mask, rule crossover.LevelRule) ([]crossover.PositionMatch, error) {
	if active == nil || passive == nil {
		return nil, fmt.Errorf("directivity: a voicing of two sets needs both, had active %t and passive %t", active != nil, passive != nil)
	}
	if !active.grid.Equal(passive.grid) {
		return nil, fmt.Errorf("directivity: the active set is over %v and the passive one over %v, want one grid", active.grid, passive.grid)
	}
	a, err := active.Averages(r)
	if err != nil {
		return nil, fmt.Errorf("directivity: active: %w", err)
	}
	p, err := passive.Averages(r)
	if err != nil {
		return nil, fmt.Errorf("directivity: passive: %w", err)
	}
	var pairs []crossover.Pair
	for _, c := range []struct {
		name            string
		active, passive Mean
	}{
		{"axis", a.OnAxis, p.OnAxis},
		{"listening window", a.ListeningWindow, p.ListeningWindow},
		{"early reflections", a.EarlyReflections, p.EarlyReflections},
		{"sound power", a.SoundPower, p.SoundPower},
	} {
		pair := crossover.Pair{Name: c.name}
		if pair.Active, err = c.active.response("active, " + c.name); err != nil {
			return nil, err
		}
		if pair.Passive, err = c.passive.response("passive, " + c.name); err != nil {
			return nil, err
		}
		pairs = append(pairs, pair)
	}
	return crossover.MatchVoicings(pairs, m, rule)
}

// response is the mean as a response without phase, for what only looks at magnitudes.
func (m Mean) response(label string) (freq.Response, error) {
	values := make([]complex128, m.Pressure.Grid().Len())
	for i := range values {
		values[i] = complex(m.Pressure.At(i), 0)
	}
	return freq.NewResponse(m.Pressure.Grid(), values, label, m.Pressure.Basis())
}
