package tune

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
)

// Unwarped is a section that holds the magnitude of its prototype in s up to near
// half the sample rate, for fits whose sections lie there: a [digital.NyquistPeak]
// for a Peak, a [digital.Matched] section for a Lowpass, Highpass, LowShelf or
// HighShelf. Other kinds are refused by Biquad. It has the parameters of what it
// is made of.
//
// From the coefficients to |H| its derivatives are closed; those of the five
// coefficients are central differences of fourth order over steps of 1e-3 in θ,
// within about 1e-7 of themselves for corners above a thousandth of the sample
// rate. Below, the bilinear section is the same filter and the better one to fit.
// A section that does not exist at some θ (a bandwidth above half the sample rate)
// is NaN there, which a fit takes as out of range.
type Unwarped struct{ Of digital.Tunable }

// absent reports a section that is nil, or unwarped of nil.
func absent(t digital.Tunable) bool {
	u, ok := t.(Unwarped)
	return t == nil || ok && u.Of == nil
}

func (u Unwarped) section() digital.Section {
	if p, ok := u.Of.(digital.Peak); ok {
		return digital.NyquistPeak(p)
	}
	return digital.Matched{Of: u.Of}
}

// Biquad implements [digital.Section].
func (u Unwarped) Biquad(sampleRate float64) (digital.Biquad, error) {
	switch u.Of.(type) {
	case digital.Peak, digital.Lowpass, digital.Highpass, digital.LowShelf, digital.HighShelf:
		return u.section().Biquad(sampleRate)
	}
	return digital.Biquad{}, fmt.Errorf("tune: unwarped section of a %T, want a peak, low-pass, high-pass or shelf", u.Of)
}

// String says what it is.
func (u Unwarped) String() string { return u.section().String() }

// Parameters implements [digital.Tunable].
func (u Unwarped) Parameters() int { return u.Of.Parameters() }

// Names implements [digital.Tunable].
func (u Unwarped) Names() []string { return u.Of.Names() }

// ThetaTo implements [digital.Tunable].
func (u Unwarped) ThetaTo(dst []float64) []float64 { return u.Of.ThetaTo(dst) }

// With implements [digital.Tunable].
func (u Unwarped) With(theta []float64) digital.Tunable { return Unwarped{u.Of.With(theta)} }

// PowerTo implements [digital.Tunable], but allocates a little.
func (u Unwarped) PowerTo(power, jac []float64, stride int, theta []float64, g *freq.Grid, sampleRate float64) {
	if len(power) != g.Len() {
		panic("tune: power has not the length of the grid")
	}
	b, slopes := u.coefficients(theta, sampleRate, jac != nil)
	c, _ := g.Trig(sampleRate)
	n0, n1, n2 := b.B0+b.B1+b.B2, b.B0+b.B2, b.B0-b.B2
	d0, d1, d2 := 1+b.A1+b.A2, 1+b.A2, 1-b.A2
	for i, x := range c {
		ss := x * (2 - x)
		n, d := n0-n1*x, d0-d1*x
		num, den := n*n+n2*n2*ss, d*d+d2*d2*ss
		power[i] *= num / den
		for k, s := range slopes {
			dn := n*(s.B0+s.B1+s.B2-(s.B0+s.B2)*x) + n2*(s.B0-s.B2)*ss
			dd := d*(s.A1+s.A2-s.A2*x) - d2*s.A2*ss
			jac[i*stride+k] = dn/num - dd/den
		}
	}
}

// coefficients returns the section with parameters θ, and if wanted the derivative
// of its coefficients by each; NaN where there is none.
func (u Unwarped) coefficients(theta []float64, sampleRate float64, slopes bool) (digital.Biquad, []digital.Biquad) {
	at := func(t []float64) digital.Biquad {
		b, err := Unwarped{u.Of.With(t)}.Biquad(sampleRate)
		if err != nil {
			nan := math.NaN()
			return digital.Biquad{B0: nan, B1: nan, B2: nan, A1: nan, A2: nan}
		}
		return b
	}
	b := at(theta)
	if !slopes {
		return b, nil
	}
	const h = 1e-3
	t := append([]float64(nil), theta...)
	out := make([]digital.Biquad, len(theta))
	for k := range t {
		for _, s := range [4]struct{ step, weight float64 }{{h, 8}, {-h, -8}, {2 * h, -1}, {-2 * h, 1}} {
			t[k] = theta[k] + s.step
			c, w := at(t), s.weight/(12*h)
			out[k].B0 += w * c.B0
			out[k].B1 += w * c.B1
			out[k].B2 += w * c.B2
			out[k].A1 += w * c.A1
			out[k].A2 += w * c.A2
		}
		t[k] = theta[k]
	}
	return b, out
}
