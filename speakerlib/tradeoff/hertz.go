package tradeoff

import (
	"cmp"
	"fmt"
	"slices"

	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Measure returns what a recipe gives and costs, on the study's grid or off it.
func (s *Study) Measure(r Recipe) (Point, error) {
	if _, err := s.Build(r); err != nil {
		return Point{}, err
	}
	w, err := newWork(s)
	if err != nil {
		return Point{}, err
	}
	return w.point(r)
}

func (w *work) point(r Recipe) (Point, error) {
	if err := w.mount(r.Woofer, r.Gross, r.Tuning); err != nil {
		return Point{}, err
	}
	t, err := w.newTarget(r.Shape, r.Extension)
	if err != nil {
		return Point{}, err
	}
	var p Point
	w.measure(&p, t, 0)
	return p, nil
}

// Passive returns what the woofer in the recipe's cabinet gives and costs without
// any filter: the starting point on the axes of the front. Its plateau is the mean
// level over from … to hertz, and its extension where the level is Drop below that,
// on the study's grid, both of which the recipe's Shape and Extension do not
// matter for. Level and costs are those of one voltage at all frequencies.
func (s *Study) Passive(r Recipe, from, to float64) (Point, error) {
	if err := s.validate(); err != nil {
		return Point{}, err
	}
	if err := r.validate(s); err != nil {
		return Point{}, err
	}
	w, err := newWork(s)
	if err != nil {
		return Point{}, err
	}
	m, _, err := s.mount(r.Woofer, r.Gross, r.Tuning)
	if err != nil {
		return Point{}, err
	}
	motion, err := m.Motion()
	if err != nil {
		return Point{}, err
	}
	out, err := freq.Evaluate(motion.Pressure, s.Grid, "without a filter", enclosure.PressureBasis())
	if err != nil {
		return Point{}, err
	}
	curve := out.DB(level.Reference)
	plateau, err := curve.Mean(from, to)
	if err != nil {
		return Point{}, fmt.Errorf("tradeoff: band of the plateau: %w", err)
	}
	t := &target{name: "no filter", power: newColumn(w.grid.Len())}
	if t.extension, err = curve.LowCorner(from, to, s.Drop); err != nil {
		return Point{}, fmt.Errorf("tradeoff: extension without a filter: %w", err)
	}
	reference := level.Pascal(plateau)
	for i, v := range motion.Pressure.ResponseTo(nil, w.grid) {
		t.power.value[i] = (real(v)*real(v) + imag(v)*imag(v)) / (reference * reference)
	}
	t.power.summarise()
	for k, d := range s.Delays {
		g, err := freq.NewGrid([]float64{d.At})
		if err != nil {
			return Point{}, err
		}
		delay := freq.GroupDelay(motion.Pressure, g, "").At(0)
		if k == 0 {
			t.delay = delay
		}
		t.delayUsed = max(t.delayUsed, delay/d.Most)
	}
	if err := w.mount(r.Woofer, r.Gross, r.Tuning); err != nil {
		return Point{}, err
	}
	var p Point
	w.measure(&p, t, 0)
	return p, nil
}

// Move is what moves with the extension.
type Move int

// The moves.
const (
	FilterAlone   Move = iota // the cabinet stays
	FilterAndVent             // the tuning keeps its ratio to the extension; of a closed box as FilterAlone
)

// Hertz is what one hertz of extension more, downward, costs at the study's level:
// positive where it costs something.
type Hertz struct {
	Extension float64 `col:"extension" unit:"Hz" fmt:"%.2f"` // where it is told
	Level     float64 `col:"highest level lost" unit:"dB" fmt:"%.2f"`
	Power     float64 `col:"apparent power" unit:"V·A" fmt:"%.1f"`
	Heat      float64 `col:"heat of the coil" unit:"W" fmt:"%.2f"`
	Excursion float64 `col:"excursion" unit:"mm peak" fmt:"%.2f"`
	VentAir   float64 `col:"vent air" unit:"m/s peak" fmt:"%.2f"`
	Delay     float64 `col:"group delay" unit:"ms" fmt:"%.2f"`
	Length    float64 `col:"vent length" unit:"mm" fmt:"%.1f"`
}

// Hertz tells what the next hertz of extension costs at a recipe: the central
// difference over 0.1 Hz to both sides, all else but the move kept. Where the cause
// that binds or the frequency of a peak changes, it is the mean of both sides.
func (s *Study) Hertz(r Recipe, move Move) (Hertz, error) {
	if move != FilterAlone && move != FilterAndVent {
		return Hertz{}, fmt.Errorf("tradeoff: move %d is not known, want FilterAlone or FilterAndVent", int(move))
	}
	if _, err := s.Build(r); err != nil {
		return Hertz{}, err
	}
	w, err := newWork(s)
	if err != nil {
		return Hertz{}, err
	}
	const step = 0.1 // Hz
	at := func(by float64) (Point, error) {
		n := r
		n.Extension += by
		if move == FilterAndVent {
			n.Tuning *= n.Extension / r.Extension
		}
		return w.point(n)
	}
	low, err := at(-step)
	if err != nil {
		return Hertz{}, err
	}
	high, err := at(step)
	if err != nil {
		return Hertz{}, err
	}
	h := between(&low, &high)
	h.Extension = r.Extension
	return h, nil
}

// Along returns what the hertz between neighbours of a front cost, in ascending
// extension. It means something for a front of extension and one more objective;
// of more, first take the Front by two.
func Along(front []Point) []Hertz {
	sorted := slices.Clone(front)
	slices.SortStableFunc(sorted, func(a, b Point) int { return cmp.Compare(a.Extension, b.Extension) })
	var out []Hertz
	for i := 1; i < len(sorted); i++ {
		if a, b := &sorted[i-1], &sorted[i]; b.Extension > a.Extension {
			out = append(out, between(a, b))
		}
	}
	return out
}

// between returns the cost per hertz from high down to low.
func between(low, high *Point) Hertz {
	per := 1 / (high.Extension - low.Extension)
	return Hertz{
		Extension: (low.Extension + high.Extension) / 2,
		Level:     (high.MaxLevel - low.MaxLevel) * per,
		Power:     (low.Power - high.Power) * per,
		Heat:      (low.Heat - high.Heat) * per,
		Excursion: (low.Excursion - high.Excursion) * per,
		VentAir:   (low.VentAir - high.VentAir) * per,
		Delay:     (low.Delay - high.Delay) * per,
		Length:    (low.Length - high.Length) * per,
	}
}

// Judge returns the points with their distortion as a function tells it of each
// recipe, in the order given: such as a run of the large-signal model at the
// study's level, which is too slow for a search. The distortion is a ratio.
func Judge(front []Point, distortion func(Recipe) (float64, error)) ([]Point, error) {
	out := slices.Clone(front)
	for i := range out {
		d, err := distortion(out[i].Recipe())
		if err != nil {
			return nil, fmt.Errorf("tradeoff: distortion of point %d of %d: %w", i+1, len(out), err)
		}
		if !(d >= 0) {
			return nil, fmt.Errorf("tradeoff: distortion of point %d of %d is %g, want a ratio ≥ 0", i+1, len(out), d)
		}
		out[i].Distortion = d
	}
	return out, nil
}
