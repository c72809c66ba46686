package directivity

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Mean is an average over directions: the root of a mean of |p|², as a pressure on the
// basis of its set.
type Mean struct {
	Pressure   freq.Curve  // √ mean |p|², Pa or Pa/V
	Directions []Direction // that it was made of
	Doubtful   []Direction // of those, what was not Given but mirrored or interpolated

	whole bool // over the whole sphere
}

// SPL returns the level in dB re 20 µPa at a drive in volts rms of a mean that is per
// volt; with 1 of one that is absolute. It panics if the drive is not positive.
func (m Mean) SPL(volts float64) freq.Curve { return m.Pressure.DB(level.Reference / volts) }

// weighted is a direction and what it counts.
type weighted struct {
	Direction
	weight float64
}

// Average returns the mean of the power over the directions, all alike. A direction that
// comes twice counts twice. Directions that the set has not are an error that names all of
// them.
func (s *Set) Average(label string, d ...Direction) (Mean, error) {
	w := make([]weighted, len(d))
	for i := range d {
		w[i] = weighted{d[i], 1 / float64(len(d))}
	}
	return s.average(label, w)
}

func (s *Set) average(label string, d []weighted) (Mean, error) {
	if len(d) == 0 {
		return Mean{}, fmt.Errorf("directivity: average %q over no direction, want at least 1", label)
	}
	if missing := s.missing(d); missing != nil {
		return Mean{}, fmt.Errorf("directivity: %q needs %d directions of which the set has not %s; it has %s and %s", label, len(d), strings.Join(missing, ", "), s.covered(Horizontal), s.covered(Vertical))
	}
	m := Mean{}
	sum := make([]float64, s.grid.Len())
	for _, w := range d {
		p, err := s.Point(w.Direction)
		if err != nil {
			return Mean{}, err
		}
		for i := range sum {
			v := p.Response.At(i)
			sum[i] += w.weight * (real(v)*real(v) + imag(v)*imag(v))
		}
		m.Directions = append(m.Directions, w.Direction)
		if p.Origin != Given {
			m.Doubtful = append(m.Doubtful, w.Direction)
		}
	}
	var err error
	m.Pressure, err = s.root(sum, label)
	return m, err
}

func (s *Set) missing(d []weighted) []string {
	var missing []string
	for _, w := range d {
		if _, err := s.Point(w.Direction); err != nil {
			name := w.String()
			if !slices.Contains(missing, name) {
				missing = append(missing, name)
			}
		}
	}
	return missing
}

// root returns the root of a power as a pressure.
func (s *Set) root(power []float64, label string) (freq.Curve, error) {
	v := make([]float64, len(power))
	for i, p := range power {
		v[i] = math.Sqrt(p)
	}
	return freq.NewCurve(s.grid, v, label, s.basis.Quantity.Unit(), s.basis)
}

// SoundPower returns the weighted mean of the power over the two orbits in steps of 10°:
// the pressure that the same sound power would make in every direction. Angles of a finer
// raster do not count. The set must be in full space: half a sphere says nothing of the
// other half.
func (s *Set) SoundPower(w Weights) (Mean, error) {
	if w != Standard && w != Zones {
		return Mean{}, fmt.Errorf("directivity: weights are %d, want Standard or Zones", int(w))
	}
	if s.basis.Space != freq.FullSpace {
		return Mean{}, fmt.Errorf("directivity: sound power of a set that is %v, want one in full space", s.basis)
	}
	var d []weighted
	for _, o := range []Orbit{Horizontal, Vertical} {
		for a := 0.0; a <= 180; a += 10 {
			at := Direction{o, a}
			if at.shared() {
				d = append(d, weighted{at, 2 * w.At(a)})
				continue
			}
			d = append(d, weighted{at, w.At(a)}, weighted{Direction{o, -a}, w.At(a)})
		}
	}
	m, err := s.average("sound power", d)
	m.whole = true
	return m, err
}

// Watts returns the sound power in watts at a drive in volts rms of a mean over the whole
// sphere (SoundPower):
//
//	P = 4πr²·p²/ρc
//
// with r the distance of the set, far enough away that pressure and velocity are in phase.
// Of another mean it is an error.
func (m Mean) Watts(volts float64, a air.Medium) (freq.Curve, error) {
	if !m.whole {
		return freq.Curve{}, fmt.Errorf("directivity: watts of the mean %q over %d directions, want that of SoundPower", m.Pressure.Label(), len(m.Directions))
	}
	if !(volts > 0) || math.IsInf(volts, 0) {
		return freq.Curve{}, fmt.Errorf("directivity: drive is %g V, want a finite value > 0", volts)
	}
	if err := a.Validate(); err != nil {
		return freq.Curve{}, err
	}
	b := m.Pressure.Basis()
	if b.Per != freq.PerTerminals && b.Per != freq.PerInput {
		return freq.Curve{}, fmt.Errorf("directivity: power at %g V of a mean that is %v, want one per volt", volts, b)
	}
	v := m.Pressure.Values()
	for i, p := range v {
		v[i] = 4 * math.Pi * b.Distance * b.Distance * p * p * volts * volts / a.Impedance()
	}
	b.Per = freq.Absolute
	return freq.NewCurve(m.Pressure.Grid(), v, m.Pressure.Label(), "W", b)
}

// Averages are those of ANSI/CTA-2034-A, all as roots of mean powers. (Angle groups and
// weights from memory of the standard and of Devantier 2002; where they can be read in two
// ways, Reading says which was taken.)
type Averages struct {
	Reading                               Reading
	OnAxis                                Mean
	ListeningWindow                       Mean
	Floor, Ceiling, FrontWall, Side, Rear Mean
	EarlyReflections                      Mean
	SoundPower                            Mean // by the weights of the standard
	// InRoom is the predicted in-room response, of powers:
	// 0.12·listening window + 0.44·early reflections + 0.44·sound power.
	InRoom Mean
	// SoundPowerIndex is the listening window less the sound power and EarlyIndex less the
	// early reflections, in dB. The directivity index of other texts is the axis less the
	// sound power.
	SoundPowerIndex, EarlyIndex freq.Curve
	// Bias is by how much the sound power reads higher than by weights of Zones, in dB:
	// what the weights of the standard do to this loudspeaker. It is of use for patterns
	// that are about alike around the axis.
	Bias freq.Curve
}

// The parts of the predicted in-room response.
const (
	windowPart = 0.12
	earlyPart  = 0.44
	powerPart  = 0.44
)

// Averages returns the averages of ANSI/CTA-2034-A. The set must be in full space and have
// all 70 directions of the two orbits in steps of 10° ([Orbits70]).
//
// They are of power: a dip in one direction does not come back in another, and two
// directions in opposite phase do not cancel. Neither the standard nor this says anything
// of a room below about 300 Hz, where it has modes.
func (s *Set) Averages(r Reading) (*Averages, error) {
	if err := r.validate(); err != nil {
		return nil, err
	}
	a := &Averages{Reading: r}
	var err error
	if a.SoundPower, err = s.SoundPower(Standard); err != nil {
		return nil, err
	}
	zones, err := s.SoundPower(Zones)
	if err != nil {
		return nil, err
	}
	var union []Direction
	for _, g := range []struct {
		to    *Mean
		label string
		of    []Direction
		early bool
	}{
		{&a.OnAxis, "on axis", []Direction{axis}, false},
		{&a.ListeningWindow, "listening window", ListeningWindow(), false},
		{&a.Floor, "floor bounce", FloorBounce(), true},
		{&a.Ceiling, "ceiling bounce", CeilingBounce(), true},
		{&a.FrontWall, "front wall bounce", FrontWallBounce(), true},
		{&a.Side, "side wall bounce", SideWallBounce(), true},
		{&a.Rear, "rear wall bounce", RearWallBounce(r.Rear), true},
	} {
		if *g.to, err = s.Average(g.label, g.of...); err != nil {
			return nil, err
		}
		for _, d := range g.of {
			if g.early && !slices.Contains(union, d) {
				union = append(union, d)
			}
		}
	}
	if r.Early == AnglesAlike {
		a.EarlyReflections, err = s.Average("early reflections", union...)
	} else {
		a.EarlyReflections, err = s.mixed("early reflections", []Mean{a.Floor, a.Ceiling, a.FrontWall, a.Side, a.Rear}, []float64{0.2, 0.2, 0.2, 0.2, 0.2})
	}
	if err != nil {
		return nil, err
	}
	if a.InRoom, err = s.mixed("predicted in-room response", []Mean{a.ListeningWindow, a.EarlyReflections, a.SoundPower}, []float64{windowPart, earlyPart, powerPart}); err != nil {
		return nil, err
	}
	for _, c := range []struct {
		to    *freq.Curve
		label string
		m, n  Mean
	}{
		{&a.SoundPowerIndex, "sound power directivity index", a.ListeningWindow, a.SoundPower},
		{&a.EarlyIndex, "early reflections directivity index", a.ListeningWindow, a.EarlyReflections},
		{&a.Bias, "bias of the weights", a.SoundPower, zones},
	} {
		if *c.to, err = s.index(c.label, c.m, c.n); err != nil {
			return nil, err
		}
	}
	return a, nil
}

// mixed returns the mean of means with given weights of power.
func (s *Set) mixed(label string, of []Mean, weights []float64) (Mean, error) {
	var m Mean
	sum := make([]float64, s.grid.Len())
	add := func(to *[]Direction, from []Direction) {
		for _, d := range from {
			if !slices.Contains(*to, d) {
				*to = append(*to, d)
			}
		}
	}
	for k, part := range of {
		for i := range sum {
			p := part.Pressure.At(i)
			sum[i] += weights[k] * p * p
		}
		add(&m.Directions, part.Directions)
		add(&m.Doubtful, part.Doubtful)
	}
	var err error
	m.Pressure, err = s.root(sum, label)
	return m, err
}

// index returns the level of one mean re another, in dB.
func (s *Set) index(label string, m, n Mean) (freq.Curve, error) {
	v := make([]float64, s.grid.Len())
	for i := range v {
		if n.Pressure.At(i) == 0 || m.Pressure.At(i) == 0 {
			return freq.Curve{}, fmt.Errorf("directivity: %s at %g Hz of a set that is silent there, want a sound", label, s.grid.At(i))
		}
		v[i] = level.DB(m.Pressure.At(i) / n.Pressure.At(i))
	}
	return freq.NewCurve(s.grid, v, label, "dB", freq.Basis{})
}

// Index returns the directivity index of other texts, the axis less the sound power in dB.
func (a *Averages) Index() (freq.Curve, error) {
	v := make([]float64, a.OnAxis.Pressure.Len())
	for i := range v {
		if a.OnAxis.Pressure.At(i) == 0 {
			return freq.Curve{}, fmt.Errorf("directivity: silent on axis at %g Hz, want a sound", a.OnAxis.Pressure.Grid().At(i))
		}
		v[i] = level.DB(a.OnAxis.Pressure.At(i) / a.SoundPower.Pressure.At(i))
	}
	return freq.NewCurve(a.OnAxis.Pressure.Grid(), v, "directivity index of the axis", "dB", freq.Basis{})
}
