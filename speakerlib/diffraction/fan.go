package diffraction

import "math"

// Where a receiver is near the plane of a face, β of the last edge has a peak that is
// narrower than the points are apart. What arrives at the edge must then be known at the
// peak and not only at the points: it varies much between them, and in the corner of two
// edges it ends as a power of the distance. What leaves a point along a face depends on the
// direction only, through u = νa:
//
//	D(u) = Σ Q·e^{−jkm}/m · (−ν·w/4π)·(β/2)
//
// over the ways that end there. A fan has D·2·cosh u at even steps of u, which is smooth and
// has a limit at both ends, so that cubics between them are good.

// fan is the steps of u at the points of an edge, the same for both faces.
type fan struct {
	step  float64
	count int
}

// leastPole is the least π(1−ν) of an edge that has fans. At blunter edges the peaks of β in
// the sum above are narrower than the points are apart: D is then good at the points, where
// what one misses another has too much of, and not between them.
const leastPole = 0.5

// fanReach is how far u goes to either side: beyond, D·2·cosh u is at its limit.
const fanReach = 4

// newFan takes steps that are fine enough for the peaks of β, whose poles are at ±jπ(1−ν).
func newFan(nu float64) fan {
	pole := math.Pi * (1 - nu)
	if pole < leastPole {
		return fan{}
	}
	step := 0.6 * pole
	half := int(math.Ceil(fanReach / step))
	return fan{step, 2*half + 1}
}

// at returns the first of four samples for u, and the shares of all four in D.
func (f fan) at(u float64) (int, [4]float64) {
	grow := math.Exp(u)
	scale := 1 / (grow + 1/grow)
	x := math.Min(math.Max(u/f.step+float64(f.count/2), 0), float64(f.count-1))
	first := min(max(int(x)-1, 0), f.count-4)
	a := x - float64(first)
	b, c, d := a-1, a-2, a-3
	return first, [4]float64{-b * c * d / 6 * scale, a * c * d / 2 * scale, -a * b * d / 2 * scale, a * b * c / 6 * scale}
}

// fillFan computes what takes the ways at a point to its fans, of its side's face and of
// the twin's.
func (n *network) fillFan(p *meshPoint, f fan) {
	s := &n.cabinet.sides[p.side]
	same, beyond := s.along(false), s.along(true)
	scale := -s.nu * p.weight / (4 * math.Pi)
	count := p.last - p.first
	for a := range 2 * f.count {
		u := f.step * float64(a%f.count-f.count/2)
		grow := math.Exp(u)
		row := n.fans[p.fanMatrix+a*count:][:count]
		for b := range row {
			t := same
			if (a < f.count) != (b < p.split-p.first) {
				t = beyond
			}
			row[b] = float32(scale * t.at(p.grow[b]*grow) * (grow + 1/grow))
		}
	}
}

// fanOut computes the fans of what has passed two edges and more with that of the points.
func (n *network) fanOut(w *seriesWorker) {
	for i := range n.points {
		p := &n.points[i]
		samples := 2 * n.lines[n.cabinet.sides[p.side].edge].fan.count
		if samples == 0 {
			continue
		}
		count := p.last - p.first
		in := w.in[:count]
		for a := range in {
			h, s, f := &w.sum[p.first+a], &w.start[p.first+a], &w.phase[p.first+a]
			for t := range tones {
				re, im := h.re[t]+s.re[t], h.im[t]+s.im[t]
				in[a].re[t] = re*f.re[t] - im*f.im[t]
				in[a].im[t] = re*f.im[t] + im*f.re[t]
			}
		}
		for a := range samples {
			w.fans[p.fan+a] = product(n.fans[p.fanMatrix+a*count:][:count], in)
		}
	}
}
