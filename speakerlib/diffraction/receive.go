package diffraction

import (
	"math"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/spatial/r3"
)

// see computes what all receivers make of the network, several at a time.
func (b *band) see(p *Plan) {
	b.receivers, b.beams = make([][]float32, len(p.setup.Receivers)), make([]beams, len(p.setup.Receivers))
	rule := p.rules.of(4)
	var next atomic.Int64
	var all sync.WaitGroup
	for range min(p.setup.Workers, len(b.receivers)) {
		all.Go(func() {
			for r := int(next.Add(1)) - 1; r < len(b.receivers); r = int(next.Add(1)) - 1 {
				b.receivers[r], b.beams[r] = b.net.see(p, r, rule)
			}
		})
	}
	all.Wait()
	b.net.leaves = nil // no longer needed
}

// see returns (−ν·w/4π)·(β/2)·R/l of every way for a receiver, and what the ways miss.
func (n *network) see(p *Plan, r int, rule rule) ([]float32, beams) {
	c := n.cabinet
	to := p.setup.Receivers[r]
	views := p.views[r*len(c.sides):][:len(c.sides)]
	row := make([]float32, len(n.ways))
	for i := range n.points {
		q := &n.points[i]
		s := &c.sides[q.side]
		scale := -s.nu * q.weight / (4 * math.Pi)
		for _, id := range []int{q.side, s.twin} {
			v := &views[id]
			if v.seen == 0 {
				continue
			}
			e, from, upto := v.grow, q.first, q.split
			if id != q.side {
				from, upto = q.split, q.last
			}
			factor := scale * v.seen
			if !to.far {
				d := n.mesh.z[id][q.index] - v.foot.z
				l := math.Hypot(d, v.foot.r)
				e = grow(s.nu, d, v.foot.r, l)
				factor *= r3.Norm(r3.Sub(to.at, p.setup.Reference)) / l
			}
			for a := from; a < upto; a++ {
				g := q.grow[a-q.first]
				if id != q.side {
					g = 1 / g // the twin runs the other way
				}
				row[a] = float32(factor * v.factor.at(g*e))
			}
		}
	}
	var b beams
	for i := range n.lines {
		n.correctView(&n.lines[i], p, r, rule, row, &b)
	}
	return row, b
}

// finishSeries adds what the ways send to the receivers.
func (st *State) finishSeries(w *seriesWorker, j job, dst []complex128) {
	n, p := j.b.net, st.p
	size := p.setup.Grid.Len()
	n.fanOut(w)
	for i := range w.sum {
		h, f := &w.sum[i], &w.phase[i]
		for t := range tones {
			h.re[t], h.im[t] = h.re[t]*f.re[t]-h.im[t]*f.im[t], h.re[t]*f.im[t]+h.im[t]*f.re[t]
		}
	}
	var share [tones]float64
	for t := range j.count {
		share[t] = p.fade(p.setup.Grid.At(j.first + t))
	}
	arrive := func(r int, got complexes, way float64) {
		for t := range j.count {
			sin, cos := math.Sincos(w.k[t] * way)
			dst[r*size+j.first+t] += complex(share[t], 0) * complex(got.re[t], got.im[t]) * complex(cos, -sin)
		}
	}
	for r, to := range p.setup.Receivers {
		for i := range n.points {
			q := &n.points[i]
			arrive(r, product(j.b.receivers[r][q.first:q.last], w.sum[q.first:q.last]), p.from(to, q.at))
		}
		missed := &j.b.beams[r]
		for _, b := range missed.list {
			arrive(r, product(missed.weights[b.first:b.last], w.fans[b.sample:][:b.last-b.first]), b.way)
		}
	}
}
