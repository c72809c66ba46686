package tune

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
)

// View is what a fit sees of one direction.
type View struct {
	Name           string
	Source, Target freq.Curve // levels on one grid, dB
	Weight         freq.Curve // over frequency, as that of a Goal; the zero Curve: 1
	Counts         float64    // how much an error of this direction counts against others, ≥ 0; 0: not, but it is told
}

// Directions is a goal over several directions that one filter has to serve:
//
//	Σ_d v_d² ∫ w_d²·(L_d + 20·log10|G·ΠH_k| − T_d)² df′
//
// with v_d = Counts and f′ the Spacing. The filter is the same in all directions, so
// that this is, but for a constant, the same integral over one response: the
// mean of L_d − T_d weighted by v_d²w_d², which is what Goal returns. The fit costs
// what one direction costs, whatever their number, and the constant is what no
// filter takes away (Together.Floor).
type Directions struct {
	Views      []View
	Spacing    Spacing
	From, To   float64
	SampleRate float64
}

// Goal returns the goal of one response that has the same minimum.
func (d Directions) Goal() (Goal, error) {
	if len(d.Views) == 0 {
		return Goal{}, fmt.Errorf("tune: no direction, want at least 1")
	}
	g := d.Views[0].Source.Grid()
	if g == nil {
		return Goal{}, fmt.Errorf("tune: %s has no source", d.Views[0].Name)
	}
	mean, sum := make([]float64, g.Len()), make([]float64, g.Len())
	for _, v := range d.Views {
		need, err := v.need(g)
		if err != nil {
			return Goal{}, err
		}
		for i, x := range need {
			w := v.weight(i)
			if !(w >= 0) || math.IsInf(w, 0) {
				return Goal{}, fmt.Errorf("tune: weight of %s is %g at %g Hz, want a finite value ≥ 0", v.Name, w, g.At(i))
			}
			if w == 0 {
				continue
			}
			sum[i] += w * w
			mean[i] += w * w * (x - mean[i]) / sum[i]
		}
	}
	var most float64
	for _, s := range sum {
		most = max(most, s)
	}
	if most == 0 {
		return Goal{}, fmt.Errorf("tune: no direction counts: all weights are 0")
	}
	for i, s := range sum {
		sum[i] = math.Sqrt(s / most)
	}
	out := Goal{Spacing: d.Spacing, From: d.From, To: d.To, SampleRate: d.SampleRate}
	var err error
	if out.Source, err = freq.NewCurve(g, mean, "mean need of the directions", "dB", freq.Basis{}); err != nil {
		return Goal{}, err
	}
	if out.Target, err = freq.NewCurve(g, make([]float64, g.Len()), "nothing missing", "dB", freq.Basis{}); err != nil {
		return Goal{}, err
	}
	out.Weight, err = freq.NewCurve(g, sum, "weight of the directions", "1", freq.Basis{})
	return out, err
}

// need returns source − target on a grid.
func (v View) need(g *freq.Grid) ([]float64, error) {
	if !(v.Counts >= 0) || math.IsInf(v.Counts, 0) {
		return nil, fmt.Errorf("tune: %s counts %g, want a finite value ≥ 0", v.Name, v.Counts)
	}
	if v.Source.Grid() == nil || v.Target.Grid() == nil {
		return nil, fmt.Errorf("tune: %s has no source or no target", v.Name)
	}
	if v.Source.Unit() != "dB" {
		return nil, fmt.Errorf("tune: source of %s is in %s, want dB", v.Name, v.Source.Unit())
	}
	if !v.Source.Grid().Equal(g) {
		return nil, fmt.Errorf("tune: source of %s is on %v, want %v", v.Name, v.Source.Grid(), g)
	}
	diff, err := v.Source.Minus(v.Target)
	if err != nil {
		return nil, fmt.Errorf("tune: %s: %w", v.Name, err)
	}
	if v.Weight.Grid() != nil && !v.Weight.Grid().Equal(g) {
		return nil, fmt.Errorf("tune: weight of %s is on %v, want %v", v.Name, v.Weight.Grid(), g)
	}
	return diff.Values(), nil
}

func (v View) weight(i int) float64 {
	if v.Weight.Grid() == nil {
		return v.Counts
	}
	return v.Counts * v.Weight.At(i)
}

// Together is a fit seen from every direction.
type Together struct {
	Views []Seen  // in the order given
	RMS   float64 // over all directions and the band, weighted, dB
	Floor float64 // of it, what no filter common to all directions takes away, dB
}

// Seen is what a fit leaves in one direction.
type Seen struct {
	Name     string     `col:"direction"`
	RMS      float64    `col:"rms" unit:"dB" fmt:"%.2f"`    // over the band, weighted over frequency
	Worst    float64    `col:"worst" unit:"dB" fmt:"%+.2f"` // not weighted, where the weight over frequency is at least a tenth of its largest
	WorstAt  float64    `col:"at" unit:"Hz" fmt:"%.0f"`
	Residual freq.Curve // dB, on the whole grid
}

// Together tells what a filter, fitted to [Directions.Goal] or not, with a response
// in dB leaves in each direction.
func (d Directions) Together(filter freq.Curve) (*Together, error) {
	if _, err := d.Goal(); err != nil {
		return nil, err
	}
	g := d.Views[0].Source.Grid()
	if filter.Grid() == nil || !filter.Grid().Equal(g) || filter.Unit() != "dB" {
		return nil, fmt.Errorf("tune: filter is on %v in %q, want %v in dB", filter.Grid(), filter.Unit(), g)
	}
	if err := covers(g, d.From, d.To, d.Views[0].Source.Label()); err != nil {
		return nil, err
	}
	from, to := g.Between(d.From, d.To)
	if to-from < 2 {
		return nil, fmt.Errorf("tune: %d points from %g to %g Hz, want at least 2", to-from, d.From, d.To)
	}
	width := make([]float64, g.Len())
	for i := from; i < to; i++ {
		width[i] = d.Spacing.Between(g.At(max(i-1, from)), g.At(min(i+1, to-1))) / 2
	}
	out := &Together{}
	sum, first, second := make([]float64, g.Len()), make([]float64, g.Len()), make([]float64, g.Len())
	var all float64
	for _, v := range d.Views {
		left, err := v.need(g)
		if err != nil {
			return nil, err
		}
		for i := range left {
			left[i] += filter.At(i)
			w := v.weight(i)
			sum[i] += w * w
			first[i] += w * w * left[i]
			second[i] += w * w * left[i] * left[i]
		}
		c, err := freq.NewCurve(g, left, v.Name, "dB", freq.Basis{})
		if err != nil {
			return nil, err
		}
		out.Views = append(out.Views, see(c, v.Weight, d.From, d.To, d.Spacing))
	}
	for i := from; i < to; i++ {
		if sum[i] == 0 {
			continue
		}
		all += sum[i] * width[i]
		out.RMS += second[i] * width[i]
		out.Floor += max(0, second[i]-first[i]*first[i]/sum[i]) * width[i]
	}
	if !(all > 0) {
		return nil, fmt.Errorf("tune: nothing counts from %g to %g Hz: the weight is 0 everywhere", d.From, d.To)
	}
	out.RMS, out.Floor = math.Sqrt(out.RMS/all), math.Sqrt(out.Floor/all)
	return out, nil
}

// see tells what a residual is in a band.
func see(residual, weight freq.Curve, lo, hi float64, spacing Spacing) Seen {
	g := residual.Grid()
	seen := Seen{Name: residual.Label(), Residual: residual}
	one := View{Weight: weight, Counts: 1}
	from, to := g.Between(lo, hi)
	var most, norm float64
	for i := from; i < to; i++ {
		most = max(most, one.weight(i))
	}
	for i := from; i < to; i++ {
		w, e := one.weight(i), residual.At(i)
		width := spacing.Between(g.At(max(i-1, from)), g.At(min(i+1, to-1))) / 2
		seen.RMS += w * w * width * e * e
		norm += w * w * width
		if w >= 0.1*most && math.Abs(e) > math.Abs(seen.Worst) {
			seen.Worst, seen.WorstAt = e, g.At(i)
		}
	}
	if norm > 0 {
		seen.RMS = math.Sqrt(seen.RMS / norm)
	}
	return seen
}

// MaskError is a mask that no filter meets, because two directions ask for filters
// that are too far apart.
type MaskError struct {
	Allowed       float64 // dB either way
	Needed        float64 // the least that a filter leaves, dB either way
	Hz            float64 // where
	First, Second string  // the two directions, that which asks for less first
}

// Error says by how much the mask is missed, and where.
func (e *MaskError) Error() string {
	return fmt.Sprintf("tune: %q and %q ask for filters %.2f dB apart at %.5g Hz: whatever filter leaves ±%.2f dB there, want ±%.2f dB, %.2f dB less", e.First, e.Second, 2*e.Needed, e.Hz, e.Needed, e.Allowed, e.Needed-e.Allowed)
}

// Within returns a [MaskError] if no filter, of however many sections, can hold all
// directions that count within ±allowed dB of their targets: where half the range of
// L_d − T_d over the directions is more. A direction is looked at where its weight over
// frequency is at least a tenth of its largest in the band.
func (d Directions) Within(allowed float64) error {
	if !(allowed > 0) || math.IsInf(allowed, 0) {
		return fmt.Errorf("tune: mask of ±%g dB, want a finite value > 0", allowed)
	}
	if _, err := d.Goal(); err != nil {
		return err
	}
	g := d.Views[0].Source.Grid()
	if !(d.From > 0) || !(d.To > d.From) {
		return fmt.Errorf("tune: band from %g to %g Hz, want 0 < from < to", d.From, d.To)
	}
	if err := covers(g, d.From, d.To, d.Views[0].Source.Label()); err != nil {
		return err
	}
	needs := make([][]float64, len(d.Views))
	for k, v := range d.Views {
		var err error
		if needs[k], err = v.need(g); err != nil {
			return err
		}
	}
	worst := &MaskError{Allowed: allowed}
	from, to := g.Between(d.From, d.To)
	if from == to {
		return fmt.Errorf("tune: no point from %g to %g Hz (%v), want at least 1", d.From, d.To, g)
	}
	counts := false
	least := make([]float64, len(d.Views))
	for k, v := range d.Views {
		for i := from; i < to; i++ {
			least[k] = max(least[k], 0.1*v.weight(i))
		}
	}
	for i := from; i < to; i++ {
		low, high := -1, -1
		for k, v := range d.Views {
			if w := v.weight(i); w == 0 || w < least[k] {
				continue
			}
			if low < 0 || needs[k][i] < needs[low][i] {
				low = k
			}
			if high < 0 || needs[k][i] > needs[high][i] {
				high = k
			}
		}
		if low < 0 {
			continue
		}
		counts = true
		if half := (needs[high][i] - needs[low][i]) / 2; half > worst.Needed {
			worst.Needed, worst.Hz, worst.First, worst.Second = half, g.At(i), d.Views[high].Name, d.Views[low].Name
		}
	}
	if !counts {
		return fmt.Errorf("tune: nothing counts from %g to %g Hz: the weight is 0 everywhere", d.From, d.To)
	}
	if worst.Needed > allowed {
		return worst
	}
	return nil
}
