package measure

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Join is how two responses were put together.
type Join struct {
	From, To float64 // the band in which they were matched and crossfaded, Hz
	Gain     float64 // the lower one was multiplied by this
	Delay    float64 // and delayed by this, s
	Level    float64 // rms of what is left of the difference in level within the band, dB
	Phase    float64 // and in phase, rad
}

// String tells the join in words.
func (j Join) String() string {
	return fmt.Sprintf("joined over %g … %g Hz: lower part %+.2f dB and %+.1f µs, left over %.2f dB and %.1f°",
		j.From, j.To, level.DB(j.Gain), j.Delay*1e6, j.Level, j.Phase*180/math.Pi)
}

// Splice joins a response that is good at low frequencies (a near field, scaled
// to the far field) and one that is good at high frequencies (a gated far field)
// on a grid. Within lo … hi hertz, where both must be good, the lower one gets
// the gain that makes the mean difference of the levels zero and the delay that
// makes the difference of the phases as small as it can be (weighted by log
// frequency); then ln|r| and phase go over from one to the other along a half
// cosine over ln f. Below lo is the lower one, above hi the upper.
//
// Both must state the same basis. A near field is in half space: multiply it by
// the step from half to full space (the cabinet's diffraction at low frequencies)
// and state full space before it is joined to a free-field response.
//
// It refuses two that agree better with one of them inverted, and a difference of
// phase that the delay (within ±20 ms) leaves beyond 90° somewhere in the band.
// Whether the residuals in the
// join are small enough is for the caller to judge.
func Splice(lower, upper freq.Response, lo, hi float64, g *freq.Grid) (freq.Response, Join, error) {
	j := Join{From: lo, To: hi}
	fail := func(err error) (freq.Response, Join, error) { return freq.Response{}, Join{}, err }
	if lower.Basis() != upper.Basis() {
		return fail(fmt.Errorf("measure: joining %q (%v) and %q (%v), want the same basis", lower.Label(), lower.Basis(), upper.Label(), upper.Basis()))
	}
	if g == nil {
		return fail(fmt.Errorf("measure: joining %q and %q on no grid", lower.Label(), upper.Label()))
	}
	if !(lo > 0) || !(hi > lo) {
		return fail(fmt.Errorf("measure: joining over %g … %g Hz, want 0 < from < to", lo, hi))
	}
	if lower.Grid().Last() < hi || upper.Grid().First() > lo {
		return fail(fmt.Errorf("measure: joining over %g … %g Hz, and %q is known on %v, %q on %v: want both there", lo, hi, lower.Label(), lower.Grid(), upper.Label(), upper.Grid()))
	}
	const perOctave = 48
	n := max(9, int(perOctave*math.Log2(hi/lo)))
	hz := make([]float64, n)
	for i := range hz {
		hz[i] = lo * math.Pow(hi/lo, float64(i)/float64(n-1))
	}
	hz[0], hz[n-1] = lo, hi
	band, err := freq.NewGrid(hz)
	if err != nil {
		return fail(err)
	}
	l, err := Resample(lower, band)
	if err != nil {
		return fail(err)
	}
	u, err := Resample(upper, band)
	if err != nil {
		return fail(err)
	}
	// The band is even in ln f: plain means are weighted by log frequency.
	var gain float64
	ratio := make([]complex128, n)
	for i := range ratio {
		if l.At(i) == 0 || u.At(i) == 0 {
			return fail(fmt.Errorf("measure: joining %q and %q, one is 0 at %g Hz", lower.Label(), upper.Label(), band.At(i)))
		}
		ratio[i] = u.At(i) / l.At(i)
		gain += math.Log(cmplx.Abs(ratio[i])) / float64(n)
	}
	j.Gain = math.Exp(gain)
	turned := func(t float64) float64 {
		var sum float64
		for i, v := range ratio {
			sum += real(v/complex(cmplx.Abs(v), 0)*cmplx.Rect(1, band.Omega()[i]*t)) / float64(n)
		}
		return sum
	}
	const window = 20e-3
	step := 1 / (16 * hi)
	if window/step > maxTrials {
		return fail(fmt.Errorf("measure: joining up to %g Hz takes %.3g trial delays within %g s, want at most %d: lower the band", hi, window/step, window, maxTrials))
	}
	cross := turned(0)
	opposite := -cross
	for k := 1; float64(k)*step <= window; k++ {
		for _, t := range [...]float64{float64(k) * step, -float64(k) * step} {
			v := turned(t)
			if v > cross+1e-12 {
				j.Delay, cross = t, v
			}
			opposite = max(opposite, -v)
		}
	}
	if opposite > cross {
		return fail(fmt.Errorf("measure: joining %q and %q: inverted they agree better whatever the delay (%.3f against %.3f), want the same polarity", lower.Label(), upper.Label(), opposite, cross))
	}
	j.Delay = maximise(turned, j.Delay-step, j.Delay+step)
	for i, v := range ratio {
		db := level.DB(cmplx.Abs(v) / j.Gain)
		phase := cmplx.Phase(v * cmplx.Rect(1, band.Omega()[i]*j.Delay))
		if math.Abs(phase) > math.Pi/2 {
			return fail(fmt.Errorf("measure: joining %q and %q: at %.4g Hz the phases are %.0f° apart whatever the delay, want within 90°: is it the same loudspeaker?", lower.Label(), upper.Label(), band.At(i), phase*180/math.Pi))
		}
		j.Level += db * db / float64(n)
		j.Phase += phase * phase / float64(n)
	}
	j.Level, j.Phase = math.Sqrt(j.Level), math.Sqrt(j.Phase)

	values := make([]complex128, g.Len())
	part := func(r freq.Response, i, k int) ([]complex128, error) {
		if i >= k {
			return nil, nil
		}
		sub, err := freq.NewGrid(g.Hz()[i:k])
		if err != nil {
			return nil, err
		}
		s, err := Resample(r, sub)
		if err != nil {
			return nil, err
		}
		return s.Values(), nil
	}
	first, last := g.Between(lo, hi)
	low, err := part(lower, 0, last)
	if err != nil {
		return fail(err)
	}
	high, err := part(upper, first, g.Len())
	if err != nil {
		return fail(err)
	}
	for i := range low {
		low[i] *= cmplx.Rect(j.Gain, -g.Omega()[i]*j.Delay)
	}
	for i := range values {
		switch {
		case i < first:
			values[i] = low[i]
		case i >= last:
			values[i] = high[i-first]
		default:
			x := math.Log(g.At(i)/lo) / math.Log(hi/lo)
			w := (1 - math.Cos(math.Pi*x)) / 2
			a, b := low[i], high[i-first]
			q := b / a
			values[i] = a * cmplx.Rect(math.Pow(cmplx.Abs(q), w), w*cmplx.Phase(q))
		}
	}
	r, err := freq.NewResponse(g, values, upper.Label(), upper.Basis())
	return r, j, err
}
