package identify

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Cause is the likely reason why a curve cannot be an impedance of a driver.
type Cause int

// The causes.
const (
	KiloohmAsOhm     Cause = iota + 1 // the magnitude is in kΩ
	MilliohmAsOhm                     // the magnitude is in mΩ
	KilohertzAsHz                     // the frequency is in kHz
	DecibelAsOhm                      // the magnitude is a level in dB re 1 Ω
	DegreesAsRadian                   // degrees were taken as radians
	RadianAsDegrees                   // radians were taken as degrees
	PhaseReversed                     // the sign of the phase is that of e^{−jωt}
	PartsSwapped                      // real and imaginary part are swapped
	NotOnePassive                     // magnitude and phase do not belong together
	HertzAsKilohertz                  // the frequency is in Hz and was taken as kHz
	PointApart                        // one row has a slipped decimal mark, or was disturbed
)

// String says it in words.
func (c Cause) String() string {
	switch c {
	case KiloohmAsOhm:
		return "the magnitude is in kΩ and was taken as Ω"
	case MilliohmAsOhm:
		return "the magnitude is in mΩ and was taken as Ω"
	case KilohertzAsHz:
		return "the frequency is in kHz and was taken as Hz"
	case HertzAsKilohertz:
		return "the frequency is in Hz and was taken as kHz"
	case DecibelAsOhm:
		return "the magnitude is a level in dB re 1 Ω and was taken as Ω"
	case DegreesAsRadian:
		return "the phase is in degrees and was taken as radians"
	case RadianAsDegrees:
		return "the phase is in radians and was taken as degrees"
	case PhaseReversed:
		return "the sign of the phase is reversed"
	case PartsSwapped:
		return "real and imaginary part are swapped"
	case PointApart:
		return "a decimal mark that slipped in that row, or a disturbance while it was measured"
	case NotOnePassive:
		return "two columns of different curves, or not an impedance"
	}
	return fmt.Sprintf("Cause(%d)", int(c))
}

// ImplausibleError is a curve that cannot be the impedance of a driver.
type ImplausibleError struct {
	Label string // of the curve
	Had   string // what was seen
	Cause Cause  // the likely reason
}

// Error implements error.
func (e *ImplausibleError) Error() string {
	return fmt.Sprintf("identify: %q: %s; likely %v", e.Label, e.Had, e.Cause)
}

// The rms difference, rad, between a phase and that which belongs to the magnitude
// from which on a curve is refused, and from which on it is if a usual mistake
// explains it three times better. Band edges and noise make 0.03 to 0.06 rad.
const (
	disagreement = 0.4
	suspicious   = 0.1
)

// What frequencies a curve of a driver has, Hz.
const (
	lowestBand, lowBand, highestBand  = 1, 100, 200e3
	lowestResonance, highestResonance = 1, 20e3
	standsOut                         = 0.1 // share of its height by which a peak is one, not noise
)

// beyond returns the frequency of the most prominent peak of the real part if all that
// stand out lie outside the resonances of drivers, else 0. The winding of a coil with
// its own capacitance or that of a cable resonates above them, but beside the driver's.
func beyond(r freq.Response) float64 {
	c := curve{grid: r.Grid(), z: r.Values()}
	var found float64
	for _, p := range c.peaks() {
		if p.above < standsOut*p.most {
			break
		}
		if p.hz >= lowestResonance && p.hz <= highestResonance {
			return 0
		}
		if found == 0 {
			found = p.hz
		}
	}
	return found
}

// apartFactor and apartWidth tell a point that is no part of its curve: it lies by this
// factor, to the same side, from both its neighbours, each no further than this in ln f.
// Beside a resonance of quality factor Q the magnitude changes by at most √(1+(2·Q·Δln f)²),
// so that no Q below 28 does it (common practice, no source).
const (
	apartFactor = 3.0
	apartWidth  = 0.05
)

// pointApart returns the index of the first point that is no part of its curve, or −1.
func pointApart(r freq.Response) int {
	g := r.Grid()
	for i := 1; i+1 < g.Len(); i++ {
		if math.Log(g.At(i)/g.At(i-1)) > apartWidth || math.Log(g.At(i+1)/g.At(i)) > apartWidth {
			continue
		}
		a, before, after := cmplx.Abs(r.At(i)), cmplx.Abs(r.At(i-1)), cmplx.Abs(r.At(i+1))
		if a > apartFactor*max(before, after) || a*apartFactor < min(before, after) {
			return i
		}
	}
	return -1
}

// Plausible reports an *ImplausibleError for a curve that cannot be the impedance
// of a driver, alone or in a box. Magnitudes are to lie between 0.5 Ω and 2 kΩ, and no
// point alone is to lie three times above or below both its neighbours where these are
// within a fourteenth of an octave.
// The impedance of a passive load has minimum phase, so that magnitude and phase
// must belong together by Bode's relation
//
//	φ(ω₀) = (1/π)·∫ d ln|Z|/du · ln coth|u/2| du,  u = ln ω/ω₀
//
// (H. W. Bode, Network Analysis and Feedback Amplifier Design, 1945), taken over
// the band with a constant slope beyond it, within 0.4 rad rms. The usual mistakes
// are tried, and one that makes both agree far better is named.
//
// A factor on the frequencies leaves no trace in the shape of a curve. It is seen only
// where it leads out of what is measured of drivers: a band that is below 100 Hz and
// begins below 1 Hz or goes above 200 kHz, or no resonance between 1 Hz and 20 kHz
// but one beyond (common practice, no source). A factor of 1000 leads there from any
// curve of the audible band, but for those of some tweeters divided by it; a smaller
// one is not seen.
func Plausible(r freq.Response) error {
	g := r.Grid()
	if g == nil || g.Len() < 8 {
		return fmt.Errorf("identify: %q has too few points, want at least 8", r.Label())
	}
	had := fmt.Sprintf("the band is %.3g to %.3g Hz", g.First(), g.Last())
	switch {
	case g.Last() > highestBand:
		return &ImplausibleError{r.Label(), had + ", want one below 200 kHz", HertzAsKilohertz}
	case g.Last() < lowBand && g.First() < lowestBand:
		return &ImplausibleError{r.Label(), had + ", want one that reaches above 100 Hz or begins above 1 Hz", KilohertzAsHz}
	}
	if hz := beyond(r); hz > highestResonance {
		return &ImplausibleError{r.Label(), fmt.Sprintf("the only resonance is at %.4g Hz, want one from 1 Hz to 20 kHz", hz), HertzAsKilohertz}
	} else if hz > 0 {
		return &ImplausibleError{r.Label(), fmt.Sprintf("the only resonance is at %.4g Hz, want one from 1 Hz to 20 kHz", hz), KilohertzAsHz}
	}
	if i := pointApart(r); i > 0 {
		return &ImplausibleError{r.Label(), fmt.Sprintf("the magnitude at %.5g Hz is %.4g ohm between %.4g and %.4g ohm, want a curve", g.At(i), cmplx.Abs(r.At(i)), cmplx.Abs(r.At(i-1)), cmplx.Abs(r.At(i+1))), PointApart}
	}
	least, most := math.Inf(1), 0.0
	for i := range g.Len() {
		a := cmplx.Abs(r.At(i))
		least, most = min(least, a), max(most, a)
	}
	switch had = fmt.Sprintf("the magnitude is %.3g to %.3g ohm, want 0.5 to 2000 ohm", least, most); {
	case most < 0.5:
		return &ImplausibleError{r.Label(), had, KiloohmAsOhm}
	case least > 500:
		return &ImplausibleError{r.Label(), had, MilliohmAsOhm}
	}
	// About a hundred points are enough for the integral.
	step := max(g.Len()/100, 1)
	var lnHz []float64
	var z []complex128
	for i := 0; i < g.Len(); i += step {
		lnHz, z = append(lnHz, math.Log(g.At(i))), append(z, r.At(i))
	}
	ln, phase := make([]float64, len(z)), make([]float64, len(z))
	negative := 0
	for i, v := range z {
		ln[i], phase[i] = math.Log(cmplx.Abs(v)), cmplx.Phase(v)
		if real(v) < 0 {
			negative++
		}
	}
	belongs := minimumPhase(lnHz, ln)
	asIs := apart(phase, belongs, 1)
	found, best := NotOnePassive, asIs
	try := func(c Cause, e float64) {
		if e < best {
			best, found = e, c
		}
	}
	try(RadianAsDegrees, apart(phase, belongs, 180/math.Pi))
	try(PhaseReversed, apart(phase, belongs, -1))
	other := make([]float64, len(z))
	for i, v := range z {
		other[i] = cmplx.Phase(complex(imag(v), real(v)))
	}
	try(PartsSwapped, apart(other, belongs, 1))
	if most < 100 { // 100 dB re 1 Ω is no impedance of a driver either
		for i, v := range z {
			other[i] = math.Log(level.Ratio(cmplx.Abs(v)))
		}
		try(DecibelAsOhm, apart(phase, minimumPhase(lnHz, other), 1))
	}
	if asIs < disagreement && !(asIs > suspicious && best < asIs/3) {
		return nil
	}
	if best > asIs/3 && best > suspicious {
		found = NotOnePassive
		if 5*negative > len(z) {
			// Angles of up to 90 rad point anywhere.
			found = DegreesAsRadian
		}
	}
	return &ImplausibleError{r.Label(), fmt.Sprintf("magnitude and phase are %.2g rad rms apart from those of a passive load", asIs), found}
}

// minimumPhase is Bode's relation on the points given.
func minimumPhase(lnHz, ln []float64) []float64 {
	n := len(ln)
	kernel := func(u float64) float64 { return -math.Log(math.Tanh(math.Abs(u) / 2)) }
	phase := make([]float64, n)
	slope := func(i, k int) float64 { return (ln[k] - ln[i]) / (lnHz[k] - lnHz[i]) }
	part := max(n/20, 1)
	low, high := slope(0, part), slope(n-1-part, n-1)
	for i := range phase {
		var sum float64
		for k := range n - 1 {
			sum += (ln[k+1] - ln[k]) * kernel((lnHz[k]+lnHz[k+1])/2-lnHz[i])
		}
		const du, octaves = 0.2, 20
		for k := range octaves {
			u := du * (float64(k) + 0.5)
			sum += du * (high*kernel(lnHz[n-1]+u-lnHz[i]) + low*kernel(lnHz[0]-u-lnHz[i]))
		}
		phase[i] = sum / math.Pi
	}
	return phase
}

// apart is the rms difference of two phases, the first times a factor, without the
// tenth of the points at each end. Angles are compared modulo 2π.
func apart(phase, belongs []float64, factor float64) float64 {
	n := len(phase)
	var sum, count float64
	for i := n / 10; i < n-n/10; i++ {
		d := math.Remainder(phase[i]*factor-belongs[i], 2*math.Pi)
		sum += d * d
		count++
	}
	return math.Sqrt(sum / count)
}
