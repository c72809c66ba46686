package tradeoff

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// Result is what a search found.
type Result struct {
	Points  []Point // every candidate of the grid that can be built, in the grid's order, and those of the refinement behind them
	Front   []Point // of the points that keep all bounds, by the study's objectives; empty if there is none
	Closest Point   // that uses the least of its tightest bound, first of equals
	Unbuilt int     // candidates that no vent tunes, or with a target of a lower order than the box
}

// place is a candidate: indices into the study, and steps of its ranges.
type place struct{ woofer, gross, fb, shape, extension int } // fb −1: closed

func (a place) compare(b place) int {
	return cmp.Or(cmp.Compare(a.woofer, b.woofer), cmp.Compare(a.gross, b.gross), cmp.Compare(a.fb, b.fb),
		cmp.Compare(a.shape, b.shape), cmp.Compare(a.extension, b.extension))
}

// searcher is a search under way. Steps are counted in those of the finest grid.
type searcher struct {
	*work
	targets map[[2]int]*target // by shape and step
	seen    map[place]bool     // beside the coarse grid
	orders  []int              // of the shapes
	places  []place            // of the points
	result  *Result
}

// Search tries every combination of the study on its grid, finds the front among
// those that keep all bounds, and then, as often as Refine says, halves the steps
// and tries the neighbours of the front along each range, in both directions, until
// all of them are tried. No gradient is used and nothing is drawn at random: the
// result is a function of the study alone, and exact on what was tried. A front
// between grid points that no neighbour leads to is not found: start from steps that
// are fine enough.
//
// A target follows the box at any order not below the box's own (2 closed, 3 with a
// leak, 4 vented); a lower one would ask for a gain without end towards direct current, and
// is left out. What a box costs per pascal is computed once, and a candidate costs
// one pass over the band without allocations.
func (s *Study) Search() (*Result, error) {
	if err := s.validate(); err != nil {
		return nil, err
	}
	w, err := newWork(s)
	if err != nil {
		return nil, err
	}
	x := &searcher{work: w, targets: map[[2]int]*target{}, seen: map[place]bool{}, result: &Result{}}
	for _, shape := range s.Shapes {
		f, err := s.filter(shape, s.Extension.From)
		if err != nil {
			return nil, err
		}
		x.orders = append(x.orders, f.Order())
	}
	grid := x.coarse()
	x.result.Points, x.places = make([]Point, 0, len(grid)), make([]place, 0, len(grid))
	if err := x.try(grid); err != nil {
		return nil, err
	}
	if len(x.result.Points) == 0 {
		if w.boxed.err != nil {
			return nil, fmt.Errorf("tradeoff: none of %d candidates can be built: %w", len(grid), w.boxed.err)
		}
		return nil, errors.New("tradeoff: all targets are of a lower order than the boxes")
	}
	x.front(x.result.Points)
	for round := 1; round <= s.Refine; round++ {
		for {
			if n := len(x.result.Front); n > maxFront {
				return nil, fmt.Errorf("tradeoff: a front of %d points is to be looked around, want %d at most: fewer objectives or a smaller Refine", n, maxFront)
			}
			list := x.around(1 << (s.Refine - round))
			if len(list) == 0 {
				break
			}
			n := len(x.result.Points)
			if n+len(list) > maxCandidates {
				return nil, fmt.Errorf("tradeoff: the front of %d points leads to more than %d candidates, want fewer objectives or a smaller Refine", len(x.result.Front), maxCandidates)
			}
			if err := x.try(list); err != nil {
				return nil, err
			}
			x.front(append(slices.Clone(x.result.Front), x.result.Points[n:]...))
		}
	}
	closest := 0
	for i := range x.result.Points {
		if x.result.Points[i].Used < x.result.Points[closest].Used {
			closest = i
		}
	}
	x.result.Closest = x.result.Points[closest]
	return x.result, nil
}

// coarse returns the study's grid, boxes together.
func (x *searcher) coarse() []place {
	s := x.study
	var tunings []int
	if s.Closed {
		tunings = append(tunings, -1)
	}
	if s.Tunings != (Range{}) {
		for k := range s.Tunings.Steps + 1 {
			tunings = append(tunings, k<<s.Refine)
		}
	}
	grid := make([]place, 0, len(s.Woofers)*(s.Gross.Steps+1)*len(tunings)*len(s.Shapes)*(s.Extension.Steps+1))
	for woofer := range s.Woofers {
		for gross := range s.Gross.Steps + 1 {
			for _, fb := range tunings {
				for shape := range s.Shapes {
					for extension := range s.Extension.Steps + 1 {
						grid = append(grid, place{woofer, gross << s.Refine, fb, shape, extension << s.Refine})
					}
				}
			}
		}
	}
	return grid
}

// around returns the neighbours of the front in a distance of step that have not
// been tried, boxes together.
func (x *searcher) around(step int) []place {
	s := x.study
	var out []place
	add := func(p *place, at *int, r Range) {
		from := *at
		for _, k := range []int{from - step, from + step} {
			if k < 0 || k > r.Steps<<s.Refine {
				continue
			}
			if *at = k; !x.tried(*p) {
				x.seen[*p] = true
				out = append(out, *p)
			}
		}
	}
	for i := range x.result.Front {
		at := x.places[x.result.Front[i].order]
		p := at
		add(&p, &p.gross, s.Gross)
		p = at
		add(&p, &p.extension, s.Extension)
		if p = at; at.fb >= 0 {
			add(&p, &p.fb, s.Tunings)
		}
	}
	slices.SortFunc(out, place.compare)
	return out
}

// tried reports whether a place is on the coarse grid, or was a neighbour before.
func (x *searcher) tried(p place) bool {
	between := 1<<x.study.Refine - 1
	return (p.gross|p.extension|max(p.fb, 0))&between == 0 || x.seen[p]
}

// try appends the candidates that can be built to the points.
func (x *searcher) try(list []place) error {
	s := x.study
	for _, p := range list {
		fb := 0.0
		if p.fb >= 0 {
			fb = s.Tunings.at(p.fb, s.Refine)
		}
		if x.orders[p.shape] < s.order(fb > 0) || x.mount(p.woofer, s.Gross.at(p.gross, s.Refine), fb) != nil {
			x.result.Unbuilt++
			continue
		}
		t := x.targets[[2]int{p.shape, p.extension}]
		if t == nil {
			var err error
			if t, err = x.newTarget(s.Shapes[p.shape], s.Extension.at(p.extension, s.Refine)); err != nil {
				return err
			}
			x.targets[[2]int{p.shape, p.extension}] = t
		}
		n := len(x.result.Points)
		x.result.Points = append(x.result.Points, Point{})
		x.measure(&x.result.Points[n], t, n)
		x.places = append(x.places, p)
	}
	return nil
}

// front takes the front of those points that keep all bounds.
func (x *searcher) front(points []Point) {
	keep := make([]int, 0, len(points))
	for i := range points {
		if points[i].Feasible() {
			keep = append(keep, i)
		}
	}
	x.result.Front = front(points, keep, x.study.Objectives)
}
