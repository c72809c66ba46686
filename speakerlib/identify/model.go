package identify

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
	"gonum.org/v1/gonum/mat"
)

// Suspension is a model of the compliance.
type Suspension int

// The suspensions.
const (
	Constant Suspension = iota // a compliance that does not depend on frequency
	Creep                      // one that grows by λ a decade towards low frequencies
)

// String names the suspension.
func (s Suspension) String() string {
	switch s {
	case Constant:
		return "constant compliance"
	case Creep:
		return "logarithmic creep"
	}
	return fmt.Sprintf("Suspension(%d)", int(s))
}

// creepLoss is a = π/(2·ln 10): the creep compliance 1 − λ·log₁₀(jf/Fs) is
// 1 − jaλ at Fs.
const creepLoss = math.Pi / (2 * math.Ln10)

// A model is the impedance of one driver in several setups, with the parameters
//
//	ln Re of each curve, ln Fs, ln Z₀, g, λ if there is creep, θ of the coil,
//	then of each curve with an added mass m: ln m/Mms; in a box: ln p, ln fb if
//	it is vented, fl, and m/Mms of the air that it adds
//
// and, with φ = f/Fs,
//
//	Z = Re + Zcoil + Z₀/D
//	D = jφ·(1 + m/Mms) + s(φ)/(jφ) + g + p/(jφ·(1 − (fb/f)² + fl/(jf)))
//	s = (1 + (aλ)²)/(1 − λ·log₁₀(jφ)),  a = π/(2·ln 10)
//
// Z₀ is Bl²·√(Cms/Mms). s is the stiffness over its real part at Fs, which
// resonates there with Mms, and 1/Qms = g + aλ is the whole loss at Fs. p is
// Vas/Vb. fl is fb/QL of a vented box; of a closed one it is the corner
// frequency 1/(2π·Ral·Cab) of leak and volume.
type model struct {
	coil   driver.TunableCoil
	creep  bool
	curves []*curve

	fs, lambda, theta, n int // where the parameters are; lambda is −1 without creep
	names                []string
	lo, hi               []float64

	prior       float64 // weight of the resistance at direct current on curve 0; 0: none
	resistance  float64 // ln of it
	coilZ       []complex128
	coilSlopes  []complex128
	coilStrides int
}

// curve is one measured curve within the fitted band.
type curve struct {
	setup  Setup
	label  string
	grid   *freq.Grid
	z      []complex128
	weight []float64 // 1/|z|
	lnHz   []float64
	load   int // index of the first parameter of its setup
	air    int // index of what the box adds to the moving mass, or −1
}

func newCurve(m Measurement, s *Settings) (*curve, error) {
	g := m.Impedance.Grid()
	lo, hi := s.From, s.To
	if hi == 0 {
		hi = math.Inf(1)
	}
	if !(lo >= 0) || !(hi > lo) {
		return nil, fmt.Errorf("identify: band from %g to %g Hz, want 0 ≤ from < to", s.From, s.To)
	}
	i, j := g.Between(lo, hi)
	if j-i < 30 {
		return nil, fmt.Errorf("identify: %q has %d points in the band, want at least 30", m.Impedance.Label(), j-i)
	}
	hz := g.Hz()[i:j]
	band, err := freq.NewGrid(hz)
	if err != nil {
		return nil, err
	}
	c := &curve{setup: m.Setup, label: m.Impedance.Label(), grid: band, z: m.Impedance.Values()[i:j]}
	for k, z := range c.z {
		c.weight = append(c.weight, 1/math.Hypot(real(z), imag(z)))
		c.lnHz = append(c.lnHz, math.Log(hz[k]))
	}
	return c, nil
}

func newModel(coil driver.TunableCoil, s Suspension, curves []*curve) *model {
	m := &model{coil: coil, creep: s == Creep, lambda: -1}
	var largest int
	add := func(name string, lo, hi float64) {
		m.names, m.lo, m.hi = append(m.names, name), append(m.lo, lo), append(m.hi, hi)
	}
	inf := math.Inf(1)
	for _, c := range curves {
		d := *c
		m.curves = append(m.curves, &d)
		largest = max(largest, len(c.z))
		// The lowest real part has some of the coil's losses in it, but not half.
		low := -inf
		if re := c.lowest(); !math.IsInf(re, 1) {
			low = math.Log(re / 2)
		}
		add("ln Re", low, inf)
	}
	m.fs = len(m.names)
	// Wide, but so that a model that does not fit at all cannot run away.
	band := m.curves[0].grid
	add("ln Fs", math.Log(band.First()/4), math.Log(band.Last()*4))
	add("ln Z0", math.Log(1e-6), math.Log(1e6))
	add("loss", 1e-6, 20)
	if m.creep {
		m.lambda = len(m.names)
		add("creep", 0, 0.5)
	}
	m.theta = len(m.names)
	k := coil.Parameters()
	lo, hi := make([]float64, k), make([]float64, k)
	re := m.curves[0].lowest()
	if math.IsInf(re, 1) {
		re = 1 // no passive load: the start refuses it
	}
	w := band.Omega()
	coilBounds(coil, lo, hi, re, w[0], w[len(w)-1])
	for i, name := range coil.Names() {
		add(name, lo[i], hi[i])
	}
	for i, c := range m.curves {
		c.load = len(m.names)
		switch c.setup.(type) {
		case AddedMass:
			add("ln mass ratio", math.Log(1e-4), math.Log(1e4))
		case ClosedBox:
			add("ln Vas/Vb", math.Log(1e-4), math.Log(1e4))
			add("leak", 0, 100*band.Last())
		case VentedBox:
			add("ln Vas/Vb", math.Log(1e-4), math.Log(1e4))
			add("ln fb", math.Log(band.First()/4), math.Log(band.Last()))
			add("leak", 0, 100*band.Last())
		}
		// One curve alone cannot tell it from Mms.
		c.air = -1
		if _, box := boxVolume(c.setup); box && i > 0 {
			c.air = len(m.names)
			add("air mass", -0.3, 1)
		}
	}
	m.n = len(m.names)
	m.coilZ, m.coilStrides = make([]complex128, largest), max(k, 1)
	m.coilSlopes = make([]complex128, largest*m.coilStrides)
	return m
}

// residuals is the number of them.
func (m *model) residuals() int {
	n := 0
	for _, c := range m.curves {
		n += 2 * len(c.z)
	}
	if m.prior > 0 {
		n++
	}
	return n
}

// evaluate writes the residuals (Z_model − Z)/|Z|, real and imaginary parts one
// after another, and their derivatives.
func (m *model) evaluate(r []float64, jac *mat.Dense, x []float64) {
	raw := jac.RawMatrix()
	row := 0
	z0, g := math.Exp(x[m.fs+1]), x[m.fs+2]
	lambda := 0.0
	if m.creep {
		lambda = x[m.lambda]
	}
	slope := lambda / math.Ln10
	scale := 1 + creepLoss*creepLoss*lambda*lambda
	k := m.coil.Parameters()
	for ci, c := range m.curves {
		n := len(c.z)
		zc, dc := m.coilZ[:n], m.coilSlopes[:n*m.coilStrides]
		m.coil.ImpedanceJacobianTo(zc, dc, m.coilStrides, x[m.theta:m.theta+k], c.grid)
		re := math.Exp(x[ci])
		mass := 1.0
		_, massive := c.setup.(AddedMass)
		if massive {
			mass += math.Exp(x[c.load])
		}
		if c.air >= 0 {
			mass += x[c.air]
		}
		box, vented := false, false
		var p, fb, fl float64
		switch c.setup.(type) {
		case ClosedBox:
			box, p, fl = true, math.Exp(x[c.load]), x[c.load+1]
		case VentedBox:
			box, vented, p, fb, fl = true, true, math.Exp(x[c.load]), math.Exp(x[c.load+1]), x[c.load+2]
		}
		for i := range n {
			u := c.lnHz[i] - x[m.fs] // ln φ
			phi := math.Exp(u)
			s, ds := complex(1, 0), complex128(0) // s and ∂s/∂ln Fs
			var form, l complex128
			if m.creep {
				l = complex(u, math.Pi/2)
				form = 1 / (1 - complex(slope, 0)*l)
				s = complex(scale, 0) * form
				ds = -s * form * complex(slope, 0)
			}
			under := complex(0, -1/phi) // 1/(jφ)
			d := complex(g, phi*mass) + s*under
			dfs := complex(0, -phi*mass) + (s+ds)*under
			var load, b complex128
			if box {
				f := c.grid.At(i)
				ratio := fb / f
				b = complex(1-ratio*ratio, -fl/f)
				load = complex(p, 0) * under / b
				d += load
				dfs += load
			}
			inverse := 1 / d
			zm := complex(z0, 0) * inverse
			byD := -zm * inverse
			w := c.weight[i]
			z := complex(re, 0) + zc[i] + zm - c.z[i]
			r[row], r[row+1] = w*real(z), w*imag(z)
			top, low := raw.Data[row*raw.Stride:row*raw.Stride+m.n], raw.Data[(row+1)*raw.Stride:(row+1)*raw.Stride+m.n]
			clear(top)
			clear(low)
			put := func(j int, v complex128) { top[j], low[j] = w*real(v), w*imag(v) }
			put(ci, complex(re, 0))
			put(m.fs, byD*dfs)
			put(m.fs+1, zm)
			put(m.fs+2, byD)
			if m.creep {
				dl := complex(2*creepLoss*creepLoss*lambda, 0)*form + s*form*l*complex(1/math.Ln10, 0)
				put(m.lambda, byD*dl*under)
			}
			for j := range k {
				put(m.theta+j, dc[i*m.coilStrides+j])
			}
			if massive {
				put(c.load, byD*complex(0, phi*(mass-1)))
			}
			if c.air >= 0 {
				put(c.air, byD*complex(0, phi))
			}
			if box {
				put(c.load, byD*load)
				f := c.grid.At(i)
				byB := -byD * load / b
				last := c.load + 1
				if vented {
					put(last, byB*complex(-2*(fb/f)*(fb/f), 0))
					last++
				}
				put(last, byB*complex(0, -1/f))
			}
			row += 2
		}
	}
	if m.prior > 0 {
		r[row] = m.prior * (x[0] - m.resistance)
		line := raw.Data[row*raw.Stride : row*raw.Stride+m.n]
		clear(line)
		line[0] = m.prior
	}
}
