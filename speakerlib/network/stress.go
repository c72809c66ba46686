package network

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/signal"
)

// Drive is what the source gives: a noise of some spectrum for the heat, and a sine of the
// amplifier's highest voltage at the worst frequency for the peaks.
type Drive struct {
	Shape    signal.Shape // of the noise, such as [signal.Programme], or [Thirds] of a recording
	Volts    float64      // its electromotive force, rms within From … To, V
	From, To float64      // Hz, within the grid
	Peak     float64      // the highest voltage of a sine, V
}

// Validate reports a drive that says nothing.
func (d Drive) Validate() error {
	if d.Shape == nil {
		return fmt.Errorf("network: drive has no spectrum, want a shape")
	}
	for _, v := range []struct {
		what string
		v    float64
		unit string
	}{{"rms voltage", d.Volts, "V"}, {"peak voltage", d.Peak, "V"}, {"lowest frequency", d.From, "Hz"}} {
		if err := positive("the drive", v.what, v.v, v.unit); err != nil {
			return err
		}
	}
	if !(d.To > d.From) || math.IsInf(d.To, 0) {
		return fmt.Errorf("network: drive from %g to %g Hz, want a band", d.From, d.To)
	}
	return nil
}

// Stress is what a drive does to a part, or to one winding of a transformer.
type Stress struct {
	Part      string  `col:"part"`
	Watts     float64 `col:"P" unit:"W" fmt:"%.3g"`      // mean, of the noise: what becomes heat, and in a load sound
	Volts     float64 `col:"V" unit:"V" fmt:"%.3g"`      // rms, of the noise
	Amperes   float64 `col:"I" unit:"A" fmt:"%.3g"`      // rms, of the noise
	PeakVolts float64 `col:"V peak" unit:"V" fmt:"%.3g"` // of the sine at its worst frequency
	VoltsAt   float64 `col:"V peak at" unit:"Hz" fmt:"%.0f"`
	PeakAmps  float64 `col:"I peak" unit:"A" fmt:"%.3g"` // of the sine at its worst frequency
	AmpsAt    float64 `col:"I peak at" unit:"Hz" fmt:"%.0f"`
	SineWatts float64 `col:"P sine" unit:"W" fmt:"%.3g"` // mean, of the sine at its worst frequency
	WattsAt   float64 `col:"P sine at" unit:"Hz" fmt:"%.0f"`
}

// Stress returns what the drive does to every part, in their order, and one row per winding of
// a transformer. Powers and mean squares are
//
//	∫ |X|²·S df / ∫ S df · V²
//
// over From … To, by the trapezoidal rule in ln f on the points of the grid within the band:
// with 24 points an octave a two-way is within 1e-4 of it, with 6 within 1e-3. The sine goes over the same
// points. The power of a coil, a capacitor or a winding is that in its series resistance,
// that of a load Re(Z)·|I|².
//
// These are the loads of parts at their cold values. A resistor at its rated watts is too hot
// to touch and must stand away from board, glue and foam; the alternating voltage that a film
// capacitor bears falls with frequency; at which current a core saturates is another
// question. The output of a large amplifier is dangerous to touch.
func (s *Solution) Stress(d Drive) ([]Stress, error) {
	if err := d.Validate(); err != nil {
		return nil, err
	}
	g := s.plan.grid
	if d.From < g.First()*(1-1e-9) || d.To > g.Last()*(1+1e-9) {
		return nil, fmt.Errorf("network: drive from %g to %g Hz, want a band within the grid, %v", d.From, d.To, g)
	}
	lo, hi := g.Between(d.From*(1-1e-9), d.To*(1+1e-9))
	if hi-lo < 2 {
		return nil, fmt.Errorf("network: %d points of the grid are within %g to %g Hz, want 2 or more", hi-lo, d.From, d.To)
	}
	weight := make([]float64, hi-lo) // share of the mean square
	var sum float64
	for i := range weight {
		amp := d.Shape.Amplitude(g.At(lo + i))
		below, above := max(lo+i-1, lo), min(lo+i+1, hi-1)
		weight[i] = amp * amp * g.At(lo+i) * math.Log(g.At(above)/g.At(below)) / 2
		sum += weight[i]
	}
	if !(sum > 0) || math.IsInf(sum, 0) {
		return nil, fmt.Errorf("network: power of the spectrum is %g from %g to %g Hz, want a finite value > 0", sum, d.From, d.To)
	}
	for i := range weight {
		weight[i] *= d.Volts * d.Volts / sum
	}
	var rows []Stress
	cur, volt := make([]complex128, g.Len()), make([]complex128, g.Len())
	for part, p := range s.plan.net.parts {
		for j, e := range p.ends() {
			port, err := s.plan.Port(e[0], e[1])
			if err != nil {
				return nil, err
			}
			s.currentTo(cur, part, j)
			s.VoltageTo(volt, port)
			row := Stress{Part: p.Label()}
			loss, lossy := s.seriesLoss(part, j)
			var v2, i2 float64
			for i, w := range weight {
				v, a := volt[lo+i], cur[lo+i]
				power := real(v)*real(a) + imag(v)*imag(a)
				vv, aa := square(v), square(a)
				if lossy {
					power = loss * aa
				}
				row.Watts += w * power
				v2 += w * vv
				i2 += w * aa
				row.PeakVolts, row.VoltsAt = larger(row.PeakVolts, row.VoltsAt, d.Peak*math.Sqrt(vv), g.At(lo+i))
				row.PeakAmps, row.AmpsAt = larger(row.PeakAmps, row.AmpsAt, d.Peak*math.Sqrt(aa), g.At(lo+i))
				row.SineWatts, row.WattsAt = larger(row.SineWatts, row.WattsAt, d.Peak*d.Peak/2*power, g.At(lo+i))
			}
			row.Volts, row.Amperes = math.Sqrt(v2), math.Sqrt(i2)
			rows = append(rows, row)
		}
	}
	return rows, nil
}

// seriesLoss returns the resistance in which a coil, a capacitor or a winding has all its heat:
// of those Re(V·I*) would be what rounding leaves of a reactive power.
func (s *Solution) seriesLoss(part, winding int) (r float64, ok bool) {
	if t, ok := s.plan.net.parts[part].(Transformer); ok {
		return t.Windings[winding].R, true
	}
	for _, b := range s.plan.branches {
		if b.part == part && b.parameters() == 2 {
			return s.values[b.param+1], true
		}
	}
	return 0, false
}

func square(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }

func larger(a, at, b, bt float64) (value, where float64) {
	if b > a {
		return b, bt
	}
	return a, at
}

// Thirds is the spectrum of a measured programme by its third-octave bands, in any order:
// constant density within a band, of power over width, and nothing elsewhere.
type Thirds []signal.Band

// Amplitude implements [signal.Shape].
func (b Thirds) Amplitude(hz float64) float64 {
	const half = 1.1220184543019634 // 10^(1/20): the exact bands of IEC 61260-1, base ten
	for _, v := range b {
		if hz >= v.Hz/half && hz < v.Hz*half {
			return math.Sqrt(v.Power / (v.Hz * (half - 1/half)))
		}
	}
	return 0
}
