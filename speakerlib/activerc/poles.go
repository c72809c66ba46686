package activerc

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Poles returns the finite poles of the circuit in rad/s, by ascending magnitude, the
// amplifiers' own among them: the s for which (G + s·C)·v = 0, with G and C the real matrices
// of the nodal equations. With σ at the middle of the poles they are s = σ + 1/μ, where μ are
// the eigenvalues of −(G + σC)⁻¹C, and those with μ = 0 are at infinity. Poles that lie
// 10⁹ times farther out than the nearest are taken for infinite; multiple poles (as a
// Linkwitz–Riley filter has in two stages, not in one) come out to about the root of rounding.
//
// A circuit with ideal amplifiers says nothing of stability: exchanging the inputs of an
// amplifier leaves its voltages as they are.
func (c *Circuit) Poles() ([]complex128, error) {
	n := len(c.nodes)
	g, cc := mat.NewDense(n, n, nil), mat.NewDense(n, n, nil)
	isOut := c.workspace().isOut
	add := func(m *mat.Dense, i, j int, v float64) {
		if i >= 0 && j >= 0 {
			m.Set(i, j, m.At(i, j)+v)
		}
	}
	sigma, count := 0.0, 0
	for _, s := range c.stamps {
		for _, e := range [][2]int{{s.a, s.b}, {s.b, s.a}} {
			if e[0] < 0 || isOut[e[0]] {
				continue
			}
			add(g, e[0], e[0], s.g)
			add(g, e[0], e[1], -s.g)
			add(cc, e[0], e[0], s.c)
			add(cc, e[0], e[1], -s.c)
		}
		if s.c > 0 {
			sigma += math.Log(s.c)
			count++
		}
	}
	for _, m := range c.amps {
		add(g, m.out, m.out, m.c0)
		add(cc, m.out, m.out, m.c1)
		add(g, m.out, m.plus, -1)
		add(g, m.out, m.minus, 1)
	}
	if count == 0 {
		return nil, nil
	}
	sigma = math.Exp(-sigma / float64(count)) // for conductances of the order of 1/unit
	var shifted, m mat.Dense
	shifted.Scale(sigma, cc)
	shifted.Add(&shifted, g)
	if err := m.Solve(&shifted, cc); err != nil {
		if _, condition := err.(mat.Condition); !condition {
			return nil, fmt.Errorf("activerc: poles: %w", err)
		}
	}
	var e mat.Eigen
	if !e.Factorize(&m, mat.EigenNone) {
		return nil, fmt.Errorf("activerc: poles: the eigenvalues did not converge")
	}
	mu := e.Values(nil)
	largest := 0.0
	for _, v := range mu {
		largest = max(largest, cmplx.Abs(v))
	}
	var poles []complex128
	for _, v := range mu {
		if cmplx.Abs(v) > 1e-9*largest {
			poles = append(poles, complex(sigma, 0)-1/v)
		}
	}
	slices.SortFunc(poles, func(a, b complex128) int {
		switch x, y := cmplx.Abs(a), cmplx.Abs(b); {
		case x < y*(1-1e-9):
			return -1
		case x > y*(1+1e-9):
			return 1
		}
		switch { // conjugates: the lower half-plane first
		case imag(a) < imag(b):
			return -1
		case imag(a) > imag(b):
			return 1
		}
		return 0
	})
	return poles, nil
}

// Stable reports the pole that lies farthest to the right, if that is not in the left
// half-plane. It speaks of amplifiers of one pole: a second one in the amplifier, or a
// capacitance at its output, makes it worse.
func (c *Circuit) Stable() error {
	p, err := c.Poles()
	if err != nil {
		return err
	}
	right := complex(math.Inf(-1), 0)
	for _, s := range p {
		if real(s) > real(right) {
			right = s
		}
	}
	if real(right) >= 0 {
		return fmt.Errorf("activerc: circuit is unstable: it has a pole at %.4g ± j%.4g Hz, want all of them left of 0",
			real(right)/(2*math.Pi), math.Abs(imag(right))/(2*math.Pi))
	}
	return nil
}
