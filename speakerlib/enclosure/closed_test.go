package enclosure_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// The air of the reference tables.
var table = air.Medium{Density: 1.18, SpeedOfSound: 345}

// An invented woofer without inductance.
var woofer = driver.Params{Re: 5.6, Bl: 6.8, Mms: 0.0145, Cms: 0.95e-3, Rms: 1.1, Sd: 0.0136}

func grid(t rapid.TB, hz ...float64) *freq.Grid {
	t.Helper()
	g, err := freq.NewGrid(hz)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func motion(t rapid.TB, m enclosure.Mounted) *enclosure.Motion {
	t.Helper()
	out, err := m.Motion()
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// R. H. Small, "Closed-Box Loudspeaker Systems", JAES 20 (1972): both the closed
// form and the circuit of a driver in the aligned box.
func TestClosedBoxTable(t *testing.T) {
	for _, r := range testtable.Read(t, "../../datasets/reference/closed_box.csv") {
		qtc := r.Number(t, "Qtc")
		name := "Qtc " + r["Qtc"] + ": "
		switch { // the table has six digits, the constants all
		case math.Abs(qtc-enclosure.ClosedBessel) < 1e-6:
			qtc = enclosure.ClosedBessel
		case math.Abs(qtc-enclosure.ClosedButterworth) < 1e-6:
			qtc = enclosure.ClosedButterworth
		}
		s, err := enclosure.SmallSignalOf(woofer, table)
		if err != nil {
			t.Fatal(err)
		}
		a, err := enclosure.AlignClosed(qtc, s)
		if err != nil {
			t.Fatal(err)
		}
		f6, err6 := a.CutOff(6)
		f10, err10 := a.CutOff(10)
		if err6 != nil || err10 != nil {
			t.Fatal(err6, err10)
		}
		near(t, name+"f3/fc", a.F3/a.Fc, r.Number(t, "f3_fc"), 1e-5)
		near(t, name+"f6/fc", f6/a.Fc, r.Number(t, "f6_fc"), 1e-5)
		near(t, name+"f10/fc", f10/a.Fc, r.Number(t, "f10_fc"), 1e-5)
		near(t, name+"peak", a.Peak, r.Number(t, "peak_db"), 1e-5)
		if want := r.Number(t, "f_peak_fc"); math.IsInf(want, 1) {
			if !math.IsInf(a.PeakAt, 1) {
				t.Errorf("%speaks at %g Hz, want nowhere", name, a.PeakAt)
			}
		} else {
			near(t, name+"peak's frequency", a.PeakAt/a.Fc, want, 1e-5)
			q, err := enclosure.ChebyshevQtc(r.Number(t, "peak_db"))
			if err != nil {
				t.Fatal(err)
			}
			near(t, name+"Qtc of the ripple", q, qtc, 1e-5)
		}

		m := enclosure.Mounted{Driver: woofer, Box: a.Box(), Air: table}
		hz, q, err := m.Resonance()
		if err != nil {
			t.Fatal(err)
		}
		near(t, name+"fc of the circuit", hz/a.Fc, 1, 1e-12)
		near(t, name+"Qtc of the circuit", q, qtc, 1e-12)
		p := motion(t, m).Pressure
		at := func(hz float64) float64 {
			z := p.ResponseTo(nil, grid(t, hz, 1e6*a.Fc))
			dB := level.OfComplex(nil, z)
			return dB[0] - dB[1]
		}
		near(t, name+"level at fc", at(a.Fc), r.Number(t, "gain_at_fc_db"), 1e-5)
		near(t, name+"level at f3", at(a.F3), level.PowerDB(0.5), 1e-9)
		near(t, name+"level at f6", at(f6), -6, 1e-9)
		near(t, name+"level at f10", at(f10), -10, 1e-9)
		gd := freq.GroupDelay(p, grid(t, a.Fc), "").At(0)
		near(t, name+"group delay at fc", gd*2*math.Pi*a.Fc, r.Number(t, "group_delay_at_fc_times_wc"), 1e-5)
	}
}

// Absorption alone is one more loss of the moving parts: with the box's
// resistance Rab the mechanical one is Rms + Sd²·Rab, in the closed form of the
// box without losses.
func TestClosedBoxWithAbsorptionIsMoreMechanicalLoss(t *testing.T) {
	const vb, qa, at = 0.012, 5.0, 60.0
	rab := 1 / (2 * math.Pi * at * vb / table.Stiffness() * qa)
	damped := woofer
	damped.Rms += woofer.Sd * woofer.Sd * rab
	hz, q, err := enclosure.Mounted{Driver: woofer, Air: table, Source: 0.7,
		Box: enclosure.Closed{Vb: vb, Losses: enclosure.Losses{QA: qa}, Reference: at}}.Resonance()
	if err != nil {
		t.Fatal(err)
	}
	wantHz, wantQ, err := enclosure.Mounted{Driver: damped, Air: table, Source: 0.7, Box: enclosure.Closed{Vb: vb}}.Resonance()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "fc", hz, wantHz, 1e-10)
	near(t, "Qtc", q, wantQ, 1e-12)
	s, err := enclosure.Mounted{Driver: damped, Air: table, Source: 0.7}.SmallSignal()
	if err != nil {
		t.Fatal(err)
	}
	rise := math.Sqrt(1 + s.Vas/vb)
	near(t, "fc by Small", hz, s.Fs*rise, 1e-10)
	near(t, "Qtc by Small", q, s.Qt*rise, 1e-12)
}

// With a leak the polynomial of the circuit vanishes at the pair of poles told:
// found here again as the zero of the mechanical and electrical impedance in
// complex arithmetic at s = ω(−1/2Q + j√(1−1/4Q²)).
func TestClosedBoxWithLeakHasThePolesTold(t *testing.T) {
	const vb, ql, qa, at = 0.012, 6.0, 20.0, 70.0
	hz, q, err := enclosure.Mounted{Driver: woofer, Air: table,
		Box: enclosure.Closed{Vb: vb, Losses: enclosure.Losses{QL: ql, QA: qa}, Reference: at}}.Resonance()
	if err != nil {
		t.Fatal(err)
	}
	s := complex(2*math.Pi*hz, 0) * complex(-1/(2*q), math.Sqrt(1-1/(4*q*q)))
	cab, w := vb/table.Stiffness(), 2*math.Pi*at
	rab, gl := 1/(w*cab*qa), w*cab/ql
	yb := 1/(complex(rab, 0)+1/(s*complex(cab, 0))) + complex(gl, 0)
	d := woofer
	sum := complex(d.Rms+d.Bl*d.Bl/d.Re, 0) + s*complex(d.Mms, 0) + 1/(s*complex(d.Cms, 0)) + complex(d.Sd*d.Sd, 0)/yb
	if r := cmplx.Abs(sum) / (2 * math.Pi * hz * d.Mms); r > 1e-11 {
		t.Errorf("impedance at the pole is %.3g of the mass's, want 0", r)
	}
}

func TestClosedBoxRefusals(t *testing.T) {
	s := enclosure.SmallSignal{Fs: 40, Qt: 0.4, Vas: 0.02}
	for _, qtc := range []float64{0.4, 0.3, 0, -1, math.NaN(), math.Inf(1)} {
		if _, err := enclosure.AlignClosed(qtc, s); err == nil {
			t.Errorf("Qtc %g of a driver of Qt 0.4 is accepted", qtc)
		}
	}
	for _, bad := range []enclosure.SmallSignal{{Fs: 0, Qt: 0.4, Vas: 1}, {Fs: 40, Qt: math.NaN(), Vas: 1}, {Fs: 40, Qt: 0.4, Vas: math.Inf(1)}} {
		if _, err := enclosure.AlignClosed(0.7, bad); err == nil {
			t.Errorf("%+v is accepted", bad)
		}
	}
	for _, dB := range []float64{-0.1, math.NaN(), math.Inf(1)} {
		if _, err := enclosure.ChebyshevQtc(dB); err == nil {
			t.Errorf("a ripple of %g dB is accepted", dB)
		}
	}
	vented := enclosure.Mounted{Driver: woofer, Air: table, Box: enclosure.Vented{Vb: 0.014, Vent: enclosure.Vent{Diameter: 0.05, Length: 0.2, Count: 1}}}
	if _, _, err := vented.Resonance(); err == nil {
		t.Error("one resonance of a vented box is told")
	}
	if _, _, err := (enclosure.Mounted{Driver: woofer, Air: table}).Resonance(); err == nil {
		t.Error("a resonance without a box is told")
	}
}

// A driver that is damped so heavily that all its poles are real: of the three that
// a box with a leak has, the leak's is left out, so that with a leak that vanishes
// frequency and Q are those of Small's closed form.
func TestClosedBoxWithLeakAndRealPoles(t *testing.T) {
	d := woofer
	d.Bl = 22
	s, err := enclosure.SmallSignalOf(d, table)
	if err != nil {
		t.Fatal(err)
	}
	const vb = 0.04
	rise := math.Sqrt(1 + s.Vas/vb)
	if !(s.Qt*rise < 0.2) {
		t.Fatalf("Qtc is %g, want real poles far apart", s.Qt*rise)
	}
	hz, q, err := enclosure.Mounted{Driver: d, Air: table, Box: enclosure.Closed{Vb: vb, Losses: enclosure.Losses{QL: 1e6}, Reference: 60}}.Resonance()
	if err != nil {
		t.Fatal(err)
	}
	near(t, "fc", hz/(s.Fs*rise), 1, 1e-4)
	near(t, "Qtc", q/(s.Qt*rise), 1, 1e-4)
}

// A Qtc near 0 is a first-order high-pass, ωc/Q its pole: half power is there.
func TestCutOffOfTinyQtc(t *testing.T) {
	const q = 1e-5
	a, err := enclosure.AlignClosed(q, enclosure.SmallSignal{Fs: 40, Qt: q / 2, Vas: 0.02})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "f3·Q/fc", a.F3*q/a.Fc, 1, 1e-9)
	for _, dB := range []float64{0, -3, math.NaN(), math.Inf(1)} {
		if f, err := a.CutOff(dB); err == nil {
			t.Errorf("%g dB down at %g Hz", dB, f)
		}
	}
}
