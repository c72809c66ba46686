package activerc

import (
	"math"
	"slices"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
)

func chainOf(t testing.TB, s ...*Stage) *Chain {
	t.Helper()
	c, err := NewChain(s...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// The gain of an inverting stage far below its corner is R2/R1, whose deviation is the
// difference of two uniform ones: a triangle from −2t to 2t, of which 95 % lie within
// 2t·(1 − √0.05) = 1.553·t; the worst is 2t (closed form, to first order in t).
func TestSpreadOfARatio(t *testing.T) {
	c := chainOf(t, placed(t, FirstLowpass(10e3, 0.5), FirstOrder, Amplifier{}, 1.5e-9, 20e3, 10e3))
	g := oneFrequency(t, 1, 2)
	const tol = 0.01
	s, err := c.Spread(g, Tolerances{R: tol}, Trials{Samples: 40000, Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	for k, v := range s.largest {
		if v == 0 { // of 40000 continuous draws none is exactly nominal
			t.Fatalf("sample %d of those by size is nominal: it was not drawn", k)
		}
	}
	dB := 20 / math.Ln10
	want := dB * 2 * tol * (1 - math.Sqrt(0.05))
	// the 97.5th percentile of 40000 samples of a triangle has a standard error of 0.45 %
	for _, share := range []float64{0.025, 0.975} {
		p, err := s.Percentile(share, "")
		if err != nil {
			t.Fatal(err)
		}
		if got := math.Abs(p.At(0)); math.Abs(got/want-1) > 0.02 {
			t.Errorf("percentile %g is %.5f dB, want %.5f", share, got, want)
		}
	}
	if w, err := s.Within(0.95); err != nil || math.Abs(w/want-1) > 0.02 {
		t.Errorf("95 %% are within %.5f dB (%v), want %.5f", w, err, want)
	}
	b, err := c.Bounds(g, Tolerances{R: tol})
	if err != nil {
		t.Fatal(err)
	}
	if got := b.Worst.At(0); math.Abs(got/(dB*2*tol)-1) > 1e-6 {
		t.Errorf("worst case is %.6f dB, want %.6f", got, dB*2*tol)
	}
	if got := b.RMS.At(0); math.Abs(got/(dB*tol*math.Sqrt(2./3))-1) > 1e-6 {
		t.Errorf("standard deviation is %.6f dB, want %.6f", got, dB*tol*math.Sqrt(2./3))
	}
}

// Samples have the standard deviation that derivatives foretell, of both distributions (the one
// of the cut normal in closed form), and none lies outside the worst case by more than the
// second order.
func TestSamplesAgreeWithDerivatives(t *testing.T) {
	c := ngspiceChains(t)["relocation"]
	g := oneFrequency(t, 25, 62, 90, 400, 900, 5000)
	for _, d := range []Distribution{Uniform, Normal} {
		tol := Tolerances{R: 0.002, C: 0.004, Distribution: d}
		s, err := c.Spread(g, tol, Trials{Samples: 20000, Seed: 11})
		if err != nil {
			t.Fatal(err)
		}
		b, err := c.Bounds(g, tol)
		if err != nil {
			t.Fatal(err)
		}
		for i, off := range s.off {
			sum := 0.0
			for _, v := range off {
				sum += v * v
			}
			rms := math.Sqrt(sum / float64(len(off)))
			if math.Abs(rms/b.RMS.At(i)-1) > 0.02 { // 20000 samples: 0.5 % one σ
				t.Errorf("%v at %g Hz: standard deviation is %.4g dB, derivatives say %.4g", d, g.At(i), rms, b.RMS.At(i))
			}
			if most := max(-off[0], off[len(off)-1]); most > 1.03*b.Worst.At(i) {
				t.Errorf("%v at %g Hz: a sample is off by %.4g dB, the worst case is %.4g", d, g.At(i), most, b.Worst.At(i))
			}
		}
	}
}

// Bit for bit the same with any number of workers, and other samples from another seed.
func TestSpreadDoesNotDependOnWorkers(t *testing.T) {
	c := ngspiceChains(t)["state"]
	g := oneFrequency(t, 50, 500, 5000)
	tol := Tolerances{R: 0.01, C: 0.05, GBW: 0.3, Distribution: Normal}
	var first *Spread
	for _, workers := range []int{1, 2, 7} {
		s, err := c.Spread(g, tol, Trials{Samples: 300, Seed: 5, Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = s
		}
		for i := range s.off {
			if !slices.Equal(s.off[i], first.off[i]) {
				t.Errorf("%d workers give other samples than one", workers)
			}
		}
		if !slices.Equal(s.largest, first.largest) {
			t.Errorf("%d workers give other largest deviations than one", workers)
		}
	}
	other, err := c.Spread(g, tol, Trials{Samples: 300, Seed: 6})
	if err != nil {
		t.Fatal(err)
	}
	if slices.Equal(other.largest, first.largest) {
		t.Error("another seed gives the same samples")
	}
	// the amplifiers of the chain itself are untouched
	if h := c.ResponseTo(nil, g); !slices.Equal(h, ngspiceChains(t)["state"].ResponseTo(nil, g)) {
		t.Error("drawing samples changed the chain")
	}
}

func TestSpreadRefusals(t *testing.T) {
	c := chainOf(t, placed(t, FirstHighpass(1e3, 1), FirstOrder, Amplifier{}, 15e-9, 10e3))
	g := oneFrequency(t, 1e3)
	wide, err := freq.LogGrid(100, 10e3, 12)
	if err != nil {
		t.Fatal(err)
	}
	ok := Trials{Samples: 100}
	for name, f := range map[string]func() error{
		"negative tolerance":  func() error { _, err := c.Spread(g, Tolerances{R: -0.01}, ok); return err },
		"tolerance of NaN":    func() error { _, err := c.Spread(g, Tolerances{C: math.NaN()}, ok); return err },
		"tolerance of 1":      func() error { _, err := c.Spread(g, Tolerances{GBW: 1}, ok); return err },
		"distribution":        func() error { _, err := c.Spread(g, Tolerances{Distribution: 9}, ok); return err },
		"few samples":         func() error { _, err := c.Spread(g, Tolerances{}, Trials{Samples: 99}); return err },
		"many samples":        func() error { _, err := c.Spread(g, Tolerances{}, Trials{Samples: 1e9}); return err },
		"many values":         func() error { _, err := c.Spread(wide, Tolerances{}, Trials{Samples: 1e6}); return err },
		"workers":             func() error { _, err := c.Spread(g, Tolerances{}, Trials{Samples: 100, Workers: -1}); return err },
		"bounds of tolerance": func() error { _, err := c.Bounds(g, Tolerances{R: 2}); return err },
	} {
		if f() == nil {
			t.Errorf("%s: no error", name)
		}
	}
	s, err := c.Spread(g, Tolerances{}, ok)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.Percentile(1.1, ""); err == nil {
		t.Error("a share of 1.1 passes")
	}
	if _, err := s.Within(math.NaN()); err == nil {
		t.Error("a share of NaN passes")
	}
	if w, err := s.Within(0.95); err != nil || w > 1e-12 {
		t.Errorf("without tolerances the spread is %g dB (%v), want 0", w, err)
	}
}

// In a state-variable low-pass of high Q and gain 1 with equal integrators, the outputs of
// band-pass and high-pass reach Q and nearly so, as the low-pass does; the slew at the
// high-pass output far above is ω per volt (closed forms).
func TestHeadroomInside(t *testing.T) {
	const r, cap, q = 10e3, 10e-9, 10.0
	f0 := 1 / (2 * math.Pi * r * cap)
	st := placed(t, Lowpass(f0, q, 1), StateVariable, Amplifier{Swing: 10, Slew: 1e6}, cap, r, r, 29e3, 1e3, 10e3, 10e3)
	half := placed(t, FirstLowpass(1e9, 1), FirstOrder, Amplifier{}, 1e-12, 1)
	g, err := freq.LogGrid(f0/16, f0*16, 960)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := chainOf(t, half, st).Headroom(g)
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 4 {
		t.Fatalf("%d rows, want 4", len(rows))
	}
	if rows[0].Stage != 1 || rows[3].Stage != 2 {
		t.Errorf("stages are numbered %d and %d, want 1 and 2", rows[0].Stage, rows[3].Stage)
	}
	// the largest of a low-pass or high-pass is Q/√(1 − 1/4Q²), that of the band-pass Q at f0
	peak := q / math.Sqrt(1-1/(4*q*q))
	for i, want := range []float64{1, peak, q, peak} {
		if math.Abs(rows[i].Gain/want-1) > 1e-3 {
			t.Errorf("%s of stage %d reaches %.4g, want %.4g", rows[i].Amplifier, rows[i].Stage, rows[i].Gain, want)
		}
	}
	if at := rows[2].GainAt; math.Abs(at/f0-1) > 0.004 {
		t.Errorf("band-pass is highest at %g Hz, want %g", at, f0)
	}
	// HP → 1 far above: ω at the end of the grid, where it is 1/(1 − 1/256) within 1e-4
	if want := 2 * math.Pi * f0 * 16 / (1 - 1./256); math.Abs(rows[1].Slew/want-1) > 1e-3 {
		t.Errorf("slew is %.4g V/s per volt, want %.4g", rows[1].Slew, want)
	}
	if want := math.Min(10/peak, 1e6/rows[1].Slew); math.Abs(rows[1].Input/want-1) > 1e-3 {
		t.Errorf("input is at most %.4g V, want %.4g", rows[1].Input, want)
	}
	if !math.IsInf(rows[0].Input, 1) {
		t.Errorf("input of an amplifier without limits is %g V, want +Inf", rows[0].Input)
	}
}
