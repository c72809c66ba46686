package room

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Power returns the sound power of a small source near walls re that in a free field, in
// dB: how the walls load it, wherever anyone listens.
//
//	W/W₀ = 1 + Σ (Re R·sin kd − Im R·cos kd)/kd
//
// with d the distances of the source from its images (R. V. Waterhouse, "Output of a sound
// source in a reverberation chamber and other reflecting environments", J. Acoust. Soc. Am.
// 30, 1958; R. F. Allison, "The influence of room boundaries on loudspeaker power output",
// J. Audio Eng. Soc. 22, 1974; both from memory). Exact for a point source of given volume
// velocity, as a cone that is small against the wavelength is, and rigid walls. Close to
// them it is +3 dB for one, +6 dB for two and +9 dB for three; the first minimum of one
// wall is −1.06 dB where its distance is 0.36 of the wavelength, and that of three at equal
// distances −11.4 dB at 0.28: distances that differ are better.
//
// Of a source that beams the walls behind it take less, and this is too much: it is for the
// range below about 300 Hz. Parallel walls need a longest path, and absorption. Very near a
// wall of complex R, where 1/kd has no bound, images fail; more than a decibel above rigid
// walls is refused.
func (w *Walls) Power(at Point, longest float64, g *freq.Grid, label string) (freq.Curve, error) {
	if err := w.checkGrid(g); err != nil {
		return freq.Curve{}, err
	}
	paths, err := w.images(at, at, longest)
	if err != nil {
		return freq.Curve{}, err
	}
	gain, part, scratch := make([]float64, g.Len()), make([]complex128, g.Len()), make([]complex128, g.Len())
	for _, p := range paths {
		if p.Order() == 0 {
			for i := range gain {
				gain[i]++
			}
			continue
		}
		if p.Length == 0 {
			p.Cosine = [3]float64{1, 1, 1} // on the wall itself: as close before it
		}
		w.reflectTo(part, scratch, p, g)
		for i, omega := range g.Omega() {
			kd := omega * p.Length / w.Air.SpeedOfSound
			if kd == 0 {
				gain[i] += real(part[i])
				continue
			}
			sin, cos := math.Sincos(kd)
			gain[i] += (real(part[i])*sin - imag(part[i])*cos) / kd
		}
	}
	for i, v := range gain {
		if most := 1.26 * float64(len(paths)); !(v <= most) {
			return freq.Curve{}, fmt.Errorf("room: sound power near walls is %.3g times that in a free field at %g Hz, and near rigid ones %d times at most: the source is too near a soft wall for images, want it farther away", v, g.At(i), len(paths))
		}
		if !(v > 0) {
			return freq.Curve{}, fmt.Errorf("room: sound power near walls is %.3g of that in a free field at %g Hz, want more than 0: too few images of a live room (longest path %g m)", v, g.At(i), longest)
		}
		gain[i] = level.PowerDB(v)
	}
	return freq.NewCurve(g, gain, label, "dB", freq.Basis{})
}

// Spread is a level over several places.
type Spread struct{ Low, Mean, High freq.Curve } // dB re the direct sound at each place

// Over returns the lowest and the highest level at any of them and the mean of the
// powers, of fields on a grid. It is what a filter may answer for: what holds at one place
// alone it must leave.
func Over(g *freq.Grid, fields ...*Field) (*Spread, error) {
	if g == nil || len(fields) == 0 {
		return nil, fmt.Errorf("room: spread over %d places on a grid, want a grid and at least 1 place", len(fields))
	}
	n := g.Len()
	low, mean, high := make([]float64, n), make([]float64, n), make([]float64, n)
	h := make([]complex128, n)
	for k, f := range fields {
		if f == nil {
			return nil, fmt.Errorf("room: field %d of a spread is nil, want one of Walls.Heard", k)
		}
		if err := freq.CheckGrid(f, g); err != nil {
			return nil, err
		}
		for i, v := range f.ResponseTo(h, g) {
			p := real(v)*real(v) + imag(v)*imag(v)
			mean[i] += p / float64(len(fields))
			if k == 0 {
				low[i], high[i] = p, p
			}
			low[i], high[i] = min(low[i], p), max(high[i], p)
		}
	}
	s := &Spread{}
	for _, c := range []struct {
		to    *freq.Curve
		v     []float64
		label string
	}{{&s.Low, low, "lowest"}, {&s.Mean, mean, "mean of the powers"}, {&s.High, high, "highest"}} {
		for i, p := range c.v {
			c.v[i] = level.PowerDB(p)
		}
		var err error
		if *c.to, err = freq.NewCurve(g, c.v, c.label, "dB", freq.Basis{}); err != nil {
			return nil, err
		}
	}
	return s, nil
}
