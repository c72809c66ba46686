package largesignal

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Highest is the highest harmonic that is looked at.
const Highest = 5

// Settings of a run with tones. Nil means the zero value.
type Settings struct {
	Rate      float64 // lowest sample rate, Hz. 0: 48 kHz
	Tolerance float64 // change over a tenth of a second (or a period) that counts as settled, over the largest line. 0: 1e-7
	Seconds   float64 // longest time to settle in. 0: 20 s
}

func (s *Settings) filled() (Settings, error) {
	var o Settings
	if s != nil {
		o = *s
	}
	if !(o.Rate >= 0) || !(o.Tolerance >= 0) || !(o.Seconds >= 0) || math.IsInf(o.Rate+o.Tolerance+o.Seconds, 0) {
		return o, fmt.Errorf("largesignal: settings are %g Hz, %g and %g s, want finite values > 0, or 0 for the default", o.Rate, o.Tolerance, o.Seconds)
	}
	for v, def := range map[*float64]float64{&o.Rate: 48000, &o.Tolerance: 1e-7, &o.Seconds: 20} {
		if *v == 0 {
			*v = def
		}
	}
	return o, nil
}

// Steady is what a period says after settling.
type Steady struct {
	Account Account // of the last period
	Change  float64 // of the last period against one a tenth of a second before, or the one before, over the largest line
	Settled bool    // whether that is below the tolerance
}

// apart is the time between two periods that are compared, s: it is short against no
// slow mode of a driver in a box but that of a leak.
const apart = 0.1

// longest is the most samples of a period that is analysed: 22 s at 48 kHz.
const longest = 1 << 20

// periodic runs tones that are multiples of base until a period is like one before it,
// and returns it.
func (m *Model) periodic(tones []Tone, base float64, watch []int, set Settings) (*Trace, Steady, error) {
	if !(set.Rate/base <= longest) {
		return nil, Steady{}, fmt.Errorf("largesignal: a period of %g Hz at %g Hz has %.3g samples, want at most %d: take a higher tone or a lower rate", base, set.Rate, set.Rate/base, longest)
	}
	n := int(math.Ceil(set.Rate/base - 1e-9))
	rate := base * float64(n)
	u := make([]float64, n)
	for k := range u {
		for _, o := range tones {
			u[k] += o.at(float64(k) / rate)
		}
	}
	r, err := m.NewRun(rate)
	if err != nil {
		return nil, Steady{}, err
	}
	r.settle(tones)
	t := NewTrace(n)
	last := make([]complex128, 2*len(watch)+1)
	now := make([]complex128, len(last))
	var st Steady
	skip := max(0, int(math.Ceil(apart*base))-1)
	for passed := 0.0; ; passed += float64(skip+1) / base {
		for range skip {
			r.loop(u, 0, n, nil)
		}
		r.account = Account{}
		r.loop(u, 0, n, t)
		st.Account = r.Account()
		if !st.Account.Finite {
			return nil, st, fmt.Errorf("largesignal: the run left the range of numbers after %.3g s, want a lower level or a higher rate", passed)
		}
		now[0] = complex(mean(t.Cone), 0)
		top := 0.0
		for k, c := range watch {
			now[2*k+1], now[2*k+2] = line(t.Sound, c), line(t.Cone, c)
			top = max(top, cmplx.Abs(now[2*k+2]))
		}
		sound := 0.0
		for k := range watch {
			sound = max(sound, cmplx.Abs(now[2*k+1]))
		}
		st.Change = 0
		for k := range now {
			over := top
			if k%2 == 1 {
				over = sound
			}
			if over > 0 {
				st.Change = max(st.Change, cmplx.Abs(now[k]-last[k])/over)
			}
		}
		st.Settled = passed > 0 && st.Change <= set.Tolerance
		if st.Settled || passed >= set.Seconds {
			return t, st, nil
		}
		copy(last, now)
	}
}

// line returns the complex amplitude of the c-th multiple of the base of one period: that
// of e^{jωt} whose imaginary part is a sine of phase 0.
func line(x []float64, c int) complex128 {
	n := len(x)
	step := cmplx.Rect(1, -2*math.Pi*float64(c)/float64(n))
	sum, turn := complex128(0), complex(1, 0)
	for k, v := range x {
		if k%64 == 0 {
			turn = cmplx.Rect(1, -2*math.Pi*math.Mod(float64(c)*float64(k), float64(n))/float64(n))
		}
		sum += complex(v, 0) * turn
		turn *= step
	}
	return sum * complex(0, 2/float64(n))
}

func mean(x []float64) (sum float64) {
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// Products are the complex amplitudes (peak) of one quantity under one tone: from 0, the
// mean, to 5. As e^{jωt} whose imaginary part is the quantity: the tone itself is √2·RMS
// with its phase.
type Products [Highest + 1]complex128

// Relative returns the magnitude of harmonic k ≥ 2 over the rms of the fundamental and
// the harmonics together, as IEC 60268-21 has its nth-order harmonic distortion (from
// memory).
func (p *Products) Relative(k int) float64 { return over(cmplx.Abs(p[k]), p.total(1)) }

// THD returns the rms of harmonics 2 to 5 over that of 1 to 5: total harmonic distortion
// over the total, as in IEC 60268-21 (from memory), with what is above order 5 left out.
func (p *Products) THD() float64 { return over(p.total(2), p.total(1)) }

// over is a/b, and 0 of nothing.
func over(a, b float64) float64 {
	if b == 0 {
		return 0
	}
	return a / b
}

func (p *Products) total(from int) float64 {
	sum := 0.0
	for _, a := range p[from:] {
		sum += real(a)*real(a) + imag(a)*imag(a)
	}
	return math.Sqrt(sum)
}

// Harmonics is what one tone does.
type Harmonics struct {
	Tone                 Tone
	Sound, Cone, Current Products // Pa at 1 m in half space; m; A
	// Compression is the fundamental of the sound over that of the model for small
	// signals with the coil cold: a ratio, below 1 where level is lost.
	Compression float64
	Steady
}

// Offset returns the mean displacement, m.
func (h *Harmonics) Offset() float64 { return real(h.Cone[0]) }

// Harmonics runs a tone until it has settled, and analyses one period at an integer
// number of samples, without a window. It starts in the steady state of the model for
// small signals. With [Options].Heat the coil warms up meanwhile, but not to its end.
func (m *Model) Harmonics(o Tone, s *Settings) (*Harmonics, error) {
	set, err := s.filled()
	if err != nil {
		return nil, err
	}
	if err := o.validate(set.Rate); err != nil {
		return nil, err
	}
	t, st, err := m.periodic([]Tone{o}, o.Hz, []int{1, 2, 3, 4, 5}, set)
	if err != nil {
		return nil, err
	}
	h := &Harmonics{Tone: o, Steady: st}
	for _, q := range []struct {
		p *Products
		x []float64
	}{{&h.Sound, t.Sound}, {&h.Cone, t.Cone}, {&h.Current, t.Current}} {
		q.p[0] = complex(mean(q.x), 0)
		for k := 1; k <= Highest; k++ {
			q.p[k] = line(q.x, k)
		}
	}
	small := m.linear(o.Hz, m.re+m.source).sound
	h.Compression = cmplx.Abs(h.Sound[1]) / (math.Sqrt2 * o.RMS * cmplx.Abs(small))
	return h, nil
}

func (o Tone) validate(rate float64) error {
	if !(o.Hz > 0) || !(o.RMS > 0) || math.IsInf(o.Hz+o.RMS, 0) || math.IsNaN(o.Phase) || math.IsInf(o.Phase, 0) {
		return fmt.Errorf("largesignal: tone of %g Hz, %g V and %g rad, want finite values, the first two > 0", o.Hz, o.RMS, o.Phase)
	}
	if o.Hz*2*Highest > rate {
		return fmt.Errorf("largesignal: tone of %g Hz at a rate of %g Hz, want %d samples or more a period", o.Hz, rate, 2*Highest)
	}
	return nil
}
