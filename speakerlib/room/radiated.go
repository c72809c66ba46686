package room

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/gauss"
	"example.org/loudspeaker/speakerlib/level"
)

// Radiated returns the sound power that a loudspeaker with directivity sends into the room
// near walls, re what it sends into a free field, in dB: the integral over all directions n
// into the room
//
//	W/W₀ = ∫ |Σ D(n_i)·ΠR·e^{jk·n·x_i}|² dΩ / ∫₄π |D|² dΩ
//
// with x_i the places of the loudspeaker and of its images and n_i the direction mirrored as
// each is. Of a small source near rigid walls it is what [Walls.Power] gives; of a dipole
// square to a wall 1 − 3·(sin u/u + 2·cos u/u² − 2·sin u/u³), u = 2kx (U. Ingard and G. L.
// Lamb, "Effect of a reflecting plane on the power output of sound sources", J. Acoust. Soc.
// Am. 29, 1957; from memory). A loudspeaker that beams away from a wall gets less from it, so
// that a setting derived with its directivity is smaller at the upper end of the bass.
//
// The directivity must be known all around. The cabinet itself is taken as transparent for
// what comes back from the walls, and walls that absorb take off what is radiated. Walls that
// face each other have no far field, and are refused.
//
// The directions are Gauss points, 24 by 24 an eighth of the sphere, exact to 1e-4 dB for
// smooth patterns as long as kr is at most 26, with r the distance from the corner that the
// walls make: 1.3 m at 1.1 kHz. Beyond, it is refused.
func (w *Walls) Radiated(s Source, g *freq.Grid, label string) (freq.Curve, error) {
	if err := w.Validate(); err != nil {
		return freq.Curve{}, err
	}
	if err := w.checkGrid(g); err != nil {
		return freq.Curve{}, err
	}
	if err := s.validate(); err != nil {
		return freq.Curve{}, err
	}
	if err := w.inside("source", s.At); err != nil {
		return freq.Curve{}, err
	}
	if w.parallel() {
		return freq.Curve{}, fmt.Errorf("room: power into a room with walls that face each other, want one of each pair at most")
	}
	q := w.quadrant(s.At)
	if kr := 2 * math.Pi * g.Last() / w.Air.SpeedOfSound * q.corner(); kr > 26 {
		return freq.Curve{}, fmt.Errorf("room: power at %g Hz with the source %g m from the corner of the walls, want at most %.4g Hz", g.Last(), q.corner(), g.Last()*26/kr)
	}
	n := g.Len()
	into, free := make([]float64, n), make([]float64, n)
	cosines, wc := make([]float64, order), make([]float64, order)
	angles, wa := make([]float64, order), make([]float64, order)
	gauss.Legendre(cosines, wc, 0, 1)
	gauss.Legendre(angles, wa, 0, math.Pi/2)
	for i, c := range cosines {
		for j, a := range angles {
			sin := math.Sqrt(1 - c*c)
			if err := q.add(into, free, wc[i]*wa[j], [3]float64{sin * math.Cos(a), sin * math.Sin(a), c}, w, s, g); err != nil {
				return freq.Curve{}, err
			}
		}
	}
	for i := range into {
		if !(into[i] > 0 && free[i] > 0) {
			return freq.Curve{}, fmt.Errorf("room: loudspeaker radiates %.3g into the room and %.3g into a free field at %g Hz, want more than 0", into[i], free[i], g.At(i))
		}
		into[i] = level.PowerDB(into[i] / free[i])
	}
	return freq.NewCurve(g, into, label, "dB", freq.Basis{})
}

// order is the number of Gauss points over a quarter turn.
const order = 24

// quadrant is the part of space that perpendicular walls leave.
type quadrant struct {
	at   [3]float64 // distance from the wall across each axis, signed into the axis; 0 without wall
	wall [3]int     // the wall across each axis; −1: none
}

func (w *Walls) quadrant(p Point) quadrant {
	q := quadrant{wall: [3]int{-1, -1, -1}}
	for k, x := range p.axes() {
		switch {
		case w.Surfaces[2*k] != nil:
			q.wall[k], q.at[k] = 2*k, x
		case w.Surfaces[2*k+1] != nil:
			q.wall[k], q.at[k] = 2*k+1, x-w.size()[k]
		}
	}
	return q
}

// corner returns the distance of the source from where all walls meet.
func (q quadrant) corner() float64 { return Point{q.at[0], q.at[1], q.at[2]}.To(Point{}) }

// into reports whether a direction of the signs of mask (a bit an axis, set: falling) leads
// into the room.
func (q quadrant) into(mask int) bool {
	for k, wall := range q.wall {
		if wall >= 0 && (mask>>k&1 == 1) != (wall%2 == 1) {
			return false
		}
	}
	return true
}

// add adds the powers in the eight directions that differ from n by signs.
func (q quadrant) add(into, free []float64, weight float64, n [3]float64, w *Walls, s Source, g *freq.Grid) error {
	var pattern [8][]complex128
	for mask := range pattern {
		d, err := s.toward(signed(n, mask), g)
		if err != nil {
			return err
		}
		pattern[mask] = d
		for i := range free {
			free[i] += weight * power(d, i)
		}
	}
	var reflection [3][]complex128
	for k, wall := range q.wall {
		if wall >= 0 {
			reflection[k] = w.Surfaces[wall].ReflectionTo(nil, n[k], g)
		}
	}
	sum := make([]complex128, g.Len())
	for mask := range pattern {
		if !q.into(mask) {
			continue
		}
		clear(sum)
		for image := range 8 { // a bit set: mirrored across that axis
			if !q.has(image) {
				continue
			}
			d := pattern[mask^image]
			v := signed(n, mask)
			path := 0.0
			for k := range v {
				x := q.at[k]
				if image>>k&1 == 1 {
					x = -x
				}
				path += v[k] * x
			}
			for i, omega := range g.Omega() {
				z := cmplx.Rect(1, omega*path/w.Air.SpeedOfSound)
				if d != nil {
					z *= d[i]
				}
				for k, r := range reflection {
					if image>>k&1 == 1 {
						z *= r[i]
					}
				}
				sum[i] += z
			}
		}
		for i, v := range sum {
			into[i] += weight * (real(v)*real(v) + imag(v)*imag(v))
		}
	}
	return nil
}

// has reports whether there is the image mirrored across the axes of a mask.
func (q quadrant) has(image int) bool {
	for k, wall := range q.wall {
		if wall < 0 && image>>k&1 == 1 {
			return false
		}
	}
	return true
}

func signed(n [3]float64, mask int) [3]float64 {
	for k := range n {
		if mask>>k&1 == 1 {
			n[k] = -n[k]
		}
	}
	return n
}

// power returns |d|² at point i, 1 of a source without pattern.
func power(d []complex128, i int) float64 {
	if d == nil {
		return 1
	}
	return real(d[i])*real(d[i]) + imag(d[i])*imag(d[i])
}

// toward returns the response of a source in a direction of the room on a grid, nil if it has
// no pattern.
func (s Source) toward(n [3]float64, g *freq.Grid) ([]complex128, error) {
	if s.Pattern == nil {
		return nil, nil
	}
	right, up, forward := s.local(Point{n[0], n[1], n[2]})
	t, err := s.Pattern(right, up, forward)
	if err != nil {
		return nil, fmt.Errorf("room: loudspeaker's pattern towards right %.3g, up %.3g, forward %.3g: %w", right, up, forward, err)
	}
	if err := freq.CheckGrid(t, g); err != nil {
		return nil, fmt.Errorf("room: loudspeaker's pattern towards right %.3g, up %.3g, forward %.3g: %w", right, up, forward, err)
	}
	return t.ResponseTo(nil, g), nil
}
