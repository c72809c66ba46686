package largesignal

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/driver"
)

// saturation is the current over the flux: with the inductance Le(x,i) = L(x)·g(i),
// g(0) = 1, the flux λ = L(x)·g(i)·i makes j = λ/L(x) = g(i)·i, and i = j·γ(j). The
// polynomial is γ, so that current, stored energy and force follow from j without
// iteration. Beyond the measured range γ is held.
type saturation struct {
	c, d, e  poly       // γ, its slope, and ∫ i dj over j²
	from, to float64    // of j
	stored   [2]float64 // ∫ i dj from 0 to each end
	known    bool
}

// newSaturation fits γ to Le(i).
func newSaturation(c *driver.Characteristic, degree int) (s saturation, f Fit, err error) {
	from, to := c.Range()
	f = Fit{Name: "Le(i)", From: from, To: to, Order: degree}
	i, l := c.Points(samples)
	rest, _ := c.At(0)
	f.Rest = rest
	j, gamma := make([]float64, samples), make([]float64, samples)
	for k := range i {
		j[k], gamma[k] = i[k]*l[k]/rest, rest/l[k]
		if k > 0 && !(j[k] > j[k-1]) {
			return s, f, fmt.Errorf("largesignal: by Le(i) the flux falls while the current rises past %g A, want a rising flux", i[k])
		}
	}
	if s.c, err = leastSquares(j, gamma, degree); err != nil {
		return s, f, fmt.Errorf("largesignal: Le(i): %w", err)
	}
	s.c = s.c.scaled(1 / s.c[0])
	s.d = s.c.derivative()
	for k := range s.e {
		s.e[k] = s.c[k] / float64(k+2)
	}
	for k := range j {
		f.Misfit = max(f.Misfit, math.Abs(s.c.at(j[k])-gamma[k]))
	}
	s.from, s.to, s.known = j[0], j[samples-1], true
	s.stored = [2]float64{s.from * s.from * s.e.at(s.from), s.to * s.to * s.e.at(s.to)}
	for k := range samples {
		if x := s.from + (s.to-s.from)*float64(k)/(samples-1); !(s.slope(x) > 0) {
			return s, f, fmt.Errorf("largesignal: Le(i) as a polynomial of order %d has a current that does not rise with the flux, want a smoother table", degree)
		}
	}
	return s, f, nil
}

// at returns i(j) and di/dj.
func (s *saturation) at(j float64) (current, slope float64) {
	if !s.known {
		return j, 1
	}
	if j < s.from || j > s.to {
		held := s.c.at(s.to)
		if j < s.from {
			held = s.c.at(s.from)
		}
		return j * held, held
	}
	c := s.c.at(j)
	return j * c, c + j*s.d.at(j)
}

// current returns i(j).
func (s *saturation) current(j float64) float64 {
	i, _ := s.at(j)
	return i
}

// slope returns di/dj.
func (s *saturation) slope(j float64) float64 {
	_, d := s.at(j)
	return d
}

// energy returns ∫ i dj from 0 to j: the stored energy over L(x).
func (s *saturation) energy(j float64) float64 {
	switch {
	case !s.known:
		return j * j / 2
	case j < s.from:
		return s.stored[0] + s.c.at(s.from)*(j*j-s.from*s.from)/2
	case j > s.to:
		return s.stored[1] + s.c.at(s.to)*(j*j-s.to*s.to)/2
	}
	return j * j * s.e.at(j)
}

// flux returns the j of a current.
func (s *saturation) flux(i float64) float64 {
	j, _ := s.solve(i, i, 0, 1)
	return j
}

// solve returns j and i of l·j + b·i(j) = a, from j on, by Newton's method. It ends with
// a step so short that what is left, its square, is 1e-12.
func (s *saturation) solve(j, a, l, b float64) (flux, current float64) {
	for range 50 {
		i, slope := s.at(j)
		step := (l*j + b*i - a) / (l + b*slope)
		j -= step
		if math.Abs(step) <= 1e-6*math.Abs(j) {
			return j, i - slope*step
		}
	}
	return j, s.current(j)
}
