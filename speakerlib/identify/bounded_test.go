package identify

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
)

// Where a bound is nearer than a standard deviation the step is shorter, and neither the
// slope nor the curvature is: Re has its error and a steep power of it its bias (Taylor), as
// without the bound.
func TestPropagateBesideABound(t *testing.T) {
	s := hanging(t)
	cov, err := s.covariance()
	if err != nil {
		t.Fatal(err)
	}
	set := Settings{Sd: 0.0138}
	ms := []Measurement{{Setup: FreeAir{}}, {Setup: AddedMass{Mass: 6e-3}}}
	r := &Result{known: knowledge{s, cov, 1, ms, set}}
	figures := func() (Propagated, Propagated) {
		t.Helper()
		all, err := r.PropagateAll(func(p driver.Params) ([]float64, error) { return []float64{p.Re, math.Pow(p.Re, 40)}, nil })
		if err != nil {
			t.Fatal(err)
		}
		return all[0], all[1]
	}
	far, steep := figures()
	sigma := math.Sqrt(cov.At(0, 0))
	s.hi[0] = s.X[0] + 0.2*sigma
	near, near40 := figures()
	if math.Abs(near.Error/far.Error-1) > 0.01 || math.Abs(far.Error/(sigma*far.Value)-1) > 0.01 {
		t.Errorf("Re ± %g beside a bound and ± %g without, want ± %g", near.Error, far.Error, sigma*far.Value)
	}
	// Re⁴⁰ = e^{40·ln Re} has half its second derivative times σ²: 800·σ².
	for _, v := range []Propagated{steep, near40} {
		if want := 800 * sigma * sigma * v.Value; math.Abs(v.Bias/want-1) > 0.05 {
			t.Errorf("Re⁴⁰ has a bias of %g, want %g", v.Bias, want)
		}
	}
}

// A rival without creep says that the creep is 0, and its other parameters count by what
// they differ.
func TestSpreadOfARivalWithoutCreep(t *testing.T) {
	plain := hanging(t)
	m := newModel(plain.coil, Creep, plain.curves)
	x := append(append(append([]float64(nil), plain.X[:m.lambda]...), 0.05), plain.X[m.lambda:]...)
	s, err := m.solve(x, rough, usual)
	if err != nil {
		t.Fatal(err)
	}
	s.X[m.lambda] = 0.07
	s.rivals = []rival{{plain, 0.3}}
	set, ms := &Settings{Sd: 0.0138}, []Measurement{{Setup: FreeAir{}}, {Setup: AddedMass{Mass: 6e-3}}}
	base, other := s.derive(s.X, aux{}, 1, ms, set), plain.derive(plain.X, aux{}, 1, ms, set)
	calls := 0
	s.spread(base, func(w float64, d []float64) {
		calls++
		if w != 0.3 {
			t.Errorf("weight %g, want 0.3", w)
		}
		for i, p := range base {
			want := -0.07
			for _, q := range other {
				if q.Symbol == p.Symbol {
					want = q.Value - p.Value
				}
			}
			if d[i] != want {
				t.Errorf("%s differs by %g, want %g", p.Symbol, d[i], want)
			}
		}
	}, 1, ms, set)
	if calls != 1 {
		t.Errorf("%d rivals, want 1", calls)
	}
}
