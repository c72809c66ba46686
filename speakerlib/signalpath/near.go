package signalpath

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// IdleRow is the noise of a way, or of all, at a distance.
type IdleRow struct {
	Distance        float64 `col:"distance" unit:"m" fmt:"%.2f"`
	Way             string  `col:"way"`
	Level           float64 `col:"level" unit:"dB" fmt:"%.1f"`             // weighted, of a piston
	InverseDistance float64 `col:"level by 1/r" unit:"dB" fmt:"%.1f"`      // the same of a point
	Error           float64 `col:"1/r reads high by" unit:"dB" fmt:"%.2f"` // InverseDistance − Level

	Weighting level.Weighting `col:"weighting"`
	Space     freq.Space      `col:"in"` // of the response of the driver
}

// IdleNoise returns the noise of every way and of their sum at some distances, on the axis of the
// driver.
//
// A driver's response is taken from the distance at which it is known to another by the pressure
// on the axis of a rigid piston of its radius a in a baffle,
//
//	|p(r)| ∝ |sin(k·(√(r² + a²) − r)/2)|
//
// (exact; L. L. Beranek and T. J. Mellow, Acoustics, 2012, chapter 13; from memory), which goes
// over into 1/r for r ≫ a and r ≫ ka². Close to it, it is less: of a woofer of 66 mm at 0.1 m by
// 0.8 dB at low frequencies, and by 3 dB of A-weighted white noise. Beyond the first maximum the
// envelope 1 is taken, since a cone does not have the nulls of a piston there. The box and its
// edges, and the vent, are left out: within some cabinet widths that is an error of a decibel or
// two (common practice, no source). In the sum, all drivers are heard on their own axis at once,
// which no ear is: it reads high close to them.
func IdleNoise(n NoiseSetup, distances []float64, ways ...*Solution) ([]IdleRow, error) {
	if err := together(n, ways); err != nil {
		return nil, err
	}
	if len(distances) == 0 {
		return nil, fmt.Errorf("signalpath: idle noise at no distance, want at least 1")
	}
	var rows []IdleRow
	for _, r := range distances {
		n.Distance = r
		if err := n.Validate(); err != nil {
			return nil, err
		}
		var sum, sumPoint float64
		for _, s := range ways {
			var piston, point float64
			near, far := s.near(n), s.point(r)
			for _, c := range s.noise {
				piston += s.weighted(c.density, near, n)
				point += s.weighted(c.density, far, n)
			}
			rows = append(rows, idleRow(r, s.path.Name, piston, point))
			sum += piston
			sumPoint += point
		}
		rows = append(rows, idleRow(r, "sum", sum, sumPoint))
	}
	for i := range rows {
		rows[i].Weighting, rows[i].Space = n.Weighting, ways[0].path.Driver.basis().Space
	}
	return rows, nil
}

func idleRow(r float64, way string, piston, point float64) IdleRow {
	a, b := level.SPL(math.Sqrt(piston)), level.SPL(math.Sqrt(point))
	return IdleRow{Distance: r, Way: way, Level: a, InverseDistance: b, Error: b - a}
}

// point returns the squared pressure per volt at a distance by 1/r.
func (s *Solution) point(r float64) []float64 {
	p := make([]float64, len(s.sound))
	k := s.path.Driver.basis().Distance / r
	for i, h := range s.sound {
		p[i] = square(h) * k * k
	}
	return p
}

// near returns the squared pressure per volt at a distance, that of a piston.
func (s *Solution) near(n NoiseSetup) []float64 {
	p := s.point(n.Distance)
	a, known := s.path.Driver.Radius, s.path.Driver.basis().Distance
	if a < 1e-9 { // a point, and its square still a number
		return p
	}
	for i, w := range s.grid.Omega() {
		k := w / n.Air.SpeedOfSound
		q := pistonOnAxis(k, a, n.Distance) / pistonOnAxis(k, a, known) * n.Distance / known
		p[i] *= q * q
	}
	return p
}

// pistonOnAxis returns |sin(k·(√(r² + a²) − r)/2)|, and 1 beyond its first maximum.
func pistonOnAxis(k, a, r float64) float64 {
	x := k * a * a / (math.Hypot(r, a) + r) / 2
	if x > math.Pi/2 {
		return 1
	}
	return math.Sin(x)
}
