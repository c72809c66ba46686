package identify_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
)

// Whatever a curve is, there is a result with finite numbers or an error in words.
func TestHostileCurves(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 6))
	d := woofer()
	shapes := []func(f float64) complex128{
		func(f float64) complex128 { return 8 },
		func(f float64) complex128 { return complex(8, f/1000) },
		func(f float64) complex128 { return complex(6, -50/f) },
		func(f float64) complex128 { return complex(6+2*r.Float64(), 0.5*r.NormFloat64()) },
		func(f float64) complex128 { return complex(6+50*math.Exp(-math.Pow(math.Log(f/40), 2)), 0) },
		func(f float64) complex128 { return d.impedance(f, 0, 0) * complex(1+0.3*r.NormFloat64(), 0) },
		func(f float64) complex128 { return cmplx.Rect(7*math.Exp(r.NormFloat64()), 1.5*r.NormFloat64()) },
		func(f float64) complex128 { return 1 / (complex(0.1, f/5000) + 1/complex(0.5, f/100)) },
		func(f float64) complex128 { return d.impedance(f*3000, 0, 0) },
		func(f float64) complex128 { return d.impedance(f/3000, 0, 0) },
	}
	setups := []identify.Setup{identify.FreeAir{}, identify.AddedMass{Mass: 5e-3}, identify.ClosedBox{Volume: 0.01}, identify.VentedBox{Volume: 0.02}}
	fits := 0
	for _, points := range []int{3, 12} {
		g, err := freq.LogGrid(10, 20000, points)
		if err != nil {
			t.Fatal(err)
		}
		for _, a := range shapes {
			for _, b := range shapes {
				for _, s := range setups {
					ms := []identify.Measurement{{Impedance: curve(t, g, r, 0.003, a), Setup: identify.FreeAir{}}, {Impedance: curve(t, g, r, 0.003, b), Setup: s}}
					if r.Float64() > 0.2 { // a share of the combinations: they cost time
						continue
					}
					f, err := identify.Fit(ms, &identify.Settings{Sd: 0.01, Air: air.Room()})
					if err != nil {
						if !strings.HasPrefix(err.Error(), "identify: ") {
							t.Errorf("error without the package's name: %v", err)
						}
						continue
					}
					fits++
					for _, p := range f.Parameters {
						if math.IsNaN(p.Value) || math.IsInf(p.Value, 0) || math.IsNaN(p.Error) || math.IsInf(p.Error, 0) {
							t.Errorf("%v of a hostile curve", p)
						}
					}
				}
			}
		}
	}
	t.Logf("%d fits of curves that are no driver's", fits)
}

// What a user can state wrongly is refused with the likely unit.
func TestRefusals(t *testing.T) {
	g := grid(t)
	d := woofer()
	good := massPair(t, g, rand.New(rand.NewPCG(1, 1)), d, 0.003, 6e-3, 0, 0)
	with := func(m identify.Measurement, by func(*identify.Measurement)) identify.Measurement {
		by(&m)
		return m
	}
	box := with(good[1], func(m *identify.Measurement) { m.Setup = identify.ClosedBox{Volume: 12e-3} })
	pressure := good[0]
	pressure.Impedance = pressure.Impedance.Stated(freq.Basis{Quantity: freq.Pressure, Distance: 1, Space: freq.HalfSpace})
	for want, c := range map[string]struct {
		ms  []identify.Measurement
		set identify.Settings
	}{
		"no measurement":         {nil, identify.Settings{}},
		"want one in free air":   {good[1:], identify.Settings{}},
		"is it in grams":         {[]identify.Measurement{good[0], with(good[1], func(m *identify.Measurement) { m.Setup = identify.AddedMass{Mass: 6} })}, identify.Settings{}},
		"is it in litres":        {[]identify.Measurement{good[0], with(good[1], func(m *identify.Measurement) { m.Setup = identify.ClosedBox{Volume: 12} })}, identify.Settings{}},
		"want the effective":     {[]identify.Measurement{good[0], box}, identify.Settings{}},
		"is it in cm²":           {good, identify.Settings{Sd: 138}},
		"is it in °C":            {[]identify.Measurement{with(good[0], func(m *identify.Measurement) { m.Kelvin = 20 })}, identify.Settings{}},
		"0.003 is 0.3 %":         {[]identify.Measurement{good[0], with(good[1], func(m *identify.Measurement) { m.Setup = identify.AddedMass{Mass: 6e-3, Accuracy: 3} })}, identify.Settings{}},
		"is a curve of":          {[]identify.Measurement{pressure}, identify.Settings{}},
		"wire 7":                 {good, identify.Settings{Wire: 7}},
		"want at least 30":       {good, identify.Settings{From: 100, To: 150}},
		"want 0 ≤ from < to":     {good, identify.Settings{From: 100, To: 50}},
		"uncertainty of Re is 0": {good, identify.Settings{Re: 5.5}},
		"no impedance or no":     {[]identify.Measurement{{}}, identify.Settings{}},
		"density":                {[]identify.Measurement{good[0], box}, identify.Settings{Sd: 0.0138}},
		"suspension 5":           {good, identify.Settings{Suspensions: []identify.Suspension{5}}},
	} {
		_, err := identify.Fit(c.ms, &c.set)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error is %v, want one with %q", err, want)
		}
	}
}

// A meter's resistance is one more observation: it moves Re by its weight, and makes
// its error smaller. The coil's temperature refers Re to 20 °C: copper 13 K warmer
// has 5.1 % more (0.00393/K, IEC 60028).
func TestResistanceAndTemperature(t *testing.T) {
	g := grid(t)
	d := woofer()
	ms := massPair(t, g, rand.New(rand.NewPCG(1, 1)), d, 0.003, 6e-3, 0, 0)
	ms[0].Kelvin, ms[0].KelvinError = 306.15, 2
	ms[0].RunIn = 0.05
	free, err := identify.Fit(ms, nil)
	if err != nil {
		t.Fatal(err)
	}
	dc, err := identify.Fit(ms, &identify.Settings{Re: d.re, ReError: 0.0002})
	if err != nil {
		t.Fatal(err)
	}
	a, b := value(t, free, identify.Re), value(t, dc, identify.Re)
	if b.Error > 0.0002 || b.Error >= a.Error || math.Abs(b.Value-d.re) > 0.0004 {
		t.Errorf("%v with a meter and %v without", b, a)
	}
	cold := value(t, dc, identify.Re20)
	if want := b.Value / (1 + 0.00393*13); math.Abs(cold.Value-want) > 1e-9 || math.Abs(cold.Error/(want*0.00393*2/(1+0.00393*13))-1) > 0.01 {
		t.Errorf("%v, want %g ± %g", cold, want, want*0.0075)
	}
	// 5 % of the compliance are 2.5 % of Fs.
	if fs := value(t, dc, identify.Fs); math.Abs(fs.Error/fs.Value-0.025) > 0.001 {
		t.Errorf("%v, want 2.5 %% from the run-in", fs)
	}
}
