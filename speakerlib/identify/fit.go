package identify

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/lsq"
)

// solved is a model with its fit.
type solved struct {
	*model
	*lsq.Result
	ic     float64
	rivals []rival
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
	steps := patient
	if len(curves) > 1 || set.Re > 0 {
		steps = usual // only to be compared with the fit of all
	}
	if chosen, err = chosen.model.solve(chosen.X, fine, steps); err != nil {
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
