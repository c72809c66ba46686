package signalpath

import (
	"fmt"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// StressRow is what an input does to a passive part, or to the driver.
type StressRow struct {
	Element   string  `col:"element"`
	Part      string  `col:"part"`
	Volts     float64 `col:"V" unit:"V" fmt:"%.3g"`      // rms, of the programme; 0 without one
	Amperes   float64 `col:"I" unit:"A" fmt:"%.3g"`      // rms, of the programme
	Watts     float64 `col:"P" unit:"W" fmt:"%.3g"`      // mean, of the programme
	PeakVolts float64 `col:"V peak" unit:"V" fmt:"%.3g"` // of the sine at its worst frequency
	VoltsAt   float64 `col:"V peak at" unit:"Hz" fmt:"%.0f"`
	PeakAmps  float64 `col:"I peak" unit:"A" fmt:"%.3g"` // of the sine at its worst frequency
	AmpsAt    float64 `col:"I peak at" unit:"Hz" fmt:"%.0f"`
}

// Stress returns volts, amperes and watts of every part of cables, output filters and capacitors,
// and of the driver. Nothing clips: compare with [Solution.Headroom] first. A film capacitor bears
// less alternating voltage the higher the frequency, and an electrolytic one is limited by the
// heat in its series resistance.
func (s *Solution) Stress(n Input) ([]StressRow, error) {
	b, err := s.band(n)
	if err != nil {
		return nil, err
	}
	var rows []StressRow
	add := func(element, part string, volts, amps []complex128) {
		row := StressRow{Element: element, Part: part}
		v, a, p := make([]float64, len(volts)), make([]float64, len(volts)), make([]float64, len(volts))
		for i := range volts {
			v[i], a[i] = cmplx.Abs(volts[i]), cmplx.Abs(amps[i])
			p[i] = max(real(volts[i]*cmplx.Conj(amps[i])), 0)
		}
		row.Volts, row.Amperes = b.rms(v), b.rms(a)
		row.PeakVolts, row.VoltsAt = b.largest(v)
		row.PeakAmps, row.AmpsAt = b.largest(a)
		for i, w := range b.weight {
			row.Watts += w * p[b.lo+i] * n.RMS * n.RMS
		}
		rows = append(rows, row)
	}
	for _, st := range s.stages {
		v := append([]complex128(nil), st.before...)
		for j, a := range st.arms {
			volts, amps := make([]complex128, len(v)), make([]complex128, len(v))
			for i, z := range a.z {
				if a.across {
					volts[i], amps[i] = v[i], v[i]/z
					continue
				}
				v[i] *= st.ratios[j][i]
				amps[i] = v[i] * st.loads[j][i]
				volts[i] = amps[i] * z
			}
			add(st.element.Label(), a.name, volts, amps)
		}
	}
	volts := s.product(len(s.stages))
	amps := make([]complex128, len(volts))
	for i, v := range volts {
		amps[i] = v / s.load[i]
	}
	add(s.path.Driver.Name, "terminals", volts, amps)
	return rows, nil
}

// Peak returns the highest level that an element has behind itself over that in front of it, in
// dB, and where on the grid: the peak of an output filter that its load does not damp, or of a
// protection capacitor with the resonance of its tweeter. Across a converter it has no meaning.
func (s *Solution) Peak(element string) (freq.Point, error) {
	k, err := s.path.index(element)
	if err != nil {
		return freq.Point{}, err
	}
	if e := s.stages[k].element; (e.in().rate > 0) != (e.out().rate > 0) {
		return freq.Point{}, fmt.Errorf("signalpath: %q takes %v and gives %v, want an element with a gain", element, e.in(), e.out())
	}
	var most freq.Point
	for i, h := range s.stages[k].loaded {
		if v := cmplx.Abs(h); v > most.Value {
			most = freq.Point{Hz: s.grid.At(i), Value: v}
		}
	}
	most.Value = level.DB(most.Value)
	return most, nil
}
