package tune

import (
	"math"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
)

// complexTo multiplies h[i] by H(fᵢ) of a section with parameters θ and writes
// ∂ln H(fᵢ)/∂θₖ into jac[i·stride+k] unless jac is nil. With y = tan(Ω/2)/tan(Ω₀/2)
// a section of the cookbook is exactly its prototype at s = jy, and
//
//	∂ln H/∂ln F0 = −κ·(yN′/N − yD′/D),  κ = Ω₀/sin Ω₀,  Ω₀ = 2π·F0/fs
//
// the other derivatives are those of the prototype's coefficients.
func complexTo(h, jac []complex128, stride int, kind digital.Tunable, theta []float64, g *freq.Grid, sampleRate float64) {
	if u, ok := kind.(Unwarped); ok {
		u.complexTo(h, jac, stride, theta, g, sampleRate)
		return
	}
	p := prototypeOf(kind, theta)
	w0 := 2 * math.Pi * math.Exp(theta[0]) / sampleRate
	t, kappa := math.Tan(w0/2), w0/math.Sin(w0)
	u, sin := g.Trig(sampleRate)
	for i := range h {
		y := sin[i] / ((2 - u[i]) * t)
		nr, ni := p.n0-p.n2*y*y, p.n1*y
		dr, di := p.d0-p.d2*y*y, p.d1*y
		in, id := inverse(nr, ni), inverse(dr, di)
		h[i] *= complex(nr, ni) * id
		if jac == nil {
			continue
		}
		row := jac[i*stride : i*stride+len(theta)]
		row[0] = complex(-kappa, 0) * (complex(-2*p.n2*y*y, p.n1*y)*in - complex(-2*p.d2*y*y, p.d1*y)*id)
		row[len(row)-1] = complex(0, -p.q1n*y)*in - complex(0, -p.q1d*y)*id
		if len(row) == 3 {
			row[1] = complex(p.gn0-p.gn2*y*y, p.gn1*y)*in - complex(p.gd0-p.gd2*y*y, p.gd1*y)*id
		}
	}
}

func inverse(re, im float64) complex128 {
	k := 1 / (re*re + im*im)
	return complex(re*k, -im*k)
}

// prototype is a section in s, s normalised to its corner, with the derivatives of
// its coefficients by ln Gain (g…); those by ln Q are −q1n and −q1d of the middle
// ones.
type prototype struct {
	n2, n1, n0, d2, d1, d0       float64
	gn2, gn1, gn0, gd2, gd1, gd0 float64
	q1n, q1d                     float64
}

func prototypeOf(kind digital.Tunable, theta []float64) (p prototype) {
	q := math.Exp(-theta[len(theta)-1])
	var a float64
	if len(theta) == 3 {
		a = math.Exp(theta[1] / 2)
	}
	r := math.Sqrt(a) * q
	switch kind.(type) {
	case digital.Lowpass:
		p = prototype{n0: 1, d2: 1, d1: q, d0: 1}
	case digital.Highpass:
		p = prototype{n2: 1, d2: 1, d1: q, d0: 1}
	case digital.Peak:
		p = prototype{n2: 1, n1: a * q, n0: 1, d2: 1, d1: q / a, d0: 1}
		p.gn1, p.gd1 = p.n1/2, -p.d1/2
	case digital.LowShelf:
		p = prototype{n2: a, n1: a * r, n0: a * a, d2: a, d1: r, d0: 1}
		p.gn2, p.gn1, p.gn0, p.gd2, p.gd1 = a/2, 0.75*p.n1, p.n0, a/2, r/4
	case digital.HighShelf:
		p = prototype{n2: a * a, n1: a * r, n0: a, d2: 1, d1: r, d0: a}
		p.gn2, p.gn1, p.gn0, p.gd1, p.gd0 = p.n2, 0.75*p.n1, a/2, r/4, a/2
	default:
		panic("tune: section of a kind whose phase is not known")
	}
	p.q1n, p.q1d = p.n1, p.d1
	return p
}

// complexTo is the same from coefficients.
func (u Unwarped) complexTo(h, jac []complex128, stride int, theta []float64, g *freq.Grid, sampleRate float64) {
	b, slopes := u.coefficients(theta, sampleRate, jac != nil)
	c, sin := g.Trig(sampleRate)
	for i := range h {
		x, s := c[i], sin[i]
		nr, ni := b.B0+b.B1+b.B2-(b.B0+b.B2)*x, (b.B0-b.B2)*s
		dr, di := 1+b.A1+b.A2-(1+b.A2)*x, (1-b.A2)*s
		in, id := inverse(nr, ni), inverse(dr, di)
		h[i] *= complex(nr, ni) * id
		for k, d := range slopes {
			jac[i*stride+k] = complex(d.B0+d.B1+d.B2-(d.B0+d.B2)*x, (d.B0-d.B2)*s)*in -
				complex(d.A1+d.A2-d.A2*x, -d.A2*s)*id
		}
	}
}
