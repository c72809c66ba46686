package fir

import (
	"fmt"
	"math"
	"math/bits"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Correction is what is asked of [MixedPhase].
type Correction struct {
	Taps int
	// Lo and Hi bound the band that is corrected, in hertz. Beyond, the gain stays
	// what it is at the end, and the correction of phase ends within an octave.
	Lo, Hi float64
	// Boost is the largest gain of the magnitude's correction above its mean over
	// the band, an amplitude ratio ≥ 1. It costs headroom, excursion and heat.
	Boost float64
	// Ahead is how much earlier than its main pulse the filter may begin, in
	// seconds: the latency.
	Ahead float64
	// Ringing is the largest amplitude that may come earlier than Guard seconds
	// before the peak, relative to the peak: at the point where the system was
	// measured, and where its excess phase is not what was measured and cancels
	// nothing. What comes within Guard is taken as heard with the peak.
	Ringing, Guard float64
}

// MixedPhaseDesign is what [MixedPhase] found.
type MixedPhaseDesign struct {
	*Filter
	// Begins is how much ahead of its main pulse the filter in fact begins, in
	// seconds: Ahead, or less if the bound on ringing asks for it. The latency is
	// Ahead in any case.
	Begins float64
	// Corrected is the impulse response of the corrected system, and Uncancelled the
	// same without the system's excess phase: what the correction of phase does
	// where there is nothing to correct. Both to be shown.
	Corrected, Uncancelled Pulse
}

// Pulse is an impulse response scaled to a peak of 1, with what rings ahead of it.
type Pulse struct {
	Samples []float64
	Peak    int     // its index
	Ringing float64 // largest amplitude earlier than Guard before the peak
}

func (d *MixedPhaseDesign) ringing() float64 {
	return math.Max(d.Corrected.Ringing, d.Uncancelled.Ringing)
}

// MixedPhase returns the filter that corrects the magnitude of a system with
// minimum phase, and as much of its excess phase, turned in time, as keeps what
// rings ahead below a bound. The system is split on a Fourier grid of at least
// eight times the taps into magnitude, minimum phase (folded cepstrum) and the
// rest; the rest without its pure delay and polarity, conjugated and faded out
// beyond the band, is cut before the pulse and after with raised cosines, and its
// magnitude taken back into the correction of minimum phase, so that cutting does not
// colour. How far ahead it may begin is found by bisection: what long rings of low
// frequencies do not fit in stays uncorrected.
//
// The system must be known from Lo to Hi; beyond, its magnitude is taken as it is at
// the ends, and its phase as minimum. A correction of phase holds for the one point in
// space in which the system was measured: correct what is the same everywhere
// (crossover, box), not reflections. Latency: Ahead.
func MixedPhase(sampleRate float64, system freq.Transfer, c Correction) (*MixedPhaseDesign, error) {
	if err := c.check(sampleRate); err != nil {
		return nil, err
	}
	m, err := newMixed(sampleRate, system, c)
	if err != nil {
		return nil, err
	}
	best, err := m.try(m.ahead)
	if err != nil || best.ringing() <= c.Ringing {
		return best, err
	}
	if best, err = m.try(0); err != nil {
		return nil, err
	}
	if best.ringing() > c.Ringing {
		return nil, fmt.Errorf("fir: the system rings at %.2f dB ahead of its peak without any correction of phase, want at most %.2f dB: it has a pulse of its own there", level.DB(best.ringing()), level.DB(c.Ringing))
	}
	for lo, hi := 0, m.ahead; hi-lo > 1; {
		mid := (lo + hi) / 2
		d, err := m.try(mid)
		if err != nil {
			return nil, err
		}
		if d.ringing() > c.Ringing {
			hi = mid
			continue
		}
		best, lo = d, mid
	}
	return best, nil
}

func (c Correction) check(sampleRate float64) error {
	switch {
	case !(sampleRate > 0) || math.IsInf(sampleRate, 0):
		return fmt.Errorf("fir: sample rate is %g Hz, want a finite value > 0", sampleRate)
	case c.Taps < 16 || c.Taps > MaxTaps/4:
		return fmt.Errorf("fir: correction of %d taps, want 16 to %d", c.Taps, MaxTaps/4)
	case !(c.Lo > 0 && c.Hi > c.Lo && c.Hi < sampleRate/2):
		return fmt.Errorf("fir: correction from %g to %g Hz, want the lower first and less than %g Hz, half the sample rate", c.Lo, c.Hi, sampleRate/2)
	case !(c.Boost >= 1) || math.IsInf(c.Boost, 0):
		return fmt.Errorf("fir: boost of a correction is the ratio %g, want a finite one ≥ 1", c.Boost)
	case !(c.Ahead >= 0 && c.Ahead*sampleRate <= float64(c.Taps)/2):
		return fmt.Errorf("fir: correction begins %g s ahead, want 0 to %g s, half its length", c.Ahead, float64(c.Taps)/2/sampleRate)
	case !(c.Ringing > 0 && c.Ringing < 1):
		return fmt.Errorf("fir: ringing ahead is the ratio %g, want > 0 and < 1", c.Ringing)
	case !(c.Guard >= 0) || math.IsInf(c.Guard, 0):
		return fmt.Errorf("fir: guard before the peak is %g s, want a finite value ≥ 0", c.Guard)
	}
	return nil
}

// mixed is the system split, on n points of frequency.
type mixed struct {
	c          Correction
	sampleRate float64
	n, ahead   int
	fft        *fourier.CmplxFFT
	system     []complex128
	minimum    []complex128 // of the system
	gain       []float64    // that the correction is to have
	excess     []float64    // phase in rad that is to be taken away, faded out
	scratch    []complex128
}

func newMixed(sampleRate float64, system freq.Transfer, c Correction) (*mixed, error) {
	n := max(1<<bits.Len(uint(8*c.Taps-1)), 1<<12)
	m := &mixed{c: c, sampleRate: sampleRate, n: n, ahead: int(math.Round(c.Ahead * sampleRate)), fft: fourier.NewCmplxFFT(n),
		system: make([]complex128, n), minimum: make([]complex128, n), gain: make([]float64, n), excess: make([]float64, n), scratch: make([]complex128, n)}
	step := sampleRate / float64(n)
	k0, k1 := int(math.Ceil(c.Lo/step)), int(math.Floor(c.Hi/step))
	if k1-k0 < 8 {
		return nil, fmt.Errorf("fir: correction from %g to %g Hz with %d taps has %d points, want at least 8: more taps, or a wider band", c.Lo, c.Hi, c.Taps, k1-k0)
	}
	hz := make([]float64, k1-k0+1)
	for i := range hz {
		hz[i] = float64(k0+i) * step
	}
	g, err := freq.NewGrid(hz)
	if err != nil {
		return nil, err
	}
	if err := freq.CheckGrid(system, g); err != nil {
		return nil, err
	}
	h := system.ResponseTo(nil, g)
	var mean, weight float64
	for i, v := range h {
		a := cmplx.Abs(v)
		if !(a > 0) || math.IsInf(a, 0) {
			return nil, fmt.Errorf("fir: system to correct has the magnitude %g at %g Hz, want a finite one > 0", a, hz[i])
		}
		mean += math.Log(a) / hz[i] // per octave
		weight += 1 / hz[i]
	}
	mean = math.Exp(mean / weight)
	half := n / 2
	// Minimum phase of the system as it is taken beyond its band.
	x := m.scratch
	for k := range half + 1 {
		a := cmplx.Abs(h[min(max(k-k0, 0), len(h)-1)])
		x[k] = complex(math.Log(a), 0)
		m.gain[k] = math.Min(mean/a, c.Boost)
		if k > 0 && k < half {
			x[n-k], m.gain[n-k] = x[k], m.gain[k]
		}
	}
	foldCepstrum(m.fft, x)
	// The excess phase: unwrapped over the band, and its straight part, the delay,
	// taken away.
	phase := make([]float64, len(h))
	for i, v := range h {
		phase[i] = cmplx.Phase(v / cmplx.Exp(x[k0+i]))
		if i > 0 {
			phase[i] -= 2 * math.Pi * math.Round((phase[i]-phase[i-1])/(2*math.Pi))
		}
	}
	slope, offset := straight(hz, phase)
	for i := range phase {
		phase[i] -= slope*hz[i] + offset
	}
	for k := range half + 1 {
		i := min(max(k-k0, 0), len(h)-1)
		m.excess[k] = phase[i]
		if k < k0 || k > k1 {
			end := math.Pi * math.Round(phase[i]/math.Pi) // where a real system ends
			m.excess[k] = end + (phase[i]-end)*fade(float64(k)*step, c.Lo, c.Hi)
			if k == 0 || k == half {
				m.excess[k] = end
			}
		}
		m.minimum[k] = cmplx.Exp(x[k])
		m.system[k] = m.minimum[k] * cmplx.Rect(1, m.excess[k])
		if k > 0 && k < half {
			m.excess[n-k] = -m.excess[k]
			m.system[n-k], m.minimum[n-k] = cmplx.Conj(m.system[k]), cmplx.Conj(m.minimum[k])
		}
	}
	m.system[0], m.system[half] = complex(real(m.system[0]), 0), complex(real(m.system[half]), 0)
	return m, nil
}

// straight returns slope and offset of the line that the phase follows in the upper
// half of the band, where what remains of it is the delay; the offset is the
// multiple of π that is nearest.
func straight(hz, phase []float64) (slope, offset float64) {
	from := len(hz) / 2
	var sx, sy, sxx, sxy, n float64
	for i := from; i < len(hz); i++ {
		x, y := hz[i], phase[i]
		sx, sy, sxx, sxy, n = sx+x, sy+y, sxx+x*x, sxy+x*y, n+1
	}
	slope = (n*sxy - sx*sy) / (n*sxx - sx*sx)
	offset = math.Pi * math.Round((sy-slope*sx)/n/math.Pi)
	return (sy - n*offset) / sx, offset
}

// fade is 1 within the band and falls to 0 within an octave outside.
func fade(hz, lo, hi float64) float64 {
	var octaves float64
	switch {
	case hz <= 0:
		return 0
	case hz < lo:
		octaves = math.Log2(lo / hz)
	case hz > hi:
		octaves = math.Log2(hz / hi)
	}
	if octaves >= 1 {
		return 0
	}
	return 0.5 + 0.5*math.Cos(math.Pi*octaves)
}

// try designs the filter that begins some samples before its pulse.
func (m *mixed) try(begins int) (*MixedPhaseDesign, error) {
	n, x := m.n, m.scratch
	after := m.c.Taps - m.ahead
	for k := range x {
		x[k] = cmplx.Rect(1, -m.excess[k])
	}
	m.fft.Sequence(x, x)
	for i := range x {
		t := i
		if i > n/2 {
			t = i - n
		}
		w := 0.0
		switch {
		case t <= 0 && -t <= begins:
			w = 0.5 + 0.5*math.Cos(math.Pi*float64(-t)/float64(begins+1))
		case t > 0 && t < after/2:
			w = 0.5 + 0.5*math.Cos(math.Pi*float64(t)/float64(after/2))
		}
		x[i] = complex(w*real(x[i])/float64(n), 0)
	}
	m.fft.Coefficients(x, x)
	turned := append([]complex128(nil), x...)
	for k, v := range turned {
		x[k] = complex(math.Log(m.gain[k]/math.Max(cmplx.Abs(v), 1e-3)), 0)
	}
	foldCepstrum(m.fft, x)
	for k, v := range x {
		x[k] = cmplx.Exp(v) * turned[k]
	}
	m.fft.Sequence(x, x)
	taps := make([]float64, m.c.Taps)
	tail := m.c.Taps / 8
	for i := range taps {
		taps[i] = real(x[((i-m.ahead)%n+n)%n]) / float64(n)
		if left := len(taps) - i; left <= tail {
			taps[i] *= 0.5 - 0.5*math.Cos(math.Pi*float64(left)/float64(tail+1))
		}
	}
	f, err := New(m.sampleRate, taps, float64(m.ahead), fmt.Sprintf("mixed phase, %.6g to %.6g Hz, from %.4g ms ahead", m.c.Lo, m.c.Hi, 1e3*float64(begins)/m.sampleRate))
	if err != nil {
		return nil, err
	}
	d := &MixedPhaseDesign{Filter: f, Begins: float64(begins) / m.sampleRate}
	d.Corrected = m.pulse(taps, m.system)
	d.Uncancelled = m.pulse(taps, m.minimum)
	return d, nil
}

// pulse returns the impulse response of the filter and a system.
func (m *mixed) pulse(taps []float64, system []complex128) Pulse {
	x := m.scratch
	clear(x)
	for i, v := range taps {
		x[i] = complex(v, 0)
	}
	m.fft.Coefficients(x, x)
	for k := range x {
		x[k] *= system[k]
	}
	m.fft.Sequence(x, x)
	p := Pulse{Samples: make([]float64, m.n)}
	var top float64
	for i, v := range x {
		p.Samples[i] = real(v)
		if a := math.Abs(real(v)); a > math.Abs(top) {
			top, p.Peak = real(v), i
		}
	}
	for i := range p.Samples {
		p.Samples[i] /= top
	}
	guard := int(math.Ceil(m.c.Guard * m.sampleRate))
	for i := 0; i < p.Peak-guard; i++ {
		p.Ringing = math.Max(p.Ringing, math.Abs(p.Samples[i]))
	}
	return p
}
