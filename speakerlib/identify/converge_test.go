package identify_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
)

// On bands that hardly show the coil, what is near the best either ended at a minimum,
// or names what the band does not tell. A model that contains another fits no worse,
// which is so for the minima and checks the search against local ones.
func TestNarrowBandsSettle(t *testing.T) {
	open, patient := 0, 0
	look := func(name string, to float64, r *identify.Result) {
		t.Helper()
		sum := map[string]float64{}
		for _, c := range r.Candidates {
			if c.Suspension == identify.Creep {
				sum[identify.CoilName(c.Coil)] = c.RMS
			}
			if c.AICc > 20 {
				continue
			}
			patient++
			if !c.Settled {
				open++
				if len(c.Undetermined) == 0 {
					t.Errorf("%s to %g Hz: %s is neither settled (%v) nor undetermined", name, to, identify.CoilName(c.Coil), c.Stopped)
				}
			}
			if c.Chosen && !c.Settled {
				t.Errorf("%s to %g Hz: %s was chosen and is not settled: %v", name, to, identify.CoilName(c.Coil), c.Stopped)
			}
		}
		for _, pair := range [][2]driver.Coil{
			{driver.NoCoil{}, driver.Inductor{}}, {driver.Inductor{}, driver.SemiInductance{}}, {driver.Inductor{}, driver.Ladder{}},
			{driver.Ladder{}, driver.TwoLadders{}}, {driver.Ladder{}, driver.ShuntedSemiInductance{}},
		} {
			// 1e-4 of the misfit is 0.07 of the criterion.
			if small, large := sum[identify.CoilName(pair[0])], sum[identify.CoilName(pair[1])]; large > small*(1+1e-4) {
				t.Errorf("%s to %g Hz: %T leaves %.6g, %T %.6g, want no more", name, to, pair[1], large, pair[0], small)
			}
		}
		for _, w := range r.Warnings {
			if w.Kind == identify.NotConverged {
				t.Errorf("%s to %g Hz: %s", name, to, w.Text)
			}
		}
	}
	bands := []float64{300, 400, 500, 600, 700, 800, 1200}
	for _, to := range bands {
		r, err := identify.Fit(pair(t), &identify.Settings{To: to})
		if err != nil {
			t.Fatal(err)
		}
		look("demo", to, r)
	}
	for name, d := range models() {
		for _, to := range bands {
			g, err := freq.LogGrid(8, to, 30)
			if err != nil {
				t.Fatal(err)
			}
			r, err := identify.Fit(massPair(t, g, rand.New(rand.NewPCG(uint64(math.Round(to)), 2)), d, 0.003, 6e-3, 0, 0), nil)
			if err != nil {
				t.Fatalf("%s to %g Hz: %v", name, to, err)
			}
			look(name, to, r)
		}
	}
	t.Logf("%d of %d candidates near the best have no minimum, and say of what", open, patient)
}
