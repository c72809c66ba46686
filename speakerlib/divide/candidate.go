package divide

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Candidate is a division that is tried.
type Candidate struct {
	Split    Split
	Inverted bool // the upper way
	Delayed  bool // ways aligned by a delay; else left as the baffle has them
}

// Point is a candidate with what it gives and costs. What was not asked for is 0.
type Point struct {
	Hz       float64 `col:"crossover" unit:"Hz" fmt:"%.0f"`
	Low      string  `col:"low-pass"`
	High     string  `col:"high-pass"`
	Inverted bool    `col:"inverted"`
	Delayed  bool    `col:"aligned by delay"`

	Tilt      float64 `col:"tilt" unit:"°" fmt:"%+.1f"`              // of the main lobe at the crossover, at the listener's distance, up positive
	TiltMost  float64 `col:"most tilt" unit:"°" fmt:"%+.1f"`         // within half an octave to both sides, as far as the ways are known
	Width     float64 `col:"lobe's −3 dB width" unit:"°" fmt:"%.0f"` // at the crossover; infinite: wider than what was measured
	Range     float64 `col:"axis within" unit:"dB" fmt:"%.2f"`       // largest less smallest of the sum re voice on the axis
	Ripple    float64 `col:"window ripple" unit:"dB" fmt:"%.2f"`     // of the power average of the window re voice, largest less smallest beside a straight line over log frequency
	Null      float64 `col:"reverse null" unit:"dB" fmt:"%.0f"`      // within an octave of the crossover, on the axis
	Excursion float64 `col:"tweeter's excursion" unit:"mm peak" fmt:"%.3f"`
	ExcursAt  float64 `col:"at" unit:"Hz" fmt:"%.0f"`
	Volts     float64 `col:"tweeter's volts" unit:"V peak" fmt:"%.2f"`
	Heat      float64 `col:"tweeter's heat" unit:"W" fmt:"%.2f"` // in its coil, in the long run
	Rise      float64 `col:"coil's rise" unit:"K" fmt:"%.1f"`
	Delay     float64 `col:"group delay" unit:"ms" fmt:"%.3f"`             // of the sum on the axis, largest within the band less that at its upper end; infinite where ways cancel
	Audible   float64 `col:"of the audible delay" unit:"%" fmt:"%.0f"`     // the largest share of freq.AudibleDelay, at its five frequencies
	Distorts  float64 `col:"distortion" unit:"%" fmt:"%.2f"`               // the largest that the guard tells, where a way is within 10 dB of the sum
	Floor     float64 `col:"crossover over the tweeter's Fs" fmt:"%.2f"`   // a ratio
	Beaming   float64 `col:"woofer off axis" unit:"dB" fmt:"%+.1f"`        // at the beam's seat re axis, at the crossover
	Step      float64 `col:"tweeter above it there" unit:"dB" fmt:"%+.1f"` // the same of the tweeter, less that of the woofer: the step of directivity
	Sections  int     `col:"sections"`                                     // of a fit; 0: ideal halves
	Used      float64 `col:"used of the tightest" unit:"%" fmt:"%.0f"`     // above 100 % it is broken
	Binding   string  `col:"tightest"`

	candidate Candidate
	family    [3]int // slopes, polarity and delay: what it shares with candidates of other frequencies
	chains    []freq.Transfer
}

// Candidate returns what was tried.
func (p *Point) Candidate() Candidate { return p.candidate }

// Chains returns the chains of both ways, the lower first: of ideal halves they are
// responses on the grid of the search. They serve crossover.Stack.With.
func (p *Point) Chains() []freq.Transfer { return append([]freq.Transfer(nil), p.chains...) }

// Feasible reports whether the point keeps all bounds.
func (p *Point) Feasible() bool { return p.Used <= 1 }

// ideal returns the chains that make ideal halves of the measured ways:
//
//	H = ±half·|V|·e^{−jωτ}/S
//
// τ being the lag that is not evened out, on the side that is late. No sections,
// no minimum phase of their own: what a perfect equaliser of each way on its axis
// would do at the place where they are aligned, as an acoustic target.
func (s *study) ideal(c Candidate) ([]freq.Transfer, int, error) {
	low, high, err := c.Split.Halves()
	if err != nil {
		return nil, 0, err
	}
	var chains []freq.Transfer
	for k, half := range []freq.Transfer{low, high} {
		h := half.ResponseTo(nil, s.grid)
		tau := 0.0
		if !c.Delayed && (k == 0) == (s.Lag > 0) {
			tau = math.Abs(s.Lag)
		}
		for i, w := range s.grid.Omega() {
			h[i] *= complex(s.voice[i], 0) * cmplx.Rect(1, -w*tau) / s.at[k][i]
			if k == 1 && c.Inverted {
				h[i] = -h[i]
			}
		}
		r, err := freq.NewResponse(s.grid, h, c.Split.String(), freq.Basis{})
		if err != nil {
			return nil, 0, fmt.Errorf("divide: %w", err)
		}
		chains = append(chains, r)
	}
	return chains, 0, nil
}

// fitted returns the chains that a task finds for a candidate.
func (s *study) fitted(c *Candidate) ([]freq.Transfer, int, error) {
	t := *s.Fit
	t.Splits = []Split{c.Split}
	t.Delays.None = !c.Delayed
	r, err := t.Run()
	if err != nil {
		return nil, 0, err
	}
	n := 0
	for _, ch := range r.Network.Chains {
		n += ch.Cascade.Len()
	}
	c.Inverted = r.Network.Chains[0].Cascade.Inverted() != r.Network.Chains[1].Cascade.Inverted()
	return r.Network.Transfers(), n, nil
}

// measure tells what a candidate gives and costs.
func (s *study) measure(c Candidate) (Point, error) {
	var chains []freq.Transfer
	var n int
	var err error
	if s.Fit != nil {
		chains, n, err = s.fitted(&c)
	} else {
		chains, n, err = s.ideal(c)
	}
	if err != nil {
		return Point{}, fmt.Errorf("%w (%v)", err, c.Split)
	}
	p := Point{Hz: c.Split.Fc, Low: fmt.Sprint(c.Split.Low), High: fmt.Sprint(c.Split.High), Inverted: c.Inverted, Delayed: c.Delayed, Sections: n, candidate: c, chains: chains}
	var h [2][]complex128
	for k, ch := range chains {
		if err := freq.CheckGrid(ch, s.grid); err != nil {
			return Point{}, fmt.Errorf("divide: %w", err)
		}
		h[k] = ch.ResponseTo(nil, s.grid)
	}
	if err := s.lobes(&p, chains); err != nil {
		return Point{}, err
	}
	if err := s.onAxis(&p, h); err != nil {
		return Point{}, err
	}
	if err := s.listeningWindow(&p, h); err != nil {
		return Point{}, err
	}
	if err := s.load(&p, h, chains); err != nil {
		return Point{}, err
	}
	s.off(&p)
	s.Bounds.account(&p)
	return p, nil
}

func (s *study) lobes(p *Point, chains []freq.Transfer) error {
	stack, err := s.stack.With(chains...)
	if err != nil {
		return err
	}
	for _, octave := range []float64{0, -0.5, -0.25, 0.25, 0.5} {
		hz := p.Hz * math.Exp2(octave)
		if hz < s.grid.First() || hz > s.grid.Last() {
			continue
		}
		l, err := stack.Lobe(hz, s.Distance)
		if err != nil {
			return err
		}
		if octave == 0 {
			p.Tilt, p.Width = l.Tilt, l.Width3()
		}
		if math.Abs(l.Tilt) > math.Abs(p.TiltMost) {
			p.TiltMost = l.Tilt
		}
	}
	return nil
}

// response returns a response on the grid.
func (s *study) response(v []complex128, label string) (freq.Response, error) {
	return freq.NewResponse(s.grid, v, label, freq.Basis{})
}

func (s *study) onAxis(p *Point, h [2][]complex128) error {
	v := make([]complex128, s.grid.Len())
	ways := [2][]complex128{make([]complex128, len(v)), make([]complex128, len(v))}
	for i := range v {
		for k := range ways {
			ways[k][i] = h[k][i] * s.at[k][i] / complex(s.voice[i], 0)
			v[i] += ways[k][i]
		}
	}
	sum, err := s.response(v, "sum re voice")
	if err != nil {
		return fmt.Errorf("divide: %w", err)
	}
	db, err := sum.SmoothPower(12, 1)
	if err != nil {
		return fmt.Errorf("divide: %w", err)
	}
	most, err := db.Max(s.From, s.To)
	if err != nil {
		return fmt.Errorf("divide: %w", err)
	}
	least, err := db.Min(s.From, s.To)
	if err != nil {
		return fmt.Errorf("divide: %w", err)
	}
	p.Range = most.Value - least.Value
	p.Null = math.Inf(1)
	for f, to := s.grid.Between(p.Hz/2, p.Hz*2); f < to; f++ {
		if x := level.DB(cmplx.Abs(ways[0][f]-ways[1][f]) / cmplx.Abs(v[f])); x < p.Null {
			p.Null = x
		}
	}
	if err := s.delay(p, sum); err != nil {
		return err
	}
	return s.distortion(p, ways, v)
}

// delay tells the group delay of the sum re voice. Where the phase jumps from point to
// point, in a notch of ways that cancel, it is infinite.
func (s *study) delay(p *Point, sum freq.Response) error {
	delay, err := sum.GroupDelay()
	if err != nil {
		p.Delay, p.Audible = math.Inf(1), math.Inf(1)
		return nil
	}
	end := delay.At(s.grid.Nearest(s.To))
	longest, err := delay.Max(s.From, s.To)
	if err != nil {
		return fmt.Errorf("divide: %w", err)
	}
	p.Delay = max(0, longest.Value-end)
	heard := freq.AudibleDelay()
	for i := range heard.Len() {
		hz := heard.Grid().At(i)
		if hz < s.From || hz > s.To {
			continue
		}
		d, err := delay.Interpolate(hz)
		if err != nil {
			return fmt.Errorf("divide: %w", err)
		}
		p.Audible = max(p.Audible, (d-end)/heard.At(i))
	}
	return nil
}

// distortion asks the guard.
func (s *study) distortion(p *Point, ways [2][]complex128, sum []complex128) error {
	if s.Guard == nil {
		return nil
	}
	i, j := s.grid.Between(s.From, s.To)
	far := s.stack.MeasuredAt() // the guard is asked for 1 m
	for k, w := range ways {
		name := s.Lower.Name
		if k == 1 {
			name = s.Upper.Name
		}
		for f := i; f < j; f++ {
			x := cmplx.Abs(w[f])
			if x < cmplx.Abs(sum[f])*level.Ratio(-10) {
				continue
			}
			d := s.Guard(name, s.grid.At(f), level.SPL(s.volts*x*s.voice[f]*far))
			if !(d >= 0) {
				return fmt.Errorf("divide: guard tells a distortion of %g of way %q at %g Hz, want ≥ 0", d, name, s.grid.At(f))
			}
			p.Distorts = max(p.Distorts, d)
		}
	}
	return nil
}

// listeningWindow averages the power of the sum over the seats.
func (s *study) listeningWindow(p *Point, h [2][]complex128) error {
	v := make([]complex128, s.grid.Len())
	var counts float64
	for _, w := range s.window {
		counts += w.Counts
	}
	for i := range v {
		var power float64
		for _, w := range s.window {
			z := h[0][i]*w.Lower.At(i) + h[1][i]*w.Upper.At(i)
			power += w.Counts / counts * (real(z)*real(z) + imag(z)*imag(z))
		}
		v[i] = complex(math.Sqrt(power)/s.voice[i], 0)
	}
	r, err := s.response(v, "listening window re voice")
	if err != nil {
		return fmt.Errorf("divide: %w", err)
	}
	db, err := r.SmoothPower(12, 1)
	if err != nil {
		return fmt.Errorf("divide: %w", err)
	}
	i, j := s.grid.Between(s.From, s.To)
	var sw, sx, sy, sxx, sxy float64
	for f := i; f < j; f++ {
		x, y := math.Log(s.grid.At(f)), db.At(f)
		w := math.Log(s.grid.At(min(f+1, j-1)) / s.grid.At(max(f-1, i)))
		sw, sx, sy, sxx, sxy = sw+w, sx+w*x, sy+w*y, sxx+w*x*x, sxy+w*x*y
	}
	slope := (sw*sxy - sx*sy) / (sw*sxx - sx*sx)
	lo, hi := math.Inf(1), math.Inf(-1)
	for f := i; f < j; f++ {
		y := db.At(f) - slope*math.Log(s.grid.At(f))
		lo, hi = min(lo, y), max(hi, y)
	}
	p.Ripple = hi - lo
	return nil
}

// load tells what the tweeter has to bear.
func (s *study) load(p *Point, h [2][]complex128, chains []freq.Transfer) error {
	if s.Tweeter == nil {
		return nil
	}
	p.Floor = p.Hz / s.Tweeter.Fs
	for i := range s.grid.Len() {
		u := math.Sqrt2 * s.volts * cmplx.Abs(h[1][i])
		p.Volts = max(p.Volts, u)
		if x := u * cmplx.Abs(s.cone[i]); x > p.Excursion {
			p.Excursion, p.ExcursAt = x, s.grid.At(i)
		}
	}
	if s.Shape == nil {
		return nil
	}
	w, err := s.Tweeter.Coil.Steady(math.Sqrt2*s.volts/s.Crest*s.share, chains[1], s.Tweeter.Current, s.programme)
	if err != nil {
		return fmt.Errorf("divide: heat of the tweeter: %w", err)
	}
	p.Heat, p.Rise = w.Power, w.Rise
	return nil
}

// off tells how the ways narrow at the crossover.
func (s *study) off(p *Point) {
	if s.Beam == nil {
		return
	}
	i := s.grid.Nearest(p.Hz)
	p.Beaming = level.DB(cmplx.Abs(s.Beam.Lower.At(i) / s.axis[0][i]))
	p.Step = level.DB(cmplx.Abs(s.Beam.Upper.At(i)/s.axis[1][i])) - p.Beaming
}
