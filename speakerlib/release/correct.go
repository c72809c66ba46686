package release

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/tune"
)

// Bounds are what a correction may do. The zero value means the defaults (common
// practice, no source). Levels are relative to the level of the whole, which is no
// error of coefficients.
type Bounds struct {
	Sections int     // the most of each way; 0: 3
	Q        float64 // the highest of a section; 0: 1.5, which is an octave wide
	Boost    float64 // the most at any frequency of the band, gain included, dB; 0: 2
	Cut      float64 // likewise, dB; 0: 6
	Delay    float64 // the most between two ways, s; 0: 200 µs
	Dip      float64 // how far the measurement is below its surroundings in a dip, dB; 0: 2
	Fill     float64 // by how much a correction may lift a dip above its surroundings, dB; 0: 0.5
	Enough   float64 // where a fit ends: the largest error left, dB; 0: 0.25
	Leave    []Leave // stretches that the fit shall not look at, such as a dip
}

// Leave is a stretch of frequencies of a way that a fit leaves alone.
type Leave struct {
	Way      string
	From, To float64 // Hz
}

func (b Bounds) checked() (Bounds, error) {
	if b.Sections == 0 {
		b.Sections = 3
	}
	if b.Sections < 0 || b.Sections > 10 {
		return b, fmt.Errorf("release: correction of %d sections a way, want 1 to 10", b.Sections)
	}
	for _, f := range []struct {
		name  string
		value *float64
		zero  float64
	}{
		{"highest Q", &b.Q, 1.5}, {"boost in dB", &b.Boost, 2}, {"cut in dB", &b.Cut, 6}, {"delay in s", &b.Delay, 200e-6},
		{"depth of a dip in dB", &b.Dip, 2}, {"filling of a dip in dB", &b.Fill, 0.5}, {"error that is small enough in dB", &b.Enough, 0.25},
	} {
		if *f.value == 0 {
			*f.value = f.zero
		}
		if !(*f.value > 0) || math.IsInf(*f.value, 0) {
			return b, fmt.Errorf("release: %s of a correction is %g, want a finite value ≥ 0", f.name, *f.value)
		}
	}
	if b.Q <= lowestQ {
		return b, fmt.Errorf("release: highest Q of a correction is %g, want above %g", b.Q, lowestQ)
	}
	return b, nil
}

const lowestQ = 0.3 // of a section: four octaves wide

// leastCoherence is that below which delay and polarity of a way are not known (common
// practice, no source): a tweeter that is late by twice the window has some hundredths, one with
// the faults of a prototype more than 0.9.
const leastCoherence = 0.5

// Correction is what a prototype says about its coefficients.
type Correction struct {
	Ways       []WayCorrection
	SampleRate float64
	// After compares, with the prediction, what the measurement becomes by the
	// correction.
	After *Prediction
}

// WayCorrection is the correction of a way.
type WayCorrection struct {
	Name    string
	Cascade *digital.Cascade // sections and gain, which come after those that the way has
	Samples int              // of delay beyond that of the first way; negative: less
	Lag     float64          // by how much the way was later than the first, with the sections of both, s
	Dips    []Dip            // which are not filled
	// Outside is what the correction does, beside its gain, outside the band, from 10 Hz
	// up: the value of the largest magnitude in dB, and where. Nothing was compared there;
	// a section on the edge of the band reaches far. Compare from lower down (Pair.Low),
	// or mind it.
	Outside, OutsideAt float64
}

// Fit finds the correction that takes what was measured to what was predicted: for
// each way peaking sections that are broad, a gain relative to the whole, and whole
// samples.
//
// It is refused, with the way, the frequency and by how much, where
//   - the phase of a way is nowhere that of the prediction, so that its delay and its
//     polarity are not known;
//   - a way is measured with the wrong polarity, which is a wire;
//   - it lifts or cuts a way by more than the bounds anywhere in its band;
//   - it fills a dip: lifts the way there more than its surroundings ask for. A dip
//     narrower than a section is interference, which moves with the microphone and
//     takes all the power that it is given; let the fit leave it alone
//     (Bounds.Leave), or do nothing;
//   - the delays are more apart than the bounds;
//   - the sum is not better for it, as the rms of its shape.
//
// A boost costs headroom, excursion and heat as it stands: examine the corrected
// release for them.
func Fit(p *Prediction, sampleRate float64, b Bounds) (*Correction, error) {
	b, err := b.checked()
	if err != nil {
		return nil, err
	}
	if p == nil || len(p.Ways) == 0 || p.judge.Smoothing == 0 {
		return nil, fmt.Errorf("release: no prediction to correct")
	}
	for _, l := range b.Leave {
		if _, err := p.way(l.Way); err != nil {
			return nil, err
		}
		if !(l.From > 0) || !(l.To > l.From) {
			return nil, fmt.Errorf("release: %q is left alone from %g to %g Hz, want 0 < from < to", l.Way, l.From, l.To)
		}
	}
	out := &Correction{SampleRate: sampleRate}
	var after []Pair
	var first float64 // the delay of the first way
	for i, c := range p.Ways {
		w, err := b.fit(c, p.Sum.Level, sampleRate)
		if err != nil {
			return nil, err
		}
		// The delay of what the sections leave: the phase of a hump is theirs.
		if c.Pair, err = w.on(c.Pair, sampleRate); err != nil {
			return nil, err
		}
		if c, err = p.judge.compare(c.Pair); err != nil {
			return nil, err
		}
		if i == 0 {
			first = c.Delay
		}
		w.Lag = c.Delay - first
		for _, v := range out.Ways {
			if lag := w.Lag - v.Lag; math.Abs(lag) > b.Delay {
				return nil, fmt.Errorf("release: way %q is %.1f µs later than %q, want at most %.1f µs either way for a correction: look for the cause", w.Name, 1e6*lag, v.Name, 1e6*b.Delay)
			}
		}
		w.Samples = -int(math.Round(w.Lag * sampleRate))
		pair, err := w.on(p.Ways[i].Pair, sampleRate)
		if err != nil {
			return nil, err
		}
		out.Ways, after = append(out.Ways, w), append(after, pair)
	}
	whole := p.Sum.Pair
	whole.Measured, whole.Low = freq.Response{}, nil
	if p.Together != nil {
		// What both measured together have beyond the sum of the ways stays.
		s, err := sum(after, func(p Pair) freq.Response { return p.Measured })
		if err != nil {
			return nil, err
		}
		k, err := p.Sum.Pair.Measured.Over(p.Together.Pair.Predicted)
		if err != nil {
			return nil, err
		}
		if whole.Measured, err = s.Mul(k); err != nil {
			return nil, err
		}
	}
	if out.After, err = Compare(after, whole, p.judge); err != nil {
		return nil, err
	}
	before, now := p.Sum.rms(), out.After.Sum.rms()
	if !(now < before) {
		return nil, fmt.Errorf("release: with the correction the sum is off by %.2f dB rms, without by %.2f dB: it does not help", now, before)
	}
	return out, nil
}

// way returns the comparison of a way.
func (p *Prediction) way(name string) (Comparison, error) {
	var names []string
	for _, c := range p.Ways {
		if c.Pair.Name == name {
			return c, nil
		}
		names = append(names, c.Pair.Name)
	}
	return Comparison{}, fmt.Errorf("release: no way %q, there are %q", name, names)
}

// rms is that of the shape over the band, by log frequency.
func (c Comparison) rms() float64 {
	return bands(c.Shape, []float64{c.Pair.From, c.Pair.To})[0].RMS
}

// on applies the correction to what was measured.
func (w WayCorrection) on(p Pair, sampleRate float64) (Pair, error) {
	play := func(r freq.Response) (freq.Response, error) {
		h, err := freq.Evaluate(freq.Series{w.Cascade, freq.Delay(float64(w.Samples) / sampleRate)}, r.Grid(), w.Name, freq.Basis{})
		if err != nil {
			return r, fmt.Errorf("release: correction of %q: %w", w.Name, err)
		}
		return r.Mul(h)
	}
	var err error
	if p.Measured, err = play(p.Measured); err != nil || p.Low == nil {
		return p, err
	}
	low := *p.Low
	low.Measured, err = play(low.Measured)
	p.Low = &low
	return p, err
}

// fit finds gain and sections of a way; whole is the level of the sum, in dB.
func (b Bounds) fit(c Comparison, whole, sampleRate float64) (WayCorrection, error) {
	name, from, to := c.Pair.Name, c.Pair.From, c.Pair.To
	if c.Coherence < leastCoherence {
		return WayCorrection{}, fmt.Errorf("release: way %q is measured with a phase that no delay within the judge's window makes that of the prediction (coherence %.2f, want at least %g): neither delay nor polarity are known; look for another time zero, or widen the window", name, c.Coherence, leastCoherence)
	}
	if c.Inverted {
		return WayCorrection{}, fmt.Errorf("release: way %q is measured with the other polarity than predicted: a wire is crossed, which coefficients shall not hide", name)
	}
	g := c.Shape.Grid()
	weight, zero := make([]float64, g.Len()), make([]float64, g.Len())
	for i := range weight {
		weight[i] = 1
		for _, l := range b.Leave {
			if l.Way == name && g.At(i) >= l.From && g.At(i) <= l.To {
				weight[i] = 0
			}
		}
	}
	wanted, err := freq.NewCurve(g, zero, "nothing", "dB", freq.Basis{})
	if err != nil {
		return WayCorrection{}, err
	}
	counts, err := freq.NewCurve(g, weight, "weight", "", freq.Basis{})
	if err != nil {
		return WayCorrection{}, err
	}
	// Twice the bounds, so that what is asked for beyond them is seen and refused.
	peaks := make([]tune.Free, b.Sections)
	for i := range peaks {
		peaks[i] = tune.Free{
			Low:  digital.Peak{F0: from, Gain: level.Ratio(-2 * b.Cut), Q: lowestQ},
			High: digital.Peak{F0: min(to, 0.45*sampleRate), Gain: level.Ratio(2 * b.Boost), Q: b.Q},
		}
	}
	off := c.Shape.Plus(c.Level - whole).Stated(freq.Basis{})
	r, err := tune.Sections(tune.Goal{Source: off, Target: wanted, Weight: counts, From: from, To: to, SampleRate: sampleRate}, peaks, &tune.Settings{Enough: b.Enough})
	if err != nil {
		return WayCorrection{}, fmt.Errorf("release: correction of %q: %w", name, err)
	}
	w := WayCorrection{Name: name, Cascade: r.Cascade, Dips: b.dips(off, from, to)}
	does := level.OfComplex(nil, r.Cascade.ResponseTo(nil, g))
	i, j := g.Between(from, to)
	var most, least int = i, i
	for k := i; k < j; k++ {
		if does[k] > does[most] {
			most = k
		}
		if does[k] < does[least] {
			least = k
		}
	}
	if does[most] > b.Boost {
		return w, fmt.Errorf("release: correction of %q boosts by %.2f dB at %.4g Hz, want at most %.2f dB: that is a new design, not a correction", name, does[most], g.At(most), b.Boost)
	}
	if -does[least] > b.Cut {
		return w, fmt.Errorf("release: correction of %q cuts by %.2f dB at %.4g Hz, want at most %.2f dB: that is a new design, not a correction", name, -does[least], g.At(least), b.Cut)
	}
	if err := w.outside(from, to, sampleRate); err != nil {
		return w, err
	}
	for _, d := range w.Dips {
		i, j := g.Between(d.From, d.To)
		highest := i
		for k := i; k < j; k++ {
			if does[k] > does[highest] {
				highest = k
			}
		}
		if over := does[highest] + d.Around; over > b.Fill {
			return w, fmt.Errorf("release: correction of %q fills the dip at %.4g Hz (%.1f dB deep, %.2f octaves wide): at %.4g Hz it lifts by %.2f dB more than the surroundings ask for, want at most %.2f dB; leave %.4g to %.4g Hz alone", name, d.At, d.Depth, math.Log2(d.To/d.From), g.At(highest), over, b.Fill, d.From, d.To)
		}
	}
	return w, nil
}

// outside finds what the sections do outside a band.
func (w *WayCorrection) outside(from, to, sampleRate float64) error {
	g, err := freq.LogGrid(10, 0.45*sampleRate, 24)
	if err != nil {
		return fmt.Errorf("release: correction of %q: %w", w.Name, err)
	}
	gain := level.DB(w.Cascade.Gain())
	for k, v := range level.OfComplex(nil, w.Cascade.ResponseTo(nil, g)) {
		if f := g.At(k); (f < from || f > to) && math.Abs(v-gain) > math.Abs(w.Outside) {
			w.Outside, w.OutsideAt = v-gain, f
		}
	}
	return nil
}
