package diffraction

import (
	"fmt"
	"math"
	"runtime"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
)

// Receiver is where the sound is wanted: a direction, infinitely far away, or a point.
type Receiver struct {
	at  r3.Vec
	far bool
	odd float64 // an angle of more than a turn that it was made of, rad
}

// Toward returns the receiver far away in a direction, which need not be of unit length.
func Toward(direction r3.Vec) Receiver { return Receiver{at: direction, far: true} }

// At returns the receiver at a point.
func At(point r3.Vec) Receiver { return Receiver{at: point} }

// Angles returns the direction that is turned from the front's axis (+z) to the right
// (towards +x) by the first angle and then raised (towards +y) by the second, in rad. Of more
// than a turn [NewPlan] refuses it: that is degrees.
func Angles(right, up float64) Receiver {
	r := Toward(r3.Vec{X: math.Sin(right) * math.Cos(up), Y: math.Sin(up), Z: math.Cos(right) * math.Cos(up)})
	for _, a := range []float64{right, up} {
		if math.Abs(a) > 2*math.Pi*(1+flat) {
			r.odd = a
		}
	}
	return r
}

// Order is how often a path is diffracted.
type Order int

// The orders.
const (
	// First takes the paths over one edge: fast, and good where the front is larger than
	// the wavelength.
	First Order = 1
	// Second takes the paths over one and two edges.
	Second Order = 2
	// All takes the paths over one and two edges, and up to Setup.UpTo all longer ones too.
	All Order = 3
)

// Setup is what does not change while sources do: the body, the air, where and at
// which frequencies the sound is wanted.
type Setup struct {
	Cabinet   *Cabinet
	Air       air.Medium
	Grid      *freq.Grid
	Receivers []Receiver
	Reference r3.Vec  // distances and times count from here, m; a point of the front, as a rule, and at most five sizes of the cabinet away from it, or 2 m
	Order     Order   // 0: First
	UpTo      float64 // of All, the highest frequency of the orders from the third on, Hz; 0: 5·c over the size. Without an Order it is refused
	Workers   int     // goroutines; 0: as many as there are processors
}

// Plan holds what can be computed before the sources are known. It is immutable, and
// many goroutines may make states of it.
type Plan struct {
	setup Setup
	views []view // [receiver][side]
	base  *transform
	rules *rules
	pairs *pairs // of the second order
	bands []band // of all orders
	jobs  []job
}

// view is a side of the cabinet as seen from a receiver.
type view struct {
	seen   float64 // 1, 0, or ½ on the boundary of being seen
	factor factor
	grow   float64 // e^{νb} of a direction
	cos    float64 // of the angle between direction and edge
	cot    float64
	along  float64    // direction·(start of the edge − reference)
	foot   foot       // of a point
	ends   [2]float64 // e^{νb} at both ends of the edge
}

// mostWorkers is more than there are processors.
const mostWorkers = 1024

// mostViews is how many sides of edges all receivers may look at: a gigabyte.
const mostViews = 5_000_000

// mostWaves is the largest size of a cabinet in wavelengths: 170 m at 20 kHz.
const mostWaves = 1e4

// farAway is the distance of a receiver in sizes of the cabinet beyond which the rounding
// of its paths is no longer small: at 1e6 it is some 1e-10 m.
const farAway = 1e6

// How far the reference may be away from a cabinet, in sizes of it and in m, whichever is
// more, so that it may be in another one of the same loudspeaker: a point of a front in
// millimetres is farther away, and most in centimetres.
const (
	farReference = 5
	nearEnough   = 2.0
)

// NewPlan prepares a setup. It refuses receivers inside the cabinet, at the reference
// point, or nearer to an edge than 1e-4 of the cabinet's size; one on a face is welcome.
// One farther than a million sizes away it refuses too: that is a direction. A reference
// point more than five sizes and 2 m away from the cabinet is refused, as in a wrong unit. So is
// what would take gigabytes: cabinets of more than ten thousand wavelengths, crowds of
// receivers, and at higher orders edges too close together.
func NewPlan(s Setup) (*Plan, error) {
	if s.Order == 0 && s.UpTo != 0 {
		return nil, fmt.Errorf("diffraction: an end of all orders at %g Hz and no order, want Order: All", s.UpTo)
	}
	if s.Order == 0 {
		s.Order = First
	}
	if s.Workers == 0 {
		s.Workers = runtime.GOMAXPROCS(0)
	}
	switch {
	case s.Cabinet == nil || s.Grid == nil:
		return nil, fmt.Errorf("diffraction: a setup without cabinet or grid, want both")
	case len(s.Cabinet.faces) == 0:
		return nil, fmt.Errorf("diffraction: a cabinet of 0 faces, want one that NewCabinet, NewBox, NewPrism or NewPlate has made")
	case s.Grid.Len() == 0:
		return nil, fmt.Errorf("diffraction: a grid of 0 points, want at least 1")
	case len(s.Receivers) == 0:
		return nil, fmt.Errorf("diffraction: a setup without receivers, want at least one")
	case len(s.Receivers)*len(s.Cabinet.sides) > mostViews:
		return nil, fmt.Errorf("diffraction: %d receivers of %d edges from both sides, want at most %d receivers of so many", len(s.Receivers), s.Cabinet.edges, mostViews/len(s.Cabinet.sides))
	case s.Order != First && s.Order != Second && s.Order != All:
		return nil, fmt.Errorf("diffraction: order %d, want First, Second or All", s.Order)
	case s.Workers < 0 || s.Workers > mostWorkers:
		return nil, fmt.Errorf("diffraction: %d workers, want 1 … %d, or 0 for one a processor", s.Workers, mostWorkers)
	case !finite(s.Reference):
		return nil, fmt.Errorf("diffraction: the reference is at %v, want finite coordinates", s.Reference)
	}
	if d, most := s.Cabinet.away(s.Reference), math.Max(farReference*s.Cabinet.size, nearEnough); !(d <= most) {
		return nil, fmt.Errorf("diffraction: the reference at %v is %.4g m away from the cabinet, want at most %.4g m, with all coordinates in m", s.Reference, d, most)
	}
	if err := s.Air.Validate(); err != nil {
		return nil, err
	}
	s.Receivers = append([]Receiver(nil), s.Receivers...)
	if s.UpTo == 0 {
		s.UpTo = 5 * s.Air.SpeedOfSound / s.Cabinet.size
	}
	if !(s.UpTo > 0) || math.IsInf(s.UpTo, 0) {
		return nil, fmt.Errorf("diffraction: all orders up to %g Hz, want a finite frequency > 0", s.UpTo)
	}
	if n := s.Cabinet.size * s.Grid.Last() / s.Air.SpeedOfSound; !(n <= mostWaves) {
		return nil, fmt.Errorf("diffraction: a cabinet of %.4g m at %.4g Hz is %.3g wavelengths large, want at most %g", s.Cabinet.size, s.Grid.Last(), n, float64(mostWaves))
	}
	p := &Plan{setup: s, rules: newRules()}
	for i := range s.Receivers {
		if err := p.look(i); err != nil {
			return nil, err
		}
	}
	var err error
	if p.base, err = newTransform(s.Grid, p.longest()/2/s.Air.SpeedOfSound); err != nil {
		return nil, err
	}
	if s.Order >= Second {
		if p.pairs, err = newPairs(s.Cabinet, p.perMetre(), p.rules); err != nil {
			return nil, err
		}
	}
	if s.Order == All {
		if p.bands, err = p.newBands(); err != nil {
			return nil, err
		}
		p.jobs = newJobs(p.bands)
	}
	return p, nil
}

// perMetre is how many nodes an edge gets per metre: 3.5 per wavelength of the highest
// frequency, at which the phase turns at most twice per wavelength.
func (p *Plan) perMetre() float64 {
	return 3.5 * p.setup.Grid.Last() / p.setup.Air.SpeedOfSound
}

// longest returns a bound of the spread of the paths, m.
func (p *Plan) longest() float64 {
	far := 0.0
	for _, v := range p.setup.Cabinet.vertices {
		far = math.Max(far, r3.Norm(r3.Sub(v, p.setup.Reference)))
	}
	return float64(min(p.setup.Order, Second))*p.setup.Cabinet.size + 2*far
}

// look checks a receiver and sees the sides from it.
func (p *Plan) look(i int) error {
	c, r := p.setup.Cabinet, &p.setup.Receivers[i]
	tol := flat * c.size
	if !finite(r.at) {
		return fmt.Errorf("diffraction: receiver %d is %v, want finite coordinates", i, r.at)
	}
	if r.odd != 0 {
		return fmt.Errorf("diffraction: receiver %d is at an angle of %g rad, want −2π … 2π rad (%g° are %.4g rad)", i, r.odd, r.odd, r.odd*math.Pi/180)
	}
	if r.far {
		if !(r3.Norm(r.at) > 0) {
			return fmt.Errorf("diffraction: receiver %d is in no direction, want a vector that is not 0", i)
		}
		had := r.at
		if r.at, tol = r3.Unit(r.at), flat; !(math.Abs(r3.Norm(r.at)-1) < flat) {
			return fmt.Errorf("diffraction: receiver %d is towards %v, want a vector long enough to have a direction", i, had)
		}
	} else if r3.Norm(r3.Sub(r.at, p.setup.Reference)) < 1e-6*c.size {
		return fmt.Errorf("diffraction: receiver %d is at the reference point, want some distance: levels count from it", i)
	} else if d := r3.Norm(r3.Sub(r.at, p.setup.Reference)); !(d <= farAway*c.size) {
		return fmt.Errorf("diffraction: receiver %d is %g m from the reference point, want at most %g m, or its direction (Toward)", i, d, farAway*c.size)
	}
	above := make([]float64, len(c.faces)) // 1 in front of a face, ½ in its plane, 0 behind
	outside := false
	for f := range c.faces {
		h := r3.Dot(c.faces[f].normal, r.at)
		if !r.far {
			h = c.height(f, r.at)
		}
		switch {
		case h > tol:
			above[f], outside = 1, true
		case h >= -tol:
			above[f] = 0.5
			if !r.far && c.over(f, r.at) { // on the face itself
				if len(c.faces) == 2 {
					return fmt.Errorf("diffraction: receiver %d is in the plate, want it on one side", i)
				}
				above[f], outside = 1, true
			} else if len(c.faces) == 2 {
				outside = true
			}
		}
	}
	if !r.far && !outside {
		return fmt.Errorf("diffraction: receiver %d at %v is inside the cabinet, want it outside", i, r.at)
	}
	for k := range c.sides {
		s := &c.sides[k]
		v := view{seen: math.Max(above[s.face], above[c.sides[s.twin].face])}
		var x, y float64
		if r.far {
			v.cos, x, y = r3.Dot(r.at, s.e), r3.Dot(r.at, s.t), r3.Dot(r.at, s.n)
			sin := math.Hypot(x, y)
			v.along = r3.Dot(r.at, r3.Sub(s.p, p.setup.Reference))
			if sin < 1e-9 { // along the edge there is nothing
				v.seen = 0
			} else {
				v.cot = v.cos / sin
				v.grow = grow(s.nu, -v.cos, sin, 1)
				v.ends = [2]float64{v.grow, v.grow}
			}
		} else {
			var z float64
			z, x, y = s.place(r.at)
			v.foot = foot{z, math.Hypot(x, y)}
			if d := math.Hypot(v.foot.r, math.Max(0, math.Max(-z, z-s.length))); d < 1e-4*c.size {
				return fmt.Errorf("diffraction: receiver %d is %g m from an edge, want at least %g m", i, d, 1e-4*c.size)
			}
			if v.foot.r < tol {
				v.seen = 0
			} else {
				v.ends = s.ends(v.foot)
			}
		}
		if math.Abs(y) <= tol {
			y = 0
			if len(c.faces) == 2 { // in the plane of a plate, by symmetry
				v.seen = 0
			}
		}
		v.factor = newFactor(s.nu, x, y)
		p.views = append(p.views, v)
	}
	return nil
}

// above returns how much of a source in a face a receiver sees.
func (p *Plan) above(face int, r Receiver) float64 {
	c := p.setup.Cabinet
	h, tol := c.height(face, r.at), flat*c.size
	if r.far {
		h, tol = r3.Dot(c.faces[face].normal, r.at), flat
	}
	switch {
	case h > tol || !r.far && h >= -tol && c.over(face, r.at):
		return 1
	case h >= -tol:
		return 0.5
	}
	return 0
}

// Len returns how many complex numbers a solution has: receivers times frequencies.
func (p *Plan) Len() int { return len(p.setup.Receivers) * p.setup.Grid.Len() }
