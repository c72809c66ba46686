package analog_test

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

func design(t *testing.T, b analog.Band, p analog.Prototype) *analog.Filter {
	t.Helper()
	f, err := analog.Design(b, p)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func grid(t *testing.T) *freq.Grid {
	t.Helper()
	g, err := freq.LogGrid(10, 40000, 12)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

var families = []analog.Prototype{
	analog.Butterworth(1), analog.Butterworth(2), analog.Butterworth(5), analog.Butterworth(12), analog.Butterworth(24),
	analog.LinkwitzRiley(2), analog.LinkwitzRiley(4), analog.LinkwitzRiley(6), analog.LinkwitzRiley(8), analog.LinkwitzRiley(24),
	analog.Bessel(2, analog.ByDelay), analog.Bessel(3, analog.ByPhase), analog.Bessel(8, analog.ByMagnitude), analog.Bessel(24, analog.ByMagnitude),
	analog.LinearPhase{Order: 7, Error: 8e-3}, analog.EquirippleDelay{Order: 16, Ripple: 1e-3},
}

// Three forms of one filter: the fast path, the sections, and zeros, poles, gain.
func TestFormsAgree(t *testing.T) {
	g := grid(t)
	for _, p := range families {
		for _, b := range []analog.Band{analog.Lowpass{Fc: 700}, analog.Highpass{Fc: 700}} {
			f := design(t, b, p)
			h := f.ResponseTo(nil, g)
			for i, w := range g.Omega() {
				s := complex(0, w)
				zpk := complex(f.Gain(), 0)
				for k, q := range f.Poles() {
					zpk /= s - q
					if z := f.Zeros(); len(z) > 0 {
						zpk *= s - z[k]
					}
				}
				sec := complex(1, 0)
				for _, q := range f.Sections() {
					num := complex(q.N2, 0)*s*s + complex(q.N1, 0)*s + complex(q.N0, 0)
					sec *= num / (complex(q.D2, 0)*s*s + complex(q.D1, 0)*s + complex(q.D0, 0))
				}
				if cmplx.Abs(h[i]-zpk) > 1e-12*cmplx.Abs(zpk) || cmplx.Abs(h[i]-sec) > 1e-12*cmplx.Abs(sec) {
					t.Errorf("%v at %g Hz: %v, from zeros and poles %v, from sections %v", f, g.At(i), h[i], zpk, sec)
				}
			}
		}
	}
}

// The definition of Butterworth: |H|² = 1/(1 + (f/fc)^±2n); −3.01 dB at the
// corner, and Linkwitz–Riley −6.02 dB there (Linkwitz 1976).
func TestMagnitudes(t *testing.T) {
	g := grid(t)
	for _, n := range []int{1, 2, 3, 4, 8, 12, 17, 24} {
		lp := design(t, analog.Lowpass{Fc: 1000}, analog.Butterworth(n)).ResponseTo(nil, g)
		hp := design(t, analog.Highpass{Fc: 1000}, analog.Butterworth(n)).ResponseTo(nil, g)
		for i := range lp {
			x := math.Pow(g.At(i)/1000, float64(2*n))
			if a, b := cmplx.Abs(lp[i]), 1/math.Sqrt(1+x); math.Abs(a/b-1) > 1e-11 {
				t.Errorf("Butterworth low-pass %d at %g Hz: %.14g, want %.14g", n, g.At(i), a, b)
			}
			if a, b := cmplx.Abs(hp[i]), 1/math.Sqrt(1+1/x); math.Abs(a/b-1) > 1e-11 {
				t.Errorf("Butterworth high-pass %d at %g Hz: %.14g, want %.14g", n, g.At(i), a, b)
			}
		}
	}
	at, err := freq.NewGrid([]float64{1000})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		p    analog.Prototype
		want float64
	}{
		{analog.LinkwitzRiley(2), 0.5}, {analog.LinkwitzRiley(4), 0.5}, {analog.LinkwitzRiley(10), 0.5},
		{analog.Bessel(3, analog.ByMagnitude), math.Sqrt(0.5)}, {analog.Bessel(12, analog.ByMagnitude), math.Sqrt(0.5)},
	} {
		for _, b := range []analog.Band{analog.Lowpass{Fc: 1000}, analog.Highpass{Fc: 1000}} {
			if got := cmplx.Abs(design(t, b, c.p).ResponseTo(nil, at)[0]); math.Abs(got-c.want) > 1e-13 {
				t.Errorf("%v, %v at its corner: %.15g (%.4f dB), want %.15g", b, c.p, got, level.DB(got), c.want)
			}
		}
	}
}

// Low-pass and high-pass of Linkwitz–Riley sum to an all-pass of half the order:
// for order 4 to (s² − √2·s + 1)/(s² + √2·s + 1), for order 2 with one inverted
// to (1 − s)/(1 + s) (Linkwitz 1976).
func TestLinkwitzRileySumsToAnAllpass(t *testing.T) {
	g := grid(t)
	for n := analog.LinkwitzRiley(2); n <= 12; n += 2 {
		lp := design(t, analog.Lowpass{Fc: 2300}, n).ResponseTo(nil, g)
		hp := design(t, analog.Highpass{Fc: 2300}, n).ResponseTo(nil, g)
		if n.Opposed() != (n == 2 || n == 6 || n == 10) {
			t.Errorf("%v: opposed is %v", n, n.Opposed())
		}
		for i := range lp {
			sum := lp[i] + hp[i]
			if n.Opposed() {
				sum = lp[i] - hp[i]
			}
			if math.Abs(cmplx.Abs(sum)-1) > 1e-12 {
				t.Errorf("%v at %g Hz sums to a magnitude of %.15g, want 1", n, g.At(i), cmplx.Abs(sum))
			}
			s := complex(0, g.At(i)/2300)
			var want complex128
			switch n {
			case 2:
				want = (1 - s) / (1 + s)
			case 4:
				want = (s*s - math.Sqrt2*s + 1) / (s*s + math.Sqrt2*s + 1)
			default:
				continue
			}
			if cmplx.Abs(sum-want) > 1e-12 {
				t.Errorf("%v at %g Hz sums to %v, want %v", n, g.At(i), sum, want)
			}
		}
	}
}

// Group delay: numerically from the response, and Bessel's property that 2n−1
// derivatives vanish at direct current, so that the delay at a tenth of 1/T is T
// but for (ωT)^2n/…: below 1e-9 for order 6 and 1e-6 relative for order 4.
func TestGroupDelay(t *testing.T) {
	g := grid(t)
	for _, p := range families {
		for _, b := range []analog.Band{analog.Lowpass{Fc: 700}, analog.Highpass{Fc: 700}} {
			f := design(t, b, p)
			c, err := f.GroupDelay(g, "closed")
			if err != nil {
				t.Fatal(err)
			}
			numeric := freq.GroupDelay(f, g, "numeric")
			for i := range g.Len() {
				if d := math.Abs(c.At(i) - numeric.At(i)); d > 1e-8/g.At(i) {
					t.Errorf("%v at %g Hz: %g s, numerically %g s", f, g.At(i), c.At(i), numeric.At(i))
				}
			}
		}
	}
	const fc = 1000.0
	T := 1 / (2 * math.Pi * fc)
	at, err := freq.NewGrid([]float64{fc / 1000, fc / 10})
	if err != nil {
		t.Fatal(err)
	}
	for n, tol := range map[int][2]float64{4: {1e-13, 1e-9}, 6: {1e-13, 1e-13}, 9: {1e-13, 1e-13}} {
		d := design(t, analog.Lowpass{Fc: fc}, analog.Bessel(n, analog.ByDelay)).GroupDelayTo(nil, at)
		for i := range d {
			if math.Abs(d[i]/T-1) > tol[i] {
				t.Errorf("Bessel %d at %g Hz delays by %.15g times the nominal delay, want 1 ± %g", n, at.At(i), d[i]/T, tol[i])
			}
		}
	}
}

// The phase normalisation makes low-pass and high-pass mirror images with equal
// asymptotes: far below the corner the high-pass falls like (f/fc)ⁿ.
func TestPhaseNormalisation(t *testing.T) {
	at, err := freq.NewGrid([]float64{0.01, 1e6})
	if err != nil {
		t.Fatal(err)
	}
	p := analog.Bessel(4, analog.ByPhase)
	hp := design(t, analog.Highpass{Fc: 100}, p).ResponseTo(nil, at)
	lp := design(t, analog.Lowpass{Fc: 100}, p).ResponseTo(nil, at)
	for what, got := range map[string]float64{"high-pass": cmplx.Abs(hp[0]), "low-pass": cmplx.Abs(lp[1])} {
		if math.Abs(got/1e-16-1) > 1e-7 {
			t.Errorf("%s at a ratio of 10⁴ from its corner: %g, want 1e-16", what, got)
		}
	}
}

func TestFilterDoesNotAllocate(t *testing.T) {
	f := design(t, analog.Highpass{Fc: 30}, analog.Butterworth(8))
	g := grid(t)
	r, d := freq.NewRatio(g.Len()), make([]float64, g.Len())
	if n := testing.AllocsPerRun(20, func() { r.Reset(); f.MulTo(r, g); f.GroupDelayTo(d, g) }); n != 0 {
		t.Errorf("evaluation allocates %g times", n)
	}
	// Whatever was in dst is gone.
	for i, v := range f.GroupDelayTo(nil, g) {
		if d[i] != v {
			t.Errorf("group delay at %g Hz is %g s in a used slice, %g s in a new one", g.At(i), d[i], v)
		}
	}
	if f.Order() != 8 || f.Corner() != 30 || len(f.Sections()) != 4 || f.String() != "high-pass 30 Hz, Butterworth order 8" {
		t.Errorf("%v of order %d at %g Hz has %d sections", f, f.Order(), f.Corner(), len(f.Sections()))
	}
}
