package signalpath

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Cause is what an element runs out of.
type Cause int

// The causes.
const (
	DigitalFullScale Cause = iota // the samples that it is given
	DigitalNode                   // its inner nodes
	AnalogueInput                 // the full scale of an A/D converter
	ClipVolts                     // the voltage of an output stage, in front of its output impedance
	ClipAmperes                   // the current of an output stage
	RatedVolts                    // the voltage across a capacitor
)

// String says the cause in words.
func (c Cause) String() string {
	if c < DigitalFullScale || c > RatedVolts {
		return fmt.Sprintf("Cause(%d)", int(c))
	}
	return [...]string{"full scale", "inner node", "input volts", "output volts", "output current", "volts across"}[c]
}

// Unit returns the unit of the quantity: FS, V or A.
func (c Cause) Unit() string { return [...]string{"FS", "FS", "V", "V", "A", "V"}[c] }

// limit is what an element must not exceed: a quantity per unit of its input, and its largest peak.
type limit struct {
	cause Cause
	of    []float64 // magnitude per unit of the element's input
	own   []float64 // density of the element's own noise in the quantity; nil: none
	peak  float64
}

// limits returns what element k must not exceed.
func (s *Solution) limits(k int) []limit {
	st := &s.stages[k]
	n := s.grid.Len()
	switch e := st.element.(type) {
	case ADC:
		return []limit{{cause: AnalogueInput, of: flat(n, 1), peak: e.FullScale * math.Sqrt2}}
	case RateConverter:
		return []limit{{cause: DigitalFullScale, of: flat(n, max(e.Ripple, 1)), peak: 1}}
	case Processor:
		l := []limit{{cause: DigitalFullScale, of: flat(n, 1), peak: 1}}
		if e.PeakNorm > 0 {
			l = append(l, limit{cause: DigitalNode, of: flat(n, e.PeakNorm), peak: e.ceiling()})
		}
		return l
	case DAC:
		return []limit{{cause: DigitalFullScale, of: flat(n, 1), peak: 1}}
	case Amplifier:
		volts, amps := make([]float64, n), make([]float64, n)
		ownVolts, ownAmps := make([]float64, n), make([]float64, n)
		for i, h := range st.open {
			perVolt := cmplx.Abs(st.admit[i] * st.divider[i]) // of the open output
			volts[i] = cmplx.Abs(h)
			amps[i] = volts[i] * perVolt
			ownVolts[i] = s.noise[s.component(k)].output[i] / square(st.divider[i])
			ownAmps[i] = ownVolts[i] * perVolt * perVolt
		}
		var l []limit
		if e.ClipVolts > 0 {
			l = append(l, limit{ClipVolts, volts, ownVolts, e.ClipVolts})
		}
		if e.ClipAmperes > 0 {
			l = append(l, limit{ClipAmperes, amps, ownAmps, e.ClipAmperes})
		}
		return l
	case SeriesCapacitor:
		if e.Rated > 0 {
			drop := make([]float64, n)
			for i, h := range st.loaded {
				drop[i] = cmplx.Abs(1 - h)
			}
			return []limit{{cause: RatedVolts, of: drop, peak: e.Rated}}
		}
	}
	return nil
}

// component returns the place of element k in the list of noises, in which the source may be first.
func (s *Solution) component(k int) int {
	if s.path.SourceResistance > 0 {
		return k + 1
	}
	return k
}

func flat(n int, v float64) []float64 {
	f := make([]float64, n)
	for i := range f {
		f[i] = v
	}
	return f
}

// inputNoise returns the noise density at the input of every element, and at the terminals.
func (s *Solution) inputNoise() [][]float64 {
	at := make([]float64, s.grid.Len())
	if s.path.SourceResistance > 0 {
		copy(at, s.noise[0].output)
	}
	list := [][]float64{at}
	for k, st := range s.stages {
		next := make([]float64, len(at))
		for i, v := range at {
			next[i] = v*square(st.loaded[i]) + s.noise[s.component(k)].output[i]
		}
		list, at = append(list, next), next
	}
	return list
}

// idle reports elements that noise, and of an amplifier its own direct voltage, alone drive to
// where they clip: peaks of noise are taken as four times its rms, which is one sample in 16 000.
// Direct voltage of what is in front of it is left out: what passes at 0 Hz is not on the grid.
func (s *Solution) idle() error {
	noise := s.inputNoise()
	for k, st := range s.stages {
		for _, l := range s.limits(k) {
			d := make([]float64, s.grid.Len())
			for i, f := range l.of {
				d[i] = noise[k][i] * f * f
				if l.own != nil {
					d[i] += l.own[i]
				}
			}
			peak := 4 * math.Sqrt(integral(s.grid, d, nil, s.grid.First(), s.grid.Last()))
			if a, ok := st.element.(Amplifier); ok && l.cause == ClipVolts {
				peak += math.Abs(a.Offset)
			}
			if peak >= l.peak {
				return fmt.Errorf("signalpath: path %q without a signal: noise and offset drive the %v of %q to %.3g %s peak (noise: 4 times its rms), %.3g times the limit of %g %s",
					s.path.Name, l.cause, st.element.Label(), peak, l.cause.Unit(), peak/l.peak, l.peak, l.cause.Unit())
			}
		}
	}
	return nil
}
