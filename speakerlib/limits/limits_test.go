package limits_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/limits"
)

// closedBox is a closed-box loudspeaker of Qtc = 1/√2, 50 Hz: pressure
// P·s²/D, displacement X·ω₀²/D per volt, D = s² + √2·ω₀·s + ω₀².
func closedBox(t *testing.T) (output freq.Response, cone freq.Transfer, x0, p0 float64) {
	t.Helper()
	const f0 = 50.0
	x0, p0 = 1.0e-3, 0.2
	w := 2 * math.Pi * f0
	den := freq.NewPoly(w*w, math.Sqrt2*w, 1)
	g, err := freq.LogGrid(10, 2000, 48)
	if err != nil {
		t.Fatal(err)
	}
	output, err = freq.Evaluate(&freq.PolyRatio{Num: freq.NewPoly(0, 0, p0), Den: den}, g, "closed box",
		freq.Basis{Quantity: freq.Pressure, Per: freq.PerInput, Space: freq.HalfSpace, Distance: 1})
	if err != nil {
		t.Fatal(err)
	}
	return output, &freq.PolyRatio{Num: freq.NewPoly(x0 * w * w), Den: den}, x0, p0
}

// At constant excursion the pressure of a closed box rises with ω², whatever its
// resonance: p = X·(P/(X₀ω₀²))·ω² (R. Small, JAES 20, 1972: displacement-limited
// output is 12 dB per octave). Amplifier volts bind above.
func TestCeilingOfClosedBox(t *testing.T) {
	output, cone, x0, p0 := closedBox(t)
	const limit, volts = 4e-3, 20.0
	c, err := limits.NewCeiling(output, []limits.Bound{
		{Cause: limits.Excursion, Way: "woofer", PerVolt: cone, Peak: limit},
		limits.Amplifier{PeakVolts: volts}.Bound("woofer", freq.Gain(1)),
	})
	if err != nil {
		t.Fatal(err)
	}
	g := output.Grid()
	for i := range g.Len() {
		x := g.At(i) / 50
		byExcursion := level.SPL(p0 / x0 * x * x * limit / math.Sqrt2)
		byVolts := level.SPL(cmplx.Abs(output.At(i)) * volts / math.Sqrt2)
		if math.Abs(c.Each[0].At(i)-byExcursion) > 1e-9 || math.Abs(c.Level.At(i)-min(byExcursion, byVolts)) > 1e-9 {
			t.Fatalf("%g Hz: %.6f dB (excursion alone %.6f), want the lower of %.6f and %.6f",
				g.At(i), c.Level.At(i), c.Each[0].At(i), byExcursion, byVolts)
		}
	}
	want := freq.Basis{Quantity: freq.Pressure, Space: freq.HalfSpace, Distance: 1} // not per volt
	if c.Level.Basis() != want || c.Each[0].Basis() != want {
		t.Errorf("the ceiling is %v, the level by excursion alone %v, want %v", c.Level.Basis(), c.Each[0].Basis(), want)
	}
	// They meet where |X|·volts = limit: x⁴ + 1 = (X₀·volts/limit)².
	meet := 50 * math.Pow(math.Pow(x0*volts/limit, 2)-1, 0.25)
	s := c.Segments()
	if len(s) != 2 || s[0].Bound.Cause != limits.Excursion || s[1].Bound.Cause != limits.Volts ||
		s[0].To > meet || s[1].From < meet || s[1].From/s[0].To > 1.02 {
		t.Errorf("segments %+v, want excursion up to %.2f Hz, then volts", s, meet)
	}
}

// With a constant input the excursion is greatest at the lowest frequency of the
// range, so that the plateau is stopped there.
func TestPlateauAndUsage(t *testing.T) {
	output, cone, _, p0 := closedBox(t)
	c, err := limits.NewCeiling(output, []limits.Bound{
		{Cause: limits.Excursion, Way: "woofer", PerVolt: cone, Peak: 4e-3},
		limits.Amplifier{PeakVolts: 20}.Bound("woofer", freq.Gain(1)),
	})
	if err != nil {
		t.Fatal(err)
	}
	p, err := c.Plateau(20, 1000, 500, 2000)
	if err != nil {
		t.Fatal(err)
	}
	x := p.At / 50
	want := 4e-3 / (1e-3 / math.Sqrt(1+x*x*x*x))
	if p.At < 20 || p.At > 20.3 || math.Abs(p.Input/want-1) > 1e-9 || p.Bound.Cause != limits.Excursion {
		t.Errorf("plateau %+v, want %.6f V from excursion at 20 Hz", p, want)
	}
	// The plateau's gain is p0 to within the second-order high-pass's rest above
	// 500 Hz, |H| = 1/√(1+(50/f)⁴): under 5e-5.
	if math.Abs(p.Level-level.SPL(p0*p.Input/math.Sqrt2)) > 5e-4 {
		t.Errorf("plateau of %.5f dB, want %.5f", p.Level, level.SPL(p0*p.Input/math.Sqrt2))
	}
	u, err := c.InputFor(p.Level, 500, 2000)
	if err != nil || math.Abs(u/p.Input-1) > 1e-12 {
		t.Errorf("input for the plateau's level is %g V (%v), want %g", u, err, p.Input)
	}
	use, err := c.Usage(p.Input)
	if err != nil {
		t.Fatal(err)
	}
	if most, err := use[0].Max(20, 2000); err != nil || math.Abs(most.Value-4e-3) > 1e-12 || most.Hz != p.At || use[0].Unit() != "m" {
		t.Errorf("excursion reaches %+v %s (%v), want 4 mm at %g Hz", most, use[0].Unit(), err, p.At)
	}
	if v := use[1].At(3); math.Abs(v-p.Input) > 1e-12 {
		t.Errorf("amplifier gives %g V, want %g", v, p.Input)
	}
}

// What a target costs: at the level p and target T the excursion of a closed box
// is X = √2·p·|T|·X₀ω₀²/(P·ω²), whatever is in between; with T the response of
// the box itself over its plateau, the input is the same at all frequencies.
func TestDemand(t *testing.T) {
	output, cone, x0, p0 := closedBox(t)
	c, err := limits.NewCeiling(output, []limits.Bound{
		{Cause: limits.Excursion, Way: "woofer", PerVolt: cone, Peak: 4e-3},
		limits.Amplifier{PeakVolts: 20}.Bound("woofer", freq.Gain(1)),
	})
	if err != nil {
		t.Fatal(err)
	}
	d, err := c.Demand(freq.Gain(0.5), 90)
	if err != nil {
		t.Fatal(err)
	}
	for i := range output.Len() {
		x := output.Grid().At(i) / 50
		want := math.Sqrt2 * level.Pascal(90) * 0.5 * x0 / p0 / (x * x)
		if got := d.Each[0].At(i); math.Abs(got/want-1) > 1e-12 {
			t.Fatalf("%g Hz: excursion %g m, want %g", output.Grid().At(i), got, want)
		}
	}
	use, err := d.Worst(20, 200)
	if err != nil {
		t.Fatal(err)
	}
	if use[0].At > 20.3 || math.Abs(use[0].Share()-use[0].Most/4e-3) > 1e-15 || use[1].Bound.Cause != limits.Volts {
		t.Errorf("uses %+v", use)
	}
	own := freq.Series{output.Stated(freq.Basis{}), freq.Gain(1 / p0)}
	if d, err = c.Demand(own, 90); err != nil {
		t.Fatal(err)
	}
	for i := range output.Len() {
		if want := math.Sqrt2 * level.Pascal(90) / p0; math.Abs(d.Input.At(i)/want-1) > 1e-12 {
			t.Fatalf("input %g V, want %g at all frequencies", d.Input.At(i), want)
		}
	}
	if _, err := c.Demand(own, math.NaN()); err == nil {
		t.Error("a level of NaN was accepted")
	}
	if _, err := d.Worst(1, 2); err == nil {
		t.Error("an empty range was accepted")
	}
}

func TestRefusals(t *testing.T) {
	output, cone, _, _ := closedBox(t)
	good := limits.Bound{Cause: limits.Excursion, Way: "woofer", PerVolt: cone, Peak: 4e-3}
	with := func(change func(*limits.Bound)) []limits.Bound {
		b := good
		change(&b)
		return []limits.Bound{b}
	}
	other, _ := freq.NewGrid([]float64{10, 20})
	onOther, _ := freq.Evaluate(freq.Gain(1), other, "coarse", freq.Basis{})
	for name, c := range map[string]struct {
		output freq.Response
		bounds []limits.Bound
		want   string
	}{
		"no bounds":    {output, nil, "no bound"},
		"no pressure":  {output.Stated(freq.Basis{}), with(func(*limits.Bound) {}), "want a sound pressure"},
		"not per volt": {output.Stated(freq.Basis{Quantity: freq.Pressure, Per: freq.PerFullScale, Space: freq.HalfSpace, Distance: 1}), with(func(*limits.Bound) {}), "want it per volt"},
		"zero peak":    {output, with(func(b *limits.Bound) { b.Peak = 0 }), "peak of woofer excursion is 0 m"},
		"infinite":     {output, with(func(b *limits.Bound) { b.Peak = math.Inf(1) }), "+Inf"},
		"NaN":          {output, with(func(b *limits.Bound) { b.Peak = math.NaN() }), "NaN"},
		"other grid":   {output, with(func(b *limits.Bound) { b.PerVolt = freq.Series{onOther} }), "resample"},
		"nothing":      {output, with(func(b *limits.Bound) { b.PerVolt = freq.Gain(0) }), "nothing binds"},
		"not a number": {output, with(func(b *limits.Bound) { b.PerVolt = freq.Gain(math.NaN()) }), "NaN"},
	} {
		if _, err := limits.NewCeiling(c.output, c.bounds); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
	c, err := limits.NewCeiling(output, []limits.Bound{good})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := c.Plateau(1, 2, 500, 2000); err == nil {
		t.Error("a range outside the grid was accepted")
	}
	for _, r := range [][2]float64{{5, 200}, {20, 3000}} {
		if p, err := c.Plateau(r[0], r[1], 500, 2000); err == nil || !strings.Contains(err.Error(), "want all of the range") {
			t.Errorf("sines of %g to %g Hz, bounds known from 10 to 2000 Hz: %+v, %v", r[0], r[1], p, err)
		}
	}
	if _, err := c.Plateau(20, 200, 5e3, 6e3); err == nil {
		t.Error("a plateau outside the grid was accepted")
	}
	if _, err := c.Usage(math.Inf(1)); err == nil {
		t.Error("an infinite input was accepted")
	}
	for _, spl := range []float64{math.NaN(), math.Inf(1), 1e6} {
		if u, err := c.InputFor(spl, 500, 2000); err == nil || !strings.HasPrefix(err.Error(), "limits: ") {
			t.Errorf("input for %g dB is %g, %v", spl, u, err)
		}
		if _, err := c.Demand(freq.Gain(1), spl); err == nil || !strings.HasPrefix(err.Error(), "limits: ") {
			t.Errorf("demand for %g dB: %v", spl, err)
		}
		if _, err := limits.StateTable([]limits.Condition{{Name: "cold", Ceiling: c}}, limits.StateSetup{From: 20, To: 200, PlateauFrom: 500, PlateauTo: 2000, Level: spl}); err == nil && spl != 1e6 {
			t.Errorf("a table for %g dB was accepted", spl)
		}
	}
}
