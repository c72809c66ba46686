package room

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
)

// Surface is how a wall reflects.
type Surface interface {
	// ReflectionTo writes the reflection factor of a plane wave into dst (nil allocates,
	// another length panics); cosine is that of the angle between ray and normal.
	ReflectionTo(dst []complex128, cosine float64, g *freq.Grid) []complex128
	// ConductanceTo writes the real part of the specific admittance ρc/Z into dst
	// likewise: what damps the modes.
	ConductanceTo(dst []float64, g *freq.Grid) []float64
	// CheckGrid says why the surface cannot be evaluated on g, or nil.
	CheckGrid(g *freq.Grid) error
}

// Rigid is a surface that reflects all: R = 1 at every angle.
type Rigid struct{}

// ReflectionTo implements [Surface].
func (Rigid) ReflectionTo(dst []complex128, _ float64, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		dst[i] = 1
	}
	return dst
}

// ConductanceTo implements [Surface].
func (Rigid) ConductanceTo(dst []float64, g *freq.Grid) []float64 {
	dst = freq.Dst(dst, g.Len())
	clear(dst)
	return dst
}

// CheckGrid implements [Surface].
func (Rigid) CheckGrid(*freq.Grid) error { return nil }

// Band is an absorption coefficient at a frequency, usually the middle of an octave.
type Band struct {
	Hz    float64
	Alpha float64 // absorbed part of the energy at random incidence, 0 … 1 (excluded)
}

// Absorber is a surface of which the absorption at random incidence is known, from a
// table of octave bands. Its reflection factor is
//
//	R = √(1 − α)
//
// at every angle and without a change of phase, for want of anything better: a measured
// coefficient says nothing of either. α is linear over log f between the bands and stays as
// it is beyond the first and the last. Its conductance is α/8, which is what a locally
// reacting wall of that α has if it absorbs little (α = 8β, P. M. Morse and K. U. Ingard,
// Theoretical Acoustics, 1968, section 9.5; from memory).
type Absorber struct{ bands []Band }

// NewAbsorber returns the absorber of the bands, of ascending frequency, at least one.
func NewAbsorber(bands ...Band) (*Absorber, error) {
	if len(bands) == 0 {
		return nil, fmt.Errorf("room: absorber of no band, want at least 1")
	}
	for i, b := range bands {
		if !(b.Hz > 0) || math.IsInf(b.Hz, 0) || i > 0 && !(b.Hz > bands[i-1].Hz) {
			return nil, fmt.Errorf("room: band %d of an absorber is at %g Hz, want finite, ascending frequencies > 0", i+1, b.Hz)
		}
		if !(b.Alpha >= 0 && b.Alpha < 1) {
			return nil, fmt.Errorf("room: absorption at %g Hz is %g, want 0 … 1 (a measured one above 1, which the edges of a sample give, cannot be reflected by)", b.Hz, b.Alpha)
		}
	}
	return &Absorber{append([]Band(nil), bands...)}, nil
}

// Alpha returns the absorption coefficient at a frequency.
func (a *Absorber) Alpha(hz float64) float64 {
	b := a.bands
	if hz <= b[0].Hz {
		return b[0].Alpha
	}
	for i := 1; i < len(b); i++ {
		if hz <= b[i].Hz {
			t := math.Log(hz/b[i-1].Hz) / math.Log(b[i].Hz/b[i-1].Hz)
			return b[i-1].Alpha + t*(b[i].Alpha-b[i-1].Alpha)
		}
	}
	return b[len(b)-1].Alpha
}

// ReflectionTo implements [Surface].
func (a *Absorber) ReflectionTo(dst []complex128, _ float64, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		dst[i] = complex(math.Sqrt(1-a.Alpha(g.At(i))), 0)
	}
	return dst
}

// ConductanceTo implements [Surface].
func (a *Absorber) ConductanceTo(dst []float64, g *freq.Grid) []float64 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		dst[i] = a.Alpha(g.At(i)) / 8
	}
	return dst
}

// CheckGrid implements [Surface].
func (a *Absorber) CheckGrid(*freq.Grid) error { return nil }

// Impedance is a locally reacting surface, such as a carpet or a porous panel on a hard
// wall, with the specific impedance ζ = Z/ρc:
//
//	R = (ζ·cos θ − 1)/(ζ·cos θ + 1)
//
// (H. Kuttruff, Room Acoustics, chapter 2; from memory.) Towards grazing it goes to −1
// whatever ζ is.
type Impedance struct{ Zeta freq.Transfer }

// ReflectionTo implements [Surface].
func (z Impedance) ReflectionTo(dst []complex128, cosine float64, g *freq.Grid) []complex128 {
	dst = z.Zeta.ResponseTo(freq.Dst(dst, g.Len()), g)
	c := complex(cosine, 0)
	for i, v := range dst {
		dst[i] = (v*c - 1) / (v*c + 1)
	}
	return dst
}

// ConductanceTo implements [Surface].
func (z Impedance) ConductanceTo(dst []float64, g *freq.Grid) []float64 {
	dst = freq.Dst(dst, g.Len())
	for i, v := range z.Zeta.ResponseTo(nil, g) {
		dst[i] = real(1 / v)
	}
	return dst
}

// CheckGrid implements [Surface]: it also refuses an impedance that is not finite, is 0 or
// has a negative real part, which no wall has.
func (z Impedance) CheckGrid(g *freq.Grid) error {
	if err := freq.CheckGrid(z.Zeta, g); err != nil {
		return fmt.Errorf("room: impedance of a surface: %w", err)
	}
	for i, v := range z.Zeta.ResponseTo(nil, g) {
		if !(real(v) >= 0) || math.IsInf(real(v), 0) || math.IsNaN(imag(v)) || math.IsInf(imag(v), 0) || v == 0 {
			return fmt.Errorf("room: specific impedance of a surface is %v at %g Hz, want a finite one with a real part ≥ 0 that is not 0", v, g.At(i))
		}
	}
	return nil
}

// SabineAlpha returns the mean absorption coefficient of a room of a volume in m³ and a
// surface in m² from its reverberation time T in seconds (W. C. Sabine; H. Kuttruff, Room
// Acoustics):
//
//	α = 24·ln 10·V/(c·S·T) = 55.26·V/(c·S·T)
//
// It holds for diffuse fields and little absorption, and is refused at 1 or more.
func SabineAlpha(volume, surface, decay float64, a air.Medium) (float64, error) {
	if err := a.Validate(); err != nil {
		return 0, err
	}
	for _, c := range []struct {
		what  string
		value float64
	}{{"volume in m³", volume}, {"surface in m²", surface}, {"reverberation time in s", decay}} {
		if !(c.value > 0) || math.IsInf(c.value, 0) {
			return 0, fmt.Errorf("room: %s is %g, want a finite value > 0", c.what, c.value)
		}
	}
	alpha := 24 * math.Ln10 * volume / (a.SpeedOfSound * surface * decay)
	if alpha >= 1 {
		return 0, fmt.Errorf("room: reverberation of %g s in %g m³ with %g m² asks for a mean absorption of %.3g, want less than 1", decay, volume, surface, alpha)
	}
	return alpha, nil
}
