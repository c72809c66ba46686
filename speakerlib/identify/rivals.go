package identify

import "math"

// A rival is a model that is nearly as good as the chosen one, fitted to all curves.
type rival struct {
	fit    *solved
	weight float64 // Akaike's, of all that were tried
}

// negligible is the weight below which a model has no say.
const negligible = 0.01

// weights are those of K. P. Burnham and D. R. Anderson, Model Selection and Multimodel
// Inference, 2002, eq. 2.9 (from memory): wᵢ = exp(−Δᵢ/2)/Σ exp(−Δₖ/2), Δ being the
// difference in AICc to the best. Residuals of the chosen model that hang together
// count by their autocorrelation time, so that a misfit that all models share does not
// make one of them certain.
func weights(tried []*solved, chosen *solved) []float64 {
	independent := float64(len(chosen.Residuals)) / remembers(chosen.of(0)).time()
	w := make([]float64, len(tried))
	least := math.Inf(1)
	for i, f := range tried {
		mean := f.SumSquares / float64(len(f.Residuals))
		if w[i] = criterion(mean, independent, f.n); f != chosen && f.slow() {
			w[i] = math.Inf(1)
		}
		least = min(least, w[i])
	}
	var sum float64
	for i := range w {
		w[i] = math.Exp((least - w[i]) / 2)
		sum += w[i]
	}
	for i := range w {
		w[i] /= sum
	}
	return w
}

// spread adds to the covariance of parameters what rivals say of them otherwise,
//
//	Σ wᵢ·(θᵢ − θ)·(θᵢ − θ)ᵀ
//
// the part of the unconditional variance (Burnham and Anderson 2002, eq. 4.9 and the
// text there, from memory) that comes from not knowing the model, here about the value
// of the chosen one, which is the one that is stated. The elements of another coil are
// other things and say nothing; no creep is a creep of 0.
func (s *solved) spread(base []Parameter, add func(w float64, d []float64), source int, ms []Measurement, set *Settings) {
	coils := len(base) - s.coil.Parameters()
	for _, r := range s.rivals {
		other := map[Symbol][]float64{}
		list := r.fit.derive(r.fit.X, aux{}, source, ms, set)
		if CoilName(r.fit.coil) != CoilName(s.coil) {
			list = list[:len(list)-r.fit.coil.Parameters()]
		}
		for _, p := range list {
			other[p.Symbol] = append(other[p.Symbol], p.Value)
		}
		d := make([]float64, len(base))
		for i, p := range base {
			switch v := other[p.Symbol]; {
			case len(v) > 0 && (i < coils || CoilName(r.fit.coil) == CoilName(s.coil)):
				d[i], other[p.Symbol] = v[0]-p.Value, v[1:]
			case p.Symbol == Decay:
				d[i] = -p.Value
			}
		}
		add(r.weight, d)
	}
}
