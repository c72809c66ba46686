package diffraction

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/freq"
)

// The range of kr over which [Plan.JoinRounded] goes from one body to the other.
const (
	stillSharp = 0.4
	seenRound  = 1.6
)

// The range of kr₁ over which [Plan.ScaleRounded] leaves the body of one facet.
const (
	stillOne = 1
	seenMany = 3
)

// JoinRounded puts the solutions of two bodies together where the facets of one are too
// narrow for [All]: an edge that is small against the wavelength is sharp, and one that is
// not is seen facet by facet. It writes
//
//	(1 − w)·sharp + w·faceted,  w = sin²(π/2·log(kr/0.4)/log 4) from kr = 0.4 to 1.6
//
// over the receivers into dst (nil allocates, and another length panics), where r is the
// radius of the edges around the face of the source and k = 2πf/c. The plan is that of the
// sharp body; the faceted one, with the same receivers, grid and reference, is solved by two
// orders.
//
// The sharp body should be solved by all orders at least up to three times c over its size,
// whatever kr is there: that is 2 kHz for one of half a metre, and UpTo is five times c over
// it by default. From 0° to 90° the largest errors are then within 0.1 dB of those with all
// orders throughout; with half of it 0.3 dB are lost about its end. Behind, two orders alone
// are worse: see below.
//
// Between, the sharp body has too strong an edge and the faceted one lacks orders, which
// are errors of opposite signs. To the back two orders do not reach around the facets:
// from 90° to 120° off the face w fades to 0, and what is behind is that of sharp edges.
//
// Measured on a round front of 100 mm radius with edges of 30 mm in three facets: up to
// 5 kHz (kr = 2.7) within 0.7 dB on its axis, where all errors meet, 0.6 dB at 30° and 60°
// and 1.3 dB at 90°; from there to 10 kHz 0.3 dB from 0° to 90°; behind, 1.1 dB to 5 kHz (1.8 dB
// with all orders up to 2 kHz) and 2.1 dB to 10 kHz, which is what sharp edges are off. On the
// box of the package's table up to 5 kHz:
//
//	                        axis   30° and 60°   90°    behind
//	8 mm, all orders        0.3    0.65          0.3    1.4    dB
//	      up to 4 kHz       0.3    0.65          0.3    2.8
//	      up to 2 kHz       0.3    0.6           0.35   4.1
//	25 mm, all orders       0.4    0.7           1      4.8
//	      up to 4 or 2 kHz  0.4    0.7           1      5.2
//
// with 8 mm in two facets, where the most in front is at 3 kHz, where kr is 0.4 and the edges
// are still sharp, and 25 mm in three. [Plan.ScaleRounded] is better.
func (p *Plan) JoinRounded(dst, sharp, faceted []complex128, face int, radius float64) ([]complex128, error) {
	if err := p.checkRadius(radius, face); err != nil {
		return nil, err
	}
	if len(sharp) != p.Len() || len(faceted) != p.Len() {
		return nil, fmt.Errorf("diffraction: solutions of %d and %d values, want %d of both", len(sharp), len(faceted), p.Len())
	}
	dst = freq.Dst(dst, p.Len())
	p.join(dst, sharp, faceted, face, radius, stillSharp, seenRound)
	return dst, nil
}

// Rounded are the solutions of three bodies with the same receivers, grid and
// reference, for [Plan.ScaleRounded].
type Rounded struct {
	Sharp   []complex128 // of the plan's own body with its sharp edges, by all orders
	One     []complex128 // with edges of OneRadius in one facet, by all orders
	Faceted []complex128 // with edges of the radius itself in two facets or more, by two orders

	OneRadius float64 // m, from the radius to twice as much
}

// ScaleRounded is [Plan.JoinRounded] with what edges do while they are still small. One
// facet by all orders is as good as the round edge up to kr = 1, but takes long where it is
// narrow. What is taken off an edge of 270° disturbs the sound as the power 2ν = 4/3 of its
// size, as long as that is small against the wavelength: beside the field r^{2/3} of the sharp
// edge there is then one that falls as r^{−2/3}. So a larger facet tells what a smaller one
// does:
//
//	H = (1 − w)·(sharp + (r/r₁)^{4/3}·(one − sharp)) + w·faceted,  w = sin²(π/2·log(kr₁)/log 3) from kr₁ = 1 to 3
//
// over the receivers into dst (nil allocates, and another length panics), where r is the
// radius of the edges around the face and r₁ that of the one facet, up to 2r. With r₁ = r
// nothing is scaled. The plan is that of the sharp body. All orders of it and of the one
// facet should go to kr₁ = 1 or beyond, which is UpTo = √2·c/(2πr₁); the faceted body is solved
// by two orders, in two facets up to kr = 2.5 and three beyond. To the back w fades to 0, as in
// JoinRounded, and what is behind is to be trusted up to half an octave below UpTo only.
//
// The power is that of the form of the field near an edge (J. Meixner, IEEE Trans. Antennas
// Propag. 20, 1972, from memory), and boundary elements with 8 mm and 25 mm have 1.32 to 1.35
// up to 2 kHz. w is ours and has no source.
//
// Measured on the box of the package's table up to 10 kHz: 8 mm, from one facet of 16 mm up to
// 4.3 kHz and two facets, 0.2 dB on the axis and at 30° and 60°, 0.25 dB at 90°, and behind
// 0.3 dB to 3 kHz; 25 mm, from one facet of its own up to 5.7 kHz and three facets, 0.35, 0.5
// and 0.4 dB, and behind 0.5 dB to 4 kHz. On the round front with 30 mm, one facet of its own up
// to 5 kHz and three facets: 0.6 dB on the axis, 0.3 dB at 30° and 60°, 0.5 dB at 90°, and
// behind 0.2 dB to 3.5 kHz. For 200 frequencies in 70 directions the one facet
// of 16 mm takes some fifteen seconds of one core, and the rest a few.
func (p *Plan) ScaleRounded(dst []complex128, h Rounded, face int, radius float64) ([]complex128, error) {
	if err := p.checkRadius(radius, face); err != nil {
		return nil, err
	}
	if !(h.OneRadius >= radius && h.OneRadius <= 2*radius*(1+flat)) {
		return nil, fmt.Errorf("diffraction: one facet for a radius of %g m, want %g … %g m, beyond which the scaling is not known to hold", h.OneRadius, radius, 2*radius)
	}
	for _, k := range p.setup.Cabinet.faces[face].sides {
		if open := p.setup.Cabinet.sides[k].open; math.Abs(open-1.5*math.Pi) > 1e-6 {
			return nil, fmt.Errorf("diffraction: an edge of the sharp body around face %d has an open angle of %.4g°, want 270°", face, open*180/math.Pi)
		}
	}
	if len(h.Sharp) != p.Len() || len(h.One) != p.Len() || len(h.Faceted) != p.Len() {
		return nil, fmt.Errorf("diffraction: solutions of %d, %d and %d values, want %d of all three", len(h.Sharp), len(h.One), len(h.Faceted), p.Len())
	}
	dst = freq.Dst(dst, p.Len())
	part := complex(math.Pow(radius/h.OneRadius, 4./3), 0)
	low := make([]complex128, p.Len())
	for i, v := range h.Sharp {
		low[i] = v + part*(h.One[i]-v)
	}
	p.join(dst, low, h.Faceted, face, h.OneRadius, stillOne, seenMany)
	return dst, nil
}

func (p *Plan) checkRadius(radius float64, face int) error {
	if !(radius > 0) || math.IsInf(radius, 0) {
		return fmt.Errorf("diffraction: edges with a radius of %g m, want a finite radius > 0", radius)
	}
	if face < 0 || face >= p.setup.Cabinet.Faces() {
		return fmt.Errorf("diffraction: the edges around face %d, want 0 … %d", face, p.setup.Cabinet.Faces()-1)
	}
	if most := p.setup.Cabinet.breadth(face) / 2; radius > most*(1+flat) {
		return fmt.Errorf("diffraction: edges with a radius of %g m around face %d, want at most half of its least width, %.4g m", radius, face, most)
	}
	return nil
}

// join goes from one solution to another while kr goes from begin to end, in front of the face.
func (p *Plan) join(dst, low, high []complex128, face int, radius, begin, end float64) {
	g := p.setup.Grid
	for r, to := range p.setup.Receivers {
		at := to.at
		if !to.far {
			at = r3.Sub(at, p.setup.Reference)
		}
		ahead := smooth((r3.Dot(r3.Unit(at), p.setup.Cabinet.Normal(face)) + 0.5) / 0.5)
		for i := range g.Len() {
			kr := g.Omega()[i] * radius / p.setup.Air.SpeedOfSound
			w := ahead * smooth(math.Log(kr/begin)/math.Log(end/begin))
			k := r*g.Len() + i
			dst[k] = complex(1-w, 0)*low[k] + complex(w, 0)*high[k]
		}
	}
}

// smooth goes from 0 at 0 to 1 at 1 as sin².
func smooth(x float64) float64 {
	s := math.Sin(math.Pi / 2 * math.Min(math.Max(x, 0), 1))
	return s * s
}
