package loudness_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp/export"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/loudness"
	"example.org/loudspeaker/speakerlib/signal"
)

// Two sets of coefficients for one loudspeaker and a passive one are turned by what the
// match says; matched again, nothing is left to turn. (The responses are invented.)
func TestListeningVariants(t *testing.T) {
	drivers := []freq.Transfer{
		cascade(t, 1.2, digital.Highpass{F0: 45, Q: 0.8}, digital.Lowpass{F0: 6000, Q: 0.7}),
		cascade(t, 1.6, digital.Highpass{F0: 900, Q: 0.8}),
	}
	document := func(tilt float64) *export.Document {
		d, err := export.New("variants", "2031-02-03", []export.Chain{
			{Name: "woofer", Cascade: cascade(t, 0.5, digital.Lowpass{F0: 2200, Q: 0.6})},
			{Name: "tweeter", Cascade: cascade(t, 0.4*level.Ratio(tilt), digital.Highpass{F0: 2200, Q: 0.6})},
		}, nil)
		if err != nil {
			t.Fatal(err)
		}
		return d
	}
	g, err := loudness.Lines(48000, 16384)
	if err != nil {
		t.Fatal(err)
	}
	active := func(name string, d *export.Document) loudness.Variant {
		v := loudness.Variant{Name: name}
		var sum freq.Response
		for i, w := range d.Ways {
			c, err := d.Cascade(w.Name)
			if err != nil {
				t.Fatal(err)
			}
			r, err := freq.Evaluate(freq.Series{c, drivers[i]}, g, w.Name, freq.Basis{})
			if err != nil {
				t.Fatal(err)
			}
			if i == 0 {
				sum = r
			} else if sum, err = sum.Add(r); err != nil {
				t.Fatal(err)
			}
			v.Outputs = append(v.Outputs, loudness.Output{Name: w.Name, Transfer: c})
		}
		v.Response = sum
		return v
	}
	passive := loudness.Variant{Name: "passive", Response: cascade(t, 0.03, digital.Highpass{F0: 49, Q: 0.9}, digital.HighShelf{F0: 4000, Gain: 0.8, Q: 0.5}), Drive: 28}
	p, err := loudness.FromShape(signal.NoiseSetup{SampleRate: 48000, Duration: 6, From: 20, To: 20000, Shape: signal.Programme{}, Crest: 4, RMS: 0.1, Seed: 11})
	if err != nil {
		t.Fatal(err)
	}
	one, other := document(0), document(-3)
	m := match(t, []loudness.Variant{active("A", one), active("B", other), passive}, p, loudness.Settings{})
	if !m.Within() {
		t.Fatalf("residual %g dB, routes %g dB", m.Residual, m.Routes)
	}
	if one, err = one.Turned(m.Variants[0].Gain); err != nil {
		t.Fatal(err)
	}
	if other, err = other.Turned(m.Variants[1].Gain); err != nil {
		t.Fatal(err)
	}
	passive.Drive *= m.Variants[2].Gain
	again := match(t, []loudness.Variant{active("A", one), active("B", other), passive}, p, loudness.Settings{})
	for i, v := range again.Variants {
		if db := level.DB(v.Gain); math.Abs(db) > 1e-6 {
			t.Errorf("%s is to be turned by another %g dB", v.Name, db)
		}
		if math.Abs(v.Level-m.Variants[i].Level) > 1e-6 {
			t.Errorf("%s: %.6f dB at the seat, was %.6f", v.Name, v.Level, m.Variants[i].Level)
		}
	}
	// They did differ before.
	if d := level.DB(m.Variants[1].Gain / m.Variants[0].Gain); d < 0.3 {
		t.Errorf("variants differed by %.3f dB only", d)
	}
}
