package identify

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A first-order autoregressive sequence has the autocorrelation decay^k and the
// autocorrelation time (1+decay)/(1−decay) (G. E. P. Box and G. M. Jenkins, Time Series
// Analysis, 1976, section 3.2; from memory); noise beside it keeps the decay and takes
// a share; noise alone has neither.
func TestRemembers(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 7))
	for _, c := range []struct{ decay, share float64 }{{0, 0}, {0.5, 1}, {0.8, 1}, {0.8, 0.5}, {0.9, 0.3}} {
		const n = 400000
		r := make([]float64, 2*n)
		var state [2]float64
		for i := range r {
			s := &state[i%2]
			*s = c.decay**s + math.Sqrt(1-c.decay*c.decay)*random.NormFloat64()
			r[i] = math.Sqrt(c.share)**s + math.Sqrt(1-c.share)*random.NormFloat64()
		}
		m := remembers(r)
		if c.share == 0 {
			if m.time() > 1.1 {
				t.Errorf("noise has an autocorrelation time of %.3g, want 1", m.time())
			}
			continue
		}
		want := 1 + 2*c.share*c.decay/(1-c.decay)
		if math.Abs(m.decay-c.decay) > 0.03 || math.Abs(m.share-c.share) > 0.05 || math.Abs(m.time()/want-1) > 0.1 {
			t.Errorf("%+v is found as decay %.3g, share %.3g, time %.3g, want time %.3g", c, m.decay, m.share, m.time(), want)
		}
	}
}
