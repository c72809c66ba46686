package tradeoff

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
)

// work is the workspace of one search.
type work struct {
	study  *Study
	grid   *freq.Grid // the band of the search
	weight []float64  // of a mean over log frequency, sum 1
	pascal float64    // rms of the level
	heat   float64    // the programme's mean square pressure over Pa²

	ratio               *freq.Ratio
	square, perPressure []float64
	values              []complex128

	costs costs // of the box that is mounted
	boxed boxed
	block [columns]int // where the largest of the last candidate were
}

// boxed is what a point knows of its box.
type boxed struct {
	woofer    int
	gross, fb float64
	account   enclosure.Account
	err       error
}

// target is an acoustic high-pass over the band.
type target struct {
	shape     analog.Prototype
	name      string
	corner    float64
	extension float64
	power     column  // |T|²
	delay     float64 // s, at the first of the study's Delays
	delayUsed float64
}

func (s *Study) filter(shape analog.Prototype, extension float64) (*analog.Filter, error) {
	if shape == nil {
		return nil, fmt.Errorf("tradeoff: recipe has no shape, want one as analog.Butterworth(6)")
	}
	f, err := analog.HighpassThrough(shape, extension, level.Ratio(-s.Drop))
	if err != nil {
		return nil, fmt.Errorf("tradeoff: target %v at %g Hz: %w", shape, extension, err)
	}
	return f, nil
}

func newWork(s *Study) (*work, error) {
	i, j := s.Grid.Between(s.SearchFrom, s.SearchTo)
	g, err := freq.NewGrid(s.Grid.Hz()[i:j])
	if err != nil {
		return nil, err
	}
	n := g.Len()
	w := &work{
		study: s, grid: g, weight: make([]float64, n), pascal: level.Pascal(s.Level),
		ratio: freq.NewRatio(n), square: make([]float64, n), perPressure: make([]float64, n), values: make([]complex128, n),
		costs: newCosts(n), boxed: boxed{woofer: -1},
	}
	whole := math.Log(g.Last() / g.First())
	for i := 1; i < n; i++ {
		half := math.Log(g.At(i)/g.At(i-1)) / (2 * whole)
		w.weight[i-1] += half
		w.weight[i] += half
	}
	crest := level.Ratio(s.Crest)
	w.heat = 2 / (crest * crest) * w.pascal * w.pascal
	return w, nil
}

func (w *work) newTarget(shape analog.Prototype, extension float64) (*target, error) {
	f, err := w.study.filter(shape, extension)
	if err != nil {
		return nil, err
	}
	t := &target{shape: shape, name: shape.String(), corner: f.Corner(), extension: extension, power: newColumn(w.grid.Len())}
	for i, v := range f.ResponseTo(nil, w.grid) {
		t.power.value[i] = real(v)*real(v) + imag(v)*imag(v)
	}
	t.power.summarise()
	for k, d := range w.study.Delays {
		g, err := freq.NewGrid([]float64{d.At})
		if err != nil {
			return nil, err
		}
		delay := f.GroupDelayTo(nil, g)[0]
		if k == 0 {
			t.delay = delay
		}
		t.delayUsed = math.Max(t.delayUsed, delay/d.Most)
	}
	return t, nil
}

// mount finds the costs of a box, unless it is mounted already.
func (w *work) mount(woofer int, gross, fb float64) error {
	if b := &w.boxed; b.woofer == woofer && b.gross == gross && b.fb == fb {
		return b.err
	}
	w.boxed = boxed{woofer: woofer, gross: gross, fb: fb}
	m, account, err := w.study.mount(woofer, gross, fb)
	if err == nil {
		var motion *enclosure.Motion
		if motion, err = m.Motion(); err == nil {
			w.cost(motion, m.Driver.Re)
		}
	}
	w.boxed.account, w.boxed.err = account, err
	return err
}

// measure writes what the mounted box gives and costs with a target. It does not
// allocate.
func (w *work) measure(p *Point, t *target, order int) {
	s, b := w.study, &w.boxed
	woofer := &s.Woofers[b.woofer]
	var peak [columns]float64
	for k := range peak {
		peak[k], w.block[k] = most(w.costs.column[k], t.power, w.block[k])
	}
	*p = Point{
		Woofer: woofer.Name, Gross: b.gross, Tuning: b.fb, Shape: t.name, Corner: t.corner, Extension: t.extension,
		Excursion: w.pascal * math.Sqrt(peak[cone]),
		VentAir:   w.pascal * math.Sqrt(peak[vent]),
		Volts:     w.pascal * math.Sqrt(peak[volts]),
		Amperes:   w.pascal * math.Sqrt(peak[amperes]),
		Power:     w.pascal * w.pascal * peak[power],
		Heat:      w.heat * dot(w.costs.heat, t.power.value),
		Delay:     t.delay, DelayUsed: t.delayUsed,
		Net: b.account.Box.Vb, Length: b.account.Box.Vent.Length, Spare: b.account.Spare, Fits: b.account.Fits, Pipe: b.account.Pipe,
		woofer: b.woofer, order: order, shape: t.shape,
	}
	p.Stroke = p.Excursion / woofer.Excursion
	use := func(share float64, name string) {
		if share > p.Used {
			p.Used, p.Binding = share, name
		}
	}
	use(p.Stroke, limits.Excursion.String())
	if s.VentAir > 0 {
		use(p.VentAir/s.VentAir, limits.VentAir.String())
	}
	if s.Amplifier.PeakVolts > 0 {
		use(p.Volts/s.Amplifier.PeakVolts, limits.Volts.String())
	}
	if s.Amplifier.PeakAmperes > 0 {
		use(p.Amperes/s.Amplifier.PeakAmperes, limits.Amperes.String())
	}
	// All so far grow with the level, so that the tightest is what stops it.
	p.MaxLevel, p.StoppedBy = s.Level-level.DB(p.Used), p.Binding
	use(t.delayUsed, "group delay")
	if s.Book.VentRoom > 0 && b.fb > 0 {
		use(p.Length/s.Book.VentRoom, "vent room")
	}
	if s.Pipe > 0 && b.fb > 0 {
		use(s.Pipe/p.Pipe, "pipe resonance")
	}
}
