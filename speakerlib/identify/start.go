package identify

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
)

// A peak is a resonance as a curve shows it.
type peak struct {
	at    int     // index
	hz    float64 // of the largest real part
	most  float64 // the largest real part, Ω
	above float64 // how far it stands above the higher of its flanks, Ω
}

// peakShare is the share of its height by which a peak stands out at least: what does
// by less is noise (common practice, no source).
const peakShare = 0.01

// peaks returns the local maxima of the real part by how far they stand above the
// higher of the two minima between them and a higher maximum or the end of the
// curve, the most prominent first.
func (c *curve) peaks() []peak {
	re := make([]float64, len(c.z))
	for i := range c.z { // mean of three against noise
		var n float64
		for k := max(i-1, 0); k <= min(i+1, len(c.z)-1); k++ {
			re[i] += real(c.z[k])
			n++
		}
		re[i] /= n
	}
	var all []peak
	for i := 1; i+1 < len(re); i++ {
		if !(re[i] >= re[i-1] && re[i] > re[i+1]) {
			continue
		}
		left, right := re[i], re[i]
		for k := i - 1; k >= 0 && re[k] <= re[i]; k-- {
			left = min(left, re[k])
		}
		for k := i + 1; k < len(re) && re[k] <= re[i]; k++ {
			right = min(right, re[k])
		}
		all = append(all, peak{i, c.grid.At(i), real(c.z[i]), re[i] - max(left, right)})
	}
	slices.SortFunc(all, func(a, b peak) int {
		if a.above > b.above {
			return -1
		}
		return 1
	})
	return all
}

// lowest returns the smallest real part above 0: the first idea of Re.
func (c *curve) lowest() float64 {
	least := math.Inf(1)
	for _, z := range c.z {
		if real(z) > 0 {
			least = min(least, real(z))
		}
	}
	return least
}

// crossing returns the frequency at which |Z| falls through a value on the way
// from a peak in a direction, or 0.
func (c *curve) crossing(from, step int, value float64) float64 {
	for i := from; i+step >= 0 && i+step < len(c.z); i += step {
		a, b := cmplx.Abs(c.z[i]), cmplx.Abs(c.z[i+step])
		if a >= value && b < value {
			t := (a - value) / (a - b)
			return math.Exp(c.lnHz[i] + t*(c.lnHz[i+step]-c.lnHz[i]))
		}
	}
	return 0
}

// resonance is what the curve of a driver in free air shows by itself.
type resonance struct{ re, fs, qms, res float64 }

// resonance reads the curve with the points at √(Zmax·Re): with r₀ = Zmax/Re,
// Qms = Fs·√r₀/(f₂ − f₁). re is the resistance if it is known, else 0.
func (c *curve) resonance(re float64) (resonance, error) {
	p := c.peaks()
	if len(p) == 0 {
		return resonance{}, fmt.Errorf("identify: %q has no resonance from %.4g to %.4g Hz, want the peak inside the band", c.label, c.grid.First(), c.grid.Last())
	}
	if re == 0 {
		re = c.lowest()
	}
	if math.IsInf(re, 1) {
		return resonance{}, fmt.Errorf("identify: %q has no positive real part, want that of a passive load", c.label)
	}
	r := resonance{re: re, fs: p[0].hz}
	most := max(cmplx.Abs(c.z[p[0].at]), 1.01*re)
	r.res = most - re
	v := math.Sqrt(most * re)
	f1, f2 := c.crossing(p[0].at, -1, v), c.crossing(p[0].at, 1, v)
	switch {
	case f1 == 0 && f2 == 0:
		r.qms = 2
	case f1 == 0:
		f1 = r.fs * r.fs / f2
	case f2 == 0:
		f2 = r.fs * r.fs / f1
	}
	if f2 > f1 {
		r.qms = r.fs / (f2 - f1) * math.Sqrt(most/re)
	}
	return r, nil
}

// coilAlone fits the coil of a model to what is left of curve 0 without the motion,
// above its resonance.
func (m *model) coilAlone(x []float64) {
	c := m.curves[0]
	above := 2 * math.Exp(x[m.fs])
	if _, vented := c.setup.(VentedBox); vented {
		above *= 1.5 // above the upper of the two resonances
	}
	re, fs, z0, g := math.Exp(x[0]), math.Exp(x[m.fs]), math.Exp(x[m.fs+1]), x[m.fs+2]
	var w, weight []float64
	var z []complex128
	for i, v := range c.z {
		if f := c.grid.At(i); f > above {
			phi := f / fs
			w, weight = append(w, c.grid.Omega()[i]), append(weight, c.weight[i])
			z = append(z, v-complex(re, 0)-complex(z0, 0)/complex(g, phi-1/phi))
		}
	}
	if len(w) < 4 { // the band ends at the resonance: any coil will do
		w, weight, z = c.grid.Omega(), c.weight, make([]complex128, len(c.z))
		for i := range z {
			z[i] = complex(0, w[i]*1e-5)
		}
	}
	copy(x[m.theta:], coilStart(m.coil, w, z, weight))
}

// start returns the parameters to begin with, from the curves alone.
func (m *model) start(re float64) ([]float64, error) {
	x := make([]float64, m.n)
	if _, vented := m.curves[0].setup.(VentedBox); vented {
		return x, m.startVented(x, re)
	}
	r, err := m.curves[0].resonance(re)
	if err != nil {
		return nil, err
	}
	for i := range m.curves {
		x[i] = math.Log(r.re)
	}
	x[m.fs], x[m.fs+1], x[m.fs+2] = math.Log(r.fs), math.Log(r.res/r.qms), 1/r.qms
	if m.creep {
		x[m.lambda] = 0.02
		x[m.fs+2] = max(x[m.fs+2]-creepLoss*0.02, 0)
	}
	m.coilAlone(x)
	for _, c := range m.curves[1:] {
		if err := c.startLoad(x, r.fs); err != nil {
			return nil, err
		}
	}
	m.clip(x)
	return x, nil
}

// startVented is start for a curve of a vented box alone. The Qms of its driver
// cannot be read off it; any usual one is near enough.
func (m *model) startVented(x []float64, re float64) error {
	c := m.curves[0]
	t, err := c.vented()
	if err != nil {
		return err
	}
	if re == 0 {
		re = c.lowest()
	}
	const qms = 4
	x[0] = math.Log(re)
	x[m.fs] = math.Log(t.fl * t.fh / t.fb)
	x[m.fs+1] = math.Log(max(c.peaks()[0].most-re, 0.1*re) / qms)
	x[m.fs+2] = 1.0 / qms
	if m.creep {
		x[m.lambda] = 0.02
	}
	m.coilAlone(x)
	if err := c.startLoad(x, math.Exp(x[m.fs])); err != nil {
		return err
	}
	m.clip(x)
	return nil
}

// startLoad reads the parameters of a setup from where its peaks are.
func (c *curve) startLoad(x []float64, fs float64) error {
	if c.air >= 0 {
		x[c.air] = 0
	}
	p := c.peaks()
	switch c.setup.(type) {
	case FreeAir:
		return nil
	case AddedMass:
		if len(p) == 0 {
			return fmt.Errorf("identify: %q has no resonance from %.4g to %.4g Hz, want the peak inside the band", c.label, c.grid.First(), c.grid.Last())
		}
		x[c.load] = math.Log(max(fs*fs/(p[0].hz*p[0].hz)-1, 0.01))
	case ClosedBox:
		if len(p) == 0 {
			return fmt.Errorf("identify: %q has no resonance from %.4g to %.4g Hz, want the peak inside the band", c.label, c.grid.First(), c.grid.Last())
		}
		x[c.load] = math.Log(max(p[0].hz*p[0].hz/(fs*fs)-1, 0.01))
		x[c.load+1] = 0.01 * p[0].hz
	case VentedBox:
		t, err := c.vented()
		if err != nil {
			return err
		}
		x[c.load], x[c.load+1], x[c.load+2] = math.Log(t.alpha(t.fb)), math.Log(t.fb), t.fb/10
	}
	return nil
}

// clip brings a start within the bounds.
func (m *model) clip(x []float64) {
	for i := range x {
		x[i] = min(max(x[i], m.lo[i]), m.hi[i])
	}
}

// three are the frequencies that the impedance of a vented box shows: the peaks
// below and above, and the minimum between.
type three struct{ fl, fb, fh float64 }

// alpha is Vas/Vb of the three frequencies without losses (R. H. Small,
// "Vented-Box Loudspeaker Systems, Part IV", J. Audio Eng. Soc. 21, 1973; from
// memory, equation number not checked):
//
//	α = (fH² − fb²)·(fb² − fL²)/(fH²·fL²),  fs = fL·fH/fb
func (t three) alpha(fb float64) float64 {
	a, b, h := t.fl*t.fl, fb*fb, t.fh*t.fh
	return max((h-b)*(b-a)/(h*a), 0.02)
}

func (c *curve) vented() (three, error) {
	p := slices.DeleteFunc(c.peaks(), func(p peak) bool { return p.above < peakShare*p.most })
	if len(p) < 2 {
		return three{}, fmt.Errorf("identify: %q has %d peak, want the two of a vented box inside the band", c.label, len(p))
	}
	lo, hi := p[0].at, p[1].at
	if lo > hi {
		lo, hi = hi, lo
	}
	best := lo
	for i := lo; i <= hi; i++ {
		if real(c.z[i]) < real(c.z[best]) {
			best = i
		}
	}
	return three{c.grid.At(lo), c.grid.At(best), c.grid.At(hi)}, nil
}
