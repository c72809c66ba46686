package largesignal

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
)

// Intermodulation is what a low tone, which moves the cone, does to a high one.
type Intermodulation struct {
	Low, High Tone // as run: High is moved to an odd multiple of half of Low
	// Lower and Upper are the magnitudes in the sound pressure at High − n·Low and
	// High + n·Low, Pa peak at 1 m in half space, n from 1 to 4 in element n−1.
	Lower, Upper [Highest - 1]float64
	Carrier      float64 // that at High
	Compression  float64 // of the carrier: over that of the model for small signals, a ratio
	Steady
}

// Order returns the modulation distortion of order n, 2 to 5:
//
//	dₙ = (|p(f₂−(n−1)f₁)| + |p(f₂+(n−1)f₁)|)/|p(f₂)|
//
// (IEC 60268-21 and before it 60268-5, for n = 2 and 3; from memory). Both sidebands of
// pure amplitude modulation by a factor 1 + m·sin make d₂ = m.
func (i *Intermodulation) Order(n int) float64 {
	if n < 2 || n > Highest {
		panic("largesignal: modulation distortion of an order that is not looked at")
	}
	return (i.Lower[n-2] + i.Upper[n-2]) / i.Carrier
}

// TwoTone runs a low and a high tone together until they have settled. The high one is
// moved to the nearest odd multiple of half the low one, so that no harmonic of one falls
// on a product of both. The period that is analysed is two of the low tone.
//
// The Doppler effect, by which the moving cone modulates the high tone's phase, is not in
// it: the sound pressure is that of the cone's acceleration at its place at rest.
func (m *Model) TwoTone(low, high Tone, s *Settings) (*Intermodulation, error) {
	set, err := s.filled()
	if err != nil {
		return nil, err
	}
	if err := low.validate(set.Rate); err != nil {
		return nil, err
	}
	if err := high.validate(set.Rate); err != nil {
		return nil, err
	}
	base := low.Hz / 2
	c := 2*int(math.Floor(high.Hz/low.Hz)) + 1
	if c < 2*Highest {
		return nil, fmt.Errorf("largesignal: two tones of %g and %g Hz, want the high one at %d times the low one or more", low.Hz, high.Hz, Highest)
	}
	high.Hz = float64(c) * base
	watch := []int{c}
	for n := 1; n < Highest; n++ {
		watch = append(watch, c-2*n, c+2*n)
	}
	t, st, err := m.periodic([]Tone{low, high}, base, append(watch, 2), set)
	if err != nil {
		return nil, err
	}
	i := &Intermodulation{Low: low, High: high, Steady: st, Carrier: cmplx.Abs(line(t.Sound, c))}
	for n := 1; n < Highest; n++ {
		i.Lower[n-1], i.Upper[n-1] = cmplx.Abs(line(t.Sound, c-2*n)), cmplx.Abs(line(t.Sound, c+2*n))
	}
	i.Compression = i.Carrier / (math.Sqrt2 * high.RMS * cmplx.Abs(m.linear(high.Hz, m.re+m.source).sound))
	return i, nil
}

// Comb says which tones a multitone has.
type Comb struct {
	From, To  float64 // Hz
	PerOctave float64 // tones an octave. 0: 3
	RMS       float64 // of all together, V; all tones are equal
	Base      float64 // all tones are multiples of it, Hz. 0: From/8
	Seed      uint64  // of the phases
}

// Line is the sound pressure at one multiple of the base, rms at 1 m in half space.
type Line struct {
	Hz      float64 `col:"frequency" unit:"Hz" fmt:"%.1f"`
	Pa      float64 `col:"sound pressure" unit:"Pa" fmt:"%.4g"`
	Excited bool    `col:"excited"`
}

// Multitone is what many tones together do.
type Multitone struct {
	Lines []Line // up to twice the highest tone
	// Distortion is the rms of the lines that are not excited over that of those that
	// are: harmonics and intermodulation together.
	Distortion float64
	Steady
}

// Multitone runs a comb of tones until it has settled and looks at all lines of one
// period. The tones stand at distances that grow evenly, moved to multiples of the base,
// each of them once.
func (m *Model) Multitone(c Comb, s *Settings) (*Multitone, error) {
	set, err := s.filled()
	if err != nil {
		return nil, err
	}
	if c.PerOctave == 0 {
		c.PerOctave = 3
	}
	if c.Base == 0 {
		c.Base = c.From / 8
	}
	if !(c.From > 0) || !(c.To > c.From) || !(c.RMS > 0) || !(c.PerOctave > 0) || !(c.Base > 0) || !(c.Base <= c.From) || math.IsInf(c.RMS+c.PerOctave, 0) || !(10*c.To <= set.Rate) {
		return nil, fmt.Errorf("largesignal: comb from %g to %g Hz, %g tones an octave, %g V, base %g Hz, want finite values > 0, the base below and the highest tone at a tenth of the rate of %g Hz or less", c.From, c.To, c.PerOctave, c.RMS, c.Base, set.Rate)
	}
	random := rand.New(rand.NewPCG(c.Seed, 0x6d756c7469746f6e))
	var tones []Tone
	var watch []int
	for k := 0; ; k++ {
		hz := c.From * math.Exp2(float64(k)/c.PerOctave)
		if hz > c.To*(1+1e-9) {
			break
		}
		n := int(math.Round(hz / c.Base))
		if len(watch) > 0 && n <= watch[len(watch)-1] {
			continue
		}
		watch = append(watch, n)
		tones = append(tones, Tone{Hz: float64(n) * c.Base, Phase: 2 * math.Pi * random.Float64()})
	}
	for k := range tones {
		tones[k].RMS = c.RMS / math.Sqrt(float64(len(tones)))
	}
	t, st, err := m.periodic(tones, c.Base, watch, set)
	if err != nil {
		return nil, err
	}
	out := &Multitone{Steady: st}
	wanted, other, next := 0.0, 0.0, 0
	for k := 1; k <= 2*watch[len(watch)-1]; k++ {
		pa := cmplx.Abs(line(t.Sound, k)) / math.Sqrt2
		excited := next < len(watch) && watch[next] == k
		if excited {
			next++
			wanted += pa * pa
		} else {
			other += pa * pa
		}
		out.Lines = append(out.Lines, Line{Hz: float64(k) * c.Base, Pa: pa, Excited: excited})
	}
	out.Distortion = math.Sqrt(other / wanted)
	return out, nil
}
