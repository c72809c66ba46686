package main

import (
	"math"
	"math/cmplx"
)

type point struct{ x, y, z float64 } // m: right, up, forward; z = 0 is the baffle

func (p point) to(q point) float64 {
	return math.Sqrt((p.x-q.x)*(p.x-q.x) + (p.y-q.y)*(p.y-q.y) + (p.z-q.z)*(p.z-q.z))
}

// baffle is a rectangle with rounded edges, from (−width/2, 0) upward.
type baffle struct{ width, height, radius float64 }

const rays = 240

// factor is the pressure at the microphone relative to the same source in an
// infinite baffle, by rays along the baffle to its edges: each edge sends on
// half of what reaches it, inverted, so that the sum falls to one half at low
// frequencies. Rounding and the source's own directivity towards the edge take
// the contribution away at high frequencies. It is smooth, finite and rough: an
// edge does not really radiate alike into all directions.
type factor struct {
	extra, weight [rays]float64
	radius        float64
}

func (b baffle) seen(from, mic point) *factor {
	r := &factor{radius: b.radius}
	direct := from.to(mic)
	var sum float64
	for i := range rays {
		sin, cos := math.Sincos(tau * (float64(i) + 0.5) / rays)
		d := math.Inf(1)
		if cos > 0 {
			d = min(d, (b.width/2-from.x)/cos)
		} else {
			d = min(d, (-b.width/2-from.x)/cos)
		}
		if sin > 0 {
			d = min(d, (b.height-from.y)/sin)
		} else {
			d = min(d, -from.y/sin)
		}
		edge := point{from.x + d*cos, from.y + d*sin, 0}
		r.extra[i] = d + edge.to(mic) - direct
		r.weight[i] = direct / edge.to(mic)
		sum += r.weight[i]
	}
	for i := range r.weight {
		r.weight[i] *= 0.5 / sum
	}
	return r
}

func (r *factor) at(f float64, d driver) complex128 {
	k := tau * f / c0
	var sum complex128
	for i, x := range r.extra {
		sin, cos := math.Sincos(-k * x)
		sum += complex(r.weight[i]*cos, r.weight[i]*sin)
	}
	rounded := 1 / math.Sqrt(1+0.6*(k*r.radius)*(k*r.radius))
	return 1 - d.piston(f, 1)*complex(rounded, 0)*sum
}

func phasor(k, r float64) complex128 { return cmplx.Exp(complex(0, -k*r)) }
