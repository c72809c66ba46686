package activerc

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
)

// errorOf is the error of values by its definition, on the points of the search.
func errorOf(l *layout, s analog.Section) func(v []float64, limit float64) float64 {
	r := ratioOf(s)
	if l.inverts {
		for i := range r.n {
			r.n[i] = -r.n[i]
		}
	}
	f := newFinder(r, 1, 0, nil)
	return func(v []float64, limit float64) float64 {
		got := l.ideal(v)
		return math.Sqrt(f.error2(&got, limit*limit))
	}
}

// Over small ranges all combinations can be tried, and the search finds the best of them.
func TestSearchIsAsGoodAsTryingAll(t *testing.T) {
	var b bin
	var err error
	if b.r, err = (Range{E12, 4.7e3, 47e3}).Values(); err != nil {
		t.Fatal(err)
	}
	if b.c, err = (Range{E12, 2.2e-9, 33e-9}).Values(); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		s    analog.Section
		t    Topology
	}{
		{"Sallen–Key low-pass", Lowpass(2200, 0.7, 1), SallenKey},
		{"Sallen–Key low-pass of high Q", Lowpass(1700, 1.2, 1), SallenKey},
		{"Sallen–Key high-pass", Highpass(1230, 0.9, 1), SallenKey},
		{"multiple feedback low-pass", Lowpass(1400, 0.75, 1.3), MultipleFeedback},
		{"multiple feedback high-pass", Highpass(1430, 0.6, 1), MultipleFeedback},
		{"multiple feedback band-pass", Bandpass(1100, 0.9, 0.8), MultipleFeedback},
		{"first-order shelf", FirstShelf(900, 2000, 1), FirstOrder},
	} {
		n, _ := positive(c.s)
		l, err := c.t.bind(n)
		if err != nil {
			t.Fatal(err)
		}
		of := errorOf(l, n)
		least := math.Inf(1)
		v := make([]float64, len(l.slots))
		var all func(i int)
		all = func(i int) {
			if i == len(v) {
				least = min(least, of(v, least))
				return
			}
			for _, x := range b.of(l.slots[i].kind) {
				v[i] = x
				all(i + 1)
			}
		}
		all(0)
		found, e, tried := l.search(ratioOf(n), b, 1e-12)
		if math.Abs(e-of(found, math.Inf(1))) > 1e-9*e {
			t.Errorf("%s: search says %.6g of its values, which are off by %.6g", c.name, e, of(found, math.Inf(1)))
		}
		if e > least*(1+1e-9) {
			t.Errorf("%s: search found an error of %.5g with %v, all combinations have one of %.5g", c.name, e, found, least)
		}
		t.Logf("%s: %.4g after %d combinations", c.name, e, tried)
	}
}

// The transfers that the search uses are those of the circuits, of any values and in every
// variant: against nodal analysis.
func TestTransfersAreThoseOfTheCircuits(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		t Topology
		s []analog.Section
	}{
		{FirstOrder, []analog.Section{FirstLowpass(1e3, 1), FirstLowpass(1e3, 3), FirstLowpass(1e3, 0.5), FirstHighpass(1e3, 1), FirstHighpass(1e3, 3),
			FirstHighpass(1e3, 0.5), FirstAllpass(1e3), FirstShelf(1e3, 500, 1)}},
		{SallenKey, []analog.Section{Lowpass(1e3, 1, 1), Lowpass(1e3, 1, 2), Highpass(1e3, 1, 1), Highpass(1e3, 1, 2)}},
		{MultipleFeedback, []analog.Section{Lowpass(1e3, 1, 1), Highpass(1e3, 1, 1), Bandpass(1e3, 1, 1)}},
		{BandpassSum, []analog.Section{Peak(1e3, 2, 1), Peak(1e3, 0.5, 1), Notch(1e3, 1), Allpass(1e3, 1)}},
		{BridgedT, []analog.Section{Relocate(62, 1.1, 36, 0.707)}},
		{StateVariable, []analog.Section{Lowpass(1e3, 1, 1), Bandpass(1e3, 1, 1), Highpass(1e3, 1, 1), Peak(1e3, 2, 1), Notch(1e3, 1), Allpass(1e3, 1),
			{N1: 1e3, N0: 1e6, D2: 1, D1: 1e3, D0: 1e6}, {N2: 1, N1: 1e3, D2: 1, D1: 1e3, D0: 1e6}, {N2: 1, N1: -1e3, D2: 1, D1: 1e3, D0: 1e6}}},
	} {
		for _, s := range c.s {
			n, _ := positive(s)
			l, err := c.t.bind(n)
			if err != nil {
				t.Fatal(err)
			}
			for range 20 {
				v := make([]float64, len(l.slots))
				for i, s := range l.slots {
					if v[i] = 1e3 * math.Exp(4*r.Float64()); s.kind == Capacitor {
						v[i] = 1e-9 * math.Exp(4*r.Float64())
					}
				}
				st := placed(t, s, c.t, Amplifier{}, v...)
				hz := 1e3 * math.Exp(4*r.Float64()-2)
				got, want := st.circuit.ResponseTo(nil, oneFrequency(t, hz))[0], st.ideal.at(2*math.Pi*hz)
				if cmplx.Abs(got-want) > 1e-9*cmplx.Abs(want)+1e-12 {
					t.Errorf("%v of %+v with %v at %g Hz: circuit has %v, formula %v", c.t, s, v, hz, got, want)
				}
			}
		}
	}
}

// A joint search beats taking the nearest values one by one, which is the reason for it.
func TestJointSearchBeatsNearestValues(t *testing.T) {
	r, c := defaultR, defaultC
	for _, f0 := range []float64{80, 310, 900, 2200, 5100} {
		s := Lowpass(f0, math.Sqrt(0.5), 1)
		st, err := Realise(s, Amplifier{}, Options{Topology: SallenKey, Enough: 1e-12})
		if err != nil {
			t.Fatal(err)
		}
		// the textbook way: C2 such that R is near 10 kΩ, for C1 the next value above 4Q²·C2, R1
		// and R2 by formula, each rounded
		c2, _ := c.Nearest(1 / (2 * math.Pi * f0 * 10e3 * math.Sqrt2))
		c1 := c2
		for c1 < 2*c2 {
			c1, _ = c.Nearest(c1 * 1.2)
		}
		sum, product := math.Sqrt2/(2*math.Pi*f0*c2), 1/math.Pow(2*math.Pi*f0, 2)/c1/c2
		d := math.Sqrt(sum*sum - 4*product)
		r1, _ := r.Nearest((sum + d) / 2)
		r2, _ := r.Nearest((sum - d) / 2)
		l, _ := sallenKey(s)
		rounded := errorOf(l, s)([]float64{c1, c2, r1, r2}, math.Inf(1))
		if e, _ := st.Error(); e > rounded/2 {
			t.Errorf("%g Hz: search is off by %.2g and rounding by %.2g, want at most half of it", f0, e, rounded)
		} else {
			t.Logf("%g Hz: search %.2g, rounding %.2g", f0, e, rounded)
		}
	}
}

// With Enough the search gives up error that nobody can have for values near the middle.
func TestEnoughTakesMiddleValues(t *testing.T) {
	s := Lowpass(2200, math.Sqrt(0.5), 1)
	spread := func(st *Stage) float64 {
		most := 1.0
		for _, p := range st.circuit.parts {
			if p.Kind == Resistor {
				most = max(most, p.Value/10e3, 10e3/p.Value)
			}
		}
		return most
	}
	least, err := Realise(s, Amplifier{}, Options{Topology: SallenKey, Enough: 1e-12})
	if err != nil {
		t.Fatal(err)
	}
	enough, err := Realise(s, Amplifier{}, Options{Topology: SallenKey, Enough: 0.003})
	if err != nil {
		t.Fatal(err)
	}
	if enough.err > 0.003 || enough.err < least.err {
		t.Errorf("error is %.2g, want %.2g … 0.003", enough.err, least.err)
	}
	if spread(enough) > 0.7*spread(least) {
		t.Errorf("a resistor is %.3g times off 10 kΩ, and %.3g times with the least error, want at most 0.7 of that", spread(enough), spread(least))
	}
}

func BenchmarkSearch(b *testing.B) {
	for _, c := range []struct {
		name string
		s    analog.Section
		o    Options
	}{
		{"SallenKey", Lowpass(2200, math.Sqrt(0.5), 1), Options{Topology: SallenKey}},
		{"SallenKeyGain", Lowpass(2200, 1.2, 2), Options{Topology: SallenKey}},
		{"MultipleFeedback", Lowpass(2200, math.Sqrt(0.5), 1), Options{Topology: MultipleFeedback}},
		{"BandpassSum", Peak(90, 2, 2), Options{Topology: BandpassSum}},
		{"BridgedT", Relocate(62, 1.1, 36, 0.707), Options{Topology: BridgedT}},
		{"StateVariable", LowShelf(120, 2, 0.7), Options{Topology: StateVariable}},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			tried := 0
			for b.Loop() {
				st, err := Realise(c.s, Amplifier{}, c.o)
				if err != nil {
					b.Fatal(err)
				}
				_, tried = st.Error()
			}
			b.ReportMetric(float64(tried), "combinations")
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(tried), "ns/combination")
		})
	}
}
