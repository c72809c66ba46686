package room

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
)

// Modes and images are two writings of one field: with the same damping δ for every mode, the
// sum of modes is the sum of all images, e^{−(jω+δ)r/c}/r (Allen and Berkley 1979 derive the
// one from the other for a rigid room). The images are counted here anew, to where they have
// died away; what the modes leave out is the rest above the last.
func TestModesAreImages(t *testing.T) {
	const delta, c, reach = 60., 343., 95.
	w := &Walls{Length: 5.1, Width: 4.3, Height: 2.6, Air: air.Medium{Density: 1.2, SpeedOfSound: c}}
	for k := range w.Surfaces {
		w.Surfaces[k] = Rigid{}
	}
	s, r := Point{0.7, 1.1, 0.9}, Point{3.3, 2.4, 1.2}
	g, err := freq.LogGrid(20, 160, 4)
	if err != nil {
		t.Fatal(err)
	}
	images := make([]complex128, g.Len())
	for a := -10; a <= 10; a++ {
		for b := -12; b <= 12; b++ {
			for d := -20; d <= 20; d++ {
				for side := range 8 {
					x, y, z := s.X, s.Y, s.Z
					if side&1 > 0 {
						x = -x
					}
					if side&2 > 0 {
						y = -y
					}
					if side&4 > 0 {
						z = -z
					}
					l := math.Sqrt(sq(x+2*float64(a)*5.1-r.X) + sq(y+2*float64(b)*4.3-r.Y) + sq(z+2*float64(d)*2.6-r.Z))
					if l > reach {
						continue
					}
					for i, omega := range g.Omega() {
						images[i] += cmplx.Rect(math.Exp(-delta*l/c)/l, -omega*l/c)
					}
				}
			}
		}
	}
	for _, e := range []struct{ to, within float64 }{{400, 0.01}, {1600, 0.0015}} {
		q, err := w.Couplings(s, r, e.to)
		if err != nil {
			t.Fatal(err)
		}
		for i := range q {
			q[i].Damping = delta
		}
		modes := (&ModalField{q, *w}).ResponseTo(nil, g)
		var worst float64
		for i := range modes {
			worst = max(worst, cmplx.Abs(modes[i]-images[i]))
		}
		if worst > e.within {
			t.Errorf("modes up to %g Hz are off by %.4f of the sound at 1 m, want at most %g", e.to, worst, e.within)
		}
	}
}
