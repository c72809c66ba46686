package measure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
)

// FarFromNear returns the sound pressure in half space at a distance that a round
// piston makes, from the pressure measured close to its middle:
//
//	p_far = p_near · a/(2r)
//
// a is the radius of the piston, √(Sd/π) of a cone (D. B. Keele, "Low-frequency
// loudspeaker assessment by near-field sound-pressure measurement", J. Audio Eng.
// Soc. 22, 1974): both are jωρ times the volume velocity, over πa and over 2πr. The
// time of flight of r is not put in: time zero is at the piston. Exact at low
// frequencies; at [NearFieldLimit] the near field reads 0.36 dB low.
func FarFromNear(near freq.Response, radius, distance float64) (freq.Response, error) {
	if !(radius > 0) || !(distance > 0) || math.IsInf(radius, 0) || math.IsInf(distance, 0) {
		return freq.Response{}, fmt.Errorf("measure: far field of %q from a radius of %g m at %g m, want finite values > 0", near.Label(), radius, distance)
	}
	b := near.Basis()
	if b.Quantity != freq.Pressure || b.Space != freq.NearField {
		return freq.Response{}, fmt.Errorf("measure: %q is %v, want a sound pressure in the near field", near.Label(), b)
	}
	v := near.Values()
	for i := range v {
		v[i] *= complex(radius/(2*distance), 0)
	}
	b.Space, b.Distance = freq.HalfSpace, distance
	return freq.NewResponse(near.Grid(), v, near.Label(), b)
}

// SumNear returns the sound pressure in half space at a distance of a cone and a
// vent together, each scaled by its own radius as in [FarFromNear]:
//
//	p_far = (p_cone·a_c + p_vent·a_v) / (2r)
//
// (Keele 1974: relative to the cone, the vent counts by the ratio of the
// diameters.) Far below the tuning the two cancel, and what each microphone hears
// of the other source is no longer small against the difference.
func SumNear(cone, vent freq.Response, coneRadius, ventRadius, distance float64) (freq.Response, error) {
	c, err := FarFromNear(cone, coneRadius, distance)
	if err != nil {
		return freq.Response{}, err
	}
	v, err := FarFromNear(vent, ventRadius, distance)
	if err != nil {
		return freq.Response{}, err
	}
	return c.Add(v)
}

// NearFieldLimit returns the frequency where ka = 1, c/(2πa): above it the near
// field of a piston of that radius is not in proportion to its far field. On the
// axis the near field is 2ρc·v·|sin(ka/2)|, 0.36 dB less than ka at ka = 1.
func NearFieldLimit(radius float64, m air.Medium) float64 {
	return m.SpeedOfSound / (2 * math.Pi * radius)
}
