package identify_test

import (
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
)

func warned(r *identify.Result, k identify.WarningKind) bool {
	return slices.ContainsFunc(r.Warnings, func(w identify.Warning) bool { return w.Kind == k })
}

// Each fault of a rig warns of itself, and a clean measurement of nothing.
func TestWarnings(t *testing.T) {
	d := woofer()
	d.coil = both(inductor(0.2e-3), rung(0.4e-3, 6))
	g := grid(t)
	r := func() *rand.Rand { return rand.New(rand.NewPCG(8, 1)) }
	clean := func() []identify.Measurement { return massPair(t, g, r(), d, 0.003, 6e-3, 0, 0.02) }
	set := &identify.Settings{Sd: d.sd, Air: air.Room()}
	fit := func(ms []identify.Measurement, set *identify.Settings) *identify.Result {
		t.Helper()
		f, err := identify.Fit(ms, set)
		if err != nil {
			t.Fatal(err)
		}
		return f
	}
	if f := fit(clean(), set); len(f.Warnings) > 0 {
		t.Errorf("a clean measurement warns: %v", f.Warnings)
	}
	changed := func(m identify.Measurement, by func(f float64, z complex128) complex128) identify.Measurement {
		h := m.Impedance.Grid()
		k := -1
		m.Impedance = curve(t, h, r(), 0, func(f float64) complex128 { k++; return by(f, m.Impedance.At(k)) })
		return m
	}
	other := d
	other.fs *= 1.02
	other.qms *= 1.1
	light := massPair(t, g, r(), d, 0.003, 1.5e-3, 0, 0)
	high, err := freq.LogGrid(35, 20000, 30)
	if err != nil {
		t.Fatal(err)
	}
	random := r()
	leaky := lumped(0)
	dc := *set
	dc.Re, dc.ReError = d.re*0.95, 0.01
	for _, c := range []struct {
		kind identify.WarningKind
		ms   []identify.Measurement
		set  *identify.Settings
	}{
		{identify.MassTooSmall, light, set},
		{identify.NoiseFloor, massPair(t, g, r(), d, 0.03, 6e-3, 0, 0), set},
		{identify.NoiseFloor, []identify.Measurement{changed(clean()[0], func(f float64, z complex128) complex128 {
			return z + complex(0.8/f*random.NormFloat64(), 0.8/f*random.NormFloat64())
		})}, set},
		{identify.TwoSamples, []identify.Measurement{clean()[0], massPair(t, g, r(), other, 0.003, 6e-3, 0, 0)[1]}, set},
		{identify.TwoSamples, massPair(t, g, r(), d, 0.003, 6e-3, 0, 0.3), set},
		{identify.ReferenceOff, clean(), &dc},
		{identify.ResonanceOutside, massPair(t, high, r(), d, 0.003, 6e-3, 0, 0)[:1], set},
		{identify.NotPassive, []identify.Measurement{changed(clean()[0], func(f float64, z complex128) complex128 {
			if f > 19000 {
				z = complex(-0.2, imag(z))
			}
			return z
		})}, set},
		{identify.Systematic, []identify.Measurement{changed(clean()[0], func(f float64, z complex128) complex128 {
			x := complex(0, f/1200)
			return z + 0.3*x/5/(1+x/5+x*x) // a resonance of the surround
		})}, set},
		// Absorption and friction are no leak, which is all that the model of the box has.
		{identify.BoxMisfit, []identify.Measurement{free(t, leaky, g, r(), 0.003),
			{Impedance: boxed(t, leaky, enclosure.Vented{Vb: 15e-3, Vent: enclosure.Vent{Diameter: 0.054, Length: 0.15, Count: 1}, Losses: enclosure.Losses{QA: 8, QP: 12}}, g, r(), 0.003), Setup: identify.VentedBox{Volume: 15e-3}}}, set},
		{identify.Leak, []identify.Measurement{free(t, leaky, g, r(), 0.003),
			{Impedance: boxed(t, leaky, enclosure.Closed{Vb: 12e-3, Losses: enclosure.Losses{QL: 8}, Reference: 70}, g, r(), 0.003), Setup: identify.ClosedBox{Volume: 12e-3}}}, set},
	} {
		f := fit(c.ms, c.set)
		if !warned(f, c.kind) {
			t.Errorf("does not warn of %v but of %v", c.kind, f.Warnings)
		}
		if c.kind == identify.TwoSamples && warned(f, identify.BoxMisfit) || c.kind == identify.BoxMisfit && warned(f, identify.TwoSamples) {
			t.Errorf("does not tell two samples from a box: %v", f.Warnings)
		}
		for _, w := range f.Warnings {
			t.Logf("%v: %s", w.Kind, w.Text)
		}
	}
}

// Every mistake is named by its cause.
func TestImplausible(t *testing.T) {
	d := woofer()
	g := grid(t)
	vented := boxed(t, lumped(0), enclosure.Vented{Vb: 15e-3, Vent: enclosure.Vent{Diameter: 0.054, Length: 0.15, Count: 1}, Losses: enclosure.Losses{QL: 9}}, g, nil, 0)
	tweeter := demo(t, "tweeter-free-air.txt")
	for name, r := range map[string]freq.Response{
		"woofer": curve(t, g, rand.New(rand.NewPCG(1, 1)), 0.003, func(f float64) complex128 { return d.impedance(f, 0, 0) }),
		"vented": vented, "tweeter": tweeter, "passive": demo(t, "passive.txt"), "in box": demo(t, "woofer-in-box.txt"),
	} {
		if err := identify.Plausible(r); err != nil {
			t.Errorf("%s is refused: %v", name, err)
		}
		at := func(by func(z complex128) complex128) freq.Response {
			k := -1
			return curve(t, r.Grid(), nil, 0, func(float64) complex128 { k++; return by(r.At(k)) })
		}
		for cause, factor := range map[identify.Cause]float64{identify.HertzAsKilohertz: 1000, identify.KilohertzAsHz: 0.001} {
			h, err := freq.NewGrid(scaledBy(r.Grid().Hz(), factor))
			if err != nil {
				t.Fatal(err)
			}
			bad, err := freq.NewResponse(h, r.Values(), r.Label(), r.Basis())
			if err != nil {
				t.Fatal(err)
			}
			var e *identify.ImplausibleError
			if err := identify.Plausible(bad); !errors.As(err, &e) || e.Cause != cause {
				t.Errorf("%s, %v: says %v", name, cause, err)
			}
		}
		for cause, bad := range map[identify.Cause]freq.Response{
			identify.KiloohmAsOhm:    at(func(z complex128) complex128 { return z / 1000 }),
			identify.MilliohmAsOhm:   at(func(z complex128) complex128 { return z * 1000 }),
			identify.DecibelAsOhm:    at(func(z complex128) complex128 { return cmplx.Rect(20*math.Log(cmplx.Abs(z))/math.Ln10, cmplx.Phase(z)) }),
			identify.DegreesAsRadian: at(func(z complex128) complex128 { return cmplx.Rect(cmplx.Abs(z), cmplx.Phase(z)*180/math.Pi) }),
			identify.RadianAsDegrees: at(func(z complex128) complex128 { return cmplx.Rect(cmplx.Abs(z), cmplx.Phase(z)*math.Pi/180) }),
			identify.PhaseReversed:   at(cmplx.Conj),
			identify.PartsSwapped:    at(func(z complex128) complex128 { return complex(imag(z), real(z)) }),
		} {
			err := identify.Plausible(bad)
			var e *identify.ImplausibleError
			if !errors.As(err, &e) || e.Cause != cause {
				t.Errorf("%s, %v: says %v", name, cause, err)
			}
		}
	}
}

func scaledBy(x []float64, factor float64) []float64 {
	for i := range x {
		x[i] *= factor
	}
	return x
}

// A band that is as wide as that of hearing, or as narrow as one resonance, is seen by
// where its resonance is.
func TestImplausibleResonance(t *testing.T) {
	d := woofer()
	for _, c := range []struct {
		first, last, factor float64
		cause               identify.Cause // 0: none
	}{
		{10, 150, 1, 0}, {10, 150, 1000, identify.HertzAsKilohertz}, {5, 20000, 0.01, identify.KilohertzAsHz},
		{5, 190, 0.1, 0}, // Fs 4 Hz: strange, but nothing says that there is none
		{0.2, 40000, 1, 0},
	} {
		g, err := freq.LogGrid(c.first*max(c.factor, 1), c.last*max(c.factor, 1), 24)
		if err != nil {
			t.Fatal(err)
		}
		if c.factor < 1 {
			if g, err = freq.LogGrid(0.1, c.last, 24); err != nil {
				t.Fatal(err)
			}
		}
		z := curve(t, g, rand.New(rand.NewPCG(1, 1)), 0.003, func(f float64) complex128 { return d.impedance(f/c.factor, 0, 0) })
		var e *identify.ImplausibleError
		switch err := identify.Plausible(z); {
		case c.cause == 0 && err != nil:
			t.Errorf("%v: refused: %v", c, err)
		case c.cause != 0 && (!errors.As(err, &e) || e.Cause != c.cause):
			t.Errorf("%v: says %v", c, err)
		}
	}
}

// Warnings of one kind come in the order of the curves, every time. Of four added masses
// three are stated wrongly, each in its own way, so that three tell another Mms than the best.
func TestWarningsInOrder(t *testing.T) {
	d := woofer()
	g := grid(t)
	r := rand.New(rand.NewPCG(8, 3))
	ms := massPair(t, g, r, d, 0.003, 6e-3, 0, 0)[:1]
	for _, m := range []struct{ added, error float64 }{{6e-3, 0}, {8e-3, -0.125}, {10e-3, -0.1}, {12e-3, 0.25}} {
		ms = append(ms, massPair(t, g, r, d, 0.003, m.added, m.error, 0)[1])
	}
	for range 12 {
		f, err := identify.Fit(ms, &identify.Settings{Sd: d.sd, Air: air.Room()})
		if err != nil {
			t.Fatal(err)
		}
		var from []int // which of the masses, as stated
		for _, w := range f.Warnings {
			from = append(from, slices.IndexFunc([]string{"6 g", "7 g", "9 g", "15 g"}, func(mass string) bool {
				return strings.Contains(w.Text, "g with "+mass+" added and ")
			}))
		}
		if len(from) != 3 || from[0] < 0 || !slices.IsSorted(from) {
			t.Fatalf("warns of the masses %v, want three in their order: %v", from, f.Warnings)
		}
	}
}
