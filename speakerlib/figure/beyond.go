package figure

import "math"

// beyond returns where a curve is +∞ as lines whose values are not set yet: from halfway
// to the point before to halfway to the point after. It returns none if nothing is said
// about it.
func (b *builder) beyond(label string, x, y []float64, p pen) (all []line) {
	if b.o.Beyond == "" {
		return nil
	}
	between := func(i, j int) float64 {
		if j < 0 || j >= len(x) {
			return x[i]
		}
		return math.Sqrt(x[i] * x[j])
	}
	for i := 0; i < len(x); i++ {
		if !math.IsInf(y[i], 1) {
			continue
		}
		first := i
		for i+1 < len(x) && math.IsInf(y[i+1], 1) {
			i++
		}
		from, to := max(between(first, first-1), b.o.From), min(between(i, i+1), b.o.To)
		if from < to {
			all = append(all, line{label: label, x: []float64{from, to}, pen: p.pale(), pale: true})
		}
	}
	b.away = b.away || len(all) > 0
	return all
}

// along puts what is beyond the upper edge of a panel along it, a curve under the other.
func along(beyond [][]line, p panel) (all []line) {
	const first, next = 2, 3.4 // points from the edge and from one to the other
	for k, lines := range beyond {
		share := 1 - (first+next*float64(k))/float64(p.height)
		v := p.y.min + share*(p.y.max-p.y.min)
		if p.y.log {
			v = p.y.min * math.Pow(p.y.max/p.y.min, share)
		}
		for _, n := range lines {
			n.y = []float64{v, v}
			all = append(all, n)
		}
	}
	return all
}
