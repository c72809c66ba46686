package identify

import (
	"fmt"
	"math"
)

// What separates a resonance that is where its setup puts it from one that is not.
const (
	higher = 0.005 // relative: a mass cannot raise a resonance; this is for noise and heat
	// A closed box adds stiffness, and its baffle mass: at most the load of one more side
	// of a disk, 8/3·ρ·a³, which is below a fifth of Mms of any driver that is worth a
	// box (common practice, no source) and lowers a resonance by less than a tenth.
	lower = 0.1
	// A mass that lowers a resonance five times is 24 times Mms: nobody hangs that on a
	// cone, and a driver with such a resonance is another one (common practice, no source).
	deepest = 5
	// Where the search for a resonance did not end, the peak of the curve counts, and only
	// a difference that no heat or noise makes (common practice, no source).
	peakOnly = 1.5
	// Curves of two sweeps differ by their noise, which is far above this.
	same = 1e-9
)

// roles checks that each curve is where its setup puts it beside the first, in free
// air. Added mass lowers the resonance, a closed box raises it, and a vented box has
// one peak below and one above it (fL < fs < fH; R. H. Small, "Vented-Box Loudspeaker
// Systems, Part IV", J. Audio Eng. Soc. 21, 1973, from memory). chosen is the fit of
// the first curve.
func (s *solved) roles(curves []*curve) error {
	first := curves[0]
	for i, c := range curves {
		for _, b := range curves[:i] {
			if c.equals(b) {
				return fmt.Errorf("identify: %q (%v) and %q (%v) hold the same numbers, want two sweeps: is it one file twice?", b.label, b.setup, c.label, c.setup)
			}
		}
	}
	fs := math.Exp(s.X[s.fs])
	for _, c := range curves[1:] {
		switch c.setup.(type) {
		case AddedMass:
			f, ok, err := s.alone(c)
			if err != nil {
				return err
			}
			if f > fs*(1+higher) && (ok || f > fs*peakOnly) {
				return fmt.Errorf("identify: the curve with the mass has the higher resonance (%q at %.4g Hz, %q in free air at %.4g Hz), and a mass lowers it: are the files swapped, or of two drivers?", c.label, f, first.label, fs)
			}
			if ok && f < fs/deepest {
				return fmt.Errorf("identify: the curve with the mass has a resonance %.3g times lower (%q at %.4g Hz, %q in free air at %.4g Hz), want at most %d times: are they of two drivers?", fs/f, c.label, f, first.label, fs, deepest)
			}
		case ClosedBox:
			f, ok, err := s.alone(c)
			if err != nil {
				return err
			}
			if f < fs*(1-lower) && (ok || f < fs/peakOnly) {
				return fmt.Errorf("identify: the curve in the closed box has the lower resonance (%q at %.4g Hz, %q in free air at %.4g Hz), and the air of a box raises it: are the files swapped, or of two drivers?", c.label, f, first.label, fs)
			}
		case VentedBox:
			t, err := c.vented()
			if err != nil {
				continue // startLoad reports it
			}
			if t.fh < fs*(1-lower) || t.fl > fs*(1+higher) {
				return fmt.Errorf("identify: the peaks of the vented box (%q at %.4g and %.4g Hz) lie on one side of the resonance in free air (%q at %.4g Hz), want one on each: are the files swapped, or of two drivers?", c.label, t.fl, t.fh, first.label, fs)
			}
		}
	}
	return nil
}

// alone is the resonance of another curve by itself, as if in free air, and whether a
// fit of it ended at one; if not, it is the peak of the curve. The coil is that of the first curve. It is an error if nothing
// stands out of the curve within its band.
func (s *solved) alone(c *curve) (hz float64, ok bool, err error) {
	d := *c
	d.setup = FreeAir{}
	if p := d.peaks(); len(p) == 0 || p[0].above < peakShare*p[0].most {
		return 0, false, fmt.Errorf("identify: %q has no resonance from %.4g to %.4g Hz, want the peak inside the band: is it a curve of another driver?", c.label, c.grid.First(), c.grid.Last())
	}
	m := newModel(s.coil, s.suspension(), []*curve{&d})
	r, err := d.resonance(math.Exp(s.X[0]))
	if err != nil {
		return 0, false, err
	}
	x := append([]float64(nil), s.X[:m.n]...)
	x[m.fs], x[m.fs+1], x[m.fs+2] = math.Log(r.fs), math.Log(r.res/r.qms), 1/r.qms
	f, err := m.solve(x, rough, usual)
	if err != nil {
		return 0, false, err
	}
	if !f.settled() {
		return r.fs, false, nil
	}
	return math.Exp(f.X[m.fs]), true, nil
}

// equals reports whether two curves hold the same numbers where they have the same
// frequencies, at 30 or more.
func (c *curve) equals(b *curve) bool {
	n := 0
	for i, k := 0, 0; i < len(c.z) && k < len(b.z); {
		switch d := c.lnHz[i] - b.lnHz[k]; {
		case d > same:
			k++
		case d < -same:
			i++
		default:
			e := (c.z[i] - b.z[k]) * complex(c.weight[i], 0)
			if math.Hypot(real(e), imag(e)) > same {
				return false
			}
			n++
			i++
			k++
		}
	}
	return n >= 30
}
