package crossover

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// Pair is two loudspeakers at one position: active and passive, in one direction and
// at one distance.
type Pair struct {
	Name            string // of the position
	Active, Passive freq.Response
}

// LevelRule says which level a comparison over positions takes out.
type LevelRule int

const (
	// OneLevel takes the level of the first position, the axis, out of all: what
	// another position has more or less of is a deviation there. A listener sets
	// one volume.
	OneLevel LevelRule = iota
	// LevelEach takes its own level out of each position, and judges shapes only.
	LevelEach
)

// Stretch is a part of the band where the mask is broken.
type Stretch struct {
	Position string  `col:"position"`
	From     float64 `col:"from" unit:"Hz" fmt:"%.0f"`
	To       float64 `col:"to" unit:"Hz" fmt:"%.0f"`
	Worst    float64 `col:"largest deviation" unit:"dB" fmt:"%+.2f"`
	WorstAt  float64 `col:"at" unit:"Hz" fmt:"%.0f"`
	Beyond   float64 `col:"beyond the mask by" unit:"dB" fmt:"%.2f"`
}

// PositionMatch is a comparison at one position.
type PositionMatch struct {
	Position  string  `col:"position"`
	Worst     float64 `col:"largest deviation" unit:"dB" fmt:"%+.2f"`
	WorstAt   float64 `col:"at" unit:"Hz" fmt:"%.0f"`
	RMS       float64 `col:"rms" unit:"dB" fmt:"%.2f"` // over the band by log frequency
	Within    bool    `col:"within the mask"`
	Level     float64 `col:"level taken out" unit:"dB" fmt:"%+.2f"`
	Match     Match
	Stretches []Stretch // where the mask is broken, ascending
}

// MatchVoicings compares two loudspeakers at several positions, the axis first, as
// [MatchVoicing] does at one, and lists what deviates. The mask of a brief is most
// often meant for the axis; here every position is judged by it and the reader decides.
func MatchVoicings(pairs []Pair, m Mask, rule LevelRule) ([]PositionMatch, error) {
	if len(pairs) == 0 {
		return nil, fmt.Errorf("crossover: no position to compare voicings at, want at least 1")
	}
	if rule != OneLevel && rule != LevelEach {
		panic("crossover: unknown rule for the level of a voicing")
	}
	var out []PositionMatch
	for _, p := range pairs {
		match, err := MatchVoicing(p.Active, p.Passive, m)
		if err != nil {
			return nil, fmt.Errorf("%w (position %q)", err, p.Name)
		}
		if rule == OneLevel && len(out) > 0 {
			match = match.withLevel(out[0].Level)
		}
		out = append(out, match.at(p.Name))
	}
	return out, nil
}

// withLevel returns the match with another level taken out.
func (m Match) withLevel(db float64) Match {
	m.Deviation = m.Deviation.Plus(m.Level - db)
	m.Level, m.Worst, m.WorstAt = db, 0, 0
	m.find()
	return m
}

// find finds the worst deviation within the mask's band.
func (m *Match) find() {
	g := m.Deviation.Grid()
	i, j := g.Between(m.Mask.From, m.Mask.To)
	for ; i < j; i++ {
		if v := m.Deviation.At(i); math.Abs(v) > math.Abs(m.Worst) {
			m.Worst, m.WorstAt = v, g.At(i)
		}
	}
}

// at lists what a match at a position is made of.
func (m Match) at(position string) PositionMatch {
	out := PositionMatch{Position: position, Worst: m.Worst, WorstAt: m.WorstAt, Within: m.Within(), Level: m.Level, Match: m}
	g := m.Deviation.Grid()
	i0, j0 := g.Between(m.Mask.From, m.Mask.To)
	var norm float64
	var open *Stretch
	for i := i0; i < j0; i++ {
		v := m.Deviation.At(i)
		w := math.Log(g.At(min(i+1, j0-1)) / g.At(max(i-1, i0)))
		out.RMS += w * v * v
		norm += w
		beyond := math.Abs(v) - m.Mask.Allowed
		if beyond <= 0 {
			open = nil
			continue
		}
		if open == nil || open.Worst*v < 0 {
			out.Stretches = append(out.Stretches, Stretch{Position: position, From: g.At(i)})
			open = &out.Stretches[len(out.Stretches)-1]
		}
		open.To = g.At(i)
		if beyond > open.Beyond {
			open.Worst, open.WorstAt, open.Beyond = v, g.At(i), beyond
		}
	}
	if norm > 0 {
		out.RMS = math.Sqrt(out.RMS / norm)
	}
	return out
}
