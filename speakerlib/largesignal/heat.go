package largesignal

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/limits"
)

// Heat is the way of the coil's heat and what it does to Re: the power i²·Re goes into
// the first stage of the network, and Re follows its rise. The network is advanced every
// 256 samples, with the mean power of that time, which is exact for it; the coil's rise
// changes by far less than a kelvin meanwhile.
//
// A hot coil burns: glues and formers give up at 150 to 250 °C (common practice, no
// source).
type Heat struct {
	Network limits.Thermal // coil, magnet (or pole, magnet), air of the room
	// Wire is the coefficient at the temperature at which Re is that of the driver,
	// which is taken as that of the room. 0: copper at 20 °C.
	Wire limits.Wire
}

func (h *Heat) validate() error {
	if !(h.Wire >= 0) || h.Wire > 0.1 {
		return fmt.Errorf("largesignal: wire has %g 1/K, want 0.003 to 0.005, or 0 for copper", float64(h.Wire))
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
	for s.seconds >= s.dt*(1-1e-9) {
		mean := s.joule / s.seconds
		s.network.Step(mean)
		s.seconds = max(0, s.seconds-s.dt)
		s.joule = mean * s.seconds
	}
	return s.resistance()
}

func (s *heatState) resistance() float64 { return s.re * s.wire.Ratio(s.rise()) }
