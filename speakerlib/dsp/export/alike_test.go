package export_test

import (
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/dsp"
	"example.org/loudspeaker/speakerlib/dsp/export"
)

// A program of its own design passes in every arithmetic; one of another polarity, of another
// way, or of before a change of gain does not.
func TestProgramsAreThoseOfTheirDesigns(t *testing.T) {
	for _, a := range arithmetics() {
		if err := full(t, a, dsp.Options{}).CheckPrograms(); err != nil {
			t.Errorf("%v: %v", a, err)
		}
	}
	float := dsp.Arithmetic{Signal: dsp.Float32(), Coefficient: dsp.Float32()}
	for name, change := range map[string]func(d *export.Document){
		"polarity": func(d *export.Document) { d.Ways[0].Inverted = !d.Ways[0].Inverted },
		"gain":     func(d *export.Document) { d.Ways[0].Gain *= 2.8 },
		"sections": func(d *export.Document) {
			c, err := digital.NewCascade(96000, digital.Highpass{F0: 9000, Q: 0.7})
			if err != nil {
				t.Fatal(err)
			}
			d.Ways[0].Sections = export.SectionsOf(c)
		},
		"FIR filter": func(d *export.Document) {
			for i := range d.Ways[1].FIR[0].Taps {
				d.Ways[1].FIR[0].Taps[i] *= -1
			}
		},
		"set": func(d *export.Document) { d.Ways[0].Sets[0].Gain = 4 },
	} {
		d := full(t, float, dsp.Options{})
		change(d)
		if err := d.Validate(); err != nil {
			t.Fatal(err)
		}
		if err := d.CheckPrograms(); err == nil || !strings.Contains(err.Error(), "it is of another design") {
			t.Errorf("%s: error is %v", name, err)
		}
	}
	d := full(t, float, dsp.Options{})
	d.Ways[0].Name = "woofer\u2028tweeter"
	if err := d.Validate(); err == nil || !strings.Contains(err.Error(), "ends of lines") {
		t.Errorf("name of two lines: error is %v", err)
	}
}
