package signalpath

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// NoiseSetup says where noise is heard, and how it is weighted.
type NoiseSetup struct {
	Distance  float64 // m, on the axis of each driver
	Air       air.Medium
	Weighting level.Weighting // the zero value is level.Z: none
	// From and To are the band that is summed, where responses are not known over all of
	// it, in hertz; 0: NoiseFrom and NoiseTo. What is beyond is left out: say so.
	From, To float64
}

// band is the band that is summed.
func (n NoiseSetup) band() (lo, hi float64) {
	lo, hi = NoiseFrom, NoiseTo
	if n.From != 0 {
		lo = n.From
	}
	if n.To != 0 {
		hi = n.To
	}
	return lo, hi
}

// Validate reports a distance, a band, a weighting or an air that cannot be.
func (n NoiseSetup) Validate() error {
	if !(n.Distance > 0) || math.IsInf(n.Distance, 0) {
		return fmt.Errorf("signalpath: distance is %g m, want a finite value > 0", n.Distance)
	}
	if lo, hi := n.band(); !(lo >= NoiseFrom) || !(hi > lo) || !(hi <= NoiseTo) {
		return fmt.Errorf("signalpath: noise is summed from %g to %g Hz, want a band within %g … %g Hz", lo, hi, NoiseFrom, NoiseTo)
	}
	if n.Weighting != level.Z && n.Weighting != level.A && n.Weighting != level.C {
		return fmt.Errorf("signalpath: noise is weighted by %v, want Z, A or C", n.Weighting)
	}
	return n.Air.Validate()
}

// NoiseRow is what an element adds to the noise that is heard, without any signal.
type NoiseRow struct {
	Way     string  `col:"way"`
	Element string  `col:"element"`
	Volts   float64 `col:"at the terminals" unit:"µV" fmt:"%.3g"` // V rms, weighted; 0 in the row of the sum, which has no terminals
	Level   float64 `col:"level" unit:"dB" fmt:"%.1f"`            // sound pressure, weighted, re 20 µPa
	Share   float64 `col:"share of the sum" unit:"%" fmt:"%.3g"`  // of the power of all ways

	Weighting level.Weighting `col:"weighting"`
	Distance  float64         `col:"at" unit:"m" fmt:"%.2f"` // on the axis
	Space     freq.Space      `col:"in"`                     // of the response of the driver
}

// NoiseBudget returns the noise of the ways by element, loudest first within a way, a row "all" of
// each way and one of the sum. All is weighted and summed within 20 Hz … 20 kHz, by the
// trapezoidal rule in ln f on the grid of each way: of white noise it is within 5e-5 of the power
// at 48 points an octave, 2e-4 at 24 and 2 % at 3. A grid that is coarser than that, or below 200
// Hz than one point an octave, is refused. Ways add by power. The level at the distance follows
// from the driver's response as [IdleNoise] says.
func NoiseBudget(n NoiseSetup, ways ...*Solution) ([]NoiseRow, error) {
	if err := n.Validate(); err != nil {
		return nil, err
	}
	if err := together(n, ways); err != nil {
		return nil, err
	}
	var rows []NoiseRow
	total := NoiseRow{Way: "sum", Element: "all"}
	var power []float64 // of the sound, by row
	var sum float64
	for _, s := range ways {
		near := s.near(n)
		first := len(rows)
		var wayVolts, wayPower float64
		for _, c := range s.noise {
			v, p := s.weighted(c.density, nil, n), s.weighted(c.density, near, n)
			at := len(rows)
			for at > first && power[at-1] < p {
				at--
			}
			rows = insert(rows, at, NoiseRow{Way: s.path.Name, Element: c.element, Volts: math.Sqrt(v)})
			power = insert(power, at, p)
			wayVolts += v
			wayPower += p
		}
		rows = append(rows, NoiseRow{Way: s.path.Name, Element: "all", Volts: math.Sqrt(wayVolts)})
		power = append(power, wayPower)
		sum += wayPower
	}
	rows = append(rows, total)
	power = append(power, sum)
	for i := range rows {
		rows[i].Weighting, rows[i].Distance, rows[i].Space = n.Weighting, n.Distance, ways[0].path.Driver.basis().Space
		rows[i].Level = level.SPL(math.Sqrt(power[i]))
		if sum > 0 {
			rows[i].Share = power[i] / sum
		}
	}
	return rows, nil
}

func insert[T any](list []T, at int, v T) []T {
	list = append(list, v)
	copy(list[at+1:], list[at:])
	list[at] = v
	return list
}

// Noise returns the noise density at the terminals of all elements together, in V²/Hz. That of the
// driver's coil is in it as the voltage at the terminals that would move the cone as much.
func (s *Solution) Noise(label string) (freq.Curve, error) {
	d := make([]float64, s.grid.Len())
	for _, c := range s.noise {
		for i, v := range c.density {
			d[i] += v
		}
	}
	return freq.NewCurve(s.grid, d, label, "V²/Hz", freq.Basis{Quantity: freq.Voltage})
}

// ElementNoise returns the noise density that an element adds at its own output, in FS²/Hz or
// V²/Hz. The name may be "source" or that of the driver, too.
func (s *Solution) ElementNoise(name string) (freq.Curve, error) {
	k, err := s.noisy(name)
	if err != nil {
		return freq.Curve{}, err
	}
	unit := "V²/Hz"
	if i := k - s.component(0); i >= 0 && i < len(s.stages) && s.stages[i].element.out().rate > 0 {
		unit = "FS²/Hz"
	}
	return freq.NewCurve(s.grid, s.noise[k].output, name, unit, freq.Basis{})
}

// TerminalNoise returns what of the noise of an element is at the terminals of the driver, in
// V²/Hz.
func (s *Solution) TerminalNoise(name string) (freq.Curve, error) {
	k, err := s.noisy(name)
	if err != nil {
		return freq.Curve{}, err
	}
	return freq.NewCurve(s.grid, s.noise[k].density, name, "V²/Hz", freq.Basis{Quantity: freq.Voltage})
}

func (s *Solution) noisy(name string) (int, error) {
	for k, c := range s.noise {
		if c.element == name {
			return k, nil
		}
	}
	return 0, fmt.Errorf("signalpath: path %q has no noise of %q", s.path.Name, name)
}

// PressureNoise returns the density of the sound at a distance on the axis of the driver, in
// Pa²/Hz.
func (s *Solution) PressureNoise(n NoiseSetup, label string) (freq.Curve, error) {
	if err := n.Validate(); err != nil {
		return freq.Curve{}, err
	}
	near := s.near(n)
	d := make([]float64, s.grid.Len())
	for _, c := range s.noise {
		for i, v := range c.density {
			w := n.Weighting.Ratio(s.grid.At(i))
			d[i] += v * near[i] * w * w
		}
	}
	b := s.path.Driver.basis()
	b.Per, b.Distance = freq.Absolute, n.Distance
	return freq.NewCurve(s.grid, d, label, "Pa²/Hz", b)
}

// weighted returns the mean square within the band of noise of a density times factors of power.
func (s *Solution) weighted(density, factor []float64, n NoiseSetup) float64 {
	d := make([]float64, len(density))
	for i, v := range density {
		a := n.Weighting.Ratio(s.grid.At(i))
		d[i] = v * a * a
	}
	lo, hi := n.band()
	return integral(s.grid, d, factor, lo, hi)
}

// integral returns ∫ density·factor df from lo to hi by the trapezoidal rule in ln f.
// The first and the last point stand for what is beyond them, if the band is wider.
func integral(g *freq.Grid, density, factor []float64, lo, hi float64) float64 {
	var sum float64
	at := func(i int) float64 {
		v := density[i] * g.At(i)
		if factor != nil {
			v *= factor[i]
		}
		return v
	}
	i, j := g.Between(lo, hi)
	if i >= j {
		return 0
	}
	for k := i; k < j-1; k++ {
		sum += (at(k) + at(k+1)) / 2 * math.Log(g.At(k+1)/g.At(k))
	}
	return sum + at(i)*math.Log(g.At(i)/lo) + at(j-1)*math.Log(hi/g.At(j-1))
}

// together reports ways that have no common sum: none, one twice, or in other spaces.
func together(n NoiseSetup, ways []*Solution) error {
	if len(ways) == 0 {
		return fmt.Errorf("signalpath: budget of no way, want at least 1")
	}
	seen := map[string]bool{}
	for _, s := range ways {
		if s == nil {
			return fmt.Errorf("signalpath: budget has a way that is nil")
		}
		if seen[s.path.Name] {
			return fmt.Errorf("signalpath: budget has way %q twice", s.path.Name)
		}
		seen[s.path.Name] = true
		a, b := ways[0].path.Driver.basis(), s.path.Driver.basis()
		if a.Space != b.Space {
			return fmt.Errorf("signalpath: way %q is in %v, way %q in %v: want one space", ways[0].path.Name, a.Space, s.path.Name, b.Space)
		}
		const beyond = 1.06 // a sixth of a third-octave: the first and the last point stand for it
		if lo, hi := n.band(); s.grid.First() > lo*beyond || s.grid.Last() < hi/beyond {
			return fmt.Errorf("signalpath: way %q is on %v, want a grid over %g … %g Hz for its noise, or a narrower band in the setup", s.path.Name, s.grid, lo, hi)
		}
		if err := s.dense(n); err != nil {
			return err
		}
	}
	return nil
}

// dense reports a grid that is too coarse for a sum over the band.
func (s *Solution) dense(n NoiseSetup) error {
	const slack = 1 + 1e-6
	i, j := s.grid.Between(n.band())
	for k := i + 1; k < j; k++ {
		below, at := s.grid.At(k-1), s.grid.At(k)
		most, name := math.Cbrt(2), "a third of an octave"
		if at <= 200 {
			most, name = 2, "an octave"
		}
		if at/below > most*slack {
			return fmt.Errorf("signalpath: way %q is on %v, with nothing between %.5g and %.5g Hz, want points at most %s apart there for its noise", s.path.Name, s.grid, below, at, name)
		}
	}
	return nil
}
