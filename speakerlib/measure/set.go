package measure

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/search"
	"example.org/loudspeaker/speakerlib/level"
)

// Set is a set of responses that share one time zero: all ways and directions of
// one loudspeaker, measured without moving the clock. Relative phase within it is
// what crossovers, delays and lobes rest on, so that time of flight is taken out
// of all by one value, or of none. It is immutable.
type Set struct {
	timeZero  string
	removed   float64
	responses []freq.Response
	index     map[string]int
}

// NewSet returns the set of the tables, each on the basis that its file states. All
// must name the same time zero (the setting "set" or Format.TimeZero), have the
// same frequencies and different labels. Tables without a shared time zero are
// refused: their sum would mean nothing.
func NewSet(tables ...*Table) (*Set, error) {
	if len(tables) == 0 {
		return nil, fmt.Errorf("measure: set of no table, want at least 1")
	}
	s := &Set{timeZero: tables[0].timeZero, index: map[string]int{}}
	for _, t := range tables {
		if t.timeZero == "" {
			return nil, fmt.Errorf("measure: %s does not say whose time zero it has, want the setting set or Format.TimeZero: without a common one, responses do not add", t.name)
		}
		if t.timeZero != s.timeZero {
			return nil, fmt.Errorf("measure: %s has the time zero of %q, want %q as %s", t.name, t.timeZero, s.timeZero, tables[0].name)
		}
		r, err := t.Stated()
		if err != nil {
			return nil, err
		}
		if len(s.responses) > 0 && !r.Grid().Equal(s.responses[0].Grid()) {
			return nil, fmt.Errorf("measure: %s is on %v and %s on %v, want the same frequencies in a set", t.name, r.Grid(), tables[0].name, s.responses[0].Grid())
		}
		if _, twice := s.index[r.Label()]; twice {
			return nil, fmt.Errorf("measure: two tables of the set are labelled %q, want different labels", r.Label())
		}
		s.index[r.Label()] = len(s.responses)
		s.responses = append(s.responses, r)
	}
	return s, nil
}

// TimeZero returns the name of the time zero.
func (s *Set) TimeZero() string { return s.timeZero }

// Removed returns the time of flight that has been taken out of all responses, in
// seconds: 0 at first.
func (s *Set) Removed() float64 { return s.removed }

// Labels returns the labels of the responses.
func (s *Set) Labels() []string {
	var l []string
	for _, r := range s.responses {
		l = append(l, r.Label())
	}
	return l
}

// Response returns the response with the label.
func (s *Set) Response(label string) (freq.Response, error) {
	k, ok := s.index[label]
	if !ok {
		return freq.Response{}, fmt.Errorf("measure: no %q in the set, want one of %s", label, strings.Join(s.Labels(), ", "))
	}
	return s.responses[k], nil
}

// Flight returns the time at which the sound of one response arrives, in seconds
// after the time zero of the set: the τ within 0 … latest that maximises
//
//	| Re Σ e^{jωτ} · r/|r| · Δf |,   lo ≤ f ≤ hi
//
// that is, the peak of the impulse response whitened in the band. For a tweeter
// over its range this is within some microseconds of the arrival; which response
// is asked does not matter, as long as one value serves the whole set. Lines Δf
// apart can tell times below 1/Δf: latest must be less.
func (s *Set) Flight(label string, lo, hi, latest float64) (float64, error) {
	r, err := s.Response(label)
	if err != nil {
		return 0, err
	}
	g := r.Grid()
	i, j := g.Between(lo, hi)
	if j-i < 8 {
		return 0, fmt.Errorf("measure: %d points of %q within %g … %g Hz (%v), want at least 8", j-i, label, lo, hi, g)
	}
	var coarsest float64
	phasors, omega := make([]complex128, j-i), g.Omega()[i:j]
	for k := range phasors {
		v := r.At(i + k)
		if v == 0 {
			continue
		}
		step := (g.At(min(i+k+1, j-1)) - g.At(max(i+k-1, i))) / 2
		if k > 0 {
			coarsest = max(coarsest, g.At(i+k)-g.At(i+k-1))
		}
		phasors[k] = v / complex(cmplx.Abs(v)/step, 0)
	}
	if coarsest == 0 {
		return 0, fmt.Errorf("measure: %q is silent within %g … %g Hz, want a response that arrives", label, lo, hi)
	}
	if !(latest > 0) || !(latest < 1/coarsest) {
		return 0, fmt.Errorf("measure: latest arrival of %q is %g s, want more than 0 and less than %.4g s, which lines %.4g Hz apart can tell", label, latest, 1/coarsest, coarsest)
	}
	at := func(t float64) float64 {
		var sum float64
		for k, p := range phasors {
			sin, cos := math.Sincos(omega[k] * t)
			sum += real(p)*cos - imag(p)*sin
		}
		return math.Abs(sum)
	}
	step := 1 / (16 * g.At(j-1))
	if latest/step > maxTrials {
		return 0, fmt.Errorf("measure: arrival of %q within %g s at up to %g Hz takes %.3g trials, want at most %d: lower the latest arrival or the band", label, latest, g.At(j-1), latest/step, maxTrials)
	}
	best, value := 0.0, -1.0
	for t := 0.0; t <= latest; t += step {
		if v := at(t); v > value {
			best, value = t, v
		}
	}
	return maximise(at, max(0, best-step), min(latest, best+step)), nil
}

// maxTrials is the most delays that a search tries: 3 s at 20 kHz.
const maxTrials = 1 << 20

// maximise returns where f is largest within a … b, where it has one maximum, to a
// part in 10⁷ of the range.
func maximise(f func(float64) float64, a, b float64) float64 {
	at, _ := search.Golden(f, a, b, 1e-7*(b-a))
	return at
}

// Without returns the set with a time of flight in seconds taken out of every
// response, multiplied by e^{jωt}, and added to what Removed tells.
func (s *Set) Without(flight float64) (*Set, error) {
	if math.IsNaN(flight) || math.IsInf(flight, 0) {
		return nil, fmt.Errorf("measure: time of flight is %g s, want a finite value", flight)
	}
	u := &Set{timeZero: s.timeZero, removed: s.removed + flight, index: s.index}
	for _, r := range s.responses {
		v := r.Values()
		for i, w := range r.Grid().Omega() {
			v[i] *= cmplx.Rect(1, w*flight)
		}
		moved, err := freq.NewResponse(r.Grid(), v, r.Label(), r.Basis())
		if err != nil {
			return nil, err
		}
		u.responses = append(u.responses, moved)
	}
	return u, nil
}

// Check is how well the sum of two responses is what was measured of both.
type Check struct {
	From, To float64 // the band, Hz
	Residual float64 // rms of the difference re rms of both, as they stand, dB
	Delay    float64 // by which the second should be later, s
	Gain     float64 // by which the sum should be multiplied
	Left     float64 // the residual with this delay and gain, dB
}

// String tells the check in words.
func (c Check) String() string {
	return fmt.Sprintf("sum against both, %g … %g Hz: residual %.1f dB, relative delay %+.2f µs, level %+.2f dB; residual with both taken out %.1f dB",
		c.From, c.To, c.Residual, c.Delay*1e6, level.DB(c.Gain), c.Left)
}

// Check compares the sum of two responses with the response measured of both
// together, lo … hi hertz. The residual is
//
//	√( Σ |first + second − both|² Δln f / Σ |both|² Δln f )
//
// and the delay of the second and the common gain are those that make it
// smallest (delays within ±1 ms). In a set that has one time zero the delay is
// small against a period, and the residual tells noise, drift and whatever moved.
// A common practice, no source: better than −30 dB, less than 2 µs.
func (s *Set) Check(first, second, both string, lo, hi float64) (Check, error) {
	a, err := s.Response(first)
	if err != nil {
		return Check{}, err
	}
	b, err := s.Response(second)
	if err != nil {
		return Check{}, err
	}
	c, err := s.Response(both)
	if err != nil {
		return Check{}, err
	}
	if a.Basis() != b.Basis() || a.Basis() != c.Basis() {
		return Check{}, fmt.Errorf("measure: %q is %v, %q is %v, %q is %v: want the same basis", first, a.Basis(), second, b.Basis(), both, c.Basis())
	}
	g := a.Grid()
	i, j := g.Between(lo, hi)
	if j-i < 3 {
		return Check{}, fmt.Errorf("measure: %d points within %g … %g Hz (%v), want at least 3", j-i, lo, hi, g)
	}
	weight := make([]float64, j-i)
	var total float64
	for k := range weight {
		weight[k] = math.Log(g.At(min(i+k+1, j-1)) / g.At(max(i+k-1, i)))
		total += weight[k] * norm(c.At(i+k))
	}
	if total == 0 {
		return Check{}, fmt.Errorf("measure: %q is silent within %g … %g Hz", both, lo, hi)
	}
	residual := func(delay, gain float64) float64 {
		var sum float64
		for k, w := range weight {
			v := a.At(i+k) + b.At(i+k)*cmplx.Rect(1, -g.Omega()[i+k]*delay)
			sum += w * norm(v*complex(gain, 0)-c.At(i+k))
		}
		return sum / total
	}
	gainAt := func(delay float64) float64 {
		var num, den float64
		for k, w := range weight {
			v := a.At(i+k) + b.At(i+k)*cmplx.Rect(1, -g.Omega()[i+k]*delay)
			num += w * real(v*cmplx.Conj(c.At(i+k)))
			den += w * norm(v)
		}
		if den == 0 {
			return 0
		}
		return num / den
	}
	const window = 1e-3
	step := 1 / (16 * g.At(j-1))
	if window/step > maxTrials {
		return Check{}, fmt.Errorf("measure: check up to %g Hz takes %.3g trial delays within %g s, want at most %d: lower the band", g.At(j-1), window/step, window, maxTrials)
	}
	cost := func(delay float64) float64 { return -residual(delay, gainAt(delay)) }
	best, value := 0.0, cost(0)
	for n := 1; float64(n)*step <= window; n++ {
		for _, t := range [...]float64{float64(n) * step, -float64(n) * step} {
			if v := cost(t); v > value {
				best, value = t, v
			}
		}
	}
	best = maximise(cost, best-step, best+step)
	gain := gainAt(best)
	return Check{From: lo, To: hi, Residual: level.PowerDB(residual(0, 1)), Delay: best, Gain: gain,
		Left: level.PowerDB(residual(best, gain))}, nil
}

func norm(z complex128) float64 { return real(z)*real(z) + imag(z)*imag(z) }
