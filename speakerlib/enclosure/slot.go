package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
)

// Slot is one or more equal vents of rectangular section. The acoustic mass is that
// of a [Vent] with the end corrections of a rectangle,
//
//	Map = ρ·(L + δ₁ + δ₂)/(n·w·h)
//	δ = e·a·s,  a = √(wh/π)
//
// where e is the [End] as of a round vent of the same area, and s what the shape
// changes: the ratio of the mass on a rigid piston in a wall, known for the rectangle
// in closed form (see [SlotShape]), to that of the round one, 8a/3π. For flanged ends
// s carries the shape as well as a rigid piston has it; for a free end no source is
// known to us, and the same s is taken. s is 0.988 for a square and falls to 0.742 at
// 10 : 1.
//
// As a [Pipe] its wall losses are those between planes of the same area over
// perimeter: exact for wide ducts, where the boundary layer is thin.
type Slot struct {
	Width, Height float64 // inside, m
	Length        float64 // m
	Inner, Outer  End     // as of a round vent
	Count         int     // 1 or more
	Edge          float64 // radius of the rounding at both mouths, m; only Loss looks at it
	// Along is whether a long side lies along a wall of the box, which goes on
	// beyond the inner mouth: by its mirror image that mouth is twice as high, and one
	// wall less is displaced.
	Along bool
}

// SlotShape returns the mass on a rigid rectangular piston of the given ratio of
// sides in a wall over that on a round one of the same area. With sides w and h the
// integral of 1/r over both places on the rectangle is, in closed form,
//
//	I = 2wh·(w·asinh(h/w) + h·asinh(w/h)) + (2/3)·(w³ + h³ − (w²+h²)^(3/2))
//
// and the end correction I/(2π·wh), exact for ka → 0 (the potential of a charged
// rectangle; J. W. S. Rayleigh, Theory of Sound, § 302, has the piston's mass by that
// integral; from memory).
func SlotShape(ratio float64) float64 {
	w, h := math.Sqrt(ratio), 1/math.Sqrt(ratio) // of area 1
	i := 2*(w*math.Asinh(h/w)+h*math.Asinh(w/h)) + 2.0/3*(w*w*w+h*h*h-math.Pow(w*w+h*h, 1.5))
	return i / (2 * math.Pi) / (8 / (3 * math.Pi) * math.Sqrt(1/math.Pi))
}

// Validate implements [Port].
func (s Slot) Validate() error {
	switch {
	case s.Count < 1:
		return fmt.Errorf("enclosure: %d slots, want at least 1", s.Count)
	case !positive(s.Width, s.Height):
		return fmt.Errorf("enclosure: slot is %g by %g m, want finite values > 0", s.Width, s.Height)
	case !positive(s.Width/s.Height, s.Height/s.Width, 1/s.Area()) || s.Width > 1e3*s.Height || s.Height > 1e3*s.Width:
		return fmt.Errorf("enclosure: slot is %g by %g m, want sides of a ratio up to 1000", s.Width, s.Height)
	case !(s.Length >= 0) || math.IsInf(s.Length, 0):
		return fmt.Errorf("enclosure: slot length is %g m, want a finite value ≥ 0", s.Length)
	case !(s.Inner >= 0 && s.Inner <= 2 && s.Outer >= 0 && s.Outer <= 2):
		return fmt.Errorf("enclosure: end corrections of the slot are %g and %g radii, want 0 to 2", float64(s.Inner), float64(s.Outer))
	case !(s.Edge >= 0) || math.IsInf(s.Edge, 0):
		return fmt.Errorf("enclosure: the slot's edges have a radius of %g m, want a finite value ≥ 0", s.Edge)
	case !(s.Length+s.correction(s.Inner, s.Along)+s.correction(s.Outer, false) > 0):
		return fmt.Errorf("enclosure: slot of length 0 without end corrections has no mass")
	}
	return nil
}

// correction returns the end correction in metres.
func (s Slot) correction(e End, mirrored bool) float64 {
	w, h := math.Max(s.Width, s.Height), math.Min(s.Width, s.Height)
	if mirrored {
		h *= 2
	}
	return float64(e) * math.Sqrt(w*h/math.Pi) * SlotShape(w/h)
}

// Area implements [Port].
func (s Slot) Area() float64 { return float64(s.Count) * s.Width * s.Height }

// Mass implements [Tube].
func (s Slot) Mass(m air.Medium) float64 {
	return m.Density * (s.Length + s.correction(s.Inner, s.Along) + s.correction(s.Outer, false)) / s.Area()
}

// Tuning returns the resonance with a net volume, Hz.
func (s Slot) Tuning(vb float64, m air.Medium) float64 { return tuning(s, vb, m) }

// Displaced implements [Tube].
func (s Slot) Displaced(wall float64) float64 {
	w, h := math.Max(s.Width, s.Height)+2*wall, math.Min(s.Width, s.Height)+2*wall
	if s.Along {
		h -= wall
	}
	return float64(s.Count) * w * h * s.Length
}

// Loss is as [Vent.Loss], with the diameter of a round vent of the same area over
// perimeter.
func (s Slot) Loss(hz, speed float64, m air.Medium) float64 {
	d := 2 * s.Width * s.Height / (s.Width + s.Height)
	return jetLoss(hz, speed, s.Edge, d) * m.Density * speed / s.Area()
}

func (s Slot) way(m air.Medium, _ bool) way { return lump{mass: s.Mass(m)} }

func (s Slot) opening(outside bool) opening {
	return opening{area: s.Area(), outside: outside, loss: s.Loss}
}

func (s Slot) length() float64           { return s.Length }
func (s Slot) shortest() float64         { return 0 }
func (s Slot) withLength(l float64) Tube { s.Length = l; return s }

func (s Slot) slices() []slice {
	if s.Length == 0 {
		return nil
	}
	b := s.Width * s.Height / (2 * (s.Width + s.Height)) // half the height of a wide one
	return []slice{{duct{width: b, slot: true}, s.Length, s.Area()}}
}

func (s Slot) ends(m air.Medium) (inner, outer float64) {
	k := m.Density / s.Area()
	return k * s.correction(s.Inner, s.Along), k * s.correction(s.Outer, false)
}
