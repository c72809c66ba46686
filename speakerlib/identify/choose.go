package identify

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/lsq"
)

// Candidate is a model that was tried on the first curve. One whose coil has a corner
// R/L of its losses below the band is never chosen: that is a resistance of which
// nobody can tell how much is Re.
type Candidate struct {
	Coil       driver.Coil // with its fitted values
	Suspension Suspension
	Parameters int     // free ones, that of the noise not counted
	RMS        float64 // of the relative residual: √(Σ|ΔZ/Z|²/2N)
	AICc       float64 // less that of the best candidate
	// Weight is Akaike's, of all candidates 1 together: how far each has a say in the
	// errors. Residuals that hang together count as fewer.
	Weight float64
	// Significance is the probability, by the F-test of nested models, that noise alone
	// would make the model win by as much over the richest that it contains of those
	// tried: from some per cent on, what it has more is not needed. Nil: it contains none.
	Significance *float64
	Chosen       bool
	Stopped      lsq.Status
	// Settled is whether the search ended at a minimum, or so near to one that what is
	// left to go is below a thousandth of the standard errors. A model with an element
	// too many has no minimum, but a valley on which that element goes to nothing.
	Settled bool
	// Undetermined are the parameters of the coil that the curve does not tell: to a
	// factor of e, or they ended on a bound.
	Undetermined []Symbol
}

// decisive is how much a model must win in AICc over one with fewer parameters to
// be preferred to it. At 6 the better one is e³ = 20 times as likely (K. P. Burnham
// and D. R. Anderson, Model Selection and Multimodel Inference, 2002, call
// differences of 4 to 7 considerable).
const decisive = 6

// contender is how far in AICc a model may lie behind the best and still come to decide
// once its search has ended.
const contender = 40

// aicc is the corrected Akaike criterion of a least-squares fit with n residuals
// and k parameters, that of the noise included: n·ln(Σr²/n) + 2k + 2k(k+1)/(n−k−1).
func aicc(sum float64, n, k int) float64 { return criterion(sum/float64(n), float64(n), k) }

// exact is the misfit below which models count as equally good, relative: a computed
// curve has no noise, and what a search leaves of 1e-9 or 1e-12 tells no model from
// another.
const exact = 1e-6

// criterion is that of n residuals with a mean square.
func criterion(mean, n float64, k int) float64 {
	p := float64(k + 1)
	return n*math.Log(math.Max(mean, exact*exact)) + 2*p + 2*p*(p+1)/math.Max(n-p-1, 1)
}

// choose tries the models on the first curve. All coils are tried with the richest
// suspension, and then the coil that was chosen with the other one: the two show at
// opposite ends of the band.
func choose(first *curve, set *Settings) (*solved, []rival, []Candidate, error) {
	kinds := set.Coils
	if kinds == nil {
		kinds = coils()
	}
	suspensions := set.Suspensions
	if suspensions == nil {
		suspensions = []Suspension{Constant, Creep}
	}
	richest := Constant
	for _, s := range suspensions {
		if s != Constant && s != Creep {
			return nil, nil, nil, fmt.Errorf("identify: suspension %d is not known, want Constant or Creep", int(s))
		}
		richest = max(richest, s)
	}
	var tried []*solved
	var motion []float64 // of the best coil so far, to begin the next with
	best := math.Inf(1)
	try := func(coil driver.TunableCoil, s Suspension) error {
		m := newModel(coil, s, []*curve{first})
		x, err := m.start(set.Re)
		if err != nil {
			return err
		}
		if motion != nil {
			copy(x[m.fs:m.fs+3], motion)
			m.clip(x)
			m.coilAlone(x)
		}
		f, err := m.solve(x, rough, usual)
		if err != nil {
			return err
		}
		// Also from what a simpler model found: the richer ones have valleys beside the
		// one that is the deepest.
		for _, s := range tried {
			if s.creep != m.creep {
				continue
			}
			for _, theta := range widened(s.fittedCoil(), coil, first.grid.Omega()[first.grid.Len()-1]) {
				y := append(append([]float64(nil), s.X[:s.theta]...), theta...)
				y = append(y, s.X[s.theta+s.coil.Parameters():]...)
				again, err := m.solve(y, rough, usual)
				if err != nil {
					return err
				}
				if again.SumSquares < f.SumSquares {
					f = again
				}
			}
		}
		tried = append(tried, f)
		const close = 0.05 // rms: near enough for its motion to be a start
		if f.SumSquares < best && f.SumSquares < close*close*float64(len(f.Residuals)) {
			best, motion = f.SumSquares, f.X[m.fs:m.fs+3]
		}
		return nil
	}
	for _, c := range kinds {
		if err := try(c, richest); err != nil {
			return nil, nil, nil, err
		}
	}
	// A search that ended on the way goes on if it may still decide.
	settle := func() error {
		least := math.Inf(1)
		for _, f := range tried {
			least = min(least, f.ic)
		}
		for i, f := range tried {
			if f.ic > least+contender || f.settled() {
				continue
			}
			more, err := f.model.solve(f.X, rough, patient)
			if err != nil {
				return err
			}
			tried[i] = more
		}
		return nil
	}
	if err := settle(); err != nil {
		return nil, nil, nil, err
	}
	chosen := simplest(tried)
	if len(suspensions) > 1 && richest == Creep {
		at, with := len(tried), slices.Index(tried, chosen)
		// Without creep the loss that it had is the motion's own.
		m := newModel(chosen.coil, Constant, []*curve{first})
		x := slices.Delete(slices.Clone(chosen.X), chosen.lambda, chosen.lambda+1)
		x[m.fs+2] += creepLoss * chosen.X[chosen.lambda]
		f, err := m.solve(x, rough, usual)
		if err != nil {
			return nil, nil, nil, err
		}
		tried = append(tried, f)
		if err := settle(); err != nil {
			return nil, nil, nil, err
		}
		chosen = simplest([]*solved{tried[with], tried[at]})
	}
	least := math.Inf(1)
	for _, f := range tried {
		least = min(least, f.ic)
	}
	var list []Candidate
	var rivals []rival
	w := weights(tried, chosen)
	for i, f := range tried {
		if f != chosen && w[i] >= negligible {
			rivals = append(rivals, rival{f, w[i]})
		}
		c := Candidate{
			Coil: f.fittedCoil(), Suspension: f.suspension(), Parameters: f.n,
			RMS: math.Sqrt(f.SumSquares / float64(len(f.Residuals))), AICc: f.ic - least, Weight: w[i],
			Chosen: f == chosen, Stopped: f.Status, Settled: f.settled(), Undetermined: f.untold(),
		}
		if p, ok := f.against(tried); ok {
			c.Significance = &p
		}
		list = append(list, c)
	}
	return chosen, rivals, list, nil
}

// simplest is the model with the fewest parameters that none with more beats
// decisively; of as many parameters, the one with the lower criterion. A coil that is
// slow has no say, unless all are.
func simplest(tried []*solved) *solved {
	if quick := slices.DeleteFunc(slices.Clone(tried), (*solved).slow); len(quick) > 0 {
		tried = quick
	}
	least := math.Inf(1)
	for _, f := range tried {
		least = min(least, f.ic)
	}
	var best *solved
	for _, f := range tried {
		if f.ic > least+decisive {
			continue
		}
		if best == nil || f.n < best.n || f.n == best.n && f.ic < best.ic {
			best = f
		}
	}
	return best
}
