package activerc

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
)

// DelayKind is how an all-pass approximates a pure delay.
type DelayKind int

const (
	// MaximallyFlat is θₙ(−s)/θₙ(s) with the Bessel polynomial of [analog.Bessel]: the delay
	// that is flat as far up as n poles allow.
	MaximallyFlat DelayKind = iota
	// Equal is n first-order all-passes of one corner: one amplifier and one value each, but the
	// delay falls as 1/(1 + (f/f₀)²) at once.
	Equal
)

// String returns the name.
func (k DelayKind) String() string { return [...]string{"maximally flat", "equal first order"}[k] }

// Delay returns the sections of an all-pass of an order, whose group delay at direct current is
// tau seconds: what holds a way back that is nearer to the listener. The delay of
// θₙ(−s)/θₙ(s) is twice that of 1/θₙ(s), so that the poles are those for τ/2; of n equal
// first-order sections it is 2n/ω₀. Second-order sections come first, by ascending Q. Where
// the delay ends, the phase still turns: use it well inside ([DelayReach]).
func Delay(tau float64, order int, k DelayKind) ([]analog.Section, error) {
	// Beyond, squares of corners are no numbers any more.
	if !(tau >= 1e-100 && tau <= 1e100) {
		return nil, fmt.Errorf("activerc: delay is %g s, want one within 1e-100 … 1e100 s", tau)
	}
	if order < 1 || order > analog.MaxOrder {
		return nil, fmt.Errorf("activerc: order of the delay is %d, want 1 … %d", order, analog.MaxOrder)
	}
	switch k {
	case Equal:
		s := make([]analog.Section, order)
		for i := range s {
			s[i] = FirstAllpass(2 * float64(order) / tau / (2 * math.Pi))
		}
		return s, nil
	case MaximallyFlat:
	default:
		return nil, fmt.Errorf("activerc: kind of delay is %d, want maximally flat or equal", int(k))
	}
	poles, err := analog.Bessel(order, analog.ByDelay).Poles()
	if err != nil {
		return nil, err
	}
	var s []analog.Section
	for i := 0; i < len(poles); i++ {
		p := poles[i] * complex(2/tau, 0)
		if math.Abs(imag(p)) <= 1e-12*cmplx.Abs(p) {
			s = append(s, FirstAllpass(-real(p)/(2*math.Pi)))
			continue
		}
		w := cmplx.Abs(p)
		s = append(s, Allpass(w/(2*math.Pi), w/(-2*real(p))))
		i++ // its conjugate
	}
	for i := 1; i < len(s); i++ { // by ascending Q, first order (of none) last as its gain is cheap anywhere
		for j := i; j > 0 && rank(s[j]) < rank(s[j-1]); j-- {
			s[j], s[j-1] = s[j-1], s[j]
		}
	}
	return s, nil
}

// rank is the Q of a section, and infinite for one of first order.
func rank(s analog.Section) float64 {
	if s.D2 == 0 {
		return math.Inf(1)
	}
	_, q := resonance(s.D2, s.D1, s.D0)
	return q
}

// GroupDelay returns the group delay of sections in s at a frequency in hertz, in seconds, from
// the closed form: −dφ/dω of numerator and denominator, each (c1·(c0 + c2·ω²))/|P|² for
// P = c2·s² + c1·s + c0. Zeros on the imaginary axis add nothing.
func GroupDelay(sections []analog.Section, hz float64) float64 {
	w := 2 * math.Pi * hz
	turn := func(c2, c1, c0 float64) float64 {
		re, im := c0-c2*w*w, c1*w
		if re == 0 && im == 0 {
			return 0
		}
		return c1 * (c0 + c2*w*w) / (re*re + im*im)
	}
	sum := 0.0
	for _, s := range sections {
		sum += turn(s.D2, s.D1, s.D0) - turn(s.N2, s.N1, s.N0)
	}
	return sum
}

// DelayReach is what a number of poles does as a delay.
type DelayReach struct {
	Order      int     `col:"order"`
	Stages     int     `col:"stages"`
	Amplifiers int     `col:"amplifiers"`                      // two for each [BandpassSum], one for a first order
	Latency    float64 `col:"latency" unit:"ms"`               // s: the group delay at direct current, which is what was asked for
	Off        float64 `col:"off" unit:"µs" fmt:"%.2g"`        // s: the largest error of the group delay up to the edge
	Edge       float64 `col:"up to" unit:"Hz" fmt:"%.4g"`      // Hz
	HighestQ   float64 `col:"highest Q" fmt:"%.3g"`            // 0 if all are of first order
	HighestHz  float64 `col:"highest f0" unit:"Hz" fmt:"%.4g"` // Hz
	Kind       string  `col:"kind"`                            // how it approximates
	Sections   []analog.Section
}

// DelayFor returns the delay of the lowest order whose group delay is within off seconds of tau
// up to the edge in hertz, and what it does. It is an error if [analog.MaxOrder] poles are too
// few.
func DelayFor(tau, edge, off float64, k DelayKind) (DelayReach, error) {
	for _, v := range []float64{tau, edge, off} {
		if !(v > 0) || math.IsInf(v, 0) {
			return DelayReach{}, fmt.Errorf("activerc: delay %g s up to %g Hz within %g s, want finite values > 0", tau, edge, off)
		}
	}
	var r DelayReach
	for n := 1; n <= analog.MaxOrder; n++ {
		s, err := Delay(tau, n, k)
		if err != nil {
			return DelayReach{}, err
		}
		r = DelayReach{Order: n, Stages: len(s), Latency: tau, Edge: edge, Kind: k.String(), Sections: s}
		const points = 400
		for i := 1; i <= points; i++ {
			r.Off = max(r.Off, math.Abs(GroupDelay(s, edge*float64(i)/points)-tau))
		}
		for _, one := range s {
			f0, q := resonance(one.D2, one.D1, one.D0)
			r.HighestHz, r.HighestQ = max(r.HighestHz, f0), max(r.HighestQ, q)
			r.Amplifiers++
			if one.D2 != 0 {
				r.Amplifiers++
			}
		}
		if r.Off <= off {
			return r, nil
		}
	}
	return DelayReach{}, fmt.Errorf("activerc: delay of %.4g s with %d poles is off by %.3g s up to %g Hz, want at most %.3g s: lower the edge or the delay",
		tau, r.Order, r.Off, edge, off)
}

// DelayError returns the group delay of a chain less tau seconds, as a curve: what is left over
// of the delay, with real values and real amplifiers. Like [freq.GroupDelay] it panics where the
// response is 0.
func (c *Chain) DelayError(g *freq.Grid, tau float64, label string) freq.Curve {
	return freq.GroupDelay(c, g, label).Plus(-tau)
}
