package report

import "math"

// GuardBand returns the guard band for a value with independent standard
// uncertainties, all in its unit: the expanded uncertainty
//
//	U = 2·√(Σ u²)
//
// which holds about 95 % of the values that a normal distribution gives (JCGM
// 100:2008, 5.1.2 and 6.3.3 with a coverage factor of 2). An infinite or NaN
// uncertainty stays one, and [Requirement.Evaluate] refuses it.
func GuardBand(standard ...float64) float64 {
	var u float64
	for _, v := range standard {
		u = math.Hypot(u, v)
	}
	return 2 * u
}

// Uniform returns the standard uncertainty of what is only known to lie within ±a,
// anywhere in there alike: a/√3 (JCGM 100:2008, 4.3.7). A tolerance of a workshop is of
// that kind.
func Uniform(a float64) float64 { return math.Abs(a) / math.Sqrt(3) }
