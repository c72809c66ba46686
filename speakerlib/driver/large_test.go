package driver_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
)

// The limits of parabolas and a straight line, solved by hand.
func TestDisplacementLimitsOfClosedForms(t *testing.T) {
	p, m := invented(), air.Medium{Density: 1.2, SpeedOfSound: 340}
	const k, s, l0, slope = 5000.0, 12000.0, 0.4e-3, 60.0 // Le = l0·(1 − slope·x)
	large := driver.LargeSignal{
		Bl:  polynomial(t, -9e-3, 9e-3, 7.4, 0, -7.4*k),
		Kms: polynomial(t, -9e-3, 9e-3, 1000, 0, 1000*s),
		Le:  polynomial(t, -9e-3, 9e-3, l0, -l0*slope),
	}
	got, err := large.DisplacementLimits(p, m)
	if err != nil {
		t.Fatal(err)
	}
	w := 2 * math.Pi * 8.5 * p.Fs()
	z0 := cmplx.Abs(complex(p.Re, w*l0))
	want := []driver.DisplacementLimit{
		{Criterion: driver.ForceFactor, X: math.Sqrt(0.18 / k), Reached: true},
		{Criterion: driver.Compliance, X: math.Sqrt((4.0/3 - 1) / s), Reached: true},
		{Criterion: driver.Inductance, X: 0.1 * z0 / (w * l0 * slope), Reached: true},
		{Criterion: driver.Doppler, X: 34 / w, Reached: true},
	}
	// The inductance of this coil varies too little within 9 mm.
	if want[2].X < 9e-3 {
		t.Fatalf("limit by inductance would be %g", want[2].X)
	}
	want[2].X, want[2].Reached = 9e-3, false
	if len(got) != len(want) {
		t.Fatalf("%v", got)
	}
	for i, d := range got {
		if d.Criterion != want[i].Criterion || math.Abs(d.X/want[i].X-1) > 1e-9 || d.Reached != want[i].Reached {
			t.Errorf("limit %d is %+v, want %+v", i, d, want[i])
		}
	}
	if d := driver.LinearLimit(got); d.Criterion != driver.Compliance {
		t.Errorf("the linear limit is %v, want that of the compliance, %v", d, got)
	}
	// With more slope it limits, if the measured range reaches so far on the nearer
	// side; equal on both sides, as the line is straight.
	const steep = 200.0
	x := 0.1 * z0 / (w * l0 * steep)
	if !(x > 3e-3 && x < 4e-3) {
		t.Fatalf("limit by inductance would be %g", x)
	}
	for to, reached := range map[float64]bool{3e-3: false, 4e-3: true} {
		large.Le = polynomial(t, -4e-3, to, l0, -l0*steep)
		if got, err = large.DisplacementLimits(p, m); err != nil {
			t.Fatal(err)
		}
		if d := got[2]; d.Reached != reached || math.Abs(d.X/math.Min(x, to)-1) > 1e-9 {
			t.Errorf("limit by inductance is %+v, want %v of the measured %v", d, x, to)
		}
	}
}

// The nearer side limits, and only what is measured counts.
func TestDisplacementLimitsOnOneSide(t *testing.T) {
	p, m := invented(), air.Room()
	find := func(bl *driver.Characteristic) driver.DisplacementLimit {
		t.Helper()
		list, err := driver.LargeSignal{Bl: bl}.DisplacementLimits(p, m)
		if err != nil {
			t.Fatal(err)
		}
		if len(list) != 2 || list[0].Criterion != driver.ForceFactor || list[1].Criterion != driver.Doppler {
			t.Fatalf("%v", list)
		}
		return list[0]
	}
	// Straight lines between points: Bl falls by 10 % a millimetre inward.
	inward := table(t, []float64{-4e-3, -3e-3, -2e-3, -1e-3, 0, 4e-3}, []float64{6, 7, 8, 9, 10, 10})
	d := find(inward)
	if want := 1.8e-3; d.Outward || !d.Reached || math.Abs(d.X-want) > 0.05e-3 {
		t.Errorf("%+v, want %v inward", d, want)
	}
	if v, _ := inward.At(-d.X); math.Abs(v-8.2) > 1e-12 {
		t.Errorf("Bl at the limit is %v, want 8.2", v)
	}
	if s := d.String(); !strings.Contains(s, "force factor: ±1.8 mm") || !strings.Contains(s, "inward") {
		t.Errorf("%q", s)
	}
	// A parabola that is known to 3 mm outward, and to 8 mm inward.
	const k = 5000.0 // 6 mm
	if d := find(polynomial(t, -8e-3, 3e-3, 7, 0, -7*k)); d.Reached || d.X != 3e-3 || !d.Outward || !strings.Contains(d.String(), "beyond the measured ±3 mm") {
		t.Errorf("%+v: %v, want at least 3 mm", d, d)
	}
	if d := find(polynomial(t, -8e-3, 7e-3, 7, 0, -7*k)); !d.Reached || math.Abs(d.X-6e-3) > 1e-12 {
		t.Errorf("%+v, want 6 mm", d)
	}
	// A dip on the way limits although the end is well, on either side.
	for _, dip := range []*driver.Characteristic{
		table(t, []float64{-5e-3, 0, 2e-3, 3e-3, 5e-3}, []float64{7, 7, 5, 7, 7}),
		table(t, []float64{-5e-3, -3e-3, -2e-3, 0, 5e-3}, []float64{7, 7, 5, 7, 7}),
	} {
		from, _ := dip.At(-2e-3)
		if d := find(dip); !d.Reached || !(d.X > 1e-3 && d.X < 2e-3) || d.Outward != (from == 7) {
			t.Errorf("%+v, want before the dip at 2 mm", d)
		}
	}
}

// Why 82 %, 75 %, and what Doppler means: at the limits that the library tells, three
// distortions that are computed here are about 10 %.
//
// A tone of high frequency that passes a motor with Bl(x) = 1 − k·x², x a sine of
// low frequency, gets sidebands at twice that, summed here over a period. A
// suspension of K(x) = K₀·(1 + s·x²) moved at Fs by a sine of amplitude x has a third
// harmonic K₀·s·x³/4 of force, which moves it by 1/(K₀·(1−9)) at 3·Fs, and pressure
// goes by displacement times frequency squared: s·x²/4·9/8 (first-order
// perturbation). The moving source gets sidebands of J₁(β)/J₀(β) each (phase
// modulation). The well-known 0.033 %·x·f₂ of the two sidebands' rms, x in inches
// (G. L. Beers and H. Belar, Proc. IRE 31, 1943; from memory), is the same index.
func TestLimitsAreTenPercent(t *testing.T) {
	const k, s = 5000.0, 12000.0
	p, m := invented(), air.Medium{Density: 1.2, SpeedOfSound: 344}
	list, err := driver.LargeSignal{Bl: polynomial(t, -9e-3, 9e-3, 7, 0, -7*k), Kms: polynomial(t, -9e-3, 9e-3, 1000, 0, 1000*s)}.DisplacementLimits(p, m)
	if err != nil {
		t.Fatal(err)
	}
	const n = 4096
	var carrier, second float64
	for i := range n {
		phase := 2 * math.Pi * float64(i) / n
		x := list[0].X * math.Sin(phase)
		bl := 1 - k*x*x
		carrier += bl / n
		second += 2 * bl * math.Cos(2*phase) / n
	}
	if d := math.Abs(second) / carrier; math.Abs(d-0.1) > 0.002 {
		t.Errorf("sidebands of the force at %v are %v of the tone, want about 10 %%", list[0], d)
	}
	if x := list[1].X; math.Abs(s*x*x/4*9/8-0.1) > 0.007 {
		t.Errorf("third harmonic of the suspension at %v is %v, want about 10 %%", list[1], s*x*x/4*9/8)
	}
	f2 := 8.5 * p.Fs()
	x := list[2].X
	beta := 2 * math.Pi * f2 * x / m.SpeedOfSound
	if d := 2 * math.J1(beta) / math.J0(beta); math.Abs(d-0.1) > 0.0005 {
		t.Errorf("Doppler sidebands are %v, want 10 %%", d)
	}
	if rms := 0.033 * f2 * x / 0.0254; math.Abs(rms-10/math.Sqrt2) > 0.08 {
		t.Errorf("by Beers and Belar it is %v %%, want 10 %%/√2", rms)
	}
}

func TestStiffnessAsymmetry(t *testing.T) {
	l := driver.LargeSignal{Kms: polynomial(t, -5e-3, 4e-3, 1000, -2e4, 3e7)}
	x := 3e-3
	// K(∓x) is 1270 ± 60.
	if got, err := l.StiffnessAsymmetry(x); err != nil || math.Abs(got-2*120.0/2540) > 1e-12 {
		t.Errorf("asymmetry is %v (%v), want %v", got, err, 2*120.0/2540)
	}
	if _, err := l.StiffnessAsymmetry(4.5e-3); err == nil || !strings.Contains(err.Error(), "within the measured") {
		t.Errorf("error %v", err)
	}
	if _, err := l.StiffnessAsymmetry(math.NaN()); err == nil {
		t.Error("NaN is taken")
	}
	if _, err := (driver.LargeSignal{}).StiffnessAsymmetry(x); err == nil || !strings.Contains(err.Error(), "no Kms") {
		t.Errorf("error %v", err)
	}
}

func TestLargeSignalValidate(t *testing.T) {
	for want, l := range map[string]driver.LargeSignal{
		"at least one of":             {},
		"Bl(x) is known from 0 to":    {Bl: polynomial(t, 0, 1e-3, 7)},
		"Bl(x) is 0 N/A at rest":      {Bl: polynomial(t, -1, 1, 0, 1)},
		"Kms(x) falls to -1 N/m":      {Kms: polynomial(t, -1, 1, 1, -2)},
		"Le(x) falls to 0 H":          {Le: table(t, []float64{-1, 0, 1}, []float64{1, 1, 0})},
		"Le(i) is known from 1 to 2 ": {LeCurrent: polynomial(t, 1, 2, 7)},
	} {
		if err := l.Validate(); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want %q", err, want)
		}
		if _, err := l.DisplacementLimits(invented(), air.Room()); err == nil {
			t.Errorf("%s: has limits", want)
		}
	}
	// Far out the coil may leave the gap.
	if err := (driver.LargeSignal{Bl: polynomial(t, -1, 1, 1, 0, -1)}).Validate(); err != nil {
		t.Error(err)
	}
	good := driver.LargeSignal{Bl: polynomial(t, -1e-3, 1e-3, 7)}
	if _, err := good.DisplacementLimits(driver.Params{}, air.Room()); err == nil {
		t.Error("no parameters have limits")
	}
	if _, err := good.DisplacementLimits(invented(), air.Medium{}); err == nil {
		t.Error("no air has limits")
	}
}

func TestRelative(t *testing.T) {
	l := driver.LargeSignal{Bl: polynomial(t, -4e-3, 4e-3, 8, 0, -8*1e4), Le: polynomial(t, -2e-3, 3e-3, 2e-4, 0.02), LeCurrent: polynomial(t, -1, 1, 2e-4)}
	got := l.Relative(3)
	if len(got) != 2 || got[0].Label != "Bl(x)" || got[1].Label != "Le(x)" {
		t.Fatalf("%+v", got)
	}
	for i, want := range [][2][]float64{{{-4e-3, 0, 4e-3}, {0.84, 1, 0.84}}, {{-2e-3, 0.5e-3, 3e-3}, {0.8, 1.05, 1.3}}} {
		for k := range 3 {
			if math.Abs(got[i].X[k]-want[0][k]) > 1e-15 || math.Abs(got[i].Y[k]-want[1][k]) > 1e-12 {
				t.Errorf("%s: %v, %v, want %v", got[i].Label, got[i].X, got[i].Y, want)
			}
		}
	}
}

// A polynomial's even powers are its symmetric part, its odd ones the asymmetric.
func TestParts(t *testing.T) {
	l := driver.LargeSignal{Bl: polynomial(t, -4e-3, 6e-3, 8, 40, -8*1e4, 3e5), LeCurrent: polynomial(t, -1, 1, 2e-4)}
	got := l.Parts(5)
	if len(got) != 1 || got[0].Symmetric.Label != "Bl(x)" || got[0].Asymmetric.Label != "Bl(x)" {
		t.Fatalf("%+v", got)
	}
	for i, x := range []float64{0, 1e-3, 2e-3, 3e-3, 4e-3} {
		even, odd := 1-1e4*x*x, 5*x+3e5/8*x*x*x
		p := got[0]
		if p.Symmetric.X[i] != x || p.Asymmetric.X[i] != x || math.Abs(p.Symmetric.Y[i]-even) > 1e-12 || math.Abs(p.Asymmetric.Y[i]-odd) > 1e-12 {
			t.Errorf("at %g m: %g and %g at %g, want %g and %g", x, p.Symmetric.Y[i], p.Asymmetric.Y[i], p.Symmetric.X[i], even, odd)
		}
	}
}

func TestDisplacementLimitInWords(t *testing.T) {
	for want, d := range map[string]driver.DisplacementLimit{
		"force factor: ±5 mm, outward side":     {Criterion: driver.ForceFactor, X: 5e-3, Reached: true, Outward: true},
		"compliance: ±5 mm, inward side":        {Criterion: driver.Compliance, X: 5e-3, Reached: true},
		"inductance: beyond the measured ±5 mm": {Criterion: driver.Inductance, X: 5e-3},
		"Doppler: ±5 mm":                        {Criterion: driver.Doppler, X: 5e-3, Reached: true},
		"Criterion(9): ±5 mm, inward side":      {Criterion: 9, X: 5e-3, Reached: true},
	} {
		if got := d.String(); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
	defer func() {
		if recover() == nil {
			t.Error("no panic without limits")
		}
	}()
	driver.LinearLimit(nil)
}
