package divide

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Objective is something to have less of, or of Width more.
type Objective int

// The objectives.
const (
	Tilt       Objective = iota // magnitude of the most tilt around the crossover
	Width                       // of the lobe, more
	AxisRange                   // of the sum on the axis
	Ripple                      // of the listening window
	Excursion                   // of the tweeter
	Heat                        // of its coil, by the rise
	GroupDelay                  // its share of what is audible
	Distortion                  // by the guard
	Step                        // of directivity at the crossover, its magnitude
	Sections                    // of a fit
)

// of returns what is to be made small.
func (o Objective) of(p *Point) float64 {
	switch o {
	case Tilt:
		return math.Abs(p.TiltMost)
	case Width:
		return -p.Width
	case AxisRange:
		return p.Range
	case Ripple:
		return p.Ripple
	case Excursion:
		return p.Excursion
	case Heat:
		return p.Rise
	case GroupDelay:
		return p.Audible
	case Distortion:
		return p.Distorts
	case Step:
		return math.Abs(p.Step)
	case Sections:
		return float64(p.Sections)
	}
	panic("divide: unknown objective")
}

// Bounds are what a division must keep. 0 is no bound.
type Bounds struct {
	Tilt       float64 // most, of the most tilt, rad
	Width      float64 // least, of the lobe's −3 dB width, rad
	Range      float64 // most, of the sum on the axis, dB
	Ripple     float64 // most, of the listening window, dB
	Excursion  float64 // most, of the tweeter, m peak
	Rise       float64 // most, of its coil, K
	Audible    float64 // most, of the audible group delay, a ratio
	Distortion float64 // most, by the guard, a ratio
	Floor      float64 // least, of the crossover over the tweeter's Fs, such as 2 (common practice, no source)
	Step       float64 // most, of the step of directivity, dB
}

// uses returns how much of each bound a point uses; 1 is all of it.
func (b Bounds) uses(p *Point) []use {
	most := func(name string, v, bound float64) use { return use{name, math.Abs(v) / bound, bound} }
	least := func(name string, v, bound float64) use { return use{name, bound / v, bound} }
	return []use{
		most("tilt", p.TiltMost, b.Tilt), least("width of the lobe", p.Width, b.Width),
		most("sum on the axis", p.Range, b.Range), most("window ripple", p.Ripple, b.Ripple),
		most("excursion", p.Excursion, b.Excursion), most("heat", p.Rise, b.Rise),
		most("group delay", p.Audible, b.Audible), most("distortion", p.Distorts, b.Distortion),
		least("floor of the tweeter", p.Floor, b.Floor), most("step of directivity", p.Step, b.Step),
	}
}

type use struct {
	name         string
	share, bound float64
}

// account finds the tightest bound.
func (b Bounds) account(p *Point) {
	for _, u := range b.uses(p) {
		if u.bound > 0 && (p.Binding == "" || u.share > p.Used) {
			p.Used, p.Binding = u.share, u.name
		}
	}
}

// Tally is how many candidates break a bound.
type Tally struct {
	Bound  string  `col:"bound"`
	Broken int     `col:"candidates that break it"`
	Alone  int     `col:"by it alone"`                    // which would be feasible without it
	Least  float64 `col:"least used" unit:"%" fmt:"%.0f"` // by any candidate; above 100 % it cannot be met here
}

// Found is what a search found.
type Found struct {
	Points  []Point // every candidate, in the order of frequencies, slopes, polarities, delays, and those of the refinement behind them
	Front   []Point // of those that keep all bounds, by the objectives; empty if there is none
	Closest Point   // that uses the least of its tightest bound, first of equals
	Tallies []Tally // of the bounds that are set
}

// Err returns nil if there is a candidate that keeps all bounds, or an error that says
// which bound the closest one breaks, and by how much.
func (f *Found) Err() error {
	if len(f.Front) > 0 {
		return nil
	}
	c := f.Closest
	return fmt.Errorf("divide: none of %d candidates keeps all bounds; the closest, %v, uses %.0f %% of %s", len(f.Points), c.candidate.Split, 100*c.Used, c.Binding)
}

// Run tries every combination and finds the front of those that keep all bounds: that
// no other one equals or betters in every objective and betters in one. Then, as often
// as Refine says, it tries frequencies between those of the front and their
// neighbours. Nothing is drawn at random.
func (s *Search) Run() (*Found, error) {
	st, err := s.prepare()
	if err != nil {
		return nil, err
	}
	inverted, delays := s.Inverted, s.Delays
	if len(inverted) == 0 || s.Fit != nil {
		inverted = []bool{false}
	}
	if len(delays) == 0 {
		delays = []bool{true}
	}
	out := &Found{}
	try := func(fc float64, family [3]int) error {
		sl := s.Slopes[family[0]]
		p, err := st.measure(Candidate{Split{Low: sl.Low, High: sl.High, Fc: fc}, inverted[family[1]], delays[family[2]]})
		if err != nil {
			return err
		}
		p.family = family
		if len(out.Points) == 0 || p.Used < out.Closest.Used {
			out.Closest = p
		}
		out.Points = append(out.Points, p)
		return nil
	}
	for _, fc := range s.Frequencies {
		for k := range s.Slopes {
			for i := range inverted {
				for d := range delays {
					if err := try(fc, [3]int{k, i, d}); err != nil {
						return nil, err
					}
				}
			}
		}
	}
	out.Front = s.front(out.Points)
	for range s.Refine {
		around := out.Front
		if len(around) == 0 {
			around = []Point{out.Closest}
		}
		for _, p := range around {
			below, above := 0.0, math.Inf(1) // its neighbours
			for _, q := range out.Points {
				if q.family != p.family {
					continue
				}
				if q.Hz < p.Hz {
					below = max(below, q.Hz)
				} else if q.Hz > p.Hz {
					above = min(above, q.Hz)
				}
			}
			for _, next := range []float64{below, above} {
				if next == 0 || math.IsInf(next, 1) {
					continue
				}
				if err := try(math.Sqrt(next*p.Hz), p.family); err != nil {
					return nil, err
				}
			}
		}
		out.Front = s.front(out.Points)
	}
	out.Tallies = s.Bounds.tally(out.Points)
	return out, nil
}

// front is the front of what keeps the bounds.
func (s *Search) front(points []Point) []Point {
	var kept []Point
	for _, p := range points {
		if p.Feasible() {
			kept = append(kept, p)
		}
	}
	return Front(kept, s.Objectives...)
}

// tally counts what breaks the bounds.
func (b Bounds) tally(points []Point) []Tally {
	var out []Tally
	for k, u := range b.uses(&Point{}) {
		if u.bound <= 0 {
			continue
		}
		t := Tally{Bound: u.name, Least: math.Inf(1)}
		for i := range points {
			uses := b.uses(&points[i])
			t.Least = min(t.Least, uses[k].share)
			if uses[k].share <= 1 {
				continue
			}
			t.Broken++
			if !slices.ContainsFunc(uses, func(v use) bool { return v.bound > 0 && v.share > 1 && v.name != u.name }) {
				t.Alone++
			}
		}
		out = append(out, t)
	}
	return out
}

// Front returns the points that no other one dominates: that is at least as good in
// every objective and better in one. It is exact; points that are alike in all
// objectives are all kept. It is in ascending order of the first objective, then of
// the next.
func Front(points []Point, objectives ...Objective) []Point {
	if len(objectives) == 0 {
		panic("divide: front without an objective")
	}
	values := make([][]float64, len(points))
	index := make([]int, len(points))
	for n := range points {
		index[n] = n
		for _, o := range objectives {
			values[n] = append(values[n], o.of(&points[n]))
		}
	}
	slices.SortStableFunc(index, func(a, b int) int { return cmp.Or(slices.Compare(values[a], values[b]), cmp.Compare(a, b)) })
	var out []Point
	var kept []int // sorted so, none is dominated by a later one
	for _, n := range index {
		if !slices.ContainsFunc(kept, func(m int) bool { return dominates(values[m], values[n]) }) {
			kept = append(kept, n)
			out = append(out, points[n])
		}
	}
	return out
}

// dominates reports whether a is nowhere worse than b, and better somewhere.
func dominates(a, b []float64) bool {
	better := false
	for k, v := range a {
		if v > b[k] {
			return false
		}
		better = better || v < b[k]
	}
	return better
}

// Choose returns, of the points that are wanted, the one with the most margin: that
// uses the least of its tightest bound; of equals the first. It is an error if none is
// wanted.
func Choose(points []Point, wanted func(p *Point) bool) (Point, error) {
	best := -1
	for i := range points {
		if wanted(&points[i]) && (best < 0 || points[i].Used < points[best].Used) {
			best = i
		}
	}
	if best < 0 {
		return Point{}, fmt.Errorf("divide: none of %d points is what is wanted", len(points))
	}
	return points[best], nil
}
