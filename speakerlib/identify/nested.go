package identify

import (
	"example.org/loudspeaker/speakerlib/driver"
	"gonum.org/v1/gonum/stat/distuv"
)

// contains reports whether a coil has another as its limit: an inductance is a
// semi-inductance of exponent 1, and a rung that goes to nothing leaves the rest.
func contains(c, simpler driver.Coil) bool {
	switch simpler.(type) {
	case driver.NoCoil:
		_, same := c.(driver.NoCoil)
		return !same
	case driver.Inductor:
		switch c.(type) {
		case driver.SemiInductance, driver.Ladder, driver.TwoLadders, driver.ShuntedSemiInductance:
			return true
		}
	case driver.Ladder:
		switch c.(type) {
		case driver.TwoLadders, driver.ShuntedSemiInductance:
			return true
		}
	}
	return false
}

// significance is the probability that a model with more parameters would win by as much
// or more over one that it contains if that one were true: the F-test of nested models,
//
//	F = ((S₁ − S₂)/(p₂ − p₁))/(S₂/(n − p₂))
//
// with the sums of squares S of n residuals (Bates and Watts 1988, section 3.10; from
// memory). It holds for noise, to first order, and is rough where the simpler model lies
// on a bound of the richer one.
func significance(s1, s2 float64, p1, p2, n int) float64 {
	if s2 <= 0 || s1 <= s2 || n <= p2 {
		return 1
	}
	f := (s1 - s2) / float64(p2-p1) / (s2 / float64(n-p2))
	return distuv.F{D1: float64(p2 - p1), D2: float64(n - p2)}.Survival(f)
}

// against returns the significance of a model over the one that it contains with the
// most parameters of those that were tried; of several, the better one. ok is false if
// there is none.
func (s *solved) against(tried []*solved) (p float64, ok bool) {
	var rival *solved
	for _, f := range tried {
		nested := f.creep == s.creep && contains(s.coil, f.coil) || s.creep && !f.creep && CoilName(s.coil) == CoilName(f.coil)
		if !nested || f.n >= s.n {
			continue
		}
		if rival == nil || f.n > rival.n || f.n == rival.n && f.SumSquares < rival.SumSquares {
			rival = f
		}
	}
	if rival == nil {
		return 0, false
	}
	return significance(rival.SumSquares, s.SumSquares, rival.n, s.n, len(s.Residuals)), true
}
