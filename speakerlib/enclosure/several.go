package enclosure

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
)

// Several is how many equal drivers are wired and mounted.
type Several struct {
	Series   int // drivers in each string, 1 or more
	Parallel int // strings side by side, 1 or more
	// Compound is whether the cones are in one line with hardly any air between them
	// (isobaric), so that they act as one cone of a single area.
	Compound bool
}

// Of returns the one driver that moves, takes current and sounds as all of them
// together in the same box: with s in series, p in parallel and n = s·p
//
//	Re·s/p, coil·s/p, Bl·s, Mms·n, Rms·n, Cms/n, Sd·n
//
// and, compound, with Sd as it is. It is exact for equal drivers that see the same
// pressure; displacement, and with it its limits, are those of each. The current is
// that of all strings, the impedance that at the terminals. The box keeps its whole
// volume. The air load that Mms has of a single driver is kept n times; at low
// frequencies that of neighbours in one wall is a little more, by some percent of the
// load (mutual radiation), and the air between compound cones is taken as massless
// and stiff.
func (v Several) Of(p driver.Params) (driver.Params, error) {
	if err := p.Validate(); err != nil {
		return driver.Params{}, err
	}
	if v.Series < 1 || v.Parallel < 1 || v.Series > 1000 || v.Parallel > 1000 {
		return driver.Params{}, fmt.Errorf("enclosure: %d drivers in series and %d strings in parallel, want 1 to 1000 each", v.Series, v.Parallel)
	}
	n, k := float64(v.Series)*float64(v.Parallel), float64(v.Series)/float64(v.Parallel)
	p.Re *= k
	p.Bl *= float64(v.Series)
	p.Mms *= n
	p.Rms *= n
	p.Cms /= n
	if !v.Compound {
		p.Sd *= n
	}
	if p.Coil != nil && k != 1 {
		c := scaledCoil{p.Coil, k}
		if r, ok := p.Coil.(driver.RationalCoil); ok {
			p.Coil = scaledRational{c, r}
		} else {
			p.Coil = c
		}
	}
	return p, p.Validate()
}

// scaledCoil is k times a coil.
type scaledCoil struct {
	coil driver.Coil
	k    float64
}

// ImpedanceTo implements [driver.Coil].
func (c scaledCoil) ImpedanceTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = c.coil.ImpedanceTo(dst, g)
	for i := range dst {
		dst[i] *= complex(c.k, 0)
	}
	return dst
}

// CheckGrid is that of the coil.
func (c scaledCoil) CheckGrid(g *freq.Grid) error { return checkGrid(g, c.coil) }

// scaledRational is k times a coil that is a ratio of polynomials.
type scaledRational struct {
	scaledCoil
	rational driver.RationalCoil
}

// Rational implements [driver.RationalCoil].
func (c scaledRational) Rational() (num, den freq.Poly) {
	num, den = c.rational.Rational()
	return num.Scale(c.k), den
}
