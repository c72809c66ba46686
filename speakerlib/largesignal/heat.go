package largesignal

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/limits"
)

// Heat is the way of the coil's heat and what it does to Re.
type Heat struct {
	Network limits.Thermal // coil, magnet (or pole, magnet), air of the room
	// Wire is the coefficient at the temperature at which Re is that of the driver,
	// which is taken as that of the room. 0: copper at 20 °C.
	Wire limits.Wire
	// Rise is that of each stage at the beginning, K. Nil: 0.
	Rise []float64
}

func (h *Heat) validate() error {
	if !(h.Wire >= 0) || h.Wire > 0.1 {
		return fmt.Errorf("largesignal: wire has %g 1/K, want 0.003 to 0.005, or 0 for copper", float64(h.Wire))
	}
	if h.Rise != nil {
		return fmt.Errorf("largesignal: not yet")
	}
	return h.Network.Validate()
}

// heatState is the network in motion.
type heatState struct {
	network        *limits.ThermalState
	wire           limits.Wire
	re             float64
	dt             float64
	joule, seconds float64
}

func (h *Heat) newState(re, dt float64) (*heatState, error) {
	n, err := h.Network.NewState(dt)
	if err != nil {
		return nil, err
	}
	w := h.Wire
	if w == 0 {
		w = limits.Copper
	}
	return &heatState{network: n, wire: w, re: re, dt: dt}, nil
}

// rise returns that of the coil, K.
func (s *heatState) rise() float64 { return s.network.Rise(0) }

// step takes the integral of i² over a time, A²·s, and returns the Re that follows. The
// network is advanced whenever one of its steps is full, with the mean power of it.
func (s *heatState) step(square, seconds float64) float64 {
	s.joule += square * s.resistance()
	s.seconds += seconds
	if s.seconds >= s.dt*(1-1e-9) {
		s.network.Step(s.joule / s.seconds)
		s.joule, s.seconds = 0, math.Max(0, s.seconds-s.dt)
	}
	return s.resistance()
}

func (s *heatState) resistance() float64 { return s.re * s.wire.Ratio(s.rise()) }
