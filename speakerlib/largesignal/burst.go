package largesignal

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/signal"
)

// Thresholds are the highest harmonics of a burst that count as clean, in dB of the
// fundamental, from order 2 on; the last one holds for all above it.
type Thresholds []float64

// CTA2010 returns the thresholds of CTA-2010 as remembered, not checked against the
// standard: −10 dB for order 2, −15 for 3, −20 for 4 and 5, −30 for 6 to 8, −40 above.
func CTA2010() Thresholds { return Thresholds{-10, -15, -20, -20, -30, -30, -30, -40} }

// at returns the threshold of an order.
func (t Thresholds) at(n int) float64 { return t[min(n-2, len(t)-1)] }

func (t Thresholds) validate() error {
	if len(t) == 0 {
		return fmt.Errorf("largesignal: no thresholds, want one or more")
	}
	for _, v := range t {
		if !finite(v) || v > 0 {
			return fmt.Errorf("largesignal: threshold of %g dB, want a finite value of 0 dB or less", v)
		}
	}
	return nil
}

// orders is the highest harmonic of a burst that is looked at.
const orders = 12

// BurstResult is what a shaped burst of 6.5 cycles does.
type BurstResult struct {
	Hz    float64
	Volts float64 // highest voltage asked for, peak
	// Pa is the highest magnitude of the sound pressure over √2, at 1 m in half space:
	// what CTA-2010 states as a level (from memory; there at 2 m over a reflecting
	// ground, which is 6 dB less).
	Pa float64
	// Harmonic is the highest line of each harmonic over that of the fundamental, dB;
	// order n is element n−2. -Inf: none.
	Harmonic [orders - 1]float64
	Account  Account
}

// Level returns that of Pa, dB re 20 µPa.
func (b *BurstResult) Level() float64 { return level.SPL(b.Pa) }

// clean returns 0, or the order of the first harmonic above its threshold.
func (b *BurstResult) clean(t Thresholds) int {
	for k, v := range b.Harmonic {
		if v > t.at(k+2) {
			return k + 2
		}
	}
	return 0
}

// Burst plays a [signal.Burst] of 6.5 cycles with a peak voltage, from rest, and waits
// until it has died away: eight cycles, and 0.2 s at least. The spectrum is that of all
// of it, without a window, and a harmonic is the highest line within a third of the
// fundamental around it: the burst's own main lobe is that wide.
func (m *Model) Burst(hz, volts float64, s *Settings) (*BurstResult, error) {
	set, err := s.filled()
	if err != nil {
		return nil, err
	}
	if !(hz > 0) || !(volts > 0) || math.IsInf(volts, 0) || !(2.5*orders*hz < set.Rate) {
		return nil, fmt.Errorf("largesignal: burst of %g Hz and %g V at a rate of %g Hz, want finite values > 0 and a frequency below a %gth of the rate", hz, volts, set.Rate, 2.5*orders)
	}
	c, err := signal.Burst{SampleRate: set.Rate, Hz: hz, Amplitude: volts, After: max(8/hz, 0.2)}.Clip()
	if err != nil {
		return nil, err
	}
	u, err := c.Channel(0)
	if err != nil {
		return nil, err
	}
	r, err := m.NewRun(set.Rate)
	if err != nil {
		return nil, err
	}
	n := signal.FastLength(max(len(u), int(30*set.Rate/hz))) // lines of hz/30 or nearer
	sound := make([]float64, n)
	r.Play(u, &Trace{Sound: sound[:len(u)]})
	b := &BurstResult{Hz: hz, Volts: volts, Account: r.Account()}
	if !b.Account.Finite {
		return nil, fmt.Errorf("largesignal: the burst of %g Hz and %g V left the range of numbers, want a lower level", hz, volts)
	}
	b.Pa = b.Account.Pressure / math.Sqrt2
	spectrum := fourier.NewFFT(n).Coefficients(nil, sound)
	step := set.Rate / float64(n)
	around := func(order float64) (top float64) {
		for k := int(math.Ceil((order - 1./3) * hz / step)); k <= int((order+1./3)*hz/step); k++ {
			top = max(top, cmplx.Abs(spectrum[k]))
		}
		return top
	}
	first := around(1)
	for k := range b.Harmonic {
		b.Harmonic[k] = level.DB(around(float64(k+2)) / first)
	}
	return b, nil
}

// Stop is what ends a search of the highest clean burst.
type Stop int

// What ends it.
const (
	ByDistortion Stop = iota // a harmonic
	ByExcursion              // the cone, at the limit given
	ByVolts                  // the highest voltage that was tried
)

// String names it.
func (s Stop) String() string {
	switch s {
	case ByDistortion:
		return "distortion"
	case ByExcursion:
		return "excursion"
	case ByVolts:
		return "voltage"
	}
	return fmt.Sprintf("Stop(%d)", int(s))
}

// PeakSetup says how the highest clean burst is searched.
type PeakSetup struct {
	Volts      float64    // the highest peak voltage tried
	Excursion  float64    // the furthest that the cone may move, m; 0: no limit
	Thresholds Thresholds // nil: CTA2010
	Run        *Settings
}

// PeakOutput is the highest burst that is clean.
type PeakOutput struct {
	BurstResult
	Stop  Stop
	Order int // the harmonic that stops it, if one does
}

// PeakOutput searches the highest voltage, within 0.05 dB, up to which a burst keeps all
// thresholds and the excursion (the method of CTA-2010, from memory: third-octave bursts
// from 20 to 63 Hz, or to 160 Hz). Seen from below: the search goes up in steps of 1 dB
// from 40 dB under the highest voltage and halves the last one.
func (m *Model) PeakOutput(hz float64, p PeakSetup) (*PeakOutput, error) {
	if p.Thresholds == nil {
		p.Thresholds = CTA2010()
	}
	if err := p.Thresholds.validate(); err != nil {
		return nil, err
	}
	if !(p.Volts > 0) || math.IsInf(p.Volts, 0) || !(p.Excursion >= 0) {
		return nil, fmt.Errorf("largesignal: search up to %g V and %g m, want finite values > 0, or 0 m for no limit", p.Volts, p.Excursion)
	}
	out := &PeakOutput{Stop: ByVolts}
	try := func(dB float64) (bool, error) {
		b, err := m.Burst(hz, p.Volts*level.Ratio(dB), p.Run)
		if err != nil {
			return false, err
		}
		order := b.clean(p.Thresholds)
		far := p.Excursion > 0 && b.Account.Excursion() > p.Excursion
		switch {
		case order > 0:
			out.Stop, out.Order = ByDistortion, order
		case far:
			out.Stop, out.Order = ByExcursion, 0
		default:
			out.BurstResult = *b
		}
		return order == 0 && !far, nil
	}
	const lowest = -40
	good := float64(lowest)
	for dB := good; dB <= 0; dB++ {
		ok, err := try(dB)
		switch {
		case err != nil:
			return nil, err
		case ok:
			good = dB
			continue
		case dB == lowest:
			return nil, fmt.Errorf("largesignal: a burst of %g Hz is stopped by %v at %.3g V already, want a quieter model or higher thresholds", hz, out.Stop, p.Volts*level.Ratio(lowest))
		}
		for bad := dB; bad-good > 0.05; {
			mid := (good + bad) / 2
			if ok, err = try(mid); err != nil {
				return nil, err
			} else if ok {
				good = mid
			} else {
				bad = mid
			}
		}
		break
	}
	return out, nil
}
