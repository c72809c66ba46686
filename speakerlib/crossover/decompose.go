package crossover

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"gonum.org/v1/gonum/mat"
)

// Decomposed is a loudspeaker as chains of its ways.
type Decomposed struct {
	Chains   []freq.Response // of each way, from the input to its terminals, dimensionless; on the grid only
	Residual freq.Curve      // what the sum of the ways leaves of the whole, rms over the directions, re the whole, dB
}

// Decompose finds what a dividing network that nobody can look into does to each of
// its ways, from sound alone: of the whole P and the ways S at their terminals, both
// measured in the same directions d and with one time zero, the chains A that minimise
//
//	Σ_d |P_d − Σ_k A_k·S_kd|² + ε²·Σ_k |A_k|²·Σ_d |S_kd|²
//
// at every frequency. A network does the same in all directions, the ways do not, and
// that tells them apart: where the wavelength is long against the ways' distance they
// are one source, and it is their sum that is found, shared by ε = 1e-3, not the parts.
// So the chains serve to compute the whole elsewhere, at another distance for example
// ([Stack]); for the network itself measure voltages. It takes at least as many
// directions as ways, better twice as many, and drivers that are linear.
//
// ways lie by way and then by direction, in the order of whole.
func Decompose(ways [][]freq.Response, whole []freq.Response) (*Decomposed, error) {
	n, m := len(ways), len(whole)
	if n == 0 || m < n {
		return nil, fmt.Errorf("crossover: %d ways in %d directions, want at least one way and as many directions as ways", n, m)
	}
	g := whole[0].Grid()
	for d, p := range whole {
		for k, w := range ways {
			if len(w) != m {
				return nil, fmt.Errorf("crossover: way %d has %d directions, want %d as the whole", k, len(w), m)
			}
			b, want := w[d].Basis(), p.Basis()
			b.Per, want.Per = freq.Absolute, freq.Absolute
			if b != want || !w[d].Grid().Equal(g) || !p.Grid().Equal(g) {
				return nil, fmt.Errorf("crossover: %q is %v on %v and %q is %v on %v, want one kind of pressure on %v", w[d].Label(), w[d].Basis(), w[d].Grid(), p.Label(), p.Basis(), p.Grid(), g)
			}
		}
	}
	chains := make([][]complex128, n)
	for k := range chains {
		chains[k] = make([]complex128, g.Len())
	}
	left := make([]float64, g.Len())
	const epsilon = 1e-3
	// The normal equations of columns scaled to 1, as twice as many real ones.
	a, b, x := mat.NewDense(2*n, 2*n, nil), mat.NewVecDense(2*n, nil), mat.NewVecDense(2*n, nil)
	norm := make([]float64, n)
	for f := range left {
		for k, w := range ways {
			norm[k] = 0
			for _, r := range w {
				norm[k] += real(r.At(f))*real(r.At(f)) + imag(r.At(f))*imag(r.At(f))
			}
			if norm[k] = math.Sqrt(norm[k]); norm[k] == 0 {
				return nil, fmt.Errorf("crossover: way %d is silent in all directions at %g Hz", k, g.At(f))
			}
		}
		for k := range n {
			var rhs complex128
			for d, p := range whole {
				rhs += cmplx.Conj(ways[k][d].At(f)) * p.At(f)
			}
			rhs /= complex(norm[k], 0)
			b.SetVec(2*k, real(rhs))
			b.SetVec(2*k+1, imag(rhs))
			for l := range n {
				var z complex128
				for d := range whole {
					z += cmplx.Conj(ways[k][d].At(f)) * ways[l][d].At(f)
				}
				z /= complex(norm[k]*norm[l], 0)
				if k == l {
					z += epsilon * epsilon
				}
				a.Set(2*k, 2*l, real(z))
				a.Set(2*k, 2*l+1, -imag(z))
				a.Set(2*k+1, 2*l, imag(z))
				a.Set(2*k+1, 2*l+1, real(z))
			}
		}
		if err := x.SolveVec(a, b); err != nil {
			return nil, fmt.Errorf("crossover: ways at %g Hz: %w", g.At(f), err)
		}
		for k := range n {
			chains[k][f] = complex(x.AtVec(2*k), x.AtVec(2*k+1)) / complex(norm[k], 0)
		}
		var rest, all float64
		for d, p := range whole {
			z := p.At(f)
			all += real(z)*real(z) + imag(z)*imag(z)
			for k := range n {
				z -= chains[k][f] * ways[k][d].At(f)
			}
			rest += real(z)*real(z) + imag(z)*imag(z)
		}
		if all == 0 {
			return nil, fmt.Errorf("crossover: the whole is silent in all directions at %g Hz", g.At(f))
		}
		left[f] = math.Sqrt(rest / all)
	}
	out := &Decomposed{}
	for k, c := range chains {
		r, err := freq.NewResponse(g, c, "chain of "+ways[k][0].Label(), freq.Basis{})
		if err != nil {
			return nil, fmt.Errorf("crossover: %w", err)
		}
		out.Chains = append(out.Chains, r)
	}
	r, err := freq.NewCurve(g, left, "residual of the ways", "1", freq.Basis{})
	if err != nil {
		return nil, fmt.Errorf("crossover: %w", err)
	}
	out.Residual = r.DB(1).As("residual of the ways")
	return out, nil
}
