package identify

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/driver"
	"gonum.org/v1/gonum/mat"
)

// knowledge is what a result keeps to carry its uncertainty on.
type knowledge struct {
	fit    *solved
	cov    *mat.SymDense // of the fitted parameters
	source int           // index of the curve of the absolute scale, or −1
	ms     []Measurement
	set    Settings
}

// Propagated is a figure that was computed from an identified driver.
type Propagated struct {
	Value float64 // of the driver of the result
	Error float64 // its standard uncertainty, to first order
	// Bias is what the mean of the figure is off its value to second order. Where it
	// is no longer small beside Error, the first order is not enough.
	Bias float64
}

// Propagate returns a figure of the identified driver and its standard uncertainty.
// It is [Result.PropagateAll] of one figure.
func (r *Result) Propagate(f func(driver.Params) (float64, error)) (value, sigma float64, err error) {
	all, err := r.PropagateAll(func(p driver.Params) ([]float64, error) {
		v, err := f(p)
		return []float64{v}, err
	})
	if err != nil {
		return 0, 0, err
	}
	return all[0].Value, all[0].Error, nil
}

// PropagateAll carries the joint uncertainty of the identified driver into figures
// that are computed from it: that of the fit, with all its correlations, and those
// stated of mass, volume, area and run-in. f returns as many figures at each call; it
// is called 2n+1 times, n being the number of fitted parameters that are not held by a
// bound and of stated uncertainties, and once for every other model that is nearly as
// good as the chosen one ([Candidate].Weight of 0.01 and more); it must not keep state. The driver is that of
// [Result.Driver], and there must be one.
//
// The variance is Σ((f₊ − f₋)/2)² over the principal axes of the correlation of the
// fit, and over each stated value, f± being the figure one standard deviation to
// either side (the law of propagation, JCGM 100:2008, eq. 13, with the sensitivities
// of note 2 to 5.1.3, along axes that are independent). Where a bound is nearer, the
// step is as long as it allows and the slope is scaled.
//
// That is the first order: exact for a figure that is linear over the width of the
// uncertainty. It is not enough for a figure at an extreme (the lowest of a ripple), for
// one that jumps (a −3 dB frequency where the response touches −3 dB twice), or for a
// large uncertainty (Vas with Sd to 10 %): see Bias, which is ½·Σ(f₊ − 2f + f₋). It is
// also no better than the errors of the result: what the warnings say of them holds for
// the figures too.
func (r *Result) PropagateAll(f func(driver.Params) ([]float64, error)) ([]Propagated, error) {
	k := &r.known
	if k.fit == nil {
		return nil, fmt.Errorf("identify: the result is none of a fit, want one of Fit")
	}
	n := -1
	of := func(s *solved, x []float64, a aux) ([]float64, error) {
		coil := sorted(s.coil.With(x[s.theta : s.theta+s.coil.Parameters()]))
		p, err := driverOf(s.derive(x, a, k.source, k.ms, &k.set), coil, k.set.Sd*(1+a.sd))
		if err != nil {
			return nil, err
		}
		v, err := f(p)
		if err != nil {
			return nil, fmt.Errorf("identify: a figure of the driver with Mms %.4g g, Fs %.4g Hz: %w", 1e3*p.Mms, p.Fs(), err)
		}
		if n >= 0 && len(v) != n {
			return nil, fmt.Errorf("identify: %d figures of one driver and %d of another, want as many", n, len(v))
		}
		for i, y := range v {
			if math.IsNaN(y) || math.IsInf(y, 0) {
				return nil, fmt.Errorf("identify: figure %d is %g, want a finite value", i, y)
			}
		}
		return v, nil
	}
	at := func(x []float64, a aux) ([]float64, error) { return of(k.fit, x, a) }
	mid, err := at(k.fit.X, aux{})
	if err != nil {
		return nil, err
	}
	mid = append([]float64(nil), mid...)
	n = len(mid)
	out := make([]Propagated, n)
	for i, v := range mid {
		out[i].Value = v
	}
	// hi and lo are t standard deviations to either side.
	add := func(hi, lo []float64, t float64) {
		for i := range out {
			out[i].Error = math.Hypot(out[i].Error, (hi[i]-lo[i])/(2*t))
			out[i].Bias += (hi[i] - 2*mid[i] + lo[i]) / (2 * t * t)
		}
	}
	axes, err := k.axes()
	if err != nil {
		return nil, err
	}
	x := make([]float64, len(k.fit.X))
	for _, axis := range axes {
		t := k.fit.room(axis)
		sides := [2][]float64{}
		for i, sign := range []float64{t, -t} {
			for j := range x {
				x[j] = k.fit.X[j] + sign*axis[j]
			}
			v, err := at(x, aux{})
			if err != nil {
				return nil, err
			}
			sides[i] = append(sides[i], v...)
		}
		add(sides[0], sides[1], t)
	}
	for _, u := range statedErrors(k.source, k.ms, &k.set) {
		hi, err := at(k.fit.X, u.by(u.sigma))
		if err != nil {
			return nil, err
		}
		hi = append([]float64(nil), hi...)
		lo, err := at(k.fit.X, u.by(-u.sigma))
		if err != nil {
			return nil, err
		}
		add(hi, lo, 1)
	}
	for _, rival := range k.fit.rivals {
		v, err := of(rival.fit, rival.fit.X, aux{})
		if err != nil {
			return nil, err
		}
		for i := range out {
			out[i].Error = math.Hypot(out[i].Error, math.Sqrt(rival.weight)*(v[i]-mid[i]))
		}
	}
	return out, nil
}

// axes are independent changes of the fitted parameters, each one standard deviation
// long, whose outer products sum to the covariance: the principal axes of the
// correlation, in the units of the parameters.
func (k *knowledge) axes() ([][]float64, error) {
	var free []int
	var sigma []float64
	for j := range k.fit.X {
		if v := k.cov.At(j, j); v > 0 {
			free, sigma = append(free, j), append(sigma, math.Sqrt(v))
		}
	}
	if len(free) == 0 {
		return nil, nil
	}
	cor := mat.NewSymDense(len(free), nil)
	for a, i := range free {
		for b, j := range free[:a+1] {
			cor.SetSym(a, b, k.cov.At(i, j)/(sigma[a]*sigma[b]))
		}
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(cor, true) {
		return nil, fmt.Errorf("identify: the correlation of the fit has no principal axes: condition %.2g", k.fit.Condition)
	}
	var vectors mat.Dense
	eigen.VectorsTo(&vectors)
	var axes [][]float64
	for c, value := range eigen.Values(nil) {
		if value <= 0 { // rounding
			continue
		}
		axis := make([]float64, len(k.fit.X))
		for a, j := range free {
			axis[j] = math.Sqrt(value) * sigma[a] * vectors.At(a, c)
		}
		axes = append(axes, axis)
	}
	return axes, nil
}

// room is the largest share of a change, at most 1, that stays within the bounds on
// both sides.
func (s *solved) room(axis []float64) float64 {
	t := 1.0
	for j, d := range axis {
		if d = math.Abs(d); d > 0 {
			t = min(t, (s.hi[j]-s.X[j])/d, (s.X[j]-s.lo[j])/d)
		}
	}
	return max(t, 1e-6)
}
