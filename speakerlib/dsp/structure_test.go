package dsp

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
)

// Whatever the section, its coefficients in every structure come back to it, and what
// runs is it: two thousand sections with poles up to 1e-5 from the unit circle, complex
// and real, and zeros anywhere. The structures' own formulas against the direct form's.
func TestStructuresAreTheSection(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	a := Arithmetic{Signal: Float64(), Coefficient: Float64()}
	for n := range 2000 {
		b := digital.Biquad{B0: rng.NormFloat64(), B1: rng.NormFloat64(), B2: rng.NormFloat64()}
		r := 1 - math.Pow(10, -5*rng.Float64())
		if n%3 == 0 { // real poles
			q := r * (2*rng.Float64() - 1)
			b.A1, b.A2 = -(r + q), r*q
		} else {
			b.A1, b.A2 = -2*r*math.Cos(math.Pi*math.Pow(rng.Float64(), 3)), r*r
		}
		if n%7 == 0 {
			b.B2, b.A2 = 0, 0 // first order
			b.A1 = math.Copysign(r, b.A1)
		}
		if b.Check() != nil {
			continue
		}
		for _, s := range Structures() {
			sec, err := newSection(b, "", s, a, false, 0, 0, 0)
			if err != nil {
				if s == Coupled && b.A1*b.A1/4-b.A2 < 1e-11 {
					continue // a double pole
				}
				t.Fatal(err)
			}
			l := newLocal(sec.Network(a), a)
			got := sec.Biquad()
			for _, hz := range []float64{20, 1000, 17000} {
				want := b.At(hz, 48000)
				// The distance to the pole is what cancellation costs.
				tolerance := 1e-9 * (cmplx.Abs(want) + 1e-4/(1-b.PoleRadius()))
				if h := got.At(hz, 48000); cmplx.Abs(h-want) > tolerance {
					t.Errorf("%+v in %v: its coefficients give %v at %g Hz, want %v", b, s, h, hz, want)
				}
				w := 2 * math.Pi * hz / 48000
				if h := l.respond(cmplx.Exp(complex(0, w)), nil, nil); cmplx.Abs(h-want) > tolerance {
					t.Errorf("%+v in %v: its rows give %v at %g Hz, want %v", b, s, h, hz, want)
				}
			}
			if t.Failed() {
				return
			}
		}
	}
}

// Sensitivity foretells the error of rounding: over sixty high-passes, whose words fall as
// they fall, the rms of the one is that of the other within a factor of two (the one
// adds maxima over frequency, which do not fall together).
func TestSensitivityForetellsTheError(t *testing.T) {
	a := Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}
	for _, s := range []Structure{DirectI, StateVariable, Lattice} {
		var foretold, found float64
		for k := range 60 {
			c := cascade(t, 96000, 1, digital.Highpass{F0: 60 + 0.37*float64(k), Q: 0.7 + 0.003*float64(k)})
			o, err := Options{Structure: s}.check(Chain{Sections: c}, a)
			if err != nil {
				t.Fatal(err)
			}
			ch, err := choose(c, 0, a, o)
			if err != nil {
				t.Fatal(err)
			}
			alt := ch.Alternatives[0]
			foretold += alt.Sensitivity * alt.Sensitivity
			found += alt.Error * alt.Error
		}
		if r := math.Sqrt(foretold / found); r < 0.5 || r > 2 {
			t.Errorf("%v: sensitivity is %.3g times the rms error, want ½ to 2", s, r)
		}
	}
}
