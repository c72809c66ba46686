package measure_test

import (
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
	"example.org/loudspeaker/speakerlib/si"
)

const standmount = "../../datasets/standmount"

func table(t testing.TB, name string) *measure.Table {
	t.Helper()
	f, err := os.Open(filepath.Join(standmount, name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	read := measure.ReadResponse
	if filepath.Dir(name) == "impedance" {
		read = measure.ReadImpedance
	}
	tb, err := read(f, name, measure.Format{})
	if err != nil {
		t.Fatal(err)
	}
	return tb
}

func stated(t testing.TB, name string) freq.Response {
	t.Helper()
	r, err := table(t, name).Stated()
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func brief(t testing.TB) *measure.Quantities {
	t.Helper()
	f, err := os.Open(filepath.Join(standmount, "brief.txt"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	q, err := measure.ReadQuantities(f, "brief.txt")
	if err != nil {
		t.Fatal(err)
	}
	return q
}

func TestEveryMeasurementIsRead(t *testing.T) {
	var count int
	for _, folder := range []string{"far-field", "near-field", "impedance"} {
		files, err := filepath.Glob(filepath.Join(standmount, folder, "*.txt"))
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			count++
			tb := table(t, folder+"/"+filepath.Base(f))
			if len(tb.Findings()) > 0 {
				t.Errorf("%s: %v", f, tb.Findings())
			}
			if _, err := tb.Stated(); err != nil {
				t.Error(err)
			}
		}
	}
	if count != 36+5+5 {
		t.Errorf("%d files of measurements, want 46", count)
	}
}

// The brief's numbers, typed a second time.
func TestBrief(t *testing.T) {
	q := brief(t)
	for _, c := range []struct {
		key  string
		unit measure.Unit
		want float64
	}{
		{"corner_6dB_at_most", measure.Hertz, 35.5},
		{"plateau_at_least", measure.Decibel, 98.5},
		{"excursion_at_most", measure.Metre, 6 * si.Millimetre},
		{"vent_air_at_most", measure.MetrePerSecond, 20},
		{"group_delay_low_at_most", measure.Second, 0.028},
		{"group_delay_low_at", measure.Hertz, 38.5},
		{"group_delay_high_at_most", measure.Second, 0.015},
		{"group_delay_high_at", measure.Hertz, 50},
		{"voicing_within", measure.Decibel, 0.75},
		{"voicing_fit_within", measure.Decibel, 0.25},
		{"voicing_from", measure.Hertz, 250},
		{"voicing_to", measure.Hertz, 12e3},
		{"voicing_smoothing", measure.One, 12},
		{"idle_noise_at_most", measure.Decibel, 0},
		{"latency_at_most", measure.Second, 0.003},
		{"box_volume", measure.CubicMetre, 15.2 * si.Litre},
		{"active_vent_diameter", measure.Metre, 0.052},
		{"vent_room", measure.Metre, 0.25},
		{"passive_tuning", measure.Hertz, 49},
		{"passive_choke_resistance", measure.Ohm, 0.32},
		{"woofer_to_tweeter", measure.Metre, 0.145},
		{"woofer_amplifier_volts", measure.Volt, 26},
		{"tweeter_amplifier_volts", measure.Volt, 20},
		{"woofer_amplifier_amperes", measure.Ampere, 12},
		{"sample_rate", measure.Hertz, 96000},
	} {
		got, err := q.In(c.key, c.unit)
		if err != nil {
			t.Error(err)
		} else if got != c.want {
			t.Errorf("%s is %v, want %v", c.key, got, c.want)
		}
	}
}

// What the brief says of the drivers must be found in their impedances by the
// classical reading: the resonance at the largest magnitude, Qms and Qes from
// the points where |Z| = √(Zmax·Re), the moving mass from the shift by an added
// one (R. H. Small, "Direct-radiator loudspeaker system analysis", J. Audio Eng.
// Soc. 20, 1972, appendix). The tolerances are what 30 points per octave, creep
// and 0.3 % of noise leave.
func TestImpedancesHoldTheDrivers(t *testing.T) {
	peak := func(name string, re float64) (fs, qms, qes float64) {
		z := stated(t, name).Magnitude()
		top, err := z.Max(20, 3000)
		if err != nil {
			t.Fatal(err)
		}
		cross := z.Crossing(math.Sqrt(top.Value * re))
		var f1, f2 float64
		for _, f := range cross {
			if f < top.Hz {
				f1 = f
			} else if f2 == 0 {
				f2 = f
			}
		}
		fs = math.Sqrt(f1 * f2)
		qms = fs * math.Sqrt(top.Value/re) / (f2 - f1)
		return fs, qms, qms / (top.Value/re - 1)
	}
	for _, c := range []struct {
		name              string
		re, fs, qms, qes  float64
		tolFs, tolM, tolE float64
	}{
		{"impedance/woofer-free-air.txt", 5.5, 41.5, 4.7, 0.39, 0.01, 0.04, 0.02},
		{"impedance/tweeter-free-air.txt", 4.9, 980, 1.6, 1.15, 0.015, 0.04, 0.03},
	} {
		fs, qms, qes := peak(c.name, c.re)
		if math.Abs(fs/c.fs-1) > c.tolFs || math.Abs(qms/c.qms-1) > c.tolM || math.Abs(qes/c.qes-1) > c.tolE {
			t.Errorf("%s: Fs %.2f Hz, Qms %.3f, Qes %.3f; want %g, %g, %g", c.name, fs, qms, qes, c.fs, c.qms, c.qes)
		}
	}
	free, _, _ := peak("impedance/woofer-free-air.txt", 5.5)
	loaded, _, _ := peak("impedance/woofer-added-mass.txt", 5.5)
	ratio := free / loaded
	if mms := 10e-3 / (ratio*ratio - 1); math.Abs(mms/15.2e-3-1) > 0.03 {
		t.Errorf("moving mass from the added mass %.2f g, want 15.2", mms*1e3)
	}
	z := stated(t, "impedance/woofer-free-air.txt")
	k := z.Grid().Nearest(1000)
	// Far above resonance the motional part is that of the mass, Bl²/(jωMms), with
	// Bl²/Mms = 2π·Fs·Re/Qes.
	w := z.Grid().Omega()[k]
	if le := (imag(z.At(k)) + 2*math.Pi*41.5*5.5/0.39/w) / w; math.Abs(le/0.42e-3-1) > 0.04 {
		t.Errorf("inductance at 1 kHz %.3f mH, want 0.42", le*1e3)
	}
	box := stated(t, "impedance/woofer-in-box.txt").Magnitude()
	if least, err := box.Min(30, 70); err != nil || math.Abs(least.Hz-49) > 3.5 {
		t.Errorf("the box is tuned to %.1f Hz (%v), want about 49", least.Hz, err)
	}
	if low, err := stated(t, "impedance/passive.txt").Magnitude().Min(20, 20e3-300); err != nil || low.Value < 3.5 {
		t.Errorf("the passive loudspeaker goes down to %.2f Ω (%v), want at least 3.5", low, err)
	}
}

func farField(t testing.TB) *measure.Set {
	t.Helper()
	var tables []*measure.Table
	for _, name := range []string{"woofer", "tweeter", "both"} {
		tb, err := table(t, "far-field/"+name+"-axis.txt").Between(250, 20e3)
		if err != nil {
			t.Fatal(err)
		}
		tables = append(tables, tb)
	}
	s, err := measure.NewSet(tables...)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestFarFieldIsOneSet(t *testing.T) {
	s := farField(t)
	check, err := s.Check("woofer-axis", "tweeter-axis", "both-axis", 300, 15e3)
	if err != nil {
		t.Fatal(err)
	}
	if check.Residual > -40 || math.Abs(check.Delay) > 1e-6 || math.Abs(level.DB(check.Gain)) > 0.05 {
		t.Errorf("%v: want less than −40 dB, 1 µs and 0.05 dB", check)
	}
	flight, err := s.Flight("tweeter-axis", 2000, 15e3, 20e-3)
	if err != nil {
		t.Fatal(err)
	}
	// 1 m in 2.909 ms at 343.8 m/s, and the rig's latency of 1.37 ms.
	if want := 1/343.8 + 1.37e-3; math.Abs(flight-want) > 30e-6 {
		t.Errorf("the tweeter arrives after %.4f ms, want %.4f", flight*1e3, want*1e3)
	}
	moved, err := s.Without(flight)
	if err != nil {
		t.Fatal(err)
	}
	if moved.Removed() != flight || s.Removed() != 0 {
		t.Errorf("removed %g and %g s, want %g and 0", moved.Removed(), s.Removed(), flight)
	}
	again, err := moved.Check("woofer-axis", "tweeter-axis", "both-axis", 300, 15e3)
	if err != nil || math.Abs(again.Residual-check.Residual) > 1e-6 {
		t.Errorf("after the flight is taken out: %v (%v), want %v", again, err, check)
	}
	tweeter, err := moved.Response("tweeter-axis")
	if err != nil {
		t.Fatal(err)
	}
	if turn := math.Abs(cmplx.Phase(tweeter.At(tweeter.Grid().Nearest(5000)))); turn > 1 {
		t.Errorf("phase at 5 kHz without flight %.2f rad, want a small one", turn)
	}
}

// The near fields of cone and vent, scaled and summed, give the low frequencies
// of the whole loudspeaker, and a gated far field joins on.
func TestNearAndFarFieldJoin(t *testing.T) {
	cone, vent := stated(t, "near-field/passive-cone.txt"), stated(t, "near-field/passive-vent.txt")
	whole := stated(t, "near-field/passive-low.txt")
	coneRadius, ventRadius := math.Sqrt(138e-4/math.Pi), 27e-3
	sum, err := measure.SumNear(cone, vent, coneRadius, ventRadius, 1)
	if err != nil {
		t.Fatal(err)
	}
	if limit := measure.NearFieldLimit(coneRadius, air.Room()); limit < 800 || limit > 840 {
		t.Errorf("near field of the cone up to %.0f Hz, want about 825", limit)
	}
	sum, err = measure.Resample(sum, whole.Grid())
	if err != nil {
		t.Fatal(err)
	}
	for i := range whole.Len() {
		if f := whole.Grid().At(i); f > 20 && math.Abs(level.DB(cmplx.Abs(sum.At(i)/whole.At(i)))) > 0.3 {
			t.Errorf("at %g Hz the sum of the near fields is %.2f dB off", f, level.DB(cmplx.Abs(sum.At(i)/whole.At(i))))
		}
	}
	far, err := table(t, "far-field/woofer-axis.txt").Between(250, 20e3)
	if err != nil {
		t.Fatal(err)
	}
	upper, err := far.Stated()
	if err != nil {
		t.Fatal(err)
	}
	lower, err := measure.FarFromNear(stated(t, "near-field/woofer-cone.txt"), coneRadius, 1)
	if err != nil {
		t.Fatal(err)
	}
	g, err := freq.LogGrid(20, 15e3, 24)
	if err != nil {
		t.Fatal(err)
	}
	if _, _, err := measure.Splice(lower, upper, 260, 420, g); err == nil {
		t.Error("half space joined to full space without an error")
	}
	joined, join, err := measure.Splice(lower.Stated(upper.Basis()), upper, 260, 420, g)
	if err != nil {
		t.Fatal(err)
	}
	// Full space is up to 6 dB below half space here, and the flight comes in.
	if db := level.DB(join.Gain); db > -1 || db < -6.1 || join.Delay < 4e-3 || join.Delay > 5e-3 || join.Level > 1 || join.Phase > 0.1 {
		t.Errorf("%v", join)
	}
	if joined.Len() != g.Len() {
		t.Errorf("%d points, want %d", joined.Len(), g.Len())
	}
}
