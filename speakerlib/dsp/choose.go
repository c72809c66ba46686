package dsp

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/digital"
)

// Alternative is a way to compute a section, and what speaks for or against it.
type Alternative struct {
	Structure Structure
	Split     bool
	Feedback  int
	// Noise is the power of its noise at its own output, scaled by itself for the norm, in
	// full scale² (floating point: with white noise of ½ at the input).
	Noise float64
	// Error is the largest error of the response by the rounded coefficients, relative to
	// the response, or to 1/1000 of its maximum where it is less; from 10 Hz to 0.45 of
	// the sample rate. Sensitivity is what it is to be expected as: the root of the
	// sum of squares of what each coefficient does that is off by the standard deviation
	// of its rounding, 1/√12 of a step.
	Error, Sensitivity float64
	// Multiplications a sample, those of low words included.
	Multiplications int
	// Refused says why it cannot be, and is empty where it can.
	Refused string
}

// Choice is what a section was chosen from.
type Choice struct {
	Alternatives []Alternative
	Chosen       int // index of the alternative taken
}

// choose compares the alternatives for section i of a cascade.
func choose(c *digital.Cascade, i int, a Arithmetic, o Options) (Choice, error) {
	var out Choice
	structures := []Structure{o.Structure}
	if o.Structure == Automatic {
		structures = Structures()
	}
	band := newBand(c.At(i), c.SampleRate())
	var first error
	for _, s := range structures {
		for _, split := range []bool{false, true} {
			if split && o.Split == SplitNever || !split && o.Split == SplitAlways {
				continue
			}
			for feedback := 0; feedback <= o.Feedback; feedback++ {
				if feedback > 0 && !a.fixed() {
					continue
				}
				alt := Alternative{Structure: s, Split: split, Feedback: feedback}
				if o.Structure == Automatic && blocksDirect(c.At(i)) && !s.keepsDirect() {
					alt.Refused = "its zero at direct current would be as exact as its rounding only"
				} else if err := alt.examine(c.At(i), c.SampleRate(), a, o, band); err != nil {
					alt.Refused = err.Error()
					if first == nil {
						first = err
					}
				}
				out.Alternatives = append(out.Alternatives, alt)
			}
		}
	}
	out.Chosen = pick(out.Alternatives, o.Tolerance)
	if out.Chosen < 0 {
		if len(structures) > 1 {
			first = errors.New("no structure can hold it; of the " + structures[0].String() + ": " + first.Error())
		}
		return out, first
	}
	return out, nil
}

// blocksDirect reports a section that has a zero at direct current: an offset ends there. What
// float64 left of it in the design is none of it.
func blocksDirect(b digital.Biquad) bool { return zerosOf(b.B0, b.B1, b.B2).dc }

// keepsDirect reports a structure whose zeros at direct current stay exact when its
// coefficients are rounded: those of the coupled form and of the lattice come out of sums of
// taps and poles that are rounded apart.
func (s Structure) keepsDirect() bool { return s != Coupled && s != Lattice }

// pick returns the index of the alternative to take, or −1.
func pick(alts []Alternative, tolerance float64) int {
	const alike = 1.26 // 1 dB of power
	quietest, nearest := math.Inf(1), math.Inf(1)
	for _, a := range alts {
		if a.Refused == "" {
			nearest = math.Min(nearest, a.Error)
			if a.Error <= tolerance {
				quietest = math.Min(quietest, a.Noise)
			}
		}
	}
	best := -1
	for i, a := range alts {
		if a.Refused != "" {
			continue
		}
		if nearest > tolerance {
			if a.Error == nearest && (best < 0 || a.Noise < alts[best].Noise) {
				best = i
			}
			continue
		}
		if a.Error > tolerance || a.Noise > quietest*alike {
			continue
		}
		if best < 0 || a.Multiplications < alts[best].Multiplications || a.Multiplications == alts[best].Multiplications && a.Sensitivity < alts[best].Sensitivity {
			best = i
		}
	}
	return best
}

// examine fills in what an alternative does.
func (alt *Alternative) examine(b digital.Biquad, sampleRate float64, a Arithmetic, o Options, band *band) error {
	p := &Program{SampleRate: sampleRate, Arithmetic: a}
	s, err := place(p, b, "", *alt, 0, o)
	if err != nil {
		return err
	}
	p.Sections = []Section{s}
	if err := p.saturates(); err != nil {
		return err
	}
	n, err := p.Noise(0.5)
	if err != nil {
		return err
	}
	if off := band.lost(s); off >= 0.5 && o.Structure == Automatic {
		return fmt.Errorf("its response with coefficients of %v is off by %.3g of its largest magnitude, %.3g, want less than 0.5: they are too short for it", a.Coefficient, off, 1000*band.floor)
	}
	// At the level of the design.
	alt.Noise = math.Ldexp(n.Power, -2*s.Scale)
	alt.Error = band.error(s)
	for _, off := range s.deviations(a) {
		e := band.between(s, off)
		alt.Sensitivity += e * e / 12
	}
	alt.Sensitivity = math.Sqrt(alt.Sensitivity)
	for _, r := range s.Network(a).Rows {
		for _, t := range r.Terms {
			if w := t.Word; w != 0 && w != -w && w&(w-1) != 0 && -w&(-w-1) != 0 || t.Value != 0 && math.Abs(t.Value) != 1 {
				alt.Multiplications++
			}
			if t.Low != 0 {
				alt.Multiplications++
			}
		}
	}
	return nil
}

// deviations returns the sections that come of one step more in a coefficient, and in
// what goes with it where zeros are kept.
func (s Section) deviations(a Arithmetic) []digital.Biquad {
	// Numerators of direct forms by what moves together: b0, b1, b2.
	moves := [][3]float64{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	if q := s.Biquad(); s.Structure.Names()[0] == "b0" {
		switch z := zerosOf(q.B0, q.B1, q.B2); {
		case z.dc && z.double:
			moves = [][3]float64{{1, -2, 1}}
		case z.nyquist && z.double:
			moves = [][3]float64{{1, 2, 1}}
		case z.dc && z.nyquist:
			moves = [][3]float64{{1, 0, -1}}
		case z.dc:
			moves = [][3]float64{{1, -1, 0}, {0, -1, 1}}
		case z.nyquist:
			moves = [][3]float64{{1, 1, 0}, {0, 1, 1}}
		case z.circle:
			moves = [][3]float64{{1, 0, 1}, {0, 1, 0}}
		}
	}
	step := func(i int) float64 {
		c := s.Coefficients[i]
		v := math.Abs(c.Float())
		switch a.Coefficient.Number {
		case Binary32:
			return float64(math.Nextafter32(float32(v), math.MaxFloat32)) - v
		case Binary64:
			return math.Nextafter(v, math.MaxFloat64) - v
		}
		return math.Ldexp(1, -c.Shift-c.LowBits)
	}
	var out []digital.Biquad
	first := 0
	if s.Structure.Names()[0] == "b0" {
		first = 3
		unit := max(step(0), step(1), step(2))
		for _, m := range moves {
			q := s.Biquad()
			q.B0, q.B1, q.B2 = q.B0+m[0]*unit, q.B1+m[1]*unit, q.B2+m[2]*unit
			out = append(out, q)
		}
	}
	for i := first; i < len(s.Coefficients); i++ {
		v := s.Coefficients[i].Float()
		if v == 0 {
			continue // a tap that is not there, or a zero that is kept
		}
		off := s
		off.Coefficients = append([]Coefficient(nil), s.Coefficients...)
		off.Coefficients[i] = Coefficient{Value: v + step(i)}
		out = append(out, off.Biquad())
	}
	return out
}

// band compares responses over frequency.
type band struct {
	fs    float64
	hz    []float64
	ideal []complex128
	floor float64
}

func newBand(b digital.Biquad, fs float64) *band {
	out := &band{fs: fs}
	for f := 10.; f < 0.45*fs; f *= math.Exp2(1. / 24) {
		out.hz = append(out.hz, f)
		h := b.At(f, fs)
		out.ideal = append(out.ideal, h)
		out.floor = math.Max(out.floor, cmplx.Abs(h)/1000)
	}
	return out
}

func (b *band) error(s Section) float64 {
	q := s.Biquad()
	k := complex(math.Ldexp(1, -s.Scale), 0)
	var worst float64
	for i, f := range b.hz {
		worst = math.Max(worst, cmplx.Abs(k*q.At(f, b.fs)-b.ideal[i])/math.Max(cmplx.Abs(b.ideal[i]), b.floor))
	}
	return worst
}

// lost is the largest error relative to the maximum of the response: at 1 nothing
// is left of it.
func (b *band) lost(s Section) float64 {
	q := s.Biquad()
	k := complex(math.Ldexp(1, -s.Scale), 0)
	var worst float64
	for i, f := range b.hz {
		worst = math.Max(worst, cmplx.Abs(k*q.At(f, b.fs)-b.ideal[i]))
	}
	return worst / (1000 * b.floor)
}

func (b *band) between(s Section, q digital.Biquad) float64 {
	p := s.Biquad()
	k := math.Ldexp(1, -s.Scale)
	var worst float64
	for i, f := range b.hz {
		worst = math.Max(worst, k*cmplx.Abs(p.At(f, b.fs)-q.At(f, b.fs))/math.Max(cmplx.Abs(b.ideal[i]), b.floor))
	}
	return worst
}
