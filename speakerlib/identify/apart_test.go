package identify_test

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
)

// A decimal mark that slipped in one row, either way, is named with the row. A resonance
// of quality factor 20 on a fine grid, one of 8 on a coarse grid and a step are no such rows.
func TestPointApart(t *testing.T) {
	d, g := woofer(), grid(t)
	at := 100
	for _, factor := range []float64{10, 0.1, 1e300} {
		k := -1
		r := curve(t, g, nil, 0, func(f float64) complex128 {
			if k++; k == at {
				return d.impedance(f, 0, 0) * complex(factor, 0)
			}
			return d.impedance(f, 0, 0)
		})
		var e *identify.ImplausibleError
		if err := identify.Plausible(r); !errors.As(err, &e) || e.Cause != identify.PointApart {
			t.Errorf("one row times %g: %v", factor, err)
		}
	}
	for _, c := range []struct {
		points int
		qms    float64
	}{{24, 20}, {3, 8}} {
		sharp := d
		sharp.qms = c.qms
		coarse, err := freq.LogGrid(10, 20000, c.points)
		if err != nil {
			t.Fatal(err)
		}
		var e *identify.ImplausibleError
		if err := identify.Plausible(curve(t, coarse, nil, 0, func(f float64) complex128 { return sharp.impedance(f, 0, 0) })); errors.As(err, &e) && e.Cause == identify.PointApart {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// A curve of another driver in the place of either is told, also where no fit of it ends.
func TestCurvesOfTwoDrivers(t *testing.T) {
	woofer, tweeter := demo(t, "woofer-free-air.txt"), demo(t, "tweeter-free-air.txt")
	weighed := demo(t, "woofer-added-mass.txt")
	for want, c := range map[string][2]freq.Response{
		"times lower":          {tweeter, weighed},
		"the higher resonance": {woofer, tweeter},
	} {
		_, err := identify.Fit([]identify.Measurement{{Impedance: c[0], Setup: identify.FreeAir{}}, {Impedance: c[1], Setup: identify.AddedMass{Mass: 10e-3}}}, nil)
		if err == nil || !strings.Contains(err.Error(), want) || !strings.Contains(err.Error(), "two drivers") {
			t.Errorf("%v, want one with %q", err, want)
		}
	}
}

// A suspension that is known to 5 % makes Vas uncertain by as much, and so Vas over the
// volume of a box: the two stay together, and the volume felt stays what was measured.
func TestRunInOfTheRatio(t *testing.T) {
	f := boxFit(t, identify.VentedBox{Volume: 15e-3}, 0.05)
	vas, ratio := value(t, f, identify.Vas), value(t, f, identify.Ratio)
	if math.Abs(vas.Error/vas.Value-0.05) > 0.005 || math.Abs(ratio.Error/ratio.Value-0.05) > 0.005 {
		t.Errorf("%v and %v, want 5 %% of both", vas, ratio)
	}
	// A softer suspension lowers Fs by its root, and moves no more mass.
	fs, mms := value(t, f, identify.Fs), value(t, f, identify.Mms)
	if math.Abs(fs.Error/fs.Value-0.025) > 0.0025 || mms.Error > 0.01*mms.Value {
		t.Errorf("%v and %v, want 2.5 %% of Fs and nearly nothing of Mms", fs, mms)
	}
	var at [2]int
	for i, p := range f.Parameters {
		switch p.Symbol {
		case identify.Vas:
			at[0] = i
		case identify.Ratio:
			at[1] = i
		}
	}
	if rho := f.Correlation.At(at[0], at[1]); rho < 0.98 {
		t.Errorf("the correlation of Vas and the ratio is %.3f, want nearly 1", rho)
	}
}

// What no fit made is refused in words.
func TestPropagateOfNoFit(t *testing.T) {
	_, err := new(identify.Result).PropagateAll(func(driver.Params) ([]float64, error) { return nil, nil })
	if err == nil || !strings.Contains(err.Error(), "none of a fit") {
		t.Errorf("error %v", err)
	}
}

// boxFit is a fit in a vented box of 15 L whose compliance is known to runIn.
func boxFit(t *testing.T, setup identify.Setup, runIn float64) *identify.Result {
	t.Helper()
	p, g := lumped(0), grid(t)
	r := rand.New(rand.NewPCG(3, 3))
	first := free(t, p, g, r, 0.001)
	first.RunIn = runIn
	f, err := identify.Fit([]identify.Measurement{first, {Impedance: boxed(t, p, enclosure.Vented{Vb: 15e-3, Vent: enclosure.Vent{Diameter: 0.054, Length: 0.15, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}, Losses: enclosure.Losses{QL: 9}}, g, r, 0.001), Setup: setup}}, &identify.Settings{Sd: p.Sd, Air: air.Room(), Coils: []driver.TunableCoil{driver.Ladder{}}})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// A band that begins above the resonance: well above it there is no result, and close above
// it the result comes with a warning although nothing peaks at the edge.
func TestBandAboveTheResonance(t *testing.T) {
	m := []identify.Measurement{{Impedance: demo(t, "woofer-free-air.txt"), Setup: identify.FreeAir{}}}
	for _, from := range []float64{400, 1000} {
		if _, err := identify.Fit(m, &identify.Settings{From: from}); err == nil || !strings.Contains(err.Error(), "want it inside the band") {
			t.Errorf("from %g Hz: error %v", from, err)
		}
	}
	f, err := identify.Fit(m, &identify.Settings{From: 50})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.ContainsFunc(f.Warnings, func(w identify.Warning) bool { return w.Kind == identify.ResonanceOutside }) {
		t.Errorf("from 50 Hz, above Fs: no warning in %v", f.Warnings)
	}
}

// With creep the volume felt is that of the compliance at Fs, which is the one that the
// ratio was found with.
func TestFeltWithCreep(t *testing.T) {
	p, g := lumped(0.1), grid(t)
	box := boxed(t, p, enclosure.Vented{Vb: 15e-3, Vent: enclosure.Vent{Diameter: 0.054, Length: 0.15, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}, Losses: enclosure.Losses{QL: 9}}, g, nil, 0)
	f, err := identify.Fit([]identify.Measurement{free(t, p, g, nil, 0), {Impedance: box, Setup: identify.VentedBox{Volume: 15e-3}}}, &identify.Settings{Sd: p.Sd, Air: air.Room(), Coils: []driver.TunableCoil{driver.Ladder{}}})
	if err != nil {
		t.Fatal(err)
	}
	if v, err := f.Felt(p, air.Room()); err != nil || math.Abs(v/15e-3-1) > 2e-3 {
		t.Errorf("the volume felt is %g m³ (%v), want 0.015", v, err)
	}
}

// The stated error of the drift is the spread of the drift over 100 noisy pairs, below
// 500 Hz, where the coil makes both resistances uncertain together.
func TestDriftError(t *testing.T) {
	g, d, random := grid(t), woofer(), rand.New(rand.NewPCG(8, 1))
	d.creep, d.coil = 0, both(inductor(0.2e-3), rung(0.4e-3, 6))
	var sum, squares, stated float64
	const n = 100
	for range n {
		f, err := identify.Fit(massPair(t, g, random, d, 0.003, 6e-3, 0, 0), &identify.Settings{To: 500, Coils: []driver.TunableCoil{driver.Ladder{}}, Suspensions: []identify.Suspension{identify.Constant}})
		if err != nil {
			t.Fatal(err)
		}
		v := f.Drift[1]
		sum, squares, stated = sum+v.Value, squares+v.Value*v.Value, stated+v.Error/n
	}
	spread := math.Sqrt(squares/n - sum*sum/n/n)
	if math.Abs(spread/stated-1) > 0.25 {
		t.Errorf("drifts spread by %.3g, and %.3g is stated", spread, stated)
	}
}
