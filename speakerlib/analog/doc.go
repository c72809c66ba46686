// Package analog designs filters in s: a band (where it passes) times a
// prototype (how it gets there) gives a [Filter] with zeros, poles and
// second-order sections.
//
//	hp, err := analog.Design(analog.Highpass{Fc: 2200}, analog.LinkwitzRiley(4))
//
// The bands are low-pass, high-pass, band-pass and band-stop; the prototypes
// Butterworth, Bessel, Chebyshev I and II, elliptic, Linkwitz–Riley, Gaussian, and
// those of linear phase or even delay with equal ripple.
// A [Mask] finds the lowest order that does what is asked.
//
// A new approximation is a new file with a type that implements [Prototype].
// Frequencies are in hertz; poles and zeros in rad/s.
package analog
