package room

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// ModalField is the pressure of a small source in a rectangular room as a sum of its modes,
// relative to that of the same source in a free field at 1 m:
//
//	H = 4π·(1 m)/V·Σ ε_l·ε_m·ε_n·ψ(source)·ψ(listener)/(k_n² + (δ_n + jω)²/c²)
//
// with k_n = 2πf_n/c, ε = 1 for an index of 0 and 2 else, and the damping of [Walls.Modes].
// (Morse and Ingard 1968, section 9.5, with the poles at δ ± 2πf_n; from memory.) The phase
// is that of the source itself: no flight of 1 m is taken out. With one damping for all
// modes it is exactly the sum of all images whose sound dies by e^{−δr/c}.
//
// It holds for walls that absorb little and a loudspeaker that is small against the
// wavelength. What the modes above the last leave out is smooth over frequency and depends on
// both places: over 48 pairs of them, some 3 m apart in a room of 57 m³, what modes from 400 Hz
// to 1600 Hz add up to 160 Hz is 0.001 to 0.04 of the sound at 1 m, 0.01 as a rule. Of walls with
// ζ = 80, which absorb a tenth, the field is within 3 % and 0.04 of the sound at 1 m of that by
// their exact eigenvalues. Both leave peaks as they are, and no dip below −20 dB is to be believed.
type ModalField struct {
	Couplings []Coupling
	walls     Walls
}

// Modal returns the sum of the modes up to a frequency.
func (w *Walls) Modal(source, listener Point, to float64) (*ModalField, error) {
	c, err := w.Couplings(source, listener, to)
	if err != nil {
		return nil, err
	}
	for _, m := range c {
		if !(m.Damping > 0) {
			return nil, fmt.Errorf("room: mode %v at %.4g Hz has no damping, want walls that absorb something: without, the response has no bound", m.N, m.Hz)
		}
	}
	return &ModalField{c, *w}, nil
}

// CheckGrid implements [freq.Sampled]: no frequency may be above that of the last mode.
func (m *ModalField) CheckGrid(g *freq.Grid) error {
	if last := m.Couplings[len(m.Couplings)-1].Hz; g.Last() > last {
		return fmt.Errorf("room: sum of modes up to %.4g Hz at %g Hz, want a lower frequency or more modes", last, g.Last())
	}
	return nil
}

// ResponseTo implements [freq.Transfer].
func (m *ModalField) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	clear(dst)
	c := m.walls.Air.SpeedOfSound
	scale := 4 * math.Pi / (m.walls.Length * m.walls.Width * m.walls.Height) * c * c
	for _, q := range m.Couplings {
		e := scale * q.Product()
		for _, n := range q.N {
			if n > 0 {
				e *= 2
			}
		}
		w2 := sq(2*math.Pi*q.Hz) + q.Damping*q.Damping
		for i, w := range g.Omega() {
			re, im := w2-w*w, 2*w*q.Damping
			k := e / (re*re + im*im)
			dst[i] += complex(re*k, -im*k)
		}
	}
	return dst
}
