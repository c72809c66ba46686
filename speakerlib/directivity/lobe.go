package directivity

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
)

// Listener is a point in the vertical plane of the axis: Distance in front of the reference
// point, along the axis, and Height above the axis, in metres.
type Listener struct{ Distance, Height float64 }

// Range returns how far the listener is from the reference point, in metres.
func (l Listener) Range() float64 { return math.Hypot(l.Distance, l.Height) }

// Heard returns the pressure at a listener of a way whose acoustic centre is above the
// reference point by centre metres. The ray from the centre to the listener meets the
// circle of the set under an angle θ; from there the sound goes on as that of a point source:
//
//	p = p_set(θ)·(ρ_set/ρ)·e^{−jk(ρ − ρ_set)}
//
// with ρ the distance of the centre from the listener and ρ_set from the place on the circle.
// θ is interpolated, with a gap as stated; the result is marked as Interpolated unless a
// direction of the set is met exactly. Exact for a point source of any directivity. A real way
// at half the distance of the set or less is no point any more, and is refused.
//
// The basis of the result has the distance of the listener from the reference point.
func (s *Set) Heard(l Listener, centre float64, in Interpolation, a air.Medium) (Point, error) {
	in, err := s.hearing(in, centre, a)
	if err != nil {
		return Point{}, err
	}
	return s.heard(s.ring(Vertical), l, centre, in, a)
}

// hearing checks what all listeners have in common.
func (s *Set) hearing(in Interpolation, centre float64, a air.Medium) (Interpolation, error) {
	if err := a.Validate(); err != nil {
		return in, err
	}
	if s.clock.Phases != Common {
		return in, fmt.Errorf("directivity: listener of a set with %v, want one time zero", s.clock.Phases)
	}
	if !(math.Abs(centre) < s.basis.Distance/2) {
		return in, fmt.Errorf("directivity: centre of a way %g m above the reference point of a set at %g m, want less than half of it", centre, s.basis.Distance)
	}
	return in.validate(s.clock.Phases)
}

func (s *Set) heard(r *ring, l Listener, centre float64, in Interpolation, a air.Medium) (Point, error) {
	d := s.basis.Distance
	rho := math.Hypot(l.Distance, l.Height-centre)
	if !(l.Distance > 0) || math.IsInf(rho, 0) || math.IsNaN(rho) || !(rho > d/2) {
		return Point{}, fmt.Errorf("directivity: listener %g m in front and %g m above of a set at %g m, want one in front, and farther than half of that from the centre of the way", l.Distance, l.Height, d)
	}
	cos, sin := l.Distance/rho, (l.Height-centre)/rho
	// From the centre (0, centre) along (cos, sin) to the circle of radius d.
	t := -centre*sin + math.Sqrt(centre*centre*sin*sin+d*d-centre*centre)
	at := Up(math.Atan2(centre+t*sin, t*cos) * 180 / math.Pi)
	p, err := s.Point(at)
	if err != nil {
		if p, err = s.between(r, at, in); err != nil {
			return Point{}, err
		}
	}
	v := p.Response.Values()
	for i, w := range s.grid.Omega() {
		v[i] *= cmplx.Rect(t/rho, -w*(rho-t)/a.SpeedOfSound)
	}
	b := s.basis
	b.Distance = l.Range()
	heard, err := freq.NewResponse(s.grid, v, fmt.Sprintf("%g m in front, %+g m", l.Distance, l.Height), b)
	return Point{at, heard, p.Origin}, err
}

// Lobe is the sum of the ways over the height of the listener at one distance: what a map
// of frequency and height shows.
type Lobe struct {
	Distance float64
	Heights  []float64       // above the axis, m
	Sums     []freq.Response // per volt at the input, of each height
	Origins  []Origin        // the most doubtful of the ways
}

// LobeAt returns the lobe of the ways at a distance and heights, each way heard from its
// own centre (Set.Heard): where the sum of a set at 1 m has the paths of 1 m, the difference
// of the paths of two ways that are 145 mm apart is another at 2.6 m by 6.4 mm, 18.7 µs.
func LobeAt(ways []Way, distance float64, heights []float64, in Interpolation, a air.Medium) (*Lobe, error) {
	chains, err := joined(ways)
	if err != nil {
		return nil, err
	}
	if len(heights) == 0 {
		return nil, fmt.Errorf("directivity: lobe over no height, want at least 1")
	}
	rings := make([]*ring, len(ways))
	for k, w := range ways {
		if in, err = w.Set.hearing(in, w.Centre, a); err != nil {
			return nil, fmt.Errorf("directivity: way %q: %w", w.Name, err)
		}
		rings[k] = w.Set.ring(Vertical)
	}
	g := ways[0].Set.grid
	lobe := &Lobe{Distance: distance, Heights: append([]float64(nil), heights...)}
	for _, h := range heights {
		l := Listener{distance, h}
		sum := make([]complex128, g.Len())
		origin := Given
		for k, w := range ways {
			p, err := w.Set.heard(rings[k], l, w.Centre, in, a)
			if err != nil {
				return nil, fmt.Errorf("directivity: way %q: %w", w.Name, err)
			}
			origin = max(origin, p.Origin)
			for i := range sum {
				sum[i] += chains[k][i] * p.Response.At(i)
			}
		}
		b := ways[0].Set.basis
		b.Distance, b.Per = l.Range(), freq.PerInput
		r, err := freq.NewResponse(g, sum, fmt.Sprintf("%+g m", h), b)
		if err != nil {
			return nil, err
		}
		lobe.Sums = append(lobe.Sums, r)
		lobe.Origins = append(lobe.Origins, origin)
	}
	return lobe, nil
}

// Levels returns the sound pressure level at every height at a drive in volts rms, in dB re
// 20 µPa.
func (l *Lobe) Levels(volts float64) ([]freq.Curve, error) {
	if !(volts > 0) || math.IsInf(volts, 0) {
		return nil, fmt.Errorf("directivity: drive is %g V, want a finite value > 0", volts)
	}
	var c []freq.Curve
	for _, r := range l.Sums {
		c = append(c, r.SPL(volts))
	}
	return c, nil
}

// Re returns the levels at every height re one of them, at each frequency, in dB: how the
// sound changes when the listener stands up. The height must be among those of the lobe.
func (l *Lobe) Re(height float64) ([]freq.Curve, error) {
	for k, h := range l.Heights {
		if h != height {
			continue
		}
		var c []freq.Curve
		for _, r := range l.Sums {
			v, err := relative(r, l.Sums[k])
			if err != nil {
				return nil, err
			}
			d, err := freq.NewCurve(r.Grid(), v, r.Label(), "dB", freq.Basis{})
			if err != nil {
				return nil, err
			}
			c = append(c, d)
		}
		return c, nil
	}
	return nil, fmt.Errorf("directivity: lobe re %g m, want one of its heights %g m", height, l.Heights)
}

// Window is the range of heights about one of them within which a level holds.
type Window struct {
	Low, High float64 // above the axis, m: the last heights of the lobe that hold
	// Open says that the lobe has no height beyond Low or High at which it does not hold.
	Open bool
}

// Window returns how far the listener may move up and down from a height before the level
// differs by more than a number of decibels from that at the height, anywhere within lo … hi
// hertz, in the steps of the lobe.
func (l *Lobe) Window(height, within, lo, hi float64) (Window, error) {
	if !(within > 0) || math.IsInf(within, 0) {
		return Window{}, fmt.Errorf("directivity: window within %g dB, want a finite value > 0", within)
	}
	c, err := l.Re(height)
	if err != nil {
		return Window{}, err
	}
	i, j := c[0].Grid().Between(lo, hi)
	if i == j {
		return Window{}, fmt.Errorf("directivity: no point within %g … %g Hz (%v)", lo, hi, c[0].Grid())
	}
	below, above := math.Inf(-1), math.Inf(1) // the nearest heights that do not hold
	for k, h := range l.Heights {
		for n := i; n < j; n++ {
			if math.Abs(c[k].At(n)) > within {
				if h < height {
					below = max(below, h)
				} else {
					above = min(above, h)
				}
				break
			}
		}
	}
	w := Window{Low: height, High: height, Open: math.IsInf(below, 0) || math.IsInf(above, 0)}
	for _, h := range l.Heights {
		if h > below && h < above {
			w.Low, w.High = min(w.Low, h), max(w.High, h)
		}
	}
	return w, nil
}
