package identify

import (
	"math"
	"testing"
)

// Upper critical values of the F distribution at 5 % and 1 % (NIST/SEMATECH e-Handbook
// of Statistical Methods, table 1.3.6.7.3).
func TestSignificance(t *testing.T) {
	for _, c := range []struct {
		d1, d2   int
		f, level float64
	}{
		{1, 10, 4.965, 0.05}, {2, 20, 3.493, 0.05}, {3, 60, 2.758, 0.05}, {1, 10, 10.044, 0.01}, {2, 20, 5.849, 0.01},
	} {
		const p1 = 7
		p2 := p1 + c.d1
		s2 := 3.0
		s1 := s2 * (1 + c.f*float64(c.d1)/float64(c.d2))
		if p := significance(s1, s2, p1, p2, p2+c.d2); math.Abs(p/c.level-1) > 0.001 {
			t.Errorf("F(%d, %d) of %g has %.5g, want %g", c.d1, c.d2, c.f, p, c.level)
		}
	}
	if p := significance(2, 3, 1, 2, 100); p != 1 {
		t.Errorf("a richer model that fits worse has %g, want 1", p)
	}
}
