package limits_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/signal"
)

// way is the invented woofer of study with all that can bind, a high-pass at 30 Hz in
// front of it and an amplifier of 20 dB.
func way(t *testing.T) limits.Way {
	t.Helper()
	s := study(t)
	mounted, _, err := s.Mount(40)
	if err != nil {
		t.Fatal(err)
	}
	mounted.Driver.Limits = driver.Limits{Linear: 6e-3, Damage: 11e-3}
	g, err := freq.LogGrid(20, 20e3, 12)
	if err != nil {
		t.Fatal(err)
	}
	p, err := limits.NewProgramme(signal.Programme{}, 2, g)
	if err != nil {
		t.Fatal(err)
	}
	w := 2 * math.Pi * 30
	filter := &freq.PolyRatio{Num: freq.NewPoly(0, 0, 1), Den: freq.NewPoly(w*w, math.Sqrt2*w, 1)}
	return limits.Way{
		Name: "woofer", Mounted: mounted, Chain: freq.Series{filter, freq.Gain(10)}, Digital: freq.Series{filter, freq.Gain(0.5)},
		Amplifier: limits.Amplifier{PeakVolts: 26, PeakAmperes: 12, OutputResistance: 0.1}, VentAir: 20,
		Coil:      limits.Coil{Wire: limits.Copper, Thermal: limits.Thermal{{Resistance: 3, Capacity: 6}, {Resistance: 1.2, Capacity: 900}}, MaxRise: 130},
		Programme: p,
	}
}

// At the ceiling the quantity that binds is at its bound and no other beyond, with
// the chain in place, whatever binds (the definition of a ceiling); and a vented box
// without losses splits the flow U₀ of that level as U₀·(fb/f)² in the vent and
// U₀·|1 − (fb/f)²| at the cone, filter or not (the circuit; see also R. Small, JAES 21,
// 1973).
func TestCeilingOfAWay(t *testing.T) {
	w := way(t)
	g := study(t).Grid
	c, err := w.Ceiling(g)
	if err != nil {
		t.Fatal(err)
	}
	want := []limits.Cause{limits.Excursion, limits.Damage, limits.VentAir, limits.Volts, limits.Amperes, limits.WorstAmperes, limits.FullScale, limits.Heat, limits.ProgrammeHeat}
	bounds := c.Bounds()
	if len(bounds) != len(want) {
		t.Fatalf("%d bounds, want %d", len(bounds), len(want))
	}
	m, err := w.Motion()
	if err != nil {
		t.Fatal(err)
	}
	responses := make([][]complex128, len(bounds))
	for k, b := range bounds {
		if b.Cause != want[k] || b.Way != "woofer" {
			t.Errorf("bound %d is %v, want %v", k, b, want[k])
		}
		responses[k] = b.PerVolt.ResponseTo(nil, g)
	}
	chain := w.Chain.ResponseTo(nil, g)
	cone, vent := m.Cone.ResponseTo(nil, g), m.VentAir.ResponseTo(nil, g)
	for i := range g.Len() {
		for k, b := range bounds {
			share := cmplx.Abs(responses[k][i]) * c.Input.At(i) / b.Peak
			if share > 1+1e-12 || (k == c.Cause[i]) != (share > 1-1e-12) {
				t.Fatalf("%g Hz: %v is used to %.9f, and bound %d binds", g.At(i), b, share, c.Cause[i])
			}
		}
		omega := g.Omega()[i]
		u0 := math.Sqrt2 * level.Pascal(c.Level.At(i)) * 2 * math.Pi / (1.2 * omega)
		x := 40 / g.At(i)
		in := complex(c.Input.At(i), 0) * chain[i]
		if u := cmplx.Abs(in*vent[i]) * math.Pi / 4 * 0.052 * 0.052; math.Abs(u-u0*x*x) > 1e-9*u0*x*x {
			t.Fatalf("%g Hz: vent %g m³/s, want %g", g.At(i), u, u0*x*x)
		}
		if u := cmplx.Abs(in*cone[i]) * omega * 0.0138; math.Abs(u-u0*math.Abs(1-x*x)) > 1e-9*u0*max(1, x*x) {
			t.Fatalf("%g Hz: cone %g m³/s, want %g", g.At(i), u, u0*math.Abs(1-x*x))
		}
	}
	if b := c.Level.Basis(); b.Per != freq.Absolute || b.Space != freq.HalfSpace {
		t.Errorf("ceiling is %v", b)
	}
}

// The output resistance of the amplifier counts as one in front of the driver.
func TestSourceImpedanceCounts(t *testing.T) {
	w := way(t)
	w.Amplifier.OutputResistance = 0.5
	other := way(t)
	other.Amplifier.OutputResistance, other.Mounted.Source = 0, 0.5
	a, err := w.Motion()
	if err != nil {
		t.Fatal(err)
	}
	b, err := other.Motion()
	if err != nil {
		t.Fatal(err)
	}
	g := study(t).Grid
	cone, current := a.Cone.ResponseTo(nil, g), a.Current.ResponseTo(nil, g)
	for i, z := range b.Cone.ResponseTo(nil, g) {
		if cmplx.Abs(z-cone[i]) > 1e-12*cmplx.Abs(z) {
			t.Fatalf("%g Hz: %v m/V behind the amplifier, %v behind a choke", g.At(i), cone[i], z)
		}
	}
	w.Amplifier.OutputResistance = 0
	bare, err := w.Motion()
	if err != nil {
		t.Fatal(err)
	}
	load := limits.Amplifier{OutputResistance: 0.5}.Current(bare.Impedance)
	for i, y := range load.ResponseTo(nil, g) {
		if cmplx.Abs(y-current[i]) > 1e-9*cmplx.Abs(y) {
			t.Fatalf("%g Hz: %v A/V from the impedance, %v from the motion", g.At(i), y, current[i])
		}
	}
}

// A hot coil raises the Q of a driver in a closed box, because Qes is proportional to
// Re; at the resonance the cone goes as Bl/Re·Qtc per volt (R. Small, JAES 20, 1972).
func TestHeatRaisesQ(t *testing.T) {
	w := way(t)
	w.Mounted.Box = enclosure.Closed{Vb: 0.0152}
	w.Mounted.Driver.Coil = nil
	w.Amplifier.OutputResistance = 0
	f, cold, err := w.Mounted.Resonance()
	if err != nil {
		t.Fatal(err)
	}
	ratio := 1 + 0.00393*130
	qes := cold / (1 - cold/qmc(w.Mounted)) // of the box: 1/Qtc = 1/Qmc + 1/Qec
	want := 1 / (1/(qes*ratio) + 1/qmc(w.Mounted)) / cold / ratio
	g, _ := freq.NewGrid([]float64{f})
	var cone [2]float64
	for k, rise := range []float64{0, 130} {
		w.Rise = rise
		m, err := w.Motion()
		if err != nil {
			t.Fatal(err)
		}
		cone[k] = cmplx.Abs(m.Cone.ResponseTo(nil, g)[0])
	}
	if got := cone[1] / cone[0]; math.Abs(got/want-1) > 1e-9 || got < 0.7 {
		t.Errorf("hot the cone moves %.9f of the cold one at %g Hz, want %.9f", got, f, want)
	}
}

// qmc returns the mechanical Q of a driver in a closed box, Qms·√(1+Vas/Vb).
func qmc(m enclosure.Mounted) float64 {
	return m.Driver.Qms() * math.Sqrt(1+m.Driver.Vas(m.Air)/m.Box.(enclosure.Closed).Vb)
}

func TestWayRefusals(t *testing.T) {
	for want, change := range map[string]func(*limits.Way){
		"rise of NaN K":       func(w *limits.Way) { w.Rise = math.NaN() },
		"wire of NaN per K":   func(w *limits.Way) { w.Coil.Wire = limits.Wire(math.NaN()) },
		"wire of 0.393 per K": func(w *limits.Way) { w.Coil.Wire = 0.393 },
		"and no wire":         func(w *limits.Way) { w.Rise, w.Coil.Wire = 50, 0 },
		"-1 Ω":                func(w *limits.Way) { w.Amplifier.OutputResistance = -1 },
		"woofer: driver: Re":  func(w *limits.Way) { w.Mounted.Driver.Re = 0 },
		"thermal network has": func(w *limits.Way) { w.Coil.Thermal = limits.Thermal{{}} },
		"no bound": func(w *limits.Way) {
			*w = limits.Way{Name: "woofer", Mounted: w.Mounted, Worst: w.Worst}
			w.Mounted.Driver.Limits = driver.Limits{}
		},
		"current of woofer": func(w *limits.Way) { w.Worst.Duration = 1e9 },
	} {
		w := way(t)
		change(&w)
		if _, err := w.Ceiling(study(t).Grid); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want one with %q", err, want)
		}
	}
}
