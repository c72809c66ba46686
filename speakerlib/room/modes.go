package room

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/freq"
)

// MaxModes is the most modes that are listed.
const MaxModes = 200_000

// Kind is how many pairs of walls a mode runs between.
type Kind int

// The kinds of modes.
const (
	Pressure   Kind = iota // none: the pressure of the whole room, at 0 Hz
	Axial                  // one pair of walls
	Tangential             // two
	Oblique                // all three
)

// String names the kind.
func (k Kind) String() string {
	switch k {
	case Pressure:
		return "pressure"
	case Axial:
		return "axial"
	case Tangential:
		return "tangential"
	case Oblique:
		return "oblique"
	}
	return fmt.Sprintf("Kind(%d)", int(k))
}

// Mode is one of a rectangular room.
type Mode struct {
	N       [3]int  // half waves along X, Y, Z
	Hz      float64 // c/2·√((l/L)² + (m/W)² + (n/H)²)
	Damping float64 // δ, 1/s: the pressure dies as e^{−δt}
}

// Kind tells between how many pairs of walls it runs.
func (m Mode) Kind() Kind {
	k := Pressure
	for _, n := range m.N {
		if n > 0 {
			k++
		}
	}
	return k
}

// Decay returns the time in which the mode dies by 60 dB, 3·ln 10/δ, in seconds; +Inf
// without damping.
func (m Mode) Decay() float64 { return 3 * math.Ln10 / m.Damping }

// Q returns the quality factor πf/δ.
func (m Mode) Q() float64 { return math.Pi * m.Hz / m.Damping }

// Modes returns the modes of a room with all six walls, from 0 up to a frequency in
// ascending order. Frequencies are those of rigid walls. With the conductances β of the two
// walls across each axis at the mode's frequency the damping is
//
//	δ = c/2·Σ ε·(β₁ + β₂)/L,  ε = 1 along an axis with n = 0, else 2
//
// (P. M. Morse and K. U. Ingard, Theoretical Acoustics, 1968, section 9.5; from memory): to
// first order in β, walls of which little is absorbed. An axial mode so dies more slowly
// than an oblique one, which dies as Sabine's reverberation does.
func (w *Walls) Modes(to float64) ([]Mode, error) {
	if err := w.closed(); err != nil {
		return nil, err
	}
	if !(to > 0) || math.IsInf(to, 0) {
		return nil, fmt.Errorf("room: modes up to %g Hz, want a finite frequency > 0", to)
	}
	c := w.Air.SpeedOfSound
	// The count of modes, 4π/3·V·(f/c)³ + π/4·S·(f/c)² + L/8·(f/c), of which the last two are
	// most in a pipe.
	k, x, y, z := to/c, w.Length, w.Width, w.Height
	if n := 4*math.Pi/3*x*y*z*k*k*k + math.Pi/2*(x*y+y*z+z*x)*k*k + (x+y+z)/2*k; !(n <= MaxModes) {
		return nil, fmt.Errorf("room: about %.3g modes up to %g Hz, want at most %d: lower the frequency", n, to, MaxModes)
	}
	var modes []Mode
	for l := 0; c/2*float64(l)/w.Length <= to; l++ {
		for m := 0; c/2*math.Hypot(float64(l)/w.Length, float64(m)/w.Width) <= to; m++ {
			for n := 0; ; n++ {
				hz := c / 2 * math.Sqrt(sq(float64(l)/w.Length)+sq(float64(m)/w.Width)+sq(float64(n)/w.Height))
				if hz > to {
					break
				}
				modes = append(modes, Mode{N: [3]int{l, m, n}, Hz: hz})
			}
		}
	}
	slices.SortStableFunc(modes, func(a, b Mode) int { return cmp.Compare(a.Hz, b.Hz) })
	return modes, w.damp(modes)
}

func sq(x float64) float64 { return x * x }

// closed reports a room that lacks a wall.
func (w *Walls) closed() error {
	if err := w.Validate(); err != nil {
		return err
	}
	for k, s := range w.Surfaces {
		if s == nil {
			return fmt.Errorf("room: modes of a room without %v, want all six walls", Wall(k))
		}
	}
	return nil
}

// damp sets the damping of modes of ascending frequency. That of 0 Hz is taken with the
// conductances at the lowest frequency above.
func (w *Walls) damp(modes []Mode) error {
	var hz []float64
	at := make([]int, len(modes))
	for i, m := range modes {
		if m.Hz > 0 && (len(hz) == 0 || m.Hz > hz[len(hz)-1]) {
			hz = append(hz, m.Hz)
		}
		at[i] = max(0, len(hz)-1)
	}
	if hz == nil {
		hz = []float64{1}
	}
	g, err := freq.NewGrid(hz)
	if err != nil {
		return err
	}
	if err := w.checkGrid(g); err != nil {
		return err
	}
	var beta [walls][]float64
	for k, s := range w.Surfaces {
		beta[k] = s.ConductanceTo(nil, g)
	}
	for i := range modes {
		var sum float64
		for k, l := range w.size() {
			e := 2.0
			if modes[i].N[k] == 0 {
				e = 1
			}
			sum += e * (beta[2*k][at[i]] + beta[2*k+1][at[i]]) / l
		}
		modes[i].Damping = w.Air.SpeedOfSound / 2 * sum
	}
	return nil
}

// Shape returns the pressure of a mode at a place re its largest, −1 … 1:
//
//	ψ = cos(lπX/L)·cos(mπY/W)·cos(nπZ/H)
//
// How strongly a loudspeaker drives a mode, and how much of it a listener hears: 1 in a
// corner, 0 on a nodal plane.
func (w *Walls) Shape(m Mode, p Point) float64 {
	psi := 1.0
	for k, x := range p.axes() {
		psi *= math.Cos(float64(m.N[k]) * math.Pi * x / w.size()[k])
	}
	return psi
}

// Coupling is a mode with its share in what goes from one place to another.
type Coupling struct {
	Mode
	Source, Listener float64 // the shapes there
}

// Product returns the product of both shapes: the mode's part in the response, with its sign.
// Modes of nearly one frequency and opposite sign cancel between their peaks.
func (c Coupling) Product() float64 { return c.Source * c.Listener }

// Couplings returns the modes up to a frequency with their shapes at source and listener.
func (w *Walls) Couplings(source, listener Point, to float64) ([]Coupling, error) {
	modes, err := w.Modes(to)
	if err != nil {
		return nil, err
	}
	if err := w.inside("source", source); err != nil {
		return nil, err
	}
	if err := w.inside("listener", listener); err != nil {
		return nil, err
	}
	c := make([]Coupling, len(modes))
	for i, m := range modes {
		c[i] = Coupling{m, w.Shape(m, source), w.Shape(m, listener)}
	}
	return c, nil
}

// Schroeder returns the frequency above which at least three modes lie within the half-power
// width of one, 2000·√(T/V) in hertz with the reverberation time in seconds and the volume
// in m³ (M. R. Schroeder and K. H. Kuttruff, J. Acoust. Soc. Am. 34, 1962; from memory):
// below it modes are heard one by one, above it rays and statistics hold.
func Schroeder(volume, decay float64) (float64, error) {
	if !(volume > 0) || math.IsInf(volume, 0) || !(decay > 0) || math.IsInf(decay, 0) {
		return 0, fmt.Errorf("room: Schroeder frequency of %g m³ and %g s, want finite values > 0", volume, decay)
	}
	return 2000 * math.Sqrt(decay/volume), nil
}
