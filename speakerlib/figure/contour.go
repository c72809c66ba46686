package figure

import (
	"math"

	"gonum.org/v1/plot/vg"
)

// place is a point of a plot, 0 … 1 on each axis.
type place struct{ x, y float64 }

// sheet is a surface over the nodes of a grid: z[j][i] at (x[i], y[j]), the axes as
// places on the plot, in order.
type sheet struct {
	x, y []float64
	z    [][]float64
}

// crossing is an edge between two nodes of the sheet, framed by one row and column
// more all around: from node (i, j) to its right or upper neighbour.
type crossing struct {
	i, j  int
	right bool
}

// above returns the outlines of the region where the sheet is at least at a level,
// straight between the nodes (marching squares): closed rings, each with the region on
// its left, so that filling by winding number leaves the holes out. Where two corners of
// a cell are above and two below, the mean of the four decides whether the region
// passes through the cell.
func (s sheet) above(level float64) [][]place {
	nx, ny := len(s.x), len(s.y)
	in := func(i, j int) bool {
		return i > 0 && j > 0 && i <= nx && j <= ny && s.z[j-1][i-1] >= level
	}
	value := func(i, j int) float64 {
		if i > 0 && j > 0 && i <= nx && j <= ny {
			return s.z[j-1][i-1]
		}
		return math.Inf(-1)
	}
	next := map[crossing]crossing{}
	var order []crossing
	link := func(from, to crossing) {
		next[from] = to
		order = append(order, from)
	}
	for j := 0; j <= ny; j++ {
		for i := 0; i <= nx; i++ {
			bottom, top := crossing{i, j, true}, crossing{i, j + 1, true}
			left, right := crossing{i, j, false}, crossing{i + 1, j, false}
			corners := 0 // lower left, lower right, upper right, upper left
			for k, v := range []bool{in(i, j), in(i+1, j), in(i+1, j+1), in(i, j+1)} {
				if v {
					corners |= 1 << k
				}
			}
			through := false
			if corners == 0b0101 || corners == 0b1010 {
				through = (value(i, j)+value(i+1, j)+value(i+1, j+1)+value(i, j+1))/4 >= level
			}
			switch corners {
			case 0b0001:
				link(bottom, left)
			case 0b0010:
				link(right, bottom)
			case 0b0100:
				link(top, right)
			case 0b1000:
				link(left, top)
			case 0b0011:
				link(right, left)
			case 0b0110:
				link(top, bottom)
			case 0b1100:
				link(left, right)
			case 0b1001:
				link(bottom, top)
			case 0b1110:
				link(left, bottom)
			case 0b1101:
				link(bottom, right)
			case 0b1011:
				link(right, top)
			case 0b0111:
				link(top, left)
			case 0b0101:
				if through {
					link(bottom, right)
					link(top, left)
				} else {
					link(bottom, left)
					link(top, right)
				}
			case 0b1010:
				if through {
					link(left, bottom)
					link(right, top)
				} else {
					link(right, bottom)
					link(left, top)
				}
			}
		}
	}
	var rings [][]place
	for _, start := range order {
		var ring []place
		for at, ok := next[start]; ok; at, ok = next[at] {
			ring = append(ring, s.at(at, level))
			delete(next, start)
			start = at
		}
		if len(ring) > 2 {
			rings = append(rings, ring)
		}
	}
	return rings
}

// at is where the level lies on an edge. The frame's nodes are where the outermost
// nodes of the sheet are.
func (s sheet) at(c crossing, level float64) place {
	axis := func(v []float64, i int) float64 { return v[min(max(i-1, 0), len(v)-1)] }
	a := place{axis(s.x, c.i), axis(s.y, c.j)}
	b := place{a.x, axis(s.y, c.j+1)}
	if c.right {
		b = place{axis(s.x, c.i+1), a.y}
	}
	if a == b {
		return a
	}
	i, j := c.i, c.j+1
	if c.right {
		i, j = c.i+1, c.j
	}
	za, zb := s.z[c.j-1][c.i-1], s.z[j-1][i-1]
	t := (level - za) / (zb - za)
	return place{a.x + t*(b.x-a.x), a.y + t*(b.y-a.y)}
}

// simplified leaves out points that lie on the straight line between their neighbours,
// to a fiftieth of a point of the drawing.
func simplified(ring []place, width, height vg.Length) []place {
	w, h := float64(width), float64(height)
	kept := ring[:1:1]
	for k := 1; k < len(ring); k++ {
		a, p, b := kept[len(kept)-1], ring[k], ring[(k+1)%len(ring)]
		ux, uy := (b.x-a.x)*w, (b.y-a.y)*h
		vx, vy := (p.x-a.x)*w, (p.y-a.y)*h
		along := ux*vx + uy*vy
		if d := math.Abs(ux*vy - uy*vx); d > 0.02*math.Hypot(ux, uy) || along < 0 || along > ux*ux+uy*uy {
			kept = append(kept, p)
		}
	}
	return kept
}
