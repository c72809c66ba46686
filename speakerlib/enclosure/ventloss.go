package enclosure

import (
	"math"

	"example.org/loudspeaker/speakerlib/air"
)

// Loss returns the acoustic resistance, Pa·s/m³, that a vent has beside its small-signal
// ones when its air moves with a peak speed, m/s, at a frequency: the air that
// leaves it is a jet, whose kinetic energy does not come back. In steady flow
//
//	Δp = K·ρ·|u|·u/2
//
// and of a sine û the fundamental of |u|·u is 8/(3π)·û², so that, with the area S of
// all vents,
//
//	R = K·(4/3π)·ρ·û/S
//
// exact for that law, harmonics left out: the reactance does not change. In each half
// cycle one mouth takes air in and the other lets it out, K = K₁(r/D) + 1 with the entrance's
// K₁ of 0.5 for a sharp edge flush with a wall, down to 0.04 for a radius of 0.15
// diameters and more (handbook values of steady flow, from memory), and 1 for the jet. A
// sharp thin orifice has 1/0.61² = 2.7 instead, which is the R ≈ ρû/S that
// U. Ingård and H. Ising measured (J. Acoust. Soc. Am. 42, 1967; from memory).
//
// Around a rounded edge the flow comes off when the air moves by more than the
// radius: Strouhal number ωr/û below about 1 (N. B. Roozen, M. Bockholts,
// P. van Eck and A. Hirschberg, "Vortex sound in bass-reflex ports of loudspeakers",
// J. Acoust. Soc. Am. 104, 1998; from memory). Here K is taken times ξ²/(ξ²+r²) with
// ξ = û/ω: nothing well below, all of it well above; the passage between is ours.
//
// Not in it: what a wide flare wins back as a diffuser (A. Salvatti,
// A. Devantier and D. J. Button, "Maximizing Performance from Loudspeaker Ports",
// J. Audio Eng. Soc. 50, 2002, find that large radii help at moderate levels and
// little at the highest; from memory), turbulent friction along the wall (0.02 for
// each diameter of length, Blasius), and the noise that the jet makes. Take it as
// right within a third, for speeds up to 40 m/s.
func (v Vent) Loss(hz, speed float64, m air.Medium) float64 {
	return jetLoss(hz, speed, v.Edge, v.Diameter) * m.Density * speed / v.Area()
}

// SeparationSpeed returns the peak speed, m/s, at which the air around an edge of a
// radius, m, moves by that radius, û = ω·r (Strouhal number 1): well below it the flow
// stays on the edge, well above it comes off and makes a jet and noise. A rule, after
// Roozen and others 1998, from memory (see [Vent.Loss]).
func SeparationSpeed(hz, radius float64) float64 { return 2 * math.Pi * hz * radius }

// TurbulenceSpeed returns the peak speed, m/s, at which the boundary layer of a smooth
// wall turns turbulent in oscillating flow, at a Reynolds number of 500 of the layer
// δ = √(2η/ρω):
//
//	û = 500·η/(ρ·δ)
//
// (M. Hino, M. Sawamoto and S. Takasu, J. Fluid Mech. 75, 1976, find 550 and others 500; from
// memory). Above it the wall losses of a [Pipe] are too small.
func TurbulenceSpeed(hz float64, m air.Medium) float64 {
	return 500 * math.Sqrt(viscosity*math.Pi*hz/m.Density)
}

// jetLoss returns (4/3π)·K.
func jetLoss(hz, speed, edge, diameter float64) float64 {
	k := 1 + entrance(edge/diameter)
	if edge > 0 {
		x := speed / (2 * math.Pi * hz * edge)
		k *= x * x / (1 + x*x)
	}
	return 4 / (3 * math.Pi) * k
}

// entrance returns the loss coefficient of steady flow into a pipe from a wall, with
// an edge of the radius ratio r/D. Handbook values, from memory, linear between.
func entrance(ratio float64) float64 {
	table := [...][2]float64{{0, 0.5}, {0.02, 0.28}, {0.04, 0.24}, {0.06, 0.15}, {0.10, 0.09}, {0.15, 0.04}}
	for i := 1; i < len(table); i++ {
		a, b := table[i-1], table[i]
		if ratio < b[0] {
			return a[1] + (b[1]-a[1])*(ratio-a[0])/(b[0]-a[0])
		}
	}
	return table[len(table)-1][1]
}
