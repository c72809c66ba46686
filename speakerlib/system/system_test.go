package system_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/crossover"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/system"
)

var basis = freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}

func grid(t testing.TB) *freq.Grid {
	t.Helper()
	g, err := freq.LogGrid(20, 20e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func model(t freq.Transfer) system.Model { return system.Model{Transfer: t, Stated: basis} }

// twoWay is an ideal two-way with a Linkwitz–Riley network of fourth order.
func twoWay(fc float64) *system.Loudspeaker {
	w := 2 * math.Pi * fc
	den := freq.NewPoly(1, math.Sqrt2/w, 1/(w*w))
	low := &freq.PolyRatio{Num: freq.NewPoly(1), Den: den}
	high := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1/(w*w)), Den: den}
	return &system.Loudspeaker{Ways: []system.Way{
		{Name: "woofer", Source: model(freq.Gain(0.2)), Chain: crossover.Chain{Stages: freq.Series{low, low}}},
		{Name: "tweeter", Source: model(freq.Gain(0.4)), Chain: crossover.Chain{Stages: freq.Series{high, high, freq.Gain(0.5)}}},
	}}
}

// The fourth-order Linkwitz–Riley sum is an all-pass (S. Linkwitz, JAES 24, 1976).
func TestSumOfLinkwitzRileyIsAllPass(t *testing.T) {
	r, err := twoWay(2300).Evaluate(grid(t), "sum")
	if err != nil {
		t.Fatal(err)
	}
	for i := range r.Sum.Len() {
		if math.Abs(cmplx.Abs(r.Sum.At(i))-0.2) > 1e-13 {
			t.Fatalf("%g Hz: |sum| = %.15g, want 0.2", r.Sum.Grid().At(i), cmplx.Abs(r.Sum.At(i)))
		}
	}
	if got := r.Sum.Basis().Per; got != freq.PerInput {
		t.Errorf("the sum is %v, want per volt at the input", got)
	}
}

// Whatever a variant changes, the plan must give what plain multiplication does.
func TestVariantsEqualPlainEvaluation(t *testing.T) {
	g := grid(t)
	nominal := twoWay(2300)
	measured, err := freq.Evaluate(freq.Series{freq.Gain(0.3), freq.Delay(1e-4)}, g, "measured", basis)
	if err != nil {
		t.Fatal(err)
	}
	nominal.Ways[1].Source = measured
	p, err := system.NewPlan(nominal, g)
	if err != nil {
		t.Fatal(err)
	}
	st := p.NewState()
	other := twoWay(1900)
	variants := []func(l *system.Loudspeaker){
		func(*system.Loudspeaker) {},
		func(l *system.Loudspeaker) { l.Ways[0].Chain = other.Ways[0].Chain },
		func(l *system.Loudspeaker) { l.Ways[1].Chain.Inverted = true },
		func(l *system.Loudspeaker) { l.Ways[1].Chain.Delay = 42e-6; l.Ways[0].Source = model(freq.Gain(0.1)) },
		func(*system.Loudspeaker) {},
		func(l *system.Loudspeaker) {
			l.Ways[1].Chain.Stages = freq.Series{freq.Inverse{Of: freq.Gain(2)}, other.Ways[1].Chain.Stages[0], freq.Gain(3)}
		},
		func(l *system.Loudspeaker) { l.Ways[1].Source = measured.As("again") },
	}
	for k, change := range variants {
		l := &system.Loudspeaker{Ways: append([]system.Way(nil), nominal.Ways...)}
		change(l)
		if err := p.SolveTo(st, l); err != nil {
			t.Fatalf("variant %d: %v", k, err)
		}
		power := st.PowerTo(nil)
		for i := range g.Len() {
			var sum complex128
			for _, w := range l.Ways {
				one, _ := freq.NewGrid([]float64{g.At(i)})
				v := w.Chain.ResponseTo(nil, one)[0]
				if m, ok := w.Source.(freq.Response); ok {
					v *= m.At(i)
				} else {
					v *= w.Source.ResponseTo(nil, one)[0]
				}
				sum += v
			}
			if cmplx.Abs(st.Sum()[i]-sum) > 1e-13 || math.Abs(power[i]-real(sum*cmplx.Conj(sum))) > 1e-13 {
				t.Fatalf("variant %d at %g Hz: %v (power %g), want %v", k, g.At(i), st.Sum()[i], power[i], sum)
			}
		}
	}
}

func TestRefusals(t *testing.T) {
	g := grid(t)
	h, _ := freq.LogGrid(20, 20e3, 12)
	onOther, _ := freq.Evaluate(freq.Gain(1), h, "coarse", basis)
	far := basis
	far.Distance = 2
	for name, c := range map[string]struct {
		change func(l *system.Loudspeaker)
		want   string
	}{
		"no ways":      {func(l *system.Loudspeaker) { l.Ways = nil }, "no way"},
		"no source":    {func(l *system.Loudspeaker) { l.Ways[0].Source = nil }, "no source"},
		"empty model":  {func(l *system.Loudspeaker) { l.Ways[0].Source = system.Model{} }, "no source"},
		"two bases":    {func(l *system.Loudspeaker) { l.Ways[1].Source = system.Model{Transfer: freq.Gain(1), Stated: far} }, "2 m"},
		"per input":    {func(l *system.Loudspeaker) { l.Ways[1].Source = system.Model{Transfer: freq.Gain(1)} }, "terminals"},
		"other grid":   {func(l *system.Loudspeaker) { l.Ways[1].Source = onOther }, "resample"},
		"hidden grid":  {func(l *system.Loudspeaker) { l.Ways[1].Chain.Stages = freq.Series{freq.Inverse{Of: onOther}} }, "resample"},
		"same names":   {func(l *system.Loudspeaker) { l.Ways[1].Name = "woofer" }, "two ways"},
		"bad delay":    {func(l *system.Loudspeaker) { l.Ways[1].Chain.Delay = -1 }, "delay"},
		"many, many":   {func(l *system.Loudspeaker) { l.Ways[1].Chain.Stages = manyGains(63) }, "at most 62"},
		"nil in chain": {func(l *system.Loudspeaker) { l.Ways[1].Chain.Stages[1] = nil }, "nil"},
	} {
		l := twoWay(2000)
		c.change(l)
		if _, err := system.NewPlan(l, g); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
	nominal := twoWay(2000)
	p, err := system.NewPlan(nominal, g)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		change func(l *system.Loudspeaker)
		want   string
	}{
		"fewer ways":   {func(l *system.Loudspeaker) { l.Ways = l.Ways[:1] }, "1 ways, want 2"},
		"fewer stages": {func(l *system.Loudspeaker) { l.Ways[0].Chain.Stages = nil }, "0 stages, want 2"},
		"other grid":   {func(l *system.Loudspeaker) { l.Ways[1].Source = onOther }, `way "tweeter" of the variant: freq: response "coarse"`},
		"hidden grid":  {func(l *system.Loudspeaker) { l.Ways[1].Chain.Stages[1] = freq.Inverse{Of: onOther} }, "resample"},
		"nil in chain": {func(l *system.Loudspeaker) { l.Ways[1].Chain.Stages[1] = nil }, "nil"},
		"bad delay":    {func(l *system.Loudspeaker) { l.Ways[1].Chain.Delay = math.NaN() }, "NaN s"},
		"renamed":      {func(l *system.Loudspeaker) { l.Ways[0].Name = "bass" }, `"bass", want "woofer"`},
		"other basis":  {func(l *system.Loudspeaker) { l.Ways[0].Source = system.Model{Transfer: freq.Gain(1), Stated: far} }, "as the plan"},
	} {
		l := twoWay(2000)
		c.change(l)
		if err := p.SolveTo(p.NewState(), l); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
}

func manyGains(n int) freq.Series {
	s := make(freq.Series, n)
	for i := range s {
		s[i] = freq.Gain(1)
	}
	return s
}

func TestSolveDoesNotAllocate(t *testing.T) {
	l := twoWay(2000)
	p, err := system.NewPlan(l, grid(t))
	if err != nil {
		t.Fatal(err)
	}
	st := p.NewState()
	variant := twoWay(2100)
	variant.Ways[1].Chain.Delay = 1e-5
	if n := testing.AllocsPerRun(20, func() {
		if err := p.SolveTo(st, variant); err != nil {
			t.Fatal(err)
		}
	}); n != 0 {
		t.Errorf("%g allocations a run, want 0", n)
	}
}

func BenchmarkSolve(b *testing.B) {
	nominal, variant := twoWay(2000), twoWay(2100)
	p, err := system.NewPlan(nominal, grid(b))
	if err != nil {
		b.Fatal(err)
	}
	st := p.NewState()
	for b.Loop() {
		if err := p.SolveTo(st, variant); err != nil {
			b.Fatal(err)
		}
	}
}
