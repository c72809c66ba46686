package driver_test

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

func grid(t testing.TB, hz ...float64) *freq.Grid {
	t.Helper()
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// invented is a driver whose parameters are typed, not derived.
func invented() driver.Params {
	return driver.Params{Re: 5.5, Bl: 7.4, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.84, Sd: 0.0138}
}

// Small 1972, η₀ = (4π²/c³)·Fs³·Vas/Qes, and the level of an efficiency of 100 %
// at 1 W and 1 m: datasets/reference/efficiency_constants.csv, computed outside
// the library. The printed digits bound the tolerance.
func TestEfficiencyReference(t *testing.T) {
	checked := 0
	for _, r := range testtable.Read(t, "../../datasets/reference/efficiency_constants.csv") {
		m := air.Medium{Density: r.Number(t, "rho_kgm3"), SpeedOfSound: r.Number(t, "c_mps")}
		s := driver.Sheet{Fs: r.Number(t, "ex_fs"), Vas: r.Number(t, "ex_Vas_m3"), Qes: r.Number(t, "ex_Qes"), Qms: 5, Re: 6, Sd: 0.02}
		p, _, err := s.Params(m, 0)
		if err != nil {
			t.Fatal(err)
		}
		if got, want := p.Eta0(m), r.Number(t, "ex_eta0"); math.Abs(got/want-1) > 3e-7 {
			t.Errorf("c = %g: η₀ is %v, want %v", m.SpeedOfSound, got, want)
		}
		if got, want := p.SPL1W(m), r.Number(t, "ex_SPL_1W_1m_halfspace_db"); math.Abs(got-want) > 6e-6 {
			t.Errorf("c = %g: level at 1 W is %v dB, want %v", m.SpeedOfSound, got, want)
		}
		// The constants: k of η₀ = k·Fs³·Vas/Qes, and the level at η₀ = 1.
		fs := p.Fs()
		if got, want := p.Eta0(m)*p.Qes()/(fs*fs*fs*p.Vas(m)), r.Number(t, "k_eta_SI"); math.Abs(got/want-1) > 6e-7 {
			t.Errorf("c = %g: k is %v, want %v", m.SpeedOfSound, got, want)
		}
		at1 := p.SPL1W(m) - level.PowerDB(p.Eta0(m))
		if want := r.Number(t, "SPL_1W_1m_halfspace_eta1_db"); math.Abs(at1-want) > 6e-6 {
			t.Errorf("c = %g: level of 100 %% is %v dB, want %v", m.SpeedOfSound, at1, want)
		}
		// The second form of η₀ does not go by Fs, Vas and Qes.
		second := m.Density / (2 * math.Pi * m.SpeedOfSound) * p.Bl * p.Bl * p.Sd * p.Sd / (p.Re * p.Mms * p.Mms)
		if math.Abs(p.Eta0(m)/second-1) > 1e-13 {
			t.Errorf("c = %g: η₀ is %v, by the second form %v", m.SpeedOfSound, p.Eta0(m), second)
		}
		checked++
	}
	if checked != 5 {
		t.Errorf("%d rows checked, want 5", checked)
	}
}

// 2.83 V are 1 W into 8 Ω: 3.0103 dB more than 1 W into 4 Ω (10·log10 2).
func TestSensitivityAtVolts(t *testing.T) {
	m := air.Room()
	p := invented()
	for re, want := range map[float64]float64{8: 0, 4: level.PowerDB(2), 16: -level.PowerDB(2)} {
		p.Re = re
		if got := p.SPL2V83(m) - p.SPL1W(m); math.Abs(got-want) > 1e-12 {
			t.Errorf("Re = %g Ω: %v dB between √8 V and 1 W, want %v", re, got, want)
		}
	}
	// At a fixed voltage, far above resonance, the pressure is ρ·Sd·Bl·V/(2πr·Re·Mms):
	// mass-controlled motion, without efficiency or watts (r = 1 m, half space).
	p.Re = 5.5
	pressure := m.Density * p.Sd * p.Bl * math.Sqrt(8) / (2 * math.Pi * p.Re * p.Mms)
	if got, want := p.SPL2V83(m), level.DB(pressure/20e-6); math.Abs(got-want) > 1e-10 {
		t.Errorf("level at √8 V is %v dB, want %v", got, want)
	}
}

func TestValidate(t *testing.T) {
	if err := invented().Validate(); err != nil {
		t.Fatal(err)
	}
	nan, inf := math.NaN(), math.Inf(1)
	for name, c := range map[string]struct {
		change func(*driver.Params)
		want   string
	}{
		"Re":      {func(p *driver.Params) { p.Re = -3 }, "driver: Re is -3 ohm, want a finite value > 0"},
		"Bl":      {func(p *driver.Params) { p.Bl = 0 }, "Bl is 0 N/A"},
		"Mms":     {func(p *driver.Params) { p.Mms = nan }, "Mms is NaN kg"},
		"Cms":     {func(p *driver.Params) { p.Cms = inf }, "Cms is +Inf m/N"},
		"Rms":     {func(p *driver.Params) { p.Rms = -1 }, "Rms is -1 kg/s"},
		"Sd":      {func(p *driver.Params) { p.Sd = 0 }, "Sd is 0 m²"},
		"linear":  {func(p *driver.Params) { p.Limits.Linear = nan }, "linear excursion limit is NaN m"},
		"damage":  {func(p *driver.Params) { p.Limits.Damage = -1 }, "damage excursion limit is -1 m"},
		"swapped": {func(p *driver.Params) { p.Limits = driver.Limits{Linear: 0.011, Damage: 0.006} }, "linear excursion limit is 0.011 m, want at most"},
		"Le":      {func(p *driver.Params) { p.Coil = driver.Inductor{Le: -1} }, "Le is -1 H"},
		"ladder":  {func(p *driver.Params) { p.Coil = driver.Ladder{Le: nan, L2: 1, R2: 1} }, "Le is NaN H"},
		"L2":      {func(p *driver.Params) { p.Coil = driver.Ladder{L2: 0, R2: 1} }, "L2 is 0 H"},
		"ladders": {func(p *driver.Params) { p.Coil = driver.TwoLadders{Le: -1, L2: 1, R2: 1, L3: 1, R3: 1} }, "Le is -1 H"},
		"L3":      {func(p *driver.Params) { p.Coil = driver.TwoLadders{L2: 1, R2: 1, L3: nan, R3: 1} }, "L3 is NaN H"},
		"R3":      {func(p *driver.Params) { p.Coil = driver.TwoLadders{L2: 1, R2: 1, L3: 1, R3: -4} }, "R3 is -4 ohm"},
		"K":       {func(p *driver.Params) { p.Coil = driver.SemiInductance{K: 0, N: 0.5} }, "K is 0 ohm·s^n"},
		"N":       {func(p *driver.Params) { p.Coil = driver.SemiInductance{K: 1, N: 1.01} }, "exponent of a semi-inductance is 1.01"},
		"no N":    {func(p *driver.Params) { p.Coil = driver.SemiInductance{K: 1, N: nan} }, "exponent of a semi-inductance is NaN"},
		"Leb":     {func(p *driver.Params) { p.Coil = driver.ShuntedSemiInductance{Leb: -1, Le: 1, Ke: 1, Rss: 1} }, "Leb is -1 H"},
		"bound":   {func(p *driver.Params) { p.Coil = driver.ShuntedSemiInductance{Ke: 1, Rss: 1} }, "Le is 0 H"},
		"Ke":      {func(p *driver.Params) { p.Coil = driver.ShuntedSemiInductance{Le: 1, Ke: inf, Rss: 1} }, "Ke is +Inf ohm·s^½"},
		"Rss":     {func(p *driver.Params) { p.Coil = driver.ShuntedSemiInductance{Le: 1, Ke: 1} }, "Rss is 0 ohm"},
		"R2":      {func(p *driver.Params) { p.Coil = driver.Ladder{L2: 1, R2: inf} }, "R2 is +Inf ohm"},
	} {
		p := invented()
		c.change(&p)
		if err := p.Validate(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q", name, err, c.want)
		}
	}
}

// Without coil the peak is Re·(1+Qms/Qes), real, at Fs; and from the two
// frequencies where |Z| = √(Zmax·Re), Qms = Fs·√(Zmax/Re)/(f₂−f₁) and
// Fs = √(f₁f₂) (Small 1972, the appendix on measuring drivers; from memory).
func TestImpedanceGivesTheQsBack(t *testing.T) {
	for name, p := range map[string]driver.Params{
		"invented": invented(),
		"damped":   {Re: 4.9, Bl: 2.1, Mms: 0.34e-3, Cms: 7.8e-5, Rms: 1.3, Sd: 7.1e-4},
	} {
		fs := p.Fs()
		z := func(hz float64) complex128 { return p.ImpedanceTo(nil, grid(t, hz))[0] }
		top := z(fs)
		if want := p.Re * (1 + p.Qms()/p.Qes()); math.Abs(real(top)/want-1) > 1e-12 || math.Abs(imag(top)) > 1e-9*want {
			t.Errorf("%s: Z(Fs) is %v, want %v", name, top, want)
		}
		level := math.Sqrt(real(top) * p.Re)
		crossing := func(lo, hi float64) float64 { // |Z| is below the level at lo and above it at hi
			for range 200 {
				mid := math.Sqrt(lo * hi)
				if v := z(mid); math.Hypot(real(v), imag(v)) < level {
					lo = mid
				} else {
					hi = mid
				}
			}
			return lo
		}
		f1, f2 := crossing(fs/100, fs), crossing(100*fs, fs)
		if got := math.Sqrt(f1 * f2); math.Abs(got/fs-1) > 1e-9 {
			t.Errorf("%s: √(f₁f₂) is %v Hz, want %v", name, got, fs)
		}
		if got := fs * math.Sqrt(real(top)/p.Re) / (f2 - f1); math.Abs(got/p.Qms()-1) > 1e-9 {
			t.Errorf("%s: Qms from the impedance is %v, want %v", name, got, p.Qms())
		}
	}
}

// Far from resonance the motion is nothing: Re and the coil are left.
func TestImpedanceAsymptotes(t *testing.T) {
	p := invented()
	p.Coil = driver.Ladder{Le: 0.2e-3, L2: 0.6e-3, R2: 4}
	g := grid(t, 1e-4, 1e8)
	z := p.ImpedanceTo(nil, g)
	if math.Abs(real(z[0])-p.Re) > 1e-6 {
		t.Errorf("Re Z near direct current is %v, want %v", real(z[0]), p.Re)
	}
	if got := real(z[1]); math.Abs(got-9.5) > 1e-6 {
		t.Errorf("Re Z far above the ladder is %v, want Re + R2 = 9.5", got)
	}
	if got := imag(z[1]) / g.Omega()[1]; math.Abs(got/0.2e-3-1) > 1e-6 {
		t.Errorf("Im Z/ω far above the ladder is %v, want Le", got)
	}
}

// The electrical circuit of the free-air driver, R ‖ L ‖ C with R = Bl²/Rms,
// L = Bl²·Cms and C = Mms/Bl² (Small 1972), is a second route.
func TestImpedanceIsThatOfTheCircuit(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := anyParams(rt)
		hz := rapid.Float64Range(1, 20e3).Draw(rt, "f")
		g := grid(t, hz)
		w := g.Omega()[0]
		b2 := p.Bl * p.Bl
		y := complex(p.Rms/b2, 0) + 1/complex(0, w*b2*p.Cms) + complex(0, w*p.Mms/b2)
		want := complex(p.Re, 0) + p.Coil.ImpedanceTo(nil, g)[0] + 1/y
		got := p.ImpedanceTo(nil, g)[0]
		if d := got - want; math.Hypot(real(d), imag(d)) > 1e-10*math.Hypot(real(want), imag(want)) {
			rt.Fatalf("Z is %v, want %v", got, want)
		}
	})
}

// A passive thing takes power: Re Z ≥ 0, of the coil and of the driver.
func TestRealPartIsNotNegative(t *testing.T) {
	g, err := freq.LogGrid(1, 100e3, 6)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(rt *rapid.T) {
		p := anyParams(rt)
		p.Coil = anyTunableCoil(rt)
		for i, z := range p.Coil.ImpedanceTo(nil, g) {
			if !(real(z) >= 0) {
				rt.Fatalf("%#v: Re Z is %v at %g Hz", p.Coil, real(z), g.At(i))
			}
		}
		for i, z := range p.ImpedanceTo(nil, g) {
			if !(real(z) >= p.Re) {
				rt.Fatalf("%#v: Re Z is %v at %g Hz, want at least Re", p, real(z), g.At(i))
			}
		}
	})
}

func anyCoil(t *rapid.T) driver.Coil {
	henry := rapid.Float64Range(1e-6, 1e-2)
	switch rapid.IntRange(0, 2).Draw(t, "coil") {
	case 1:
		return driver.Inductor{Le: henry.Draw(t, "Le")}
	case 2:
		return driver.Ladder{Le: rapid.Float64Range(0, 1e-2).Draw(t, "Le"), L2: henry.Draw(t, "L2"), R2: rapid.Float64Range(0.1, 100).Draw(t, "R2")}
	}
	return driver.NoCoil{}
}

func anyParams(t *rapid.T) driver.Params {
	span := func(name string, lo, hi float64) float64 {
		return lo * math.Pow(hi/lo, rapid.Float64Range(0, 1).Draw(t, name))
	}
	// Motor strength Bl²/Re and area over mass bound the efficiency below 1.
	re, sd := span("Re", 1, 30), span("Sd", 3e-4, 0.15)
	return driver.Params{
		Re: re, Bl: math.Sqrt(re * span("motor", 0.1, 50)), Mms: sd / span("lightness", 0.1, 5),
		Cms: span("Cms", 1e-5, 3e-3), Rms: span("Rms", 0.1, 10), Sd: sd, Coil: anyCoil(t),
	}
}

func TestImpedanceDoesNotAllocate(t *testing.T) {
	g, err := freq.LogGrid(10, 20e3, 48)
	if err != nil {
		t.Fatal(err)
	}
	dst := make([]complex128, g.Len())
	for _, c := range []driver.Coil{nil, driver.NoCoil{}, driver.Inductor{Le: 1e-3}, driver.Ladder{Le: 1e-3, L2: 1e-3, R2: 3},
		driver.TwoLadders{Le: 1e-4, L2: 1e-3, R2: 3, L3: 1e-4, R3: 9}, driver.SemiInductance{K: 0.02, N: 0.7},
		driver.ShuntedSemiInductance{Leb: 1e-5, Le: 1e-3, Ke: 0.1, Rss: 100}} {
		p := invented()
		p.Coil = c
		if n := testing.AllocsPerRun(20, func() { p.ImpedanceTo(dst, g) }); n != 0 {
			t.Errorf("%T: %g allocations, want 0", c, n)
		}
	}
}

func TestWrongLengthPanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic for a dst of another length")
		}
	}()
	invented().ImpedanceTo(make([]complex128, 2), grid(t, 1, 2, 3))
}

// A piston of 10 cm radius has π dm².
func TestRadius(t *testing.T) {
	if r := (driver.Params{Sd: math.Pi / 100}).Radius(); math.Abs(r-0.1) > 1e-15 {
		t.Errorf("radius %g m, want 0.1", r)
	}
}
