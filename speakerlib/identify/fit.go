package identify

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/lsq"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
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

// criterion is that of n residuals with a mean square.
func criterion(mean, n float64, k int) float64 {
	p := float64(k + 1)
	return n*math.Log(mean) + 2*p + 2*p*(p+1)/math.Max(n-p-1, 1)
}

// solved is a model with its fit.
type solved struct {
	*model
	*lsq.Result
	ic     float64
	rivals []rival
}

// offset is the relative offset of D. M. Bates and D. G. Watts, Nonlinear Regression
// Analysis and Its Applications, 1988, section 2.2.3 (from memory): what a
// Gauss-Newton step would still move, in units of the standard errors of the estimate,
//
//	(|Q₁ᵀr|/√p) / (|Q₂ᵀr|/√(n−p))
//
// with Q₁ a basis of the columns of the Jacobian. They say that below 0.001 nothing
// is left that an inference would notice.
func (s *solved) offset() float64 {
	n := len(s.Residuals)
	r, jac := make([]float64, n), mat.NewDense(n, s.n, nil)
	s.evaluate(r, jac, s.X)
	var free []int
	for j, b := range s.Bounds {
		if b == lsq.Free {
			free = append(free, j)
		}
	}
	if len(free) == 0 || len(free) >= n {
		return 0
	}
	// Modified Gram-Schmidt; a column that hangs on the others adds nothing.
	var basis [][]float64
	var along float64
	for _, j := range free {
		q := mat.Col(nil, j, jac)
		scale := floats.Norm(q, 2)
		for _, b := range basis {
			floats.AddScaled(q, -floats.Dot(b, q), b)
		}
		norm := floats.Norm(q, 2)
		if !(norm > 1e-9*scale) {
			continue
		}
		floats.Scale(1/norm, q)
		basis = append(basis, q)
		a := floats.Dot(q, r)
		along += a * a
	}
	rest := max(s.SumSquares-along, 0)
	if rest == 0 {
		return 0
	}
	return math.Sqrt(along / float64(len(free)) / (rest / float64(n-len(free))))
}

// settled reports whether the search ended where nothing is left to gain.
func (s *solved) settled() bool { return s.Status.Converged() || s.offset() < settledOffset }

const settledOffset = 1e-3

// untold are the parameters of the coil that are not told by the fit.
func (s *solved) untold() []Symbol {
	var list []Symbol
	errors, err := s.StandardErrors()
	for k := range s.coil.Parameters() {
		j := s.theta + k
		if err != nil || s.Bounds[j] != lsq.Free || errors[j] > 1 {
			list = append(list, Symbol(strings.TrimPrefix(s.names[j], "ln ")))
		}
	}
	return list
}

// rough is the cosine between residual and Jacobian at which a candidate is compared:
// what is left to gain is far below what decides. fine is that of the result.
const (
	rough = 1e-5
	fine  = 1e-8
)

// usual is how many steps a search may take, and patient how many where it decides.
const (
	usual   = 60
	patient = 400
)

func (m *model) solve(x []float64, cosine float64, steps int) (*solved, error) {
	m.clip(x)
	r, err := lsq.Minimize(lsq.Problem{Residuals: m.residuals(), Func: m.evaluate, Lower: m.lo, Upper: m.hi}, x,
		&lsq.Settings{Gradient: cosine, Step: 1e-9, Reduction: 1e-12, Iterations: steps})
	if err != nil {
		return nil, fmt.Errorf("identify: %q with %s: %w", m.curves[0].label, CoilName(m.coil), err)
	}
	return &solved{model: m, Result: r, ic: aicc(r.SumSquares, len(r.Residuals), m.n)}, nil
}

// fittedCoil is the coil with the parameters found.
func (s *solved) fittedCoil() driver.TunableCoil {
	return sorted(s.coil.With(s.X[s.theta : s.theta+s.coil.Parameters()]))
}

// sorted puts the two branches of a coil that has two in order.
func sorted(c driver.TunableCoil) driver.TunableCoil {
	if two, ok := c.(driver.TwoLadders); ok {
		return two.Sorted()
	}
	return c
}

func (s *solved) slow() bool { return slow(s.fittedCoil(), s.curves[0].grid.Omega()[0]) }

func (s *solved) suspension() Suspension {
	if s.creep {
		return Creep
	}
	return Constant
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

// Fit identifies a driver from its impedance in free air and, for the absolute
// parameters, with an added mass or in a box, all curves at once. The first
// measurement is that in free air; all are of one sample.
//
// It minimises Σ|Z_model − Z|²/|Z|² over all points of all curves: noise
// proportional to the impedance counts alike everywhere, and so does every point,
// so that a grid with as many points in each octave weighs octaves alike. Resonance,
// losses, creep and coil are shared; Re is one of each curve, because a coil warms.
// No start is asked for. The model is
//
//	Z = Re + Zcoil + Bl²/(Rms + jωMms + 1/(jωCms(jω)) + Sd²/Yb)
//
// with 1/Yb = 0 in the open, Yb = jωVb/ρc² + 1/Ral in a closed box, and 1/(jωMap)
// more in a vented one. The coil is the simplest of the settings' which no other
// beats by more than 6 in the corrected Akaike criterion, tried on the first curve;
// so is the suspension: constant, or with Cms ∝ 1 − λ·log₁₀(jf/Fs) (M. Knudsen and
// J. Jensen, J. Audio Eng. Soc. 41, 1993; from memory).
//
// Mms is that of the free-air curve, air load included. A box and its baffle change
// that load, by a share of Mms that is fitted with the box.
//
// The standard errors follow from the covariance of the fit, scaled by what is
// left of the residual, and from the stated uncertainties of mass, volume, area
// and run-in. Residuals that hang together from point to point count as fewer (the
// sandwich covariance of a first-order autoregressive misfit beside noise), and what
// other models that are nearly as good say otherwise is added, by Akaike's weights.
// They hold if the residual is noise, and nearly so if it is a random function of
// frequency. They do not hold for what a wrong model does to a value in the whole
// band: see the warnings.
//
// Curves that are not where their setups put them are refused, and so is a moving mass
// that is below that of the air it carries: the files are swapped, or a unit is wrong.
func Fit(ms []Measurement, set *Settings) (*Result, error) {
	if len(ms) == 0 {
		return nil, fmt.Errorf("identify: no measurement, want one in free air")
	}
	if _, ok := ms[0].Setup.(FreeAir); !ok && ms[0].Setup != nil {
		return nil, fmt.Errorf("identify: the first measurement is %q (%v), want one in free air", ms[0].Impedance.Label(), ms[0].Setup)
	}
	return fit(ms, set)
}

func fit(ms []Measurement, set *Settings) (*Result, error) {
	if set == nil {
		set = &Settings{}
	}
	for _, m := range ms {
		if err := m.check(); err != nil {
			return nil, err
		}
	}
	if err := set.check(ms); err != nil {
		return nil, err
	}
	var curves []*curve
	for _, m := range ms {
		c, err := newCurve(m, set)
		if err != nil {
			return nil, err
		}
		curves = append(curves, c)
	}
	chosen, rivals, list, err := choose(curves[0], set)
	if err != nil {
		return nil, err
	}
	if chosen, err = chosen.model.solve(chosen.X, fine, patient); err != nil {
		return nil, err
	}
	if err := chosen.roles(curves); err != nil {
		return nil, err
	}
	final, err := chosen.joint(curves, set, fine, patient)
	if err != nil {
		return nil, err
	}
	for _, r := range rivals {
		if r.fit, err = r.fit.joint(curves, set, rough, usual); err != nil {
			return nil, err
		}
		final.rivals = append(final.rivals, r)
	}
	return newResult(final, chosen, list, ms, set)
}

// joint fits the model of the first curve to all of them, and to a resistance that was
// measured. If there is nothing more it is the fit that it was.
func (s *solved) joint(curves []*curve, set *Settings, cosine float64, steps int) (*solved, error) {
	if len(curves) == 1 && set.Re == 0 {
		return s, nil
	}
	m := newModel(s.coil, s.suspension(), curves)
	if set.Re > 0 {
		// As much weight as the resistance deserves beside the residual.
		deviation, err := s.Deviation()
		if err != nil {
			return nil, fmt.Errorf("identify: %q: %w", curves[0].label, err)
		}
		m.prior, m.resistance = deviation*set.Re/set.ReError, math.Log(set.Re)
	}
	x := make([]float64, m.n)
	for i := range curves {
		x[i] = s.X[0]
	}
	n := s.theta + s.coil.Parameters() - s.fs
	copy(x[m.fs:], s.X[s.fs:s.fs+n])
	for _, c := range m.curves {
		if err := c.startLoad(x, math.Exp(x[m.fs])); err != nil {
			return nil, err
		}
	}
	return m.solve(x, cosine, steps)
}

func (s *Settings) check(ms []Measurement) error {
	if s.Sd != 0 {
		if err := positive("Sd", "m²", s.Sd); err != nil {
			return err
		}
		if s.Sd > 1 {
			return fmt.Errorf("identify: Sd is %g m², want at most 1 m²: is it in cm²?", s.Sd)
		}
	}
	if err := share("accuracy of Sd", s.SdAccuracy); err != nil {
		return err
	}
	if s.Re != 0 || s.ReError != 0 {
		if err := positive("Re", "ohm", s.Re); err != nil {
			return err
		}
		if err := positive("uncertainty of Re", "ohm", s.ReError); err != nil {
			return err
		}
	}
	if _, err := s.Wire.Coefficient(); err != nil {
		return err
	}
	if err := s.Sheet.Validate(); err != nil {
		return fmt.Errorf("identify: sheet: %w", err)
	}
	for _, m := range ms {
		if vb, _ := boxVolume(m.Setup); vb > 0 {
			if s.Sd == 0 {
				return fmt.Errorf("identify: %v without Sd, want the effective area", m.Setup)
			}
			if err := s.Air.Validate(); err != nil {
				return fmt.Errorf("identify: %v: %w", m.Setup, err)
			}
		}
	}
	for _, c := range s.Coils {
		if c == nil {
			return fmt.Errorf("identify: a coil of the settings is nil, want a model")
		}
	}
	return nil
}
