package signalpath

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Position is a setting of the input: its name, and the element that takes the place of the one of
// the same name.
type Position struct {
	Name    string
	Element Element
}

// Sensing says how the sensitivity of the input is found.
type Sensing struct {
	Grid   *freq.Grid // over 20 Hz … 20 kHz, for the noise
	Hz     float64    // of the sine, within the grid
	Output string     // name of the amplifier whose clipping voltage is full output
	Noise  NoiseSetup // for the idle noise
}

// SensitivityRow says what a position of the input needs for full output.
type SensitivityRow struct {
	Position string  `col:"position"`
	Full     float64 `col:"full output from (V rms, or FS)" fmt:"%.3g"` // rms of a sine at the input, V, or FS of a digital one
	Clips    string  `col:"clips first"`                                // element and limit
	AtClip   float64 `col:"clips from (V rms, or FS)" fmt:"%.3g"`       // rms of a sine at the input
	Reserve  float64 `col:"reserve" unit:"dB" fmt:"%.1f"`               // AtClip over Full; negative: full output is not reached
	Output   float64 `col:"full output" unit:"V rms" fmt:"%.3g"`        // at the terminals of the driver
	Level    float64 `col:"its level" unit:"dB" fmt:"%.1f"`             // sound pressure where the driver's response is known
	Idle     float64 `col:"idle noise" unit:"dB" fmt:"%.1f"`            // of this way, as [NoiseBudget] has it
	Range    float64 `col:"dynamic range" unit:"dB" fmt:"%.1f"`         // Level less what the noise is where the response is known
}

// Sensitivity returns for every position of the input what a sine must have there for full output,
// and what clips before. A position that is too sensitive clips at the input or brings noise, one
// that is not enough does not reach full output with the source at hand. All is at one frequency,
// at a point of the grid next to it.
func Sensitivity(p Path, s Sensing, positions ...Position) ([]SensitivityRow, error) {
	if len(positions) == 0 {
		return nil, fmt.Errorf("signalpath: no position of the input, want at least 1")
	}
	var rows []SensitivityRow
	for _, at := range positions {
		if at.Element == nil {
			return nil, fmt.Errorf("signalpath: position %q has no element", at.Name)
		}
		q, err := p.With(at.Element)
		if err != nil {
			return nil, fmt.Errorf("position %q: %w", at.Name, err)
		}
		row, err := s.row(q)
		if err != nil {
			return nil, fmt.Errorf("position %q: %w", at.Name, err)
		}
		row.Position = at.Name
		rows = append(rows, row)
	}
	return rows, nil
}

func (s Sensing) row(p Path) (row SensitivityRow, err error) {
	if s.Grid == nil || !(s.Hz >= s.Grid.First() && s.Hz <= s.Grid.Last()) {
		return row, fmt.Errorf("signalpath: sensitivity at %g Hz, want a frequency within the grid", s.Hz)
	}
	solved, err := p.On(s.Grid)
	if err != nil {
		return row, err
	}
	out, err := p.index(s.Output)
	if err != nil {
		return row, err
	}
	at := s.Grid.Nearest(s.Hz)
	if m := solved.magnitude(len(solved.stages))[at]; m == 0 {
		return row, fmt.Errorf("signalpath: nothing of %g Hz comes through path %q, want a frequency that does", s.Grid.At(at), p.Name)
	}
	row.AtClip = math.Inf(1)
	for k, st := range solved.stages {
		for _, l := range solved.limits(k) {
			rms := l.peak / (solved.magnitude(k)[at] * l.of[at]) / math.Sqrt2
			if k == out && l.cause == ClipVolts {
				row.Full = rms
			}
			if rms < row.AtClip {
				row.AtClip, row.Clips = rms, fmt.Sprintf("%s, %v", st.element.Label(), l.cause)
			}
		}
	}
	if row.Full == 0 {
		return row, fmt.Errorf("signalpath: %q of path %q has no clipping voltage, want an amplifier that states it", s.Output, p.Name)
	}
	budget, err := NoiseBudget(s.Noise, solved)
	if err != nil {
		return row, err
	}
	here := s.Noise
	here.Distance = p.Driver.basis().Distance
	known, err := NoiseBudget(here, solved)
	if err != nil {
		return row, err
	}
	row.Reserve = level.DB(row.AtClip / row.Full)
	row.Output = row.Full * solved.magnitude(len(solved.stages))[at]
	row.Level = level.SPL(row.Output * math.Sqrt(square(solved.sound[at])))
	row.Idle = budget[len(budget)-1].Level
	row.Range = row.Level - known[len(known)-1].Level
	return row, nil
}
