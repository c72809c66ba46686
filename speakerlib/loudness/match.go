package loudness

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Tolerance is by how much variants may differ in loudness to be compared blind, in
// dB (common practice, no source).
const Tolerance = 0.1

// Output is what a variant sends to one converter: digital full scale at the input
// to full scale at the converter.
type Output struct {
	Name     string
	Transfer freq.Transfer
}

// Variant is one of the loudspeakers that are compared.
type Variant struct {
	Name string
	// Response is of the whole loudspeaker, the sum of its ways, at the listening
	// position, in Pa: per full scale, or per volt with Drive.
	Response freq.Transfer
	Drive    float64  // what digital full scale (peak) is at the input of Response, such as the volts of an amplifier; 0: 1
	Outputs  []Output // the converters of an active one, which must not clip, as the input must not
}

// Settings of a match. The zero value means the defaults.
type Settings struct {
	Lines   int     // samples of the impulse responses, see [Lines]; 0: 16384
	Ceiling float64 // of true peaks at input and converters, re full scale; 0: 1
	// Hold names the variant that keeps its gain of 1. Without it that is the
	// quietest, so that the others only go down. With it a variant may have to go up,
	// and is refused if it would go beyond the ceiling.
	Hold string
}

// Matched is a variant and its gain.
type Matched struct {
	Name string
	Gain float64 // amplitude ratio, at the input
	// Route is the gain by the spectrum's route less that through time, in dB, with
	// the gains of the first variant taken as one: how far the two disagree.
	Route    float64
	Loudness float64 // measured again with the gain, less that of the first variant, in dB
	// Level is the loudness at the listening position with the gain, in dB re 20 µPa: as
	// in Of with 20 µPa rms for the full scale, so that a tone of 1 kHz reads its sound
	// pressure level.
	Level  float64
	Peak   float64 // the highest true peak with the gain, re full scale
	Output string  // at which converter; empty: at the input
}

// Matching is a set of variants of one loudness.
type Matching struct {
	Variants []Matched
	Residual float64 // the largest difference in loudness of two variants, measured again with their gains, dB
	Routes   float64 // the largest disagreement of the two routes about two variants, dB
	Common   float64 // amplitude ratio by which all were lowered so that none clips; 1: not
}

// Within reports whether the variants may be compared blind: both what was measured
// again and the disagreement of the two routes are within [Tolerance].
func (m *Matching) Within() bool { return m.Residual <= Tolerance && m.Routes <= Tolerance }

// Match finds the gains with which all variants play the programme equally loud.
//
// Spectrum: the power of the programme on the lines, times |K|²·|H|², summed; no gates.
// Time: the programme through the impulse response of the variant, and of that the
// loudness of the Recommendation ([Of]), pauses gated. The gains are those of the
// route through time; what they give is measured again. Since the absolute gate asks
// for a digital level, the sound is scaled so that by the spectrum's route each
// variant reads what the programme reads.
//
// The two agree to some thousandths of a dB for noise, and differ where loud and
// soft passages have different spectra and the variants too, which is then a fact of
// the programme: another passage may want other gains.
//
// What two variants sound like in a room also depends on where their power goes; a
// response at the listening position with the room in it answers for the seat that it was
// measured at.
func Match(variants []Variant, p *Programme, s Settings) (*Matching, error) {
	r, err := newRun(variants, p, s)
	if err != nil {
		return nil, err
	}
	gains, route := make([]float64, len(variants)), make([]float64, len(variants))
	var held float64 // the gain of the one that keeps 1: the quietest takes the most
	for i := range variants {
		l, err := r.heard(i, r.spectrum[i])
		if err != nil {
			return nil, err
		}
		gains[i] = r.spectrum[i] * level.Ratio(p.own.Integrated-l)
		route[i] = level.DB(r.spectrum[i] / gains[i])
		held = max(held, gains[i])
	}
	if s.Hold != "" {
		k := r.index(s.Hold)
		if k < 0 {
			return nil, fmt.Errorf("loudness: variant %q shall keep its gain and is not among those given", s.Hold)
		}
		held = gains[k]
	}
	out := &Matching{Common: 1, Variants: make([]Matched, len(variants))}
	for i := range variants {
		m := &out.Variants[i]
		m.Name, m.Gain = variants[i].Name, gains[i]/held
		m.Peak, m.Output = r.peak(i)
		m.Peak *= m.Gain
		out.Common = min(out.Common, r.ceiling/m.Peak)
		if s.Hold != "" && m.Peak > r.ceiling {
			return nil, fmt.Errorf("loudness: with %q held, variant %q wants a gain of %.2f dB and its peak at %s is %.2f dB above the ceiling: hold another, or none", s.Hold, m.Name, level.DB(m.Gain), place(m.Output), level.DB(m.Peak/r.ceiling))
		}
	}
	var least, most, low, high float64
	for i := range out.Variants {
		m := &out.Variants[i]
		m.Gain *= out.Common
		m.Peak *= out.Common
		// Measured again: at the level at which the programme reads what it reads.
		l, err := r.heard(i, m.Gain*held/out.Common)
		if err != nil {
			return nil, err
		}
		m.Level = l + level.DB(out.Common/held) + level.SPL(1)
		m.Loudness, m.Route = l-p.own.Integrated, route[i]-route[0]
		least, most = min(least, m.Loudness-out.Variants[0].Loudness), max(most, m.Loudness-out.Variants[0].Loudness)
		low, high = min(low, m.Route), max(high, m.Route)
	}
	for i := len(variants) - 1; i >= 0; i-- {
		out.Variants[i].Loudness -= out.Variants[0].Loudness
	}
	out.Residual, out.Routes = most-least, high-low
	return out, nil
}

func place(output string) string {
	if output == "" {
		return "its input"
	}
	return "output " + output
}
