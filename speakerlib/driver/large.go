package driver

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/si"
)

// LargeSignal is how a driver changes with the displacement of its cone, in metres
// from rest, positive outward, and with the current. A nil characteristic is not
// known.
type LargeSignal struct {
	Bl        *Characteristic // force factor over displacement, N/A
	Kms       *Characteristic // stiffness of the suspension over displacement, N/m
	Le        *Characteristic // inductance of the coil over displacement, H
	LeCurrent *Characteristic // inductance of the coil at rest over current, H
}

// Validate reports that nothing is known, a range without rest inside, and a
// value that is not positive: a force factor at rest, a stiffness or an inductance
// anywhere.
func (l LargeSignal) Validate() error {
	known := false
	for _, c := range l.all() {
		if c.of == nil {
			continue
		}
		known = true
		if !(c.of.from < 0 && c.of.to > 0) {
			return fmt.Errorf("driver: %s is known from %g to %g %s, want a range around 0", c.name, c.of.from, c.of.to, c.per)
		}
		rest, _ := c.of.At(0)
		least, _ := c.of.extremes()
		if !(rest > 0) {
			return fmt.Errorf("driver: %s is %g %s at rest, want a value > 0", c.name, rest, c.unit)
		}
		if c.of != l.Bl && !(least > 0) {
			return fmt.Errorf("driver: %s falls to %g %s, want values > 0", c.name, least, c.unit)
		}
	}
	if !known {
		return fmt.Errorf("driver: large-signal parameters are none, want at least one of Bl, Kms, Le, Le over current")
	}
	return nil
}

type namedCharacteristic struct {
	name, unit, per string
	of              *Characteristic
}

func (l LargeSignal) all() [4]namedCharacteristic {
	return [4]namedCharacteristic{{"Bl(x)", "N/A", "m", l.Bl}, {"Kms(x)", "N/m", "m", l.Kms}, {"Le(x)", "H", "m", l.Le}, {"Le(i)", "H", "A", l.LeCurrent}}
}

// Criterion is what limits a displacement.
type Criterion int

// The criteria of IEC 62458 as remembered, not checked against the standard. They
// stand for 10 % distortion by a tone at Fs that moves the cone and a tone at
// 8.5·Fs beside it.
const (
	ForceFactor Criterion = iota // Bl has fallen to 82 % of that at rest
	Compliance                   // Cms has fallen to 75 % of that at rest
	Inductance                   // the impedance at 8.5·Fs has changed by 10 %
	Doppler                      // the moving cone modulates 8.5·Fs by 10 %
)

// String names the criterion.
func (c Criterion) String() string {
	switch c {
	case ForceFactor:
		return "force factor"
	case Compliance:
		return "compliance"
	case Inductance:
		return "inductance"
	case Doppler:
		return "Doppler"
	}
	return fmt.Sprintf("Criterion(%d)", int(c))
}

// Thresholds of the criteria, and the frequency of the second tone over Fs.
const (
	leastForceFactor   = 0.82
	leastCompliance    = 0.75
	impedanceVariation = 0.10
	dopplerModulation  = 0.10
	voiceTone          = 8.5
)

// DisplacementLimit is the displacement, peak from rest to either side, up to which
// a criterion is met.
type DisplacementLimit struct {
	Criterion Criterion
	X         float64 // m
	// Reached is false if the criterion is still met at the near end of the
	// measured range: the limit is then at least X, and nobody knows where.
	Reached bool
	// Outward is whether it is the outward side that limits. A Doppler limit has no
	// side.
	Outward bool
}

// String says the limit in words, in millimetres.
func (d DisplacementLimit) String() string {
	if !d.Reached {
		return fmt.Sprintf("%v: beyond the measured ±%.3g mm", d.Criterion, d.X/si.Millimetre)
	}
	side := ", inward side"
	if d.Outward {
		side = ", outward side"
	}
	if d.Criterion == Doppler {
		side = ""
	}
	return fmt.Sprintf("%v: ±%.3g mm%s", d.Criterion, d.X/si.Millimetre, side)
}

// DisplacementLimits returns the limit of each criterion whose characteristic is
// known, and that of the Doppler effect, in the order of [Criterion]:
//
//	Bl(x) ≥ 0.82·Bl(0)
//	Cms(x) ≥ 0.75·Cms(0), Cms = 1/Kms
//	|Z(x) − Z(0)| ≤ 0.1·|Z(0)|,  Z(x) = Re + j2πf₂·Le(x)
//	2πf₂·x/c ≤ 0.1
//
// with f₂ = 8.5·Fs, for every displacement up to the limit on both sides. Criteria
// and thresholds are those of IEC 62458 from memory; in particular the inductance
// counts here by the change of the complex impedance without the motion's part, and
// Doppler by the sum of both sidebands over the carrier, which is the index of
// modulation. Re and Fs are those of p, the speed of sound that of m. The smallest
// displacement of all is the linear one, [LinearLimit].
func (l LargeSignal) DisplacementLimits(p Params, m air.Medium) ([]DisplacementLimit, error) {
	if err := l.Validate(); err != nil {
		return nil, err
	}
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if err := m.Validate(); err != nil {
		return nil, err
	}
	w := 2 * math.Pi * voiceTone * p.Fs()
	var list []DisplacementLimit
	add := func(c Criterion, of *Characteristic, lo, hi float64) {
		out, reachedOut := of.leaves(lo, hi, true)
		in, reachedIn := of.leaves(lo, hi, false)
		d := DisplacementLimit{Criterion: c, X: out, Reached: reachedOut, Outward: true}
		// The end of a range limits what is known as a crossing does; where both are
		// equally far, the crossing is the better news.
		if -in < out || -in == out && reachedIn && !reachedOut {
			d = DisplacementLimit{Criterion: c, X: -in, Reached: reachedIn}
		}
		list = append(list, d)
	}
	if l.Bl != nil {
		rest, _ := l.Bl.At(0)
		add(ForceFactor, l.Bl, leastForceFactor*rest, math.Inf(1))
	}
	if l.Kms != nil {
		rest, _ := l.Kms.At(0)
		add(Compliance, l.Kms, 0, rest/leastCompliance)
	}
	if l.Le != nil {
		rest, _ := l.Le.At(0)
		may := impedanceVariation * math.Hypot(p.Re, w*rest) / w
		add(Inductance, l.Le, rest-may, rest+may)
	}
	list = append(list, DisplacementLimit{Criterion: Doppler, X: dopplerModulation * m.SpeedOfSound / w, Reached: true})
	return list, nil
}

// LinearLimit returns the smallest of some limits; of equal ones the first. If it is
// not reached, the linear displacement is between it and the smallest that is. It
// panics if there is none.
func LinearLimit(list []DisplacementLimit) DisplacementLimit {
	if len(list) == 0 {
		panic("driver: no displacement limit")
	}
	least := list[0]
	for _, d := range list[1:] {
		if d.X < least.X {
			least = d
		}
	}
	return least
}

// StiffnessAsymmetry returns 2·(Kms(−x) − Kms(x))/(Kms(−x) + Kms(x)), a ratio:
// positive if the suspension is stiffer inward (IEC 62458, from memory). It is an
// error if Kms is not known at both places.
func (l LargeSignal) StiffnessAsymmetry(x float64) (float64, error) {
	if l.Kms == nil {
		return 0, fmt.Errorf("driver: large-signal parameters have no Kms, want one for its asymmetry")
	}
	if math.IsNaN(x) {
		return 0, fmt.Errorf("driver: asymmetry of the stiffness is asked for at NaN m, want a displacement")
	}
	odd, measured := l.Kms.Asymmetric(x)
	if !measured {
		return 0, fmt.Errorf("driver: asymmetry of the stiffness is asked for at ±%g m, want both within the measured %g … %g m", x, l.Kms.from, l.Kms.to)
	}
	even, _ := l.Kms.Symmetric(x)
	return -2 * odd / even, nil
}

// RelativeCurve is a characteristic over its value at rest.
type RelativeCurve struct {
	Label string    // "Bl(x)", …
	X, Y  []float64 // m; a ratio
}

// Relative returns the characteristics over displacement that are known, each over
// its value at rest and at n ≥ 2 points of its own measured range: the curves of one
// figure. Call Validate first: a value of 0 at rest gives NaN or Inf.
func (l LargeSignal) Relative(n int) []RelativeCurve {
	var list []RelativeCurve
	for _, c := range l.all() {
		if c.of == nil || c.per != "m" {
			continue
		}
		x, y := c.of.Points(n)
		rest, _ := c.of.At(0)
		for i := range y {
			y[i] /= rest
		}
		list = append(list, RelativeCurve{Label: c.name, X: x, Y: y})
	}
	return list
}

// Parts are the symmetric and the asymmetric part of a characteristic over
// displacement, both over its value at rest f(0):
//
//	(f(x) + f(−x))/2f(0)   (f(x) − f(−x))/2f(0)
//
// The symmetric part makes odd harmonics; the asymmetric one makes even ones and moves
// the mean place of the cone.
type Parts struct {
	Symmetric, Asymmetric RelativeCurve
}

// Parts returns the parts of the characteristics over displacement that are known, at
// n ≥ 2 places from rest to the nearer end of the range, since of the asymmetry nothing
// is known where only one side was measured. Call Validate first.
func (l LargeSignal) Parts(n int) []Parts {
	if n < 2 {
		panic("driver: parts at fewer than 2 places")
	}
	var list []Parts
	for _, c := range l.all() {
		if c.of == nil || c.per != "m" {
			continue
		}
		rest, _ := c.of.At(0)
		p := Parts{RelativeCurve{Label: c.name}, RelativeCurve{Label: c.name}}
		for i := range n {
			x := min(-c.of.from, c.of.to) * float64(i) / float64(n-1)
			even, _ := c.of.Symmetric(x)
			odd, _ := c.of.Asymmetric(x)
			p.Symmetric.X, p.Symmetric.Y = append(p.Symmetric.X, x), append(p.Symmetric.Y, even/rest)
			p.Asymmetric.X, p.Asymmetric.Y = append(p.Asymmetric.X, x), append(p.Asymmetric.Y, odd/rest)
		}
		list = append(list, p)
	}
	return list
}
