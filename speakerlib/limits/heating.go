package limits

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// HeatingSetup says how the coil of a way is followed while a programme plays.
type HeatingSetup struct {
	Duration float64 // s; the programme is played over and over
	Step     float64 // s, over which the power is averaged; 0: 0.1 s
}

// Heating is the temperature of a coil over time.
type Heating struct {
	Step    float64   // s
	Rise    []float64 // of the coil at the end of each step, K
	Hottest float64   // the largest of them, K
	At      float64   // when, s
	Final   []float64 // of every stage of the network at the end, K
	Power   float64   // mean in Re over all of the time, W
	Reserve float64   // allowed rise over the hottest, a ratio: below 1 the coil is in danger
}

// Heating follows the temperature of a coil. Its power is Re(T)·i², averaged over
// every step, with the current of the coil at the temperature of that moment: the
// mean squares of the current are computed from the whole waveform at five rises from
// 0 to the allowed one, between (and beyond) which 1/i is taken as linear, as it is
// for a resistance. Current is that of the cold coil per volt of its source, chain
// what is in front of it. With the time constant of a coil, 1 s of a tweeter to 20 s
// of a woofer, the hottest moment depends on the order of loud and soft, that of the
// magnet, some ten minutes, on the mean alone.
func (p *Play) Heating(c Coil, chain, current freq.Transfer, s HeatingSetup) (*Heating, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	if s.Step == 0 {
		s.Step = 0.1
	}
	block := int(math.Round(s.Step * p.rate))
	steps := s.Duration / s.Step
	switch {
	case !(s.Step > 0) || block < 1 || block > p.count:
		return nil, fmt.Errorf("limits: steps of %g s in a programme of %g s, want at least a sample and at most all of it", s.Step, float64(p.count)/p.rate)
	case !(steps >= 1) || !(steps <= freq.MaxPoints):
		return nil, fmt.Errorf("limits: coil followed for %g s in steps of %g s, want 1 to %d steps", s.Duration, s.Step, freq.MaxPoints)
	}
	state, err := c.Thermal.NewState(float64(block) / p.rate)
	if err != nil {
		return nil, err
	}
	const rises = 5
	blocks := p.count / block // a rest shorter than a step is left out
	var inverse [rises][]float64
	for k := range inverse {
		rise := c.MaxRise * float64(k) / (rises - 1)
		hot := Hot{Of: current, Current: current, Added: c.Re * (c.Wire.Ratio(rise) - 1)}
		y, err := p.Waveform(freq.Series{chain, hot})
		if err != nil {
			return nil, err
		}
		inverse[k] = make([]float64, blocks)
		for b := range inverse[k] {
			var sum float64
			for _, v := range y[b*block : (b+1)*block] {
				sum += v * v
			}
			inverse[k][b] = math.Sqrt(float64(block) / sum) // +Inf in silence
		}
	}
	h := &Heating{Step: float64(block) / p.rate, Rise: make([]float64, int(steps+1e-9))}
	for i := range h.Rise {
		rise := state.Rise(0)
		x := rise / c.MaxRise * (rises - 1)
		k := min(int(x), rises-2)
		a, b := inverse[k][i%blocks], inverse[k+1][i%blocks]
		var power float64
		if !math.IsInf(a, 1) {
			amperes := 1 / (a + (b-a)*(x-float64(k)))
			power = amperes * amperes * c.Re * c.Wire.Ratio(rise)
		}
		state.Step(power)
		h.Power += power / float64(len(h.Rise))
		if h.Rise[i] = state.Rise(0); h.Rise[i] > h.Hottest {
			h.Hottest, h.At = h.Rise[i], float64(i+1)*h.Step
		}
	}
	for i := range c.Thermal {
		h.Final = append(h.Final, state.Rise(i))
	}
	h.Reserve = c.MaxRise / h.Hottest
	return h, nil
}
