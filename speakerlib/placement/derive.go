package placement

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/lsq"
)

// Goal says for which places a setting is.
type Goal struct {
	Reference  Place   // where the loudspeaker was voiced: there it needs no setting
	Places     []Place // the range of places that the setting serves, all alike
	From, To   float64 // the band of the fit, Hz
	SampleRate float64 // Hz
	// Shelves is the most shelves that are taken, 1 to 3; 0: 2. A further one is taken while
	// the rms error is above 0.02 dB, and must take a tenth of it away.
	Shelves int
	// Cut and Boost bound the sum of the shelves at low frequencies, in dB ≥ 0. Cut 0: 12. A
	// boost costs excursion, heat and headroom, and with 0 there is none; nor is there one of
	// more than the places lack.
	Cut, Boost float64
}

func (goal Goal) validate() (Goal, error) {
	if goal.Shelves == 0 {
		goal.Shelves = 2
	}
	if goal.Cut == 0 {
		goal.Cut = 12
	}
	if len(goal.Places) == 0 {
		return goal, fmt.Errorf("placement: setting for no place, want at least 1")
	}
	if err := goal.Reference.check(nil); err != nil {
		return goal, err
	}
	g := goal.Reference.Gain.Grid()
	for _, p := range goal.Places {
		if err := p.check(g); err != nil {
			return goal, err
		}
	}
	if goal.Shelves < 1 || goal.Shelves > 3 {
		return goal, fmt.Errorf("placement: at most %d shelves, want 1 to 3", goal.Shelves)
	}
	if !(goal.Cut >= 0 && goal.Cut <= 24) || !(goal.Boost >= 0 && goal.Boost <= 12) {
		return goal, fmt.Errorf("placement: cut of %g dB and boost of %g dB, want 0 … 24 dB and 0 … 12 dB", goal.Cut, goal.Boost)
	}
	if !(goal.SampleRate > 0) || math.IsInf(goal.SampleRate, 0) {
		return goal, fmt.Errorf("placement: sample rate is %g Hz, want a finite value > 0", goal.SampleRate)
	}
	if !(goal.From > 0) {
		return goal, fmt.Errorf("placement: setting from %g Hz, want a frequency > 0", goal.From)
	}
	if i, j := g.Between(goal.From, goal.To); j-i < 8 || !(goal.To < goal.SampleRate/4) {
		return goal, fmt.Errorf("placement: %d points within %g … %g Hz (%v) at a sample rate of %g Hz, want at least 8, below a quarter of it", j-i, goal.From, goal.To, g, goal.SampleRate)
	}
	if g.Last() >= goal.SampleRate/2 {
		return goal, fmt.Errorf("placement: places on %v at a sample rate of %g Hz, want them below half of it", g, goal.SampleRate)
	}
	return goal, nil
}

// Setting is the filter for a range of places.
type Setting struct {
	Name     string
	Shelves  []digital.LowShelf // none: a wire
	Cascade  *digital.Cascade
	Response freq.Curve // of the filter, dB
	Residual []Residual // of each place
	// RMS and Before are those of the fit's error, with the setting and without: what the
	// walls add re the reference as in [Derive], over the band, weighted by log frequency, all
	// places, dB.
	RMS, Before float64
	Stopped     lsq.Status
}

// Residual is what a setting leaves at one place.
type Residual struct {
	Place string
	// Level is what is heard re the reference place, with the setting, cancellations and all,
	// in dB; Without is the same without the setting.
	Level, Without freq.Curve
	High, HighAt   float64 // the largest within the band, dB and Hz
	Low, LowAt     float64 // the lowest: a cancellation, mostly, which stays
}

// Derive finds the shelves for a range of places, by least squares over log frequency of
// what the walls add and the shelves, in dB,
//
//	t + shelves,  t = place − max(0, reference) where place ≥ 0,  0 where place < 0
//
// over all places. By the signs of the gains re a free field that is:
//
//	place  reference
//	  +        +      the difference is taken back; if the reference has more, it is given back
//	                  as far as Boost allows
//	  +        −      what the place adds is taken back, and the reference's dip is not put there
//	  −      any      nothing
//
// so that a cancellation neither is filled nor makes the shelf less deep, and no cut is spent
// in it. The line between + and − is sharp: a place a hair below a free field is given nothing
// back. A low shelf gives to all that lies below: at direct current they boost by
// no more, together, than the most that the places lack (t < 0, in the mean of them) in the lowest
// octave of the band, and by nothing if they lack nothing there; within the band the slope of a
// shelf may leave some of that. The flank of a dip, where a place has less than the reference and
// more than a free field, counts as lacking; no boost is put there for it, but a cut may become a
// little less deep.
//
// The shelves are of Q 0.4 to 1/√2, monotonic, and with unity gain at high frequencies; their
// parameters are sought with the exact digital response (digital.Tunable) from several starts
// by lsq. If t is less than 0.1 dB everywhere the setting is a wire.
//
// A setting cannot be better than its range is narrow: see its residuals, and [Goal.Left] for
// other places.
func Derive(name string, goal Goal) (*Setting, error) {
	goal, err := goal.validate()
	if err != nil {
		return nil, err
	}
	f := newFit(goal)
	s := &Setting{Name: name, Before: f.rms(nil)}
	s.RMS = s.Before
	if f.largest() >= 0.1 {
		for n := 1; n <= goal.Shelves && s.RMS > enough; n++ {
			shelves, rms, status, err := f.best(n)
			if err != nil {
				return nil, err
			}
			if rms > 0.9*s.RMS {
				break
			}
			s.Shelves, s.RMS, s.Stopped = shelves, rms, status
		}
	}
	sections := make([]digital.Section, len(s.Shelves))
	for i, sh := range s.Shelves {
		sections[i] = sh
	}
	if s.Cascade, err = digital.NewCascade(goal.SampleRate, sections...); err != nil {
		return nil, err
	}
	return s, s.judge(goal)
}

// Left returns what is left at the goal's places by the judge of [Derive]: the rms of t +
// response over the band, weighted by log frequency, all places, in dB. Without a response it
// is what no setting leaves. The response, in dB, is that of any setting on the grid of the
// places: so two can be compared at places that neither was derived for.
func (goal Goal) Left(response *freq.Curve) (float64, error) {
	goal, err := goal.validate()
	if err != nil {
		return 0, err
	}
	f := newFit(goal)
	if response == nil {
		return f.rms(nil), nil
	}
	if g := goal.Reference.Gain.Grid(); !response.Grid().Equal(g) || response.Unit() != "dB" {
		return 0, fmt.Errorf("placement: response %q on %v in %q, want the grid of the places, %v, and dB", response.Label(), response.Grid(), response.Unit(), g)
	}
	i, j := response.Grid().Between(goal.From, goal.To)
	nepers := response.Values()[i:j]
	for k := range nepers {
		nepers[k] /= neper
	}
	return f.rms(nepers), nil
}

// enough is the error in dB below which no shelf is added.
const enough = 0.02

// judge computes response and residuals.
func (s *Setting) judge(goal Goal) error {
	g := goal.Reference.Gain.Grid()
	db := level.OfComplex(nil, s.Cascade.ResponseTo(nil, g))
	var err error
	if s.Response, err = freq.NewCurve(g, db, s.Name, "dB", freq.Basis{}); err != nil {
		return err
	}
	for _, p := range goal.Places {
		r := Residual{Place: p.Name}
		if r.Without, err = p.Gain.Minus(goal.Reference.Gain); err != nil {
			return err
		}
		v := r.Without.Values()
		for i := range v {
			v[i] += db[i]
		}
		if r.Level, err = freq.NewCurve(g, v, p.Name+", "+s.Name, "dB", freq.Basis{}); err != nil {
			return err
		}
		high, err := r.Level.Max(goal.From, goal.To)
		if err != nil {
			return err
		}
		low, err := r.Level.Min(goal.From, goal.To)
		if err != nil {
			return err
		}
		r.High, r.HighAt, r.Low, r.LowAt = high.Value, high.Hz, low.Value, low.Hz
		s.Residual = append(s.Residual, r)
	}
	return nil
}

// fit is the least-squares problem. Levels are in nepers inside.
type fit struct {
	goal   Goal
	grid   *freq.Grid // the band
	target [][]float64
	weight []float64 // √ of the share of the point
}

const neper = 20 / math.Ln10 // dB

func newFit(goal Goal) *fit {
	g := goal.Reference.Gain.Grid()
	i, j := g.Between(goal.From, goal.To)
	band, err := freq.NewGrid(g.Hz()[i:j])
	if err != nil {
		panic("placement: part of a grid is no grid")
	}
	f := &fit{goal: goal, grid: band, weight: make([]float64, j-i)}
	var total float64
	for k := range f.weight {
		f.weight[k] = math.Log(band.At(min(k+1, j-i-1)) / band.At(max(k-1, 0)))
		total += f.weight[k]
	}
	for k := range f.weight {
		f.weight[k] = math.Sqrt(f.weight[k] / total / float64(len(goal.Places)))
	}
	for _, p := range goal.Places {
		t := make([]float64, j-i)
		for k := range t {
			t[k] = p.adds(goal.Reference, i+k) / neper
		}
		f.target = append(f.target, t)
	}
	return f
}

// largest returns the largest magnitude of what is to be taken back, in dB.
func (f *fit) largest() (most float64) {
	for _, t := range f.target {
		for _, v := range t {
			most = max(most, math.Abs(v)*neper)
		}
	}
	return most
}

// lack returns the most that the places lack, in the mean of them, in the lowest octave of the
// band, in dB.
func (f *fit) lack() (most float64) {
	for k := range f.weight {
		if f.grid.At(k) > 2*f.grid.First() {
			break
		}
		var sum float64
		for _, t := range f.target {
			sum -= t[k] * neper
		}
		most = max(most, sum/float64(len(f.target)))
	}
	return most
}

// rms returns the error with a response in nepers, nil for none, in dB.
func (f *fit) rms(response []float64) float64 {
	var sum float64
	for _, t := range f.target {
		for k, w := range f.weight {
			e := t[k]
			if response != nil {
				e += response[k]
			}
			sum += w * w * e * e
		}
	}
	return math.Sqrt(sum) * neper
}

// best returns the best of several fits of n shelves.
func (f *fit) best(n int) (best []digital.LowShelf, rms float64, status lsq.Status, err error) {
	const starts = 5
	rms = math.Inf(1)
	low, high := math.Log(max(f.goal.From, f.goal.Reference.Gain.Grid().First())/2), math.Log(f.goal.To)
	least, most := -f.goal.Cut/neper/float64(n), min(f.goal.Boost, f.lack())/neper/float64(n)
	bounds := func(f0, gain, q float64) (x []float64) {
		for range n {
			x = append(x, f0, gain, q)
		}
		return x
	}
	sections := make([]digital.Tunable, n)
	for i := range sections {
		sections[i] = digital.LowShelf{}
	}
	problem := lsq.Problem{
		Residuals: len(f.target) * len(f.weight),
		Lower:     bounds(low, least, math.Log(0.4)),
		Upper:     bounds(high, most, -math.Ln2/2),
		Func:      f.residuals(sections),
	}
	for k := range starts {
		x := bounds(0, (least+most)/2, math.Log(0.6))
		for i := range n {
			x[3*i] = low + (high-low)*math.Mod((float64(k)+0.5)/starts+float64(i)/float64(n), 1)
		}
		r, err := lsq.Minimize(problem, x, nil)
		if err != nil {
			return nil, 0, 0, err
		}
		if e := math.Sqrt(r.SumSquares) * neper; e < rms*(1-1e-9) {
			best = best[:0]
			for i := range n {
				best = append(best, digital.LowShelf{}.With(r.X[3*i:3*i+3]).(digital.LowShelf))
			}
			rms, status = e, r.Status
		}
	}
	return best, rms, status, nil
}

func (f *fit) residuals(sections []digital.Tunable) func(r []float64, jac *mat.Dense, x []float64) {
	n := len(f.weight)
	out, slope := make([]float64, n), make([]float64, n*3*len(sections))
	stride := 3 * len(sections)
	return func(r []float64, jac *mat.Dense, x []float64) {
		digital.LogMagnitudeTo(out, slope, stride, sections, x, f.grid, f.goal.SampleRate)
		for p, t := range f.target {
			for k, w := range f.weight {
				row := p*n + k
				r[row] = w * (t[k] + out[k])
				for c := range stride {
					jac.Set(row, c, w*slope[k*stride+c])
				}
			}
		}
	}
}
