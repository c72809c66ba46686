package diffraction

import (
	"fmt"
	"math"
)

// What a network may have at most.
const (
	mostEntries = 80e6  // of its matrices, those of the fans included: 320 MB
	mostSeen    = 250e6 // ways as seen from receivers: a gigabyte, and some more for their beams
)

// terms is how many orders are summed at most, and enough of the first term how small
// the last may be at every frequency for the sum to end earlier.
const (
	terms  = 60
	enough = 1e-5
)

// band is a range of frequencies with a network that is fine enough for it.
type band struct {
	net       *network
	from, to  int         // points of the grid
	receivers [][]float32 // what each receiver makes of every way
	beams     []beams     // by receiver, what the ways miss
}

// newBands divides the grid up to a frequency into octaves, each with its network.
func (p *Plan) newBands() ([]band, error) {
	var bands []band
	cab, g, c := p.setup.Cabinet, p.setup.Grid, p.setup.Air.SpeedOfSound
	widths := cab.widths()
	to := 0
	for to < g.Len() && g.At(to) <= p.setup.UpTo {
		to++
	}
	for to > 0 {
		top := g.At(to - 1)
		points := func(f float64) func(edge int, length float64) int {
			return func(edge int, length float64) int {
				// 4 a wavelength, 5 on 2 distances of the next edge, and 8
				return max(8, int(math.Ceil(length*math.Max(4*f/c, 2.5/widths[edge]))))
			}
		}
		m := newMesh(cab, points(top), p.rules)
		if n := m.entries(cab); n > mostEntries {
			return nil, fmt.Errorf("diffraction: up to %.4g Hz the edges need %.3g pairs of ways, want at most %.2g: lower UpTo, or take fewer facets or a larger radius", top, float64(n), float64(mostEntries))
		}
		b := band{to: to, net: newNetwork(cab, m)}
		if n := float64(len(b.net.ways)) * float64(len(p.setup.Receivers)); n > mostSeen {
			return nil, fmt.Errorf("diffraction: up to %.4g Hz %d receivers see %d ways each, want at most %.2g together: fewer receivers at a time, or a lower UpTo", top, len(p.setup.Receivers), len(b.net.ways), float64(mostSeen))
		}
		coarsest := true
		for i := range cab.sides {
			s := &cab.sides[i]
			coarsest = coarsest && points(top)(s.edge, s.length) == points(0)(s.edge, s.length)
		}
		for to > 0 && (coarsest || g.At(to-1) > top/2) {
			to--
		}
		b.from = to
		b.see(p)
		bands = append(bands, b)
	}
	return bands, nil
}

// fade is the share of the orders from the third on at a frequency: they end over the
// half octave below UpTo, and not at once.
func (p *Plan) fade(hz float64) float64 {
	octaves := math.Log2(p.setup.UpTo / hz)
	if octaves >= 0.5 {
		return 1
	}
	s := math.Sin(math.Pi * math.Max(octaves, 0))
	return s * s
}

// tones is how many frequencies go through a network at once.
const tones = 4

// complexes holds as many complex numbers.
type complexes struct{ re, im [tones]float64 }

// job is a few neighbouring points of the grid in one band.
type job struct {
	b            *band
	first, count int
}

func newJobs(bands []band) []job {
	var jobs []job
	for i := range bands {
		for k := bands[i].from; k < bands[i].to; k += tones {
			jobs = append(jobs, job{&bands[i], k, min(tones, bands[i].to-k)})
		}
	}
	return jobs
}

// addSeries adds the orders from the third on to dst.
func (st *State) addSeries(dst []complex128, face int) {
	st.next.Store(0)
	if len(st.workers) == 1 {
		st.seriesJobs(&st.workers[0].series, dst, face)
	} else {
		st.crew.each(st.workers[0], func(w *worker) { st.seriesJobs(&w.series, dst, face) })
	}
	st.residual = 0
	for _, w := range st.workers {
		st.residual = math.Max(st.residual, w.series.worst)
	}
}

// seriesJobs takes one job after another until none is left.
func (st *State) seriesJobs(w *seriesWorker, dst []complex128, face int) {
	w.worst = 0
	for j := int(st.next.Add(1)) - 1; j < len(st.p.jobs); j = int(st.next.Add(1)) - 1 {
		w.worst = math.Max(w.worst, st.solveSeries(w, st.p.jobs[j], dst, face))
	}
}

// seriesWorker is the workspace of one goroutine in a network.
type seriesWorker struct {
	phase, here, next, sum []complexes // by way
	start                  []complexes // by way, the first term
	in                     []complexes
	fans                   []complexes // by sample
	k                      [tones]float64
	worst                  float64
}

// solveSeries adds the orders from the third on at the frequencies of a job to dst. It
// returns the size of the last term re the first at the worst of them.
func (st *State) solveSeries(w *seriesWorker, j job, dst []complex128, face int) float64 {
	n := j.b.net
	w.size(n)
	w.k = [tones]float64{}
	for t := range j.count {
		w.k[t] = st.p.setup.Grid.Omega()[j.first+t] / st.p.setup.Air.SpeedOfSound
	}
	clear(w.phase) // those beyond the count stay 0, whatever job was before
	for i, m := range n.ways {
		for t := range j.count {
			sin, cos := math.Sincos(w.k[t] * m)
			w.phase[i].re[t], w.phase[i].im[t] = cos/m, -sin/m
		}
	}
	clear(w.here)
	clear(w.sum)
	st.startSeries(w, n, face)
	copy(w.start, w.here)
	begin := w.squares()
	left := 0.0
	for range terms {
		n.step(w)
		for i := range w.sum {
			sum, h := &w.sum[i], &w.here[i]
			for t := range tones {
				sum.re[t] += h.re[t]
				sum.im[t] += h.im[t]
			}
		}
		last := w.squares()
		left = 0
		for t := range j.count {
			if begin[t] > 0 {
				left = math.Max(left, math.Sqrt(last[t]/begin[t]))
			}
		}
		if left <= enough {
			break
		}
	}
	st.finishSeries(w, j, dst)
	return left
}

func (w *seriesWorker) size(n *network) {
	if len(n.ways) > cap(w.phase) {
		w.phase, w.here = make([]complexes, len(n.ways)), make([]complexes, len(n.ways))
		w.next, w.sum = make([]complexes, len(n.ways)), make([]complexes, len(n.ways))
	}
	if n.most > cap(w.in) {
		w.in = make([]complexes, n.most)
	}
	w.start, w.fans = sized(w.start, len(n.ways)), sized(w.fans, n.samples)
	k := len(n.ways)
	w.phase, w.here, w.next, w.sum = w.phase[:k], w.here[:k], w.next[:k], w.sum[:k]
}

// squares returns the sum of the squares of all ways at each frequency.
func (w *seriesWorker) squares() (sum [tones]float64) {
	for i := range w.here {
		h := &w.here[i]
		for t := range tones {
			sum[t] += h.re[t]*h.re[t] + h.im[t]*h.im[t]
		}
	}
	return sum
}

// step takes all ways one edge further.
func (n *network) step(w *seriesWorker) {
	for i := range n.points {
		p := &n.points[i]
		count := p.last - p.first
		in := w.in[:count]
		for a := range in {
			h, f := &w.here[p.first+a], &w.phase[p.first+a]
			for t := range tones {
				in[a].re[t] = h.re[t]*f.re[t] - h.im[t]*f.im[t]
				in[a].im[t] = h.re[t]*f.im[t] + h.im[t]*f.re[t]
			}
		}
		for a := range count {
			w.next[n.back[p.first+a]] = product(n.matrix[p.matrix+a*count:][:count], in)
		}
	}
	w.here, w.next = w.next, w.here
}

// product returns Σ row·in.
func product(row []float32, in []complexes) complexes {
	var r0, r1, r2, r3, i0, i1, i2, i3 float64
	in = in[:len(row)]
	for b, x := range row {
		v, u := float64(x), &in[b]
		r0 += v * u.re[0]
		r1 += v * u.re[1]
		r2 += v * u.re[2]
		r3 += v * u.re[3]
		i0 += v * u.im[0]
		i1 += v * u.im[1]
		i2 += v * u.im[2]
		i3 += v * u.im[3]
	}
	return complexes{[tones]float64{r0, r1, r2, r3}, [tones]float64{i0, i1, i2, i3}}
}

// startSeries adds to w.here what the source sends over one edge into every way.
func (st *State) startSeries(w *seriesWorker, n *network, face int) {
	for i := range n.lines {
		l := &n.lines[i]
		s := &n.cabinet.sides[l.side]
		on := s.face == face
		if !on && n.cabinet.sides[s.twin].face != face {
			continue
		}
		same, beyond := s.along(false), s.along(true)
		for bi := range st.bodies {
			src := &st.bodies[bi]
			z, x, y := s.place(src.at)
			from := foot{z, math.Hypot(x, y)}
			for i := range n.points[l.first:l.last] {
				st.startPoint(w, n, &n.points[l.first+i], src, from, on, same, beyond)
			}
			if from.r < l.coarse {
				st.startPeaks(w, n, l, src, from, on, same, beyond)
			}
		}
	}
}

// startPoint adds what goes over one point.
func (st *State) startPoint(w *seriesWorker, n *network, p *meshPoint, src *body, from foot, on bool, same, beyond along) {
	d := n.mesh.z[p.side][p.index] - from.z
	m := math.Hypot(d, from.r)
	nu := n.cabinet.sides[p.side].nu
	e := grow(nu, d, from.r, m)
	scale := -nu / (4 * math.Pi) * p.weight / m * src.weight
	late := m + src.delay*st.p.setup.Air.SpeedOfSound
	var re, im [tones]float64
	for t := range tones {
		sin, cos := math.Sincos(w.k[t] * late)
		re[t], im[t] = scale*cos, -scale*sin
	}
	for a := p.first; a < p.last; a++ {
		v := beyond
		if (a < p.split) == on {
			v = same
		}
		beta := v.at(e * p.grow[a-p.first])
		h := &w.here[n.back[a]]
		for t := range tones {
			h.re[t] += beta * re[t]
			h.im[t] += beta * im[t]
		}
	}
}

// startPeaks adds, for every way, what the points miss of a source near the edge: the
// difference to the integral over η in closed form, at the length of the shortest way,
// shared by the two points beside it.
func (st *State) startPeaks(w *seriesWorker, n *network, l *line, src *body, from foot, on bool, same, beyond along) {
	s := &n.cabinet.sides[l.side]
	points := n.points[l.first:l.last]
	split := points[0].split - points[0].first
	ends := s.ends(from)
	z := n.mesh.z[l.side]
	for a, to := range l.feet {
		v := beyond
		if (a < split) == on {
			v = same
		}
		missed := v.integral(ends[0]*l.ends[a][0], ends[1]*l.ends[a][1])
		for i := range points {
			p := &points[i]
			d := z[i] - from.z
			m := math.Hypot(d, from.r)
			missed -= p.weight * (1/m + 1/n.ways[p.first+a]) * v.at(grow(s.nu, d, from.r, m)*p.grow[a])
		}
		peak := math.Min(math.Max(peakNear(from, to), 0), s.length)
		way := math.Hypot(peak-from.z, from.r) + math.Hypot(peak-to.z, to.r)
		missed *= -s.nu / (4 * math.Pi) * src.weight
		i, share := n.beside(l, peak)
		for k, part := range share {
			if part == 0 {
				continue
			}
			at := points[i+k].first + a
			h := &w.here[n.back[at]]
			// What arrives is e^{−jk·way}/way; the way from the point to there is ahead of it.
			size := missed * part * n.ways[at] / way
			late := way - n.ways[at] + src.delay*st.p.setup.Air.SpeedOfSound
			for t := range tones {
				sin, cos := math.Sincos(w.k[t] * late)
				h.re[t] += size * cos
				h.im[t] -= size * sin
			}
		}
	}
}
