package activerc

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Figures are what an active crossover is compared by, whether it is built with amplifiers or
// computed: one row for each.
type Figures struct {
	Name     string  `col:"crossover"`
	ErrorDB  float64 `col:"response error" unit:"dB" fmt:"%.3f"` // the largest deviation of the level from the target, with its sign
	ErrorAt  float64 `col:"at" unit:"Hz" fmt:"%.4g"`
	NoiseSPL float64 `col:"noise" unit:"dB(A)" fmt:"%.1f"` // sound pressure level, at the distance that its response states
	Latency  float64 `col:"latency" unit:"ms" fmt:"%.4f"`  // s: how much later than its target, mean over log frequency; a delay that was asked for is none
	SpreadDB float64 `col:"spread" unit:"dB" fmt:"%.2f"`   // ±, what 95 % of a production keep at all frequencies
	MaxInput float64 `col:"max. input" unit:"V peak"`      // of a sine at the worst frequency; +Inf where nothing is stated
}

// After is what stands between the output of the crossover and the ear.
type After struct {
	// Gain is the voltage gain of the power amplifier with all between, over frequency. nil is 1.
	Gain freq.Transfer
	// Acoustic is the sound pressure per volt at the terminals of the way, in pascal.
	Acoustic freq.Response
}

// Conditions are those of [Chain.Figures].
type Conditions struct {
	Kelvin     float64 // 0 stands for [RoomTemperature]
	After      After
	Tolerances Tolerances
	Trials     Trials
	// From and To are the band of the response error, the latency and the spread, in hertz; zeros
	// are the whole grid. A way is compared where it plays, not at the foot of its skirt.
	From, To float64
}

// SPL returns the noise of the chain as a sound pressure level in dB(A) re 20 µPa,
//
//	∫ S·|G·P|²·A² df
//
// over the grid of the acoustic response, by the trapezoidal rule, at the distance and in the
// space that it states. What the amplifier behind adds itself is not in it; uncorrelated noise
// of several ways adds in power.
func (c *Chain) SPL(a After, kelvin float64) (float64, error) {
	if a.Acoustic.Len() == 0 {
		return 0, fmt.Errorf("activerc: acoustic response is empty, want one in Pa per volt")
	}
	if b := a.Acoustic.Basis(); b.Quantity != freq.Pressure || b.Per != freq.PerTerminals || b.Distance <= 0 {
		return 0, fmt.Errorf("activerc: acoustic response is %v, want sound pressure per volt at the terminals, at a distance", b)
	}
	g := a.Acoustic.Grid()
	s, err := c.NoiseTo(nil, g, kelvin)
	if err != nil {
		return 0, err
	}
	for i := range s {
		s[i] *= square(a.Acoustic.At(i))
	}
	if a.Gain != nil {
		if err := freq.CheckGrid(a.Gain, g); err != nil {
			return 0, fmt.Errorf("activerc: gain after the crossover: %w", err)
		}
		for i, h := range a.Gain.ResponseTo(nil, g) {
			s[i] *= square(h)
		}
	}
	p := math.Sqrt(weighted(s, g, level.A))
	if math.IsNaN(p) || math.IsInf(p, 0) {
		return 0, fmt.Errorf("activerc: noise is %g Pa, want a finite pressure: the gain after the crossover is not finite somewhere", p)
	}
	return level.SPL(p), nil
}

// Volts returns the noise at the output of the chain in volts rms over the grid, with a
// weighting: Σ of density times width by the trapezoidal rule.
func (c *Chain) Volts(g *freq.Grid, w level.Weighting, kelvin float64) (float64, error) {
	s, err := c.NoiseTo(nil, g, kelvin)
	if err != nil {
		return 0, err
	}
	return math.Sqrt(weighted(s, g, w)), nil
}

func weighted(s []float64, g *freq.Grid, w level.Weighting) float64 {
	sum := 0.0
	at := func(i int) float64 {
		a := w.Ratio(g.At(i))
		return s[i] * a * a
	}
	for i := 1; i < len(s); i++ {
		sum += (at(i) + at(i-1)) / 2 * (g.At(i) - g.At(i-1))
	}
	return sum
}

// Compare returns the figures that follow from two transfers, response error and latency over a
// band: for a crossover that is computed, realised by a cascade with its converters' delay, and
// compared with the same target. Its noise, spread and largest input come from elsewhere (its
// path's budgets) and are 0 here. Both must be defined off the grid too, as measured responses are
// not.
func Compare(name string, realised, target freq.Transfer, band *freq.Grid) (Figures, error) {
	if band == nil {
		return Figures{}, fmt.Errorf("activerc: figures of %q: grid is nil, want one", name)
	}
	beside, err := freq.NewGrid([]float64{band.First() * (1 + 1e-4)})
	if err != nil {
		return Figures{}, err
	}
	for _, t := range []freq.Transfer{realised, target} {
		for _, g := range []*freq.Grid{band, beside} {
			if err := freq.CheckGrid(t, g); err != nil {
				return Figures{}, fmt.Errorf("activerc: figures of %q: %w", name, err)
			}
		}
	}
	f := Figures{Name: name}
	h, want := realised.ResponseTo(nil, band), target.ResponseTo(nil, band)
	for i := range h {
		e := level.DB(math.Sqrt(square(h[i]) / square(want[i])))
		if math.IsNaN(e) || math.IsInf(e, 0) {
			return Figures{}, fmt.Errorf("activerc: figures of %q: response is %v and target %v at %g Hz, want both with a level",
				name, h[i], want[i], band.At(i))
		}
		if math.Abs(e) > math.Abs(f.ErrorDB) || i == 0 {
			f.ErrorDB, f.ErrorAt = e, band.At(i)
		}
	}
	late := freq.GroupDelay(freq.Series{realised, freq.Inverse{Of: target}}, band, "")
	f.Latency, err = late.Mean(band.First(), band.Last())
	return f, err
}

// Figures returns the figures of the chain: noise and largest input over the grid, the others over
// the band of the conditions.
func (c *Chain) Figures(name string, g *freq.Grid, k Conditions) (Figures, error) {
	if k.Kelvin == 0 {
		k.Kelvin = RoomTemperature
	}
	if k.From == 0 && k.To == 0 {
		k.From, k.To = g.First(), g.Last()
	}
	i, j := g.Between(k.From, k.To)
	if j-i < 2 {
		return Figures{}, fmt.Errorf("activerc: %d frequencies lie within %g … %g Hz, want at least 2", max(0, j-i), k.From, k.To)
	}
	band, err := freq.NewGrid(g.Hz()[i:j])
	if err != nil {
		return Figures{}, err
	}
	f, err := Compare(name, c, c.Target(), band)
	if err != nil {
		return Figures{}, err
	}
	f.MaxInput = math.Inf(1)
	if f.NoiseSPL, err = c.SPL(k.After, k.Kelvin); err != nil {
		return Figures{}, err
	}
	spread, err := c.Spread(band, k.Tolerances, k.Trials)
	if err != nil {
		return Figures{}, err
	}
	if f.SpreadDB, err = spread.Within(0.95); err != nil {
		return Figures{}, err
	}
	rows, err := c.Headroom(g)
	if err != nil {
		return Figures{}, err
	}
	for _, r := range rows {
		f.MaxInput = min(f.MaxInput, r.Input)
	}
	return f, nil
}
