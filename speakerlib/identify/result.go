package identify

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/lsq"
	"example.org/loudspeaker/speakerlib/si"
	"gonum.org/v1/gonum/mat"
)

// Symbol names a parameter as the trade prints it. Those of the coil are the names
// of its fields.
type Symbol string

// The symbols of a result, in SI units.
const (
	Re    Symbol = "Re"    // resistance at direct current at the time of the first curve, Ω
	Re20  Symbol = "Re20"  // the same at 20 °C, Ω; if the coil's temperature is known
	Fs    Symbol = "Fs"    // resonance, Hz
	Qms   Symbol = "Qms"   // mechanical quality factor at Fs, the loss of the creep included
	Qes   Symbol = "Qes"   // electrical quality factor at Fs, with Re
	Qts   Symbol = "Qts"   // total quality factor at Fs
	Decay Symbol = "creep" // λ: growth of the compliance a decade downward; if there is creep
	Mms   Symbol = "Mms"   // moving mass with the air load, kg
	Bl    Symbol = "Bl"    // force factor, N/A
	Cms   Symbol = "Cms"   // compliance at Fs, m/N
	Rms   Symbol = "Rms"   // mechanical resistance at Fs, the loss of the creep included, kg/s
	Vas   Symbol = "Vas"   // volume of air with the compliance at Fs, m³; if Sd and air are known
	Ratio Symbol = "α"     // Vas/Vb of the box
	Fb    Symbol = "fb"    // tuning of the vented box, Hz
	Load  Symbol = "ΔMms"  // what a box adds to the moving mass of free air, over Mms
	QL    Symbol = "QL"    // leak of the vented box at fb; of a closed box at its resonance
)

// Parameter is a value with its standard uncertainty: about 95 % of true values lie
// within two of them.
type Parameter struct {
	Symbol Symbol
	Unit   string
	Value  float64
	Error  float64 // standard uncertainty, in the same unit
}

// String says both.
func (p Parameter) String() string {
	return strings.TrimSpace(fmt.Sprintf("%s = %.5g ± %.2g %s", p.Symbol, p.Value, p.Error, p.Unit))
}

// Result is an identified driver.
type Result struct {
	Parameters []Parameter
	// Correlation of the parameters, in their order, within ±1; 0 where one of
	// them has no uncertainty.
	Correlation *mat.SymDense

	Coil       driver.Coil // with the fitted values
	Suspension Suspension
	Candidates []Candidate

	// Fitted is the model's impedance of each curve, and Residual the relative
	// misfit |Z_model − Z|/|Z| over frequency.
	Fitted   []freq.Response
	Residual []freq.Curve
	// RMS is √(Σ|ΔZ/Z|²/ν), the misfit of the real and imaginary parts.
	RMS float64
	// Drift is Re of each curve over that of the first, less 1.
	Drift []Parameter
	// Condition is that of the Jacobian with its columns scaled to 1: from about
	// 1e6 on, some parameters cannot be told apart.
	Condition float64
	Warnings  []Warning

	known knowledge
}

// Value returns a parameter, and whether the measurements tell it.
func (r *Result) Value(s Symbol) (Parameter, bool) {
	for _, p := range r.Parameters {
		if p.Symbol == s {
			return p, true
		}
	}
	return Parameter{}, false
}

// Driver returns the driver with its absolute parameters, at the temperature of
// the first curve. It is an error if no added mass and no box of known volume was
// measured, or Sd is not known. With creep it has a driver.LogCreep whose F0 is Fs,
// and its Cms and Rms are those beside it: driver.Params.At(Fs) gives those of the
// result.
func (r *Result) Driver() (driver.Params, error) {
	return driverOf(r.Parameters, r.Coil, r.known.set.Sd)
}

// driverOf puts parameters, a coil and an area together.
func driverOf(list []Parameter, coil driver.Coil, sd float64) (driver.Params, error) {
	p := driver.Params{Sd: sd, Coil: coil}
	var fs, lambda float64
	dst := map[Symbol]*float64{Re: &p.Re, Bl: &p.Bl, Mms: &p.Mms, Cms: &p.Cms, Rms: &p.Rms, Fs: &fs, Decay: &lambda}
	for _, v := range list {
		if at, ok := dst[v.Symbol]; ok {
			*at = v.Value
		}
	}
	if p.Mms == 0 {
		return p, fmt.Errorf("identify: Mms is not known, want a curve with an added mass or in a box of known volume")
	}
	if sd == 0 {
		return p, fmt.Errorf("identify: Sd is not known, want it in the settings")
	}
	if lambda > 0 {
		l := lambda * creepLoss
		p.Suspension = driver.LogCreep{Lambda: lambda, F0: fs}
		p.Rms -= l * 2 * math.Pi * fs * p.Mms
		p.Cms /= 1 + l*l
	}
	return p, p.Validate()
}

// derive returns the parameters that follow from x and changes of what is stated.
// source is the index of the curve that gives the absolute scale, or −1.
func (s *solved) derive(x []float64, a aux, source int, ms []Measurement, set *Settings) []Parameter {
	var out []Parameter
	add := func(sym Symbol, unit string, v float64) {
		out = append(out, Parameter{Symbol: sym, Unit: unit, Value: v})
	}
	re, z0, lambda := math.Exp(x[0]), math.Exp(x[s.fs+1]), 0.0
	if s.creep {
		lambda = x[s.lambda]
	}
	loss := x[s.fs+2] + creepLoss*lambda
	soft := math.Sqrt(1 + a.runIn) // a softer suspension: Fs, 1/Qms and 1/Qes change by its root
	fs := math.Exp(x[s.fs]) / soft
	w := 2 * math.Pi * fs
	qms, qes := 1/loss/soft, re/z0/soft
	add(Re, "Ω", re)
	if ms[0].Kelvin > 0 {
		k, _ := set.Wire.Coefficient() // checked before
		add(Re20, "Ω", re/(1+k*(ms[0].Kelvin+a.kelvin-(si.ZeroCelsius+20))))
	}
	add(Fs, "Hz", fs)
	add(Qms, "", qms)
	add(Qes, "", qes)
	add(Qts, "", qms*qes/(qms+qes))
	if s.creep {
		add(Decay, "", lambda)
	}
	if source >= 0 {
		var m float64
		c := s.curves[source]
		switch v := c.setup.(type) {
		case AddedMass:
			m = v.Mass * (1 + a.absolute) / math.Exp(x[c.load])
		default:
			vb, _ := boxVolume(v)
			sd := set.Sd * (1 + a.sd)
			cms := math.Exp(x[c.load]) * vb * (1 + a.absolute) / (set.Air.Stiffness() * sd * sd)
			w := w * soft // before run-in
			m = 1 / (w * w * cms)
		}
		cms := 1 / (w * w * m)
		add(Mms, "kg", m)
		add(Bl, "N/A", math.Sqrt(w*m*re/qes))
		add(Cms, "m/N", cms)
		add(Rms, "kg/s", w*m/qms)
		if sd := set.Sd * (1 + a.sd); sd > 0 && set.Air.Validate() == nil {
			add(Vas, "m³", set.Air.Stiffness()*sd*sd*cms)
		}
	}
	for _, c := range s.curves {
		switch c.setup.(type) {
		case ClosedBox:
			// fc² is fs²·(1 + α): the softness leaves fs²·α alone.
			add(Ratio, "", math.Exp(x[c.load])*soft*soft)
			if s.X[c.load+1] > 0 {
				add(QL, "", fs*math.Sqrt(1+math.Exp(x[c.load])*soft*soft)/x[c.load+1])
			}
		case VentedBox:
			fb := math.Exp(x[c.load+1])
			add(Ratio, "", math.Exp(x[c.load])*soft*soft)
			add(Fb, "Hz", fb)
			if s.X[c.load+2] > 0 {
				add(QL, "", fb/x[c.load+2])
			}
		}
		if c.air >= 0 {
			add(Load, "", x[c.air])
		}
	}
	k := s.coil.Parameters()
	coil := sorted(s.coil.With(x[s.theta : s.theta+k]))
	theta := coil.ThetaTo(nil)
	for i, name := range coil.Names() {
		symbol := strings.TrimPrefix(name, "ln ")
		add(Symbol(symbol), coilUnit(symbol), math.Exp(theta[i]))
	}
	return out
}

func coilUnit(symbol string) string {
	switch symbol[0] {
	case 'L':
		return "H"
	case 'R':
		return "Ω"
	case 'K':
		if symbol == "Ke" {
			return "Ω·s^½"
		}
		return "Ω·sⁿ"
	}
	return ""
}

// boxVolume is the volume of a box, 0 if not known, and whether it is a box.
func boxVolume(s Setup) (float64, bool) {
	switch v := s.(type) {
	case ClosedBox:
		return v.Volume, true
	case VentedBox:
		return v.Volume, true
	}
	return 0, false
}

func newResult(s, alone *solved, list []Candidate, ms []Measurement, set *Settings) (*Result, error) {
	if g := s.curves[0].grid; s.Bounds[s.fs] != lsq.Free {
		return nil, fmt.Errorf("identify: %q: the resonance is not told from %.4g to %.4g Hz (the search ended on its bound, %.4g Hz), want it inside the band", s.curves[0].label, g.First(), g.Last(), math.Exp(s.X[s.fs]))
	}
	cov, err := s.covariance()
	if err != nil {
		return nil, fmt.Errorf("identify: %q with %s: %w", s.curves[0].label, CoilName(s.coil), err)
	}
	r := &Result{Coil: s.fittedCoil(), Suspension: s.suspension(), Candidates: list, Condition: s.Condition}
	if r.RMS, err = s.Deviation(); err != nil {
		return nil, fmt.Errorf("identify: %q: %w", s.curves[0].label, err)
	}
	// The absolute scale is that of the setup that tells it best.
	source, least := -1, math.Inf(1)
	scales := map[int]Parameter{}
	for i, m := range ms {
		if _, ok := accuracy(m.Setup); !ok {
			continue
		}
		p, _ := s.uncertain(cov, i, ms, set)
		for _, v := range p {
			if v.Symbol == Mms {
				scales[i] = v
				if v.Error < least {
					source, least = i, v.Error
				}
			}
		}
	}
	r.Parameters, r.Correlation = s.uncertain(cov, source, ms, set)
	r.known = knowledge{s, cov, source, ms, *set}
	for _, p := range r.Parameters {
		if v := p.Value + p.Error; math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("identify: %q: %s is %g ± %g, want finite values: the curves are not those of a driver in the setups stated", s.curves[0].label, p.Symbol, p.Value, p.Error)
		}
	}
	if f, bad := r.scale(set); bad && f.impossible {
		return nil, fmt.Errorf("identify: with %v %s, which is impossible: %s", ms[source].Setup, f.had, f.cause(ms[source].Setup, set.Sd))
	}
	for i := range s.curves {
		d := Parameter{Symbol: "Re", Value: math.Exp(s.X[i]-s.X[0]) - 1}
		if i > 0 {
			d.Error = math.Sqrt(max(cov.At(i, i)+cov.At(0, 0)-2*cov.At(0, i), 0))
		}
		r.Drift = append(r.Drift, d)
	}
	row := 0
	for i, c := range s.curves {
		z, e := make([]complex128, len(c.z)), make([]float64, len(c.z))
		for k := range c.z {
			d := complex(s.Residuals[row], s.Residuals[row+1])
			e[k] = cmplx.Abs(d)
			z[k] = c.z[k] + d/complex(c.weight[k], 0)
			row += 2
		}
		basis := ms[i].Impedance.Basis()
		fitted, err := freq.NewResponse(c.grid, z, c.label+", model", basis)
		if err != nil {
			return nil, err
		}
		residual, err := freq.NewCurve(c.grid, e, c.label+", misfit", "1", freq.Basis{})
		if err != nil {
			return nil, err
		}
		r.Fitted, r.Residual = append(r.Fitted, fitted), append(r.Residual, residual)
	}
	r.Warnings = s.warnings(r, alone, scales, source, ms, set)
	return r, nil
}
