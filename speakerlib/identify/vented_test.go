package identify_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/identify"
)

func TestVentedAlone(t *testing.T) {
	m := air.Room()
	p := lumped(0)
	g := grid(t)
	random := rand.New(rand.NewPCG(2, 2))
	inside, total := 0, 0
	for _, ql := range []float64{5, 9, 20} {
		for _, length := range []float64{0.08, 0.15, 0.25} {
			box := enclosure.Vented{Vb: 15e-3, Vent: enclosure.Vent{Diameter: 0.054, Length: length, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}, Losses: enclosure.Losses{QL: ql}}
			z := identify.Measurement{Impedance: boxed(t, p, box, g, random, 0.003), Setup: identify.VentedBox{}}
			r, list, err := identify.VentedAlone(z, nil, &identify.Expected{Box: box, Driver: p, Air: m})
			if err != nil {
				t.Fatalf("QL %g, vent %g m: %v", ql, length, err)
			}
			near(t, r, identify.Fb, box.Fb(m), 0.003)
			near(t, r, identify.QL, ql, 0.05)
			near(t, r, identify.Ratio, p.Vas(m)/box.Vb, 0.01)
			near(t, r, identify.Fs, p.Fs(), 0.005)
			near(t, r, identify.Qms, p.Qms(), 0.03)
			near(t, r, identify.Qes, p.Qes(), 0.01)
			if len(list) != 4 {
				t.Errorf("%d comparisons, want tuning, Fs, Vas/Vb and QL", len(list))
			}
			for _, c := range list {
				total++
				if math.Abs(c.Found.Value-c.Expected) < 3*c.Found.Error {
					inside++
				}
			}
		}
	}
	// Of 36 at three standard errors, one may be outside (0.3 % each).
	if inside < total-1 {
		t.Errorf("%d of %d within three standard errors", inside, total)
	}

	box := enclosure.Vented{Vb: 15e-3, Vent: enclosure.Vent{Diameter: 0.054, Length: 0.15, Count: 1}, Losses: enclosure.Losses{QL: 9}}
	short := box
	short.Vent.Length = 0.12
	_, list, err := identify.VentedAlone(identify.Measurement{Impedance: boxed(t, p, short, g, random, 0.003), Setup: identify.VentedBox{}}, nil, &identify.Expected{Box: box, Air: m})
	if err != nil {
		t.Fatal(err)
	}
	if want := short.Fb(m)/box.Fb(m) - 1; math.Abs(list[0].Relative-want) > 0.005 {
		t.Errorf("%v, want %+.1f %%: the vent is shorter than said", list[0], 100*want)
	}
	if _, _, err := identify.VentedAlone(free(t, p, g, random, 0.003), nil, nil); err == nil {
		t.Error("a curve in free air is taken for a vented box")
	}
	if _, _, err := identify.VentedAlone(identify.Measurement{Impedance: free(t, p, g, random, 0).Impedance, Setup: identify.VentedBox{}}, nil, nil); err == nil {
		t.Error("a curve with one peak is taken for a vented box")
	}
}

// The passive cabinet of the demo is tuned to 49 Hz; its leak at the tube's flange
// has Q 11 and its absorption Q 65, its box standing waves and its vent pipe
// resonances that no model here has (datasets/README.md). All its losses are counted
// in QL: 1/(1/11 + 1/65) = 9.4 without what the walls of the vent take.
func TestDemoBox(t *testing.T) {
	z := identify.Measurement{Impedance: demo(t, "woofer-in-box.txt"), Setup: identify.VentedBox{}}
	r, _, err := identify.VentedAlone(z, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range r.Parameters {
		t.Log(p)
	}
	for _, w := range r.Warnings {
		t.Log(w.Text)
	}
	near(t, r, identify.Fb, 49, 0.025)
	near(t, r, identify.Fs, 41.5, 0.025)
	if q := value(t, r, identify.QL); q.Value < 7 || q.Value > 11 {
		t.Errorf("%v, want 7 to 11", q)
	}
}

// On a band that ends below the standing waves of the box, a coil with a rung of some
// tenths of a henry beats all others by what it does at the lowest frequencies, where it
// takes the place of Re. It is not chosen: Re is that of datasets/README.md within 1 %.
func TestDemoBoxSlowRung(t *testing.T) {
	z := identify.Measurement{Impedance: demo(t, "woofer-in-box.txt"), Setup: identify.VentedBox{}}
	for _, to := range []float64{200, 250, 300, 400, 600} {
		r, _, err := identify.VentedAlone(z, &identify.Settings{To: to}, nil)
		if err != nil {
			t.Fatal(err)
		}
		near(t, r, identify.Re, 5.5, 0.01)
		near(t, r, identify.Fb, 49, 0.025)
		for _, c := range r.Candidates {
			two, ok := c.Coil.(driver.TwoLadders)
			if ok && c.Chosen && min(two.R2/two.L2, two.R3/two.L3) < 2*math.Pi*8 {
				t.Errorf("to %g Hz chose %+v", to, two)
			}
		}
	}
}

// The woofer of the demo, absolute from its box: 15.2 L less 155 mm of tube with
// 3 mm walls (60 mm outside) are 14.76 L. What the generator's box has beyond the
// model makes Mms 2.9 % too small and fb 1.8 % too low.
func TestDemoBoxAbsolute(t *testing.T) {
	free := pair(t)[0]
	box := identify.Measurement{Impedance: demo(t, "woofer-in-box.txt"), Setup: identify.VentedBox{Volume: 14.76e-3, Accuracy: 0.01}}
	r, err := identify.Fit([]identify.Measurement{free, box}, &identify.Settings{Sd: 138e-4, SdAccuracy: 0.01, Air: air.Room()})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range r.Parameters {
		t.Log(p)
	}
	near(t, r, identify.Mms, 15.2e-3, 0.035)
	near(t, r, identify.Fs, 41.5, 0.002)
	near(t, r, identify.Fb, 49, 0.025)
}
