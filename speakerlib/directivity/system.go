package directivity

import (
	"fmt"
	"strings"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
)

// Way is one way of a loudspeaker over directions: its set per volt at its terminals, and
// the chain in front of it.
type Way struct {
	Name  string
	Set   *Set
	Chain crossover.Chain
	// Centre is how far above the reference point of the set the way's acoustic centre is,
	// in metres: 0 for the way about which the microphone turned, −0.145 for a woofer that
	// far below it. Only Lobe uses it: what a sum of directions needs is in the sets.
	Centre float64
}

// Sum returns the complex sum of the ways in every direction, per volt at the input:
//
//	p(θ) = Σ H·p_way(θ)
//
// All sets must be about one reference point, on one grid and basis, in the same
// directions, and share one time zero with the same time of flight taken out: else the sum
// means nothing, and is refused. A direction is as doubtful as the worst of its ways.
func Sum(ways ...Way) (*Set, error) {
	chains, err := joined(ways)
	if err != nil {
		return nil, err
	}
	first := ways[0].Set
	for _, w := range ways[1:] {
		if missing := lacks(w.Set, first); missing != "" {
			return nil, fmt.Errorf("directivity: way %q has no response %s, and %q has: want the same directions", w.Name, missing, ways[0].Name)
		}
		if missing := lacks(first, w.Set); missing != "" {
			return nil, fmt.Errorf("directivity: way %q has no response %s, and %q has: want the same directions", ways[0].Name, missing, w.Name)
		}
	}
	b := first.basis
	b.Per = freq.PerInput
	var points []Point
	usable := 0.0
	for _, at := range first.points {
		p := Point{Direction: at.Direction}
		sum := make([]complex128, first.grid.Len())
		for k, w := range ways {
			q, err := w.Set.Point(at.Direction)
			if err != nil {
				return nil, err
			}
			p.Origin = max(p.Origin, q.Origin)
			usable = max(usable, w.Set.usable)
			for i := range sum {
				sum[i] += chains[k][i] * q.Response.At(i)
			}
		}
		if p.Response, err = freq.NewResponse(first.grid, sum, fmt.Sprint(at.Direction), b); err != nil {
			return nil, err
		}
		points = append(points, p)
	}
	s, err := NewSet(first.clock, points...)
	if err != nil {
		return nil, err
	}
	s.usable = usable
	return s, nil
}

// joined checks that ways can be added, and returns their chains on the grid.
func joined(ways []Way) (chains [][]complex128, err error) {
	if len(ways) == 0 {
		return nil, fmt.Errorf("directivity: sum of no way, want at least 1")
	}
	for i, w := range ways {
		if w.Set == nil {
			return nil, fmt.Errorf("directivity: way %q has no set", w.Name)
		}
		first := ways[0].Set
		if w.Set.clock.Phases != Common {
			return nil, fmt.Errorf("directivity: way %q has %v, want one time zero that all ways share: without it they do not add", w.Name, w.Set.clock.Phases)
		}
		if w.Set.clock != first.clock {
			return nil, fmt.Errorf("directivity: way %q has the time zero %q with %g s taken out, and %q %q with %g s: want the same", w.Name, w.Set.clock.TimeZero, w.Set.clock.Removed, ways[0].Name, first.clock.TimeZero, first.clock.Removed)
		}
		if w.Set.basis.Per != freq.PerTerminals {
			return nil, fmt.Errorf("directivity: way %q is %v, want it per volt at its terminals", w.Name, w.Set.basis)
		}
		if w.Set.basis != first.basis {
			return nil, fmt.Errorf("directivity: way %q is %v, and %q %v: want the same basis", w.Name, w.Set.basis, ways[0].Name, first.basis)
		}
		if !w.Set.grid.Equal(first.grid) {
			return nil, fmt.Errorf("directivity: way %q is on %v, and %q on %v: want the same frequencies", w.Name, w.Set.grid, ways[0].Name, first.grid)
		}
		if err := w.Chain.Validate(); err != nil {
			return nil, err
		}
		if err := w.Chain.CheckGrid(first.grid); err != nil {
			return nil, fmt.Errorf("directivity: way %q: %w", w.Name, err)
		}
		for _, v := range ways[:i] {
			if v.Name == w.Name {
				return nil, fmt.Errorf("directivity: two ways are called %q, want different names", w.Name)
			}
		}
		chains = append(chains, w.Chain.ResponseTo(nil, first.grid))
	}
	return chains, nil
}

// lacks names the directions that s has not and t has.
func lacks(s, t *Set) string {
	var missing []string
	for _, p := range t.points {
		if _, err := s.Point(p.Direction); err != nil {
			missing = append(missing, fmt.Sprintf("%v (%v)", p.Direction, p.Direction.Orbit))
		}
	}
	return strings.Join(missing, ", ")
}
