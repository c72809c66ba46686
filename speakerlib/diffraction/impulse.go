package diffraction

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Impulse is a first-order impulse response re that of the half space, like H: each
// sample is the mean over one sampling period.
type Impulse struct {
	Start   float64 // of the first period, s after the arrival from the reference point; may be negative
	Period  float64 // s
	Samples []float64
}

// Impulse returns what a receiver gets directly and over one edge as an impulse response:
// the direct pulse, whose period holds 1/period, and behind it the edges,
//
//	h(τ) = −(ν/4π)·β/2·(R/L)·dη/dτ,  L = cτ, on both sides of the point where η = 0
//
// (P. Svensson, R. Fred and J. Vanderkooy 1999, eqs 4 to 9; numbers from memory). It is
// infinite at the onset, and the mean over a period is finite: from end to end of each
// period the integral over η is in closed form, with R/L of its middle, so that nothing
// is lost beside a zone boundary. The sum of samples times period is H at 0 Hz of the
// same order. It is the picture of what arrives when; for responses take
// [State.SolveTo].
func (st *State) Impulse(s Source, receiver int, sampleRate float64) (Impulse, error) {
	p := st.p
	if receiver < 0 || receiver >= len(p.setup.Receivers) {
		return Impulse{}, fmt.Errorf("diffraction: receiver %d, want 0 … %d", receiver, len(p.setup.Receivers)-1)
	}
	if !(sampleRate > 0) || math.IsInf(sampleRate, 0) {
		return Impulse{}, fmt.Errorf("diffraction: a sample rate of %g Hz, want a finite value > 0", sampleRate)
	}
	st.claim()
	defer st.release()
	if err := st.prepare(s); err != nil {
		return Impulse{}, err
	}
	h := Impulse{Period: 1 / sampleRate, Start: (math.Floor(st.lo*sampleRate) - 1) / sampleRate}
	if n := (st.hi - h.Start) * sampleRate; n > 1<<24 {
		return Impulse{}, fmt.Errorf("diffraction: an impulse response of %.3g samples, want at most %d", n, 1<<24)
	}
	h.Samples = make([]float64, int((st.hi-h.Start)*sampleRate)+3)
	c, r := p.setup.Cabinet, p.setup.Receivers[receiver]
	for i := range st.bodies {
		b := &st.bodies[i]
		if seen := p.above(s.Face, r); seen > 0 {
			amplitude := seen * b.weight
			if !r.far {
				amplitude *= r3.Norm(r3.Sub(r.at, p.setup.Reference)) / r3.Norm(r3.Sub(r.at, b.at))
			}
			at := b.delay + p.from(r, b.at)/p.setup.Air.SpeedOfSound
			h.Samples[int((at-h.Start)*sampleRate)] += amplitude * sampleRate
		}
		for k, id := range c.faces[s.Face].sides {
			if v := &p.views[receiver*len(c.sides)+id]; v.seen > 0 {
				st.addEdge(&h, b, &c.sides[id], v, r, b.feet[k])
			}
		}
	}
	return h, nil
}

// addEdge adds an edge to an impulse response.
func (st *State) addEdge(h *Impulse, b *body, s *side, v *view, r Receiver, from foot) {
	c := st.p.setup.Air.SpeedOfSound
	reference := r3.Norm(r3.Sub(r.at, st.p.setup.Reference))
	// cosh η of a way that is longer than the one from the reference by some metres
	cosh := func(longer float64) float64 {
		if r.far { // longer = rS·sin φ·cosh η − zS·cos φ − along
			return (longer + from.z*v.cos + v.along) / (from.r * math.Sqrt(1-v.cos*v.cos))
		}
		l := longer + reference
		dz := v.foot.z - from.z
		return (l*l - from.r*from.r - v.foot.r*v.foot.r - dz*dz) / (2 * from.r * v.foot.r)
	}
	ends := s.ends(from)
	lowest, highest := ends[0]*v.ends[0], ends[1]*v.ends[1] // e^{νη}
	scale := -s.nu / (4 * math.Pi) * v.seen * b.weight / h.Period
	before := 1.0
	for n := range h.Samples {
		end := (h.Start + float64(n+1)*h.Period - b.delay) * c
		x := cosh(end)
		if !(x > 1) {
			continue
		}
		after := math.Exp(s.nu * math.Acosh(x))
		ratio := 1.0
		if !r.far {
			ratio = reference / (reference + end - h.Period*c/2)
		}
		// Both branches, cut to the edge.
		for _, part := range [2][2]float64{{before, after}, {1 / after, 1 / before}} {
			lo, hi := math.Max(part[0], lowest), math.Min(part[1], highest)
			if lo < hi {
				h.Samples[n] += scale * ratio * v.factor.integral(lo, hi)
			}
		}
		before = after
		if after > highest && 1/after < lowest {
			return
		}
	}
}
