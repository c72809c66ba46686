package analog

import (
	"fmt"
	"math"
)

// Mask is what a filter must do: lose at most Ripple at the edges of Pass and
// inside, and at least Stop at the edges of Outside and beyond. Both bands are of
// one kind, and Outside is the wider one ({Lo: 200, Hi: 4000} around {Lo: 300, Hi:
// 3000}), but for a [Bandstop], whose Outside lies within Pass. Ripple and Stop
// are amplitude ratios: level.Ratio(0.5), level.Ratio(60).
//
// Its methods return the filter of the lowest order that does it. The edge of
// the pass band is met exactly and the stop band with what is left over. The two
// edges of a band-pass are those of Pass, and the two of a band-stop mirror about
// the middle of Outside: of all centres these let the order be lowest (for fixed
// edges the selectivity falls with every step of the centre away from there).
type Mask struct {
	Pass, Outside Band
	Ripple, Stop  float64
}

// reduced is a mask in terms of the prototype: the stop edge for a pass edge of 1
// rad/s, ε and its like of the stop band, and the band for a corner at x rad/s of
// that prototype.
type reduced struct {
	stopEdge, eps, epsStop float64
	band                   func(x float64) Band
}

func (m Mask) reduce() (reduced, error) {
	if m.Pass == nil || m.Outside == nil {
		return reduced{}, fmt.Errorf("analog: mask has the bands %v and %v, want both", m.Pass, m.Outside)
	}
	for _, b := range []Band{m.Pass, m.Outside} {
		if err := b.check(); err != nil {
			return reduced{}, err
		}
	}
	if err := checkRatio("a mask", "ripple", m.Ripple); err != nil {
		return reduced{}, err
	}
	if err := checkRatio("a mask", "stop-band loss", m.Stop); err != nil {
		return reduced{}, err
	}
	if !(m.Stop > m.Ripple) {
		return reduced{}, fmt.Errorf("analog: mask with a stop-band loss of %s and a ripple of %s, want more loss than ripple", decibels(m.Stop), decibels(m.Ripple))
	}
	r := reduced{eps: beyondUnity(m.Ripple), epsStop: beyondUnity(m.Stop)}
	wrong := fmt.Errorf("analog: mask passes %v and stops outside %v, want two bands of one kind with a gap between their edges", m.Pass, m.Outside)
	switch p := m.Pass.(type) {
	case Lowpass:
		s, ok := m.Outside.(Lowpass)
		if !ok || !(s.Fc > p.Fc) {
			return reduced{}, wrong
		}
		r.stopEdge = s.Fc / p.Fc
		r.band = func(x float64) Band { return Lowpass{p.Fc * x} }
	case Highpass:
		s, ok := m.Outside.(Highpass)
		if !ok || !(s.Fc < p.Fc) {
			return reduced{}, wrong
		}
		r.stopEdge = p.Fc / s.Fc
		r.band = func(x float64) Band { return Highpass{p.Fc / x} }
	case Bandpass:
		s, ok := m.Outside.(Bandpass)
		if !ok || !(s.Lo < p.Lo && s.Hi > p.Hi) {
			return reduced{}, wrong
		}
		c2 := p.Lo * p.Hi
		r.stopEdge = math.Min((c2/s.Lo-s.Lo)/(p.Hi-p.Lo), (s.Hi-c2/s.Hi)/(p.Hi-p.Lo))
		r.band = func(x float64) Band { lo, hi := around(c2, (p.Hi-p.Lo)*x); return Bandpass{lo, hi} }
	case Bandstop:
		s, ok := m.Outside.(Bandstop)
		if !ok || !(s.Lo > p.Lo && s.Hi < p.Hi) {
			return reduced{}, wrong
		}
		c2 := s.Lo * s.Hi
		pass := math.Min(c2/p.Lo-p.Lo, p.Hi-c2/p.Hi)
		r.stopEdge = pass / (s.Hi - s.Lo)
		r.band = func(x float64) Band { lo, hi := around(c2, pass/x); return Bandstop{lo, hi} }
	}
	return r, nil
}

// around returns the edges of a width about a centre whose square is c2.
func around(c2, width float64) (lo, hi float64) {
	hi = width/2 + math.Sqrt(width*width/4+c2)
	return c2 / hi, hi
}

// whole rounds an order up, but for what rounding adds to a whole number.
func whole(n float64) (int, error) {
	n = math.Max(1, math.Ceil(n*(1-1e-12)))
	if !(n <= MaxOrder) {
		return 0, fmt.Errorf("analog: mask asks for order %.0f, want at most %d", n, MaxOrder)
	}
	return int(n), nil
}

// Butterworth returns the lowest [Butterworth]: n ≥ ln(εs/ε)/ln ωs.
func (m Mask) Butterworth() (*Filter, error) {
	r, err := m.reduce()
	if err != nil {
		return nil, err
	}
	n, err := whole(math.Log(r.epsStop/r.eps) / math.Log(r.stopEdge))
	if err != nil {
		return nil, err
	}
	return Design(r.band(math.Pow(r.eps, -1/float64(n))), Butterworth(n))
}

// ChebyshevI returns the lowest [ChebyshevI]: n ≥ acosh(εs/ε)/acosh ωs.
func (m Mask) ChebyshevI() (*Filter, error) {
	r, err := m.reduce()
	if err != nil {
		return nil, err
	}
	n, err := whole(math.Acosh(r.epsStop/r.eps) / math.Acosh(r.stopEdge))
	if err != nil {
		return nil, err
	}
	return Design(r.band(1), ChebyshevI{n, m.Ripple})
}

// ChebyshevII returns the lowest [ChebyshevII], of the same order as
// [Mask.ChebyshevI].
func (m Mask) ChebyshevII() (*Filter, error) {
	r, err := m.reduce()
	if err != nil {
		return nil, err
	}
	n, err := whole(math.Acosh(r.epsStop/r.eps) / math.Acosh(r.stopEdge))
	if err != nil {
		return nil, err
	}
	// The stop edge at which the loss at 1 rad/s is just the ripple.
	return Design(r.band(math.Cosh(math.Acosh(r.epsStop/r.eps)/float64(n))), ChebyshevII{n, m.Stop})
}

// Elliptic returns the lowest [Elliptic]: n ≥ (K/K′)·(K₁′/K₁).
func (m Mask) Elliptic() (*Filter, error) {
	r, err := m.reduce()
	if err != nil {
		return nil, err
	}
	k, k1 := modulus{k: 1 / r.stopEdge}, modulus{k: r.eps / r.epsStop}
	k.c = math.Sqrt((1 - k.k) * (1 + k.k))
	k1.c = math.Sqrt((1 - k1.k) * (1 + k1.k))
	n, err := whole(k1.logNome() / k.logNome())
	if err != nil {
		return nil, err
	}
	return Design(r.band(1), Elliptic{n, m.Ripple, m.Stop})
}
