package measure

import (
	"fmt"
	"math"
)

// Flank is how a gate rises and falls.
type Flank int

// The flanks, over u from 0 to 1.
const (
	HalfCosine   Flank = iota // ½ − ½cos πu: half a Hann window
	HalfBlackman              // 0.42 − 0.5cos πu + 0.08cos 2πu: half a Blackman window
	Straight                  // u: half a triangle
)

// String names the flank.
func (f Flank) String() string {
	switch f {
	case HalfCosine:
		return "half cosine"
	case HalfBlackman:
		return "half Blackman"
	case Straight:
		return "straight"
	}
	return fmt.Sprintf("Flank(%d)", int(f))
}

func (f Flank) at(u float64) float64 {
	switch f {
	case HalfBlackman:
		return 0.42 - 0.5*math.Cos(math.Pi*u) + 0.08*math.Cos(2*math.Pi*u)
	case Straight:
		return u
	}
	return 0.5 - 0.5*math.Cos(math.Pi*u)
}

// Gate is a time window: 0 outside From … To, rising over Rise and falling over
// Fall seconds inside of it, and 1 between. Times are in seconds after the time
// zero. Without flanks it is rectangular. (A half-cosine gate with flanks on both
// sides is a Tukey window: F. J. Harris, "On the use of windows for harmonic
// analysis with the discrete Fourier transform", Proc. IEEE 66, 1978.)
type Gate struct {
	From, To   float64
	Rise, Fall float64
	Shape      Flank
}

func (g Gate) validate() error {
	for _, v := range [...]float64{g.From, g.To, g.Rise, g.Fall} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("measure: gate %+v, want finite times", g)
		}
	}
	if !(g.To > g.From) || !(g.Rise >= 0) || !(g.Fall >= 0) || g.Rise+g.Fall > (g.To-g.From)*(1+1e-12) {
		return fmt.Errorf("measure: gate from %g to %g s with flanks of %g and %g s, want a positive length that holds both flanks", g.From, g.To, g.Rise, g.Fall)
	}
	if g.Shape < HalfCosine || g.Shape > Straight {
		return fmt.Errorf("measure: flank of a gate is %v, want one of the flanks", g.Shape)
	}
	return nil
}

// Weight returns the weight at a time.
func (g Gate) Weight(t float64) float64 {
	switch {
	case t < g.From || t > g.To:
		return 0
	case t < g.From+g.Rise:
		return g.Shape.at((t - g.From) / g.Rise)
	case t > g.To-g.Fall:
		return g.Shape.at((g.To - t) / g.Fall)
	}
	return 1
}

// Gated returns what a gate leaves of the impulse response, and with it a new
// [Impulse.ValidFrom]. A gate that begins before the record or ends after it is
// refused: what is not recorded is not known to be zero. So is one that leaves
// nothing.
func (h *Impulse) Gated(g Gate) (*Impulse, error) {
	if err := g.validate(); err != nil {
		return nil, err
	}
	fs := h.timing.SampleRate
	slack := 1e-6 / fs // of times that were computed
	if first, last := h.Time(0), h.Time(h.Len()-1); g.From < first-slack || g.To > last+slack {
		return nil, fmt.Errorf("measure: gate from %g to %g s of %q, want one within its record, %g … %g s", g.From, g.To, h.label, first, last)
	}
	i := max(0, int(math.Ceil((g.From-slack-h.timing.Start)*fs)))
	j := min(h.Len()-1, int(math.Floor((g.To+slack-h.timing.Start)*fs)))
	if j < i {
		return nil, fmt.Errorf("measure: gate from %g to %g s of %q lies between two samples, want one that holds some", g.From, g.To, h.label)
	}
	samples := make([]float64, j-i+1)
	for k := range samples {
		samples[k] = h.samples[i+k] * g.Weight(min(max(h.Time(i+k), g.From), g.To))
	}
	t := h.timing
	t.Start = h.Time(i)
	gated, err := newImpulse(samples, t, h.label, h.basis)
	if err != nil {
		return nil, fmt.Errorf("%w (after a gate from %g to %g s)", err, g.From, g.To)
	}
	begin := max(gated.Time(gated.onset(OnsetDrop)), g.From+g.Rise/2)
	if end := g.To - g.Fall/2; end > begin {
		gated.from = max(h.from, 1/(end-begin))
	} else {
		return nil, fmt.Errorf("measure: gate from %g to %g s of %q, where the sound begins at %g s, want some time after that", g.From, g.To, h.label, begin)
	}
	return gated, nil
}
