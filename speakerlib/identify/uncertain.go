package identify

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// aux are the uncertain values beside the fit.
type aux struct {
	absolute, sd, runIn float64 // relative changes of mass or volume, area, compliance
	kelvin              float64 // change of the temperature, K
}

// accuracy is the stated one of a setup's mass or volume, and whether it tells
// absolute parameters.
func accuracy(s Setup) (float64, bool) {
	switch v := s.(type) {
	case AddedMass:
		return v.Accuracy, true
	case ClosedBox:
		return v.Accuracy, true
	case VentedBox:
		return v.Accuracy, v.Volume > 0
	}
	return 0, false
}

// stated is an uncertainty that a person stated, and what a relative change, or one
// in kelvin, of that value does.
type stated struct {
	sigma float64
	by    func(v float64) aux
}

// statedErrors lists those above 0 that bear on a result.
func statedErrors(source int, ms []Measurement, set *Settings) []stated {
	var list []stated
	add := func(sigma float64, by func(v float64) aux) {
		if sigma > 0 {
			list = append(list, stated{sigma, by})
		}
	}
	if source >= 0 {
		share, _ := accuracy(ms[source].Setup)
		add(share, func(v float64) aux { return aux{absolute: v} })
	}
	add(set.SdAccuracy, func(v float64) aux { return aux{sd: v} })
	add(ms[0].RunIn, func(v float64) aux { return aux{runIn: v} })
	if ms[0].Kelvin > 0 {
		add(ms[0].KelvinError, func(v float64) aux { return aux{kelvin: v} })
	}
	return list
}

// uncertain returns the parameters with their errors, and their correlation.
func (s *solved) uncertain(cov *mat.SymDense, source int, ms []Measurement, set *Settings) ([]Parameter, *mat.SymDense) {
	base := s.derive(s.X, aux{}, source, ms, set)
	n := len(base)
	// Central differences of what is smooth and cheap: within 1e-8.
	slope := func(hi, lo []Parameter, step float64) []float64 {
		d := make([]float64, n)
		for i := range d {
			d[i] = (hi[i].Value - lo[i].Value) / (2 * step)
		}
		return d
	}
	jac := mat.NewDense(n, s.n, nil)
	x := append([]float64(nil), s.X...)
	for j := range s.n {
		if cov.At(j, j) == 0 {
			continue
		}
		h := 1e-5 * max(1e-3, math.Abs(x[j]))
		x[j] = s.X[j] + h
		hi := s.derive(x, aux{}, source, ms, set)
		x[j] = s.X[j] - h
		lo := s.derive(x, aux{}, source, ms, set)
		x[j] = s.X[j]
		if len(hi) == n && len(lo) == n {
			jac.SetCol(j, slope(hi, lo, h))
		}
	}
	var half, full mat.Dense
	half.Mul(jac, cov)
	full.Mul(&half, jac.T())
	for _, u := range statedErrors(source, ms, set) {
		const h = 1e-4
		d := slope(s.derive(s.X, u.by(h), source, ms, set), s.derive(s.X, u.by(-h), source, ms, set), h)
		for i := range d {
			for k := range d {
				full.Set(i, k, full.At(i, k)+u.sigma*u.sigma*d[i]*d[k])
			}
		}
	}
	s.spread(base, func(w float64, d []float64) {
		for i := range d {
			for k := range d {
				full.Set(i, k, full.At(i, k)+w*d[i]*d[k])
			}
		}
	}, source, ms, set)
	cor := mat.NewSymDense(n, nil)
	for i := range base {
		base[i].Error = math.Sqrt(max(full.At(i, i), 0))
	}
	for i := range base {
		for k := range i + 1 {
			if e := base[i].Error * base[k].Error; e > 0 {
				cor.SetSym(i, k, max(-1, min(1, full.At(i, k)/e)))
			}
		}
	}
	return base, cor
}
