package crossover

import (
	"fmt"
	"math"
	"math/cmplx"
	"sort"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
)

// Vertical is a way as it was measured over elevations: the microphone on an arc of
// the basis' distance about a point of the baffle (the reference point), up positive.
type Vertical struct {
	Name      string
	Height    float64         // of the way above the reference point, m
	Angles    []float64       // elevations, ascending, rad
	Responses []freq.Response // in the order of the angles, of one time zero and distance
	Chain     freq.Transfer   // in front of the way; nil: a wire
}

// Place is where one listens: in front of the baffle, on the plane through all ways.
type Place struct {
	Distance float64 // from the baffle, along its normal, m
	Height   float64 // above the reference point, m
}

// Arc returns the place at a distance from the reference point, in an elevation.
func Arc(distance, elevation float64) Place {
	s, c := math.Sincos(elevation)
	return Place{distance * c, distance * s}
}

// Stack is ways above one another, as they are heard from any place in front of them.
//
// Of each way the path from its own height is taken out of what was measured,
//
//	S(α′) = p(α)·d·e^{jk(d−r)}
//
// r being the distance of the measurement, d and α′ distance and elevation of the
// microphone as the way sees them. S turns little over the angle, and is interpolated:
// ln|S| and the unwrapped phase by piecewise cubics whose slopes are those of the
// parabolas through neighbours; where the phase turns by more than 0.75π from one
// angle to the next (a notch between them) S itself along a straight line. At another
// place the path is put back,
//
//	p = S(α′)·e^{−jk(d−R)}/d
//
// R being the distance of the reference point from there: what Parallax tells, level
// and angle included. At the angles and the distance of the measurement it is the
// measurement itself; elsewhere exact for points that radiate, and as good as angles
// are dense for drivers: the interpolation is the only thing assumed. Near field,
// floor and walls are not in it.
type Stack struct {
	air    air.Medium
	grid   *freq.Grid
	basis  freq.Basis
	ways   []stacked
	chains [][]complex128
	driven bool // whether there is a chain in front of any way
}

// stacked is a way in its own frame; values lie by frequency and then by angle.
type stacked struct {
	name         string
	height       float64
	angles       []float64
	gain, phase  []float64 // ln|S| and its phase, unwrapped over the angle
	slopeG       []float64
	slopeP       []float64
	straight     []bool // whether the interval from this angle on is taken straight
	low, high    float64
	measuredFrom float64 // elevations as measured, for errors
	measuredTo   float64
}

// NewStack checks ways and prepares them. All must be on one grid and of one basis.
func NewStack(medium air.Medium, ways ...Vertical) (*Stack, error) {
	if err := medium.Validate(); err != nil {
		return nil, err
	}
	if len(ways) == 0 || len(ways[0].Responses) == 0 {
		return nil, fmt.Errorf("crossover: stack of no way, want at least one with responses")
	}
	s := &Stack{air: medium, grid: ways[0].Responses[0].Grid(), basis: ways[0].Responses[0].Basis()}
	if r := s.basis.Distance; !(r > 0) || math.IsInf(r, 0) || s.basis.Quantity != freq.Pressure {
		return nil, fmt.Errorf("crossover: responses of the stack are %v, want sound pressures at a distance", s.basis)
	}
	for _, w := range ways {
		if err := s.add(w); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func (s *Stack) add(w Vertical) error {
	n, r := len(w.Angles), s.basis.Distance
	if n < 2 || n != len(w.Responses) {
		return fmt.Errorf("crossover: way %q has %d angles and %d responses, want as many, at least 2", w.Name, n, len(w.Responses))
	}
	if !(math.Abs(w.Height) < r/2) {
		return fmt.Errorf("crossover: way %q is %g m above the reference point, want less than half the distance of %g m", w.Name, w.Height, r)
	}
	way := stacked{name: w.Name, height: w.Height, measuredFrom: w.Angles[0], measuredTo: w.Angles[n-1]}
	for i, a := range w.Angles {
		if !(math.Abs(a) < math.Pi/2) || i > 0 && !(a > w.Angles[i-1]) {
			return fmt.Errorf("crossover: angles of way %q are %v rad, want them ascending within ±π/2", w.Name, w.Angles)
		}
		if !w.Responses[i].Grid().Equal(s.grid) {
			return fmt.Errorf("crossover: way %q at %.4g rad is on %v, want %v", w.Name, a, w.Responses[i].Grid(), s.grid)
		}
		if b := w.Responses[i].Basis(); b != s.basis {
			return fmt.Errorf("crossover: way %q at %.4g rad is %v, want %v as the others", w.Name, a, b, s.basis)
		}
		_, own := path(Arc(r, a), w.Height)
		way.angles = append(way.angles, own)
	}
	way.low, way.high = way.angles[0], way.angles[n-1]
	m := s.grid.Len()
	way.gain, way.phase = make([]float64, m*n), make([]float64, m*n)
	way.slopeG, way.slopeP, way.straight = make([]float64, m*n), make([]float64, m*n), make([]bool, m*n)
	for f, omega := range s.grid.Omega() {
		g, p := way.gain[f*n:f*n+n], way.phase[f*n:f*n+n]
		for i, a := range w.Angles {
			v := w.Responses[i].At(f)
			if v == 0 {
				return fmt.Errorf("crossover: way %q at %.4g rad is silent at %g Hz", w.Name, a, s.grid.At(f))
			}
			d, _ := path(Arc(r, a), w.Height)
			g[i] = math.Log(cmplx.Abs(v) * d)
			p[i] = cmplx.Phase(v * cmplx.Rect(1, omega*(d-r)/s.air.SpeedOfSound))
			if i > 0 {
				p[i] -= 2 * math.Pi * math.Round((p[i]-p[i-1])/(2*math.Pi))
				way.straight[f*n+i-1] = math.Abs(p[i]-p[i-1]) > 0.75*math.Pi
			}
		}
		slopes(way.slopeG[f*n:f*n+n], way.angles, g)
		slopes(way.slopeP[f*n:f*n+n], way.angles, p)
	}
	chain := make([]complex128, m)
	if w.Chain == nil {
		for i := range chain {
			chain[i] = 1
		}
	} else {
		if err := freq.CheckGrid(w.Chain, s.grid); err != nil {
			return fmt.Errorf("crossover: chain of way %q: %w", w.Name, err)
		}
		if err := finite(w.Name, w.Chain.ResponseTo(chain, s.grid), s.grid); err != nil {
			return err
		}
		s.driven = true
	}
	s.ways, s.chains = append(s.ways, way), append(s.chains, chain)
	return nil
}

// finite reports a chain that is not finite somewhere.
func finite(way string, h []complex128, g *freq.Grid) error {
	for i, z := range h {
		if cmplx.IsNaN(z) || cmplx.IsInf(z) {
			return fmt.Errorf("crossover: chain of way %q is %v at %g Hz, want a finite value", way, z, g.At(i))
		}
	}
	return nil
}

// path returns how far a place is from a way at a height, and in which elevation the
// way sees it.
func path(p Place, height float64) (distance, elevation float64) {
	up := p.Height - height
	return math.Hypot(p.Distance, up), math.Atan2(up, p.Distance)
}

// slopes writes the slopes of the parabolas through each point and its neighbours; at
// the ends that of the parabola through the last three.
func slopes(dst, x, y []float64) {
	n := len(x)
	if n == 2 {
		dst[0] = (y[1] - y[0]) / (x[1] - x[0])
		dst[1] = dst[0]
		return
	}
	for i := range x {
		k := min(max(i, 1), n-2)
		h0, h1 := x[k]-x[k-1], x[k+1]-x[k]
		d0, d1 := (y[k]-y[k-1])/h0, (y[k+1]-y[k])/h1
		curve := (d1 - d0) / (h0 + h1)
		dst[i] = (d0*h1+d1*h0)/(h0+h1) + 2*curve*(x[i]-x[k])
	}
}

// at returns S of a way at an index of frequency, in its own elevation.
func (w *stacked) at(f int, angle float64) complex128 {
	n := len(w.angles)
	i := min(max(sort.SearchFloat64s(w.angles, angle)-1, 0), n-2)
	a, b := f*n+i, f*n+i+1
	h := w.angles[i+1] - w.angles[i]
	t := (angle - w.angles[i]) / h
	if w.straight[a] {
		return cmplx.Rect((1-t)*math.Exp(w.gain[a]), w.phase[a]) + cmplx.Rect(t*math.Exp(w.gain[b]), w.phase[b])
	}
	u := 1 - t
	p0, p1, m0, m1 := u*u*(1+2*t), t*t*(3-2*t), t*u*u*h, -t*t*u*h
	return cmplx.Rect(math.Exp(p0*w.gain[a]+p1*w.gain[b]+m0*w.slopeG[a]+m1*w.slopeG[b]),
		p0*w.phase[a]+p1*w.phase[b]+m0*w.slopeP[a]+m1*w.slopeP[b])
}

// Outside is a place that a way was not measured for.
type Outside struct {
	Way      string
	Place    Place
	Angle    float64 // in which the way sees it, rad
	From, To float64 // what is known, as the way sees it, rad
}

// Error says by how much.
func (e *Outside) Error() string {
	const degree = math.Pi / 180
	by := max(e.From-e.Angle, e.Angle-e.To)
	return fmt.Sprintf("crossover: a place %.4g m away and %.4g m up is seen by way %q from %.2f°, and it is known from %.2f° to %.2f°: %.2f° are missing", e.Place.Distance, e.Place.Height, e.Way, e.Angle/degree, e.From/degree, e.To/degree, by/degree)
}

// sees returns where a way sees a place from.
func (w *stacked) sees(p Place) (distance, elevation float64, err error) {
	const slack = 1e-9
	d, a := path(p, w.height)
	if !(p.Distance > 0) || math.IsInf(d, 0) || math.IsNaN(d) {
		return 0, 0, fmt.Errorf("crossover: a place %g m in front and %g m up, want a finite one in front", p.Distance, p.Height)
	}
	if a < w.low-slack || a > w.high+slack {
		return 0, 0, &Outside{Way: w.name, Place: p, Angle: a, From: w.low, To: w.high}
	}
	return d, max(w.low, min(w.high, a)), nil
}

// Grid returns the grid of the responses.
func (s *Stack) Grid() *freq.Grid { return s.grid }

// MeasuredAt returns the distance of the measurements, m.
func (s *Stack) MeasuredAt() float64 { return s.basis.Distance }

// With returns the stack with other chains, in the order of the ways.
func (s *Stack) With(chains ...freq.Transfer) (*Stack, error) {
	if len(chains) != len(s.ways) {
		return nil, fmt.Errorf("crossover: %d chains for %d ways of a stack", len(chains), len(s.ways))
	}
	out := *s
	out.chains, out.driven = nil, true
	for k, c := range chains {
		if err := freq.CheckGrid(c, s.grid); err != nil {
			return nil, fmt.Errorf("crossover: chain of way %q: %w", s.ways[k].name, err)
		}
		h := c.ResponseTo(nil, s.grid)
		if err := finite(s.ways[k].name, h, s.grid); err != nil {
			return nil, err
		}
		out.chains = append(out.chains, h)
	}
	return &out, nil
}

// Ways returns what each way does at a place, chain included, with the flight of the
// reference point's distance taken out as it was at the measurement. Without any chain
// they are per volt of what they were measured per.
func (s *Stack) Ways(p Place) ([]freq.Response, error) {
	out := make([]freq.Response, len(s.ways))
	for k := range s.ways {
		v := make([]complex128, s.grid.Len())
		if err := s.wayTo(v, k, p, 0, len(v)); err != nil {
			return nil, err
		}
		b := s.basis
		b.Distance = math.Hypot(p.Distance, p.Height)
		if s.driven && b.Per == freq.PerTerminals {
			b.Per = freq.PerInput
		}
		var err error
		if out[k], err = freq.NewResponse(s.grid, v, s.ways[k].name, b); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// At returns the sum of the ways at a place.
func (s *Stack) At(p Place) (freq.Response, error) {
	ways, err := s.Ways(p)
	if err != nil {
		return freq.Response{}, err
	}
	sum := ways[0]
	for _, w := range ways[1:] {
		if sum, err = sum.Add(w); err != nil {
			return freq.Response{}, err
		}
	}
	return sum.As("sum"), nil
}

// wayTo adds way k at a place to dst, from the index lo of frequency to hi.
func (s *Stack) wayTo(dst []complex128, k int, p Place, lo, hi int) error {
	w := &s.ways[k]
	d, angle, err := w.sees(p)
	if err != nil {
		return err
	}
	omega := s.grid.Omega()
	tau := (d - math.Hypot(p.Distance, p.Height)) / s.air.SpeedOfSound
	for f := lo; f < hi; f++ {
		dst[f-lo] += s.chains[k][f] * w.at(f, angle) * cmplx.Rect(1/d, -omega[f]*tau)
	}
	return nil
}

// Range returns the elevations, seen from the reference point, that all ways were
// measured for at a distance from it.
func (s *Stack) Range(distance float64) (from, to float64, err error) {
	if !(distance > 0) || math.IsInf(distance, 0) {
		return 0, 0, fmt.Errorf("crossover: distance is %g m, want a finite value > 0", distance)
	}
	from, to = -math.Pi/2, math.Pi/2
	for _, w := range s.ways {
		// The elevation at which the way sees a is found on the arc by the law of
		// sines: sin(a − e) = −(h/R)·cos a.
		of := func(a float64) float64 { return a + math.Asin(w.height/distance*math.Cos(a)) }
		if !(math.Abs(w.height) < distance) {
			return 0, 0, fmt.Errorf("crossover: distance is %g m, want more than the %g m of way %q from the reference point", distance, math.Abs(w.height), w.name)
		}
		from, to = max(from, of(w.low)), min(to, of(w.high))
	}
	if !(from < to) {
		return 0, 0, fmt.Errorf("crossover: at %g m no elevation is known of all ways", distance)
	}
	return from, to, nil
}
