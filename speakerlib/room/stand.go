package room

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/gauss"
	"example.org/loudspeaker/speakerlib/level"
)

// Plate is a rigid, level rectangle, such as the part of a stand's plate that the cabinet
// does not cover: its middle, its depth along X and its width along Y, in metres.
type Plate struct {
	Name         string
	At           Point
	Depth, Width float64
}

// Column is a rigid, upright, round column.
type Column struct {
	Name        string
	X, Y        float64
	Radius      float64
	Bottom, Top float64 // heights above the floor, m
}

// Stand is what holds a loudspeaker up, as far as it reflects.
type Stand struct {
	Plates  []Plate
	Columns []Column
	Air     air.Medium
}

// Scatter is what one part of a stand sends to the listener re the direct sound. It is a
// transfer: 1 + the sum of all is what the stand does to a free field.
type Scatter struct {
	Name  string
	Extra float64 // by which the path over the nearest of its points is longer than the direct one, m

	source, listener Point
	speed            float64
	part             scatterer
}

// scatterer gives the pressure at the listener of a source of the pressure e^{−jkr}/r.
type scatterer interface {
	pressure(k float64, source, listener Point) complex128
	least(source, listener Point) float64 // the shortest path over it
	points(k float64) float64             // how many there are
}

// Heard returns what the parts of a stand send to the listener re the direct sound, of a
// source alike in all directions. Each part alone, as if nothing stood in between: it is an
// estimate of how much a stand can do, not of what it does at one frequency.
//
// Plates by Kirchhoff's integral, the pressure on them taken as twice the incident one
// (for its use on panels see J. H. Rindel, "Design of new ceiling reflectors", Applied
// Acoustics 34, 1991; from memory):
//
//	p = 1/2π·∬ e^{−jk(r₁+r₂)}/(r₁r₂)·(jk + 1/r₂)·h/r₂ dS
//
// with h the height of the listener above the plate: good where the plate is large against
// the wavelength, within a few decibels down to where it is half a wavelength wide, too much
// below. Large plates become images; a point straight over the edge gets −6 dB.
//
// Columns as a line of small scatterers, each as strong as the same length of an endless
// column in a plane wave (Morse and Ingard 1968, section 8.1; from memory):
//
//	p = j·f(φ)/π·∫ e^{−jk(r₁+r₂)}/(r₁r₂) dz,  f(φ) = −Σ ε_n·cos nφ·J_n′(ka)/H_n⁽²⁾′(ka)
//
// φ is the angle by which the sound is turned, in plan. Good at more than two radii from
// the axis and for rays that are not steep; the ends are left to themselves.
func (s Stand) Heard(source, listener Point) ([]Scatter, error) {
	if err := s.Air.Validate(); err != nil {
		return nil, err
	}
	for _, p := range []Point{source, listener} {
		if v := p.X + p.Y + p.Z; math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("room: source or listener at %v, want finite places", p)
		}
	}
	if source == listener {
		return nil, fmt.Errorf("room: listener and source are both at %v, want a distance between them", source)
	}
	if len(s.Plates)+len(s.Columns) == 0 {
		return nil, fmt.Errorf("room: stand without plates and columns, want at least one")
	}
	var parts []Scatter
	add := func(name string, part scatterer) {
		parts = append(parts, Scatter{Name: name, Extra: part.least(source, listener) - source.To(listener), source: source, listener: listener, speed: s.Air.SpeedOfSound, part: part})
	}
	for _, p := range s.Plates {
		if v := p.At.X + p.At.Y + p.At.Z; math.IsNaN(v - v) {
			return nil, fmt.Errorf("room: plate %q at %v, want a finite place", p.Name, p.At)
		}
		if !(p.Depth > 0 && p.Width > 0) || math.IsInf(p.Depth+p.Width, 0) {
			return nil, fmt.Errorf("room: plate %q of %g × %g m, want finite sizes > 0", p.Name, p.Depth, p.Width)
		}
		if !(source.Z > p.At.Z && listener.Z > p.At.Z) {
			return nil, fmt.Errorf("room: plate %q at %g m with the source at %g m and the listener at %g m, want both above it", p.Name, p.At.Z, source.Z, listener.Z)
		}
		add(p.Name, p)
	}
	for _, c := range s.Columns {
		if !(c.Radius > 0) || math.IsInf(c.Radius, 0) || !(c.Top > c.Bottom) || math.IsInf(c.Top-c.Bottom, 0) {
			return nil, fmt.Errorf("room: column %q of a radius of %g m from %g to %g m, want finite sizes > 0", c.Name, c.Radius, c.Bottom, c.Top)
		}
		for _, p := range []Point{source, listener} {
			if d := math.Hypot(p.X-c.X, p.Y-c.Y); !(d > 2*c.Radius) {
				return nil, fmt.Errorf("room: column %q is %g m from source or listener in plan, want more than two radii, %g m", c.Name, d, 2*c.Radius)
			}
		}
		add(c.Name, c)
	}
	return parts, nil
}

// mostPoints is how many points a part is divided into at most at one frequency.
const mostPoints = 1e6

// CheckGrid implements [freq.Sampled]: it refuses a part that is so large against the
// wavelength that it would take minutes.
func (s Scatter) CheckGrid(g *freq.Grid) error {
	if s.part == nil {
		return fmt.Errorf("room: part %q of a stand is empty, want one of Stand.Heard", s.Name)
	}
	if n := s.part.points(2 * math.Pi * g.Last() / s.speed); !(n <= mostPoints) {
		return fmt.Errorf("room: part %q of a stand needs %.3g points at %g Hz, want at most %g: it is too large for a stand, or the frequency too high", s.Name, n, g.Last(), float64(mostPoints))
	}
	return nil
}

// ResponseTo implements [freq.Transfer].
func (s Scatter) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	r := s.source.To(s.listener)
	for i, w := range g.Omega() {
		k := w / s.speed
		dst[i] = s.part.pressure(k, s.source, s.listener) * cmplx.Rect(r, k*r)
	}
	return dst
}

// Ripple returns by how much the parts can lift the level at most, 20·lg(1 + Σ|s|), in dB: a
// bound on their ripple, upward; downward it is somewhat more.
func Ripple(g *freq.Grid, label string, parts ...Scatter) (freq.Curve, error) {
	if g == nil || len(parts) == 0 {
		return freq.Curve{}, fmt.Errorf("room: ripple of %d parts of a stand on a grid, want a grid and at least 1 part", len(parts))
	}
	sum, h := make([]float64, g.Len()), make([]complex128, g.Len())
	for _, p := range parts {
		if err := p.CheckGrid(g); err != nil {
			return freq.Curve{}, err
		}
		for i, v := range p.ResponseTo(h, g) {
			sum[i] += cmplx.Abs(v)
		}
	}
	for i, v := range sum {
		sum[i] = level.DB(1 + v)
	}
	return freq.NewCurve(g, sum, label, "dB", freq.Basis{})
}

// nodes returns Gauss–Legendre nodes and weights over a length, enough for the phase k·2·length
// that paths turn over it at most.
func nodes(lo, hi, k float64) (x, weight []float64) {
	n := 16 + int(math.Ceil(1.5*k*(hi-lo)))
	x, weight = make([]float64, n), make([]float64, n)
	gauss.Legendre(x, weight, lo, hi)
	return x, weight
}

func (p Plate) points(k float64) float64 { return (16 + 1.5*k*p.Depth) * (16 + 1.5*k*p.Width) }

func (c Column) points(k float64) float64 {
	ka := k * c.Radius // whose series has about ka terms, each of as many steps
	return 16 + 1.5*k*(c.Top-c.Bottom) + ka*ka
}

func (p Plate) pressure(k float64, s, r Point) complex128 {
	xs, wx := nodes(p.At.X-p.Depth/2, p.At.X+p.Depth/2, k)
	ys, wy := nodes(p.At.Y-p.Width/2, p.At.Y+p.Width/2, k)
	h := r.Z - p.At.Z
	var sum complex128
	for i, x := range xs {
		for j, y := range ys {
			at := Point{x, y, p.At.Z}
			r1, r2 := at.To(s), at.To(r)
			sin, cos := math.Sincos(-k * (r1 + r2))
			scale := wx[i] * wy[j] * h / (2 * math.Pi * r1 * r2 * r2)
			sum += complex(scale*cos, scale*sin) * complex(1/r2, k)
		}
	}
	return sum
}

func (p Plate) least(s, r Point) float64 {
	// The specular point, or the nearest point of the plate to it.
	t := (s.Z - p.At.Z) / (s.Z + r.Z - 2*p.At.Z)
	at := p.At
	at.X = min(max(s.X+t*(r.X-s.X), p.At.X-p.Depth/2), p.At.X+p.Depth/2)
	at.Y = min(max(s.Y+t*(r.Y-s.Y), p.At.Y-p.Width/2), p.At.Y+p.Width/2)
	return s.To(at) + at.To(r)
}

func (c Column) pressure(k float64, s, r Point) complex128 {
	turn := math.Atan2(r.Y-c.Y, r.X-c.X) - math.Atan2(c.Y-s.Y, c.X-s.X)
	zs, w := nodes(c.Bottom, c.Top, k)
	var sum complex128
	for i, z := range zs {
		at := Point{c.X, c.Y, z}
		r1, r2 := at.To(s), at.To(r)
		sum += cmplx.Rect(w[i]/(r1*r2), -k*(r1+r2))
	}
	return complex(0, 1/math.Pi) * cylinder(k*c.Radius, turn) * sum
}

func (c Column) least(s, r Point) float64 {
	d1, d2 := math.Hypot(s.X-c.X, s.Y-c.Y), math.Hypot(r.X-c.X, r.Y-c.Y)
	z := min(max(s.Z+d1/(d1+d2)*(r.Z-s.Z), c.Bottom), c.Top)
	at := Point{c.X, c.Y, z}
	return s.To(at) + at.To(r)
}

// cylinder returns f(φ) of a rigid cylinder.
func cylinder(ka, phi float64) complex128 {
	derivative := func(f func(int, float64) float64, n int) float64 {
		if n == 0 {
			return -f(1, ka)
		}
		return (f(n-1, ka) - f(n+1, ka)) / 2
	}
	var sum complex128
	for n := 0; ; n++ {
		j, y := derivative(math.Jn, n), derivative(math.Yn, n)
		term := complex(j, 0) / complex(j, -y)
		e := 2.0
		if n == 0 {
			e = 1
		}
		sum -= term * complex(e*math.Cos(float64(n)*phi), 0)
		if float64(n) > ka+1 && cmplx.Abs(term) < 1e-14 {
			return sum
		}
	}
}
