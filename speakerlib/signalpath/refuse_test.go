package signalpath_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/signalpath"
)

// stating is a ratio of 1 that says what it is.
func stating(t testing.TB, b freq.Basis) freq.Response {
	return must(freq.Evaluate(freq.Gain(1), audio(t), "response", b))(t)
}

// What an element must not exceed, and its offset, are found by its type. A pointer has the same
// methods and another type, and once went through without any limit.
func TestElementsAreValues(t *testing.T) {
	amp := signalpath.Amplifier{Name: "amplifier", Gain: 10, ClipVolts: 20, Offset: 0.1}
	p := plain("way", demoDAC(), amp)
	p.Elements[1] = &amp
	const want = "*signalpath.Amplifier"
	if _, err := p.On(audio(t)); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("a path with a pointer: %v", err)
	}
	if _, err := p.Thumps(0.01, 0.1, 96000); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("thumps of a path with a pointer: %v", err)
	}
	p = plain("way", demoDAC(), amp)
	if _, err := p.With(&amp); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("a pointer in place of a value: %v", err)
	}
	if _, err := p.With(nil); err == nil {
		t.Error("nil in place of an element is taken")
	}
}

// A response that states what it is, is not taken for something else.
func TestStatedQuantities(t *testing.T) {
	pressure := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 2}
	amp := signalpath.Amplifier{Name: "amplifier", Gain: 10}
	for name, c := range map[string]struct {
		change func(p *signalpath.Path)
		want   string
	}{
		"converter's filter": {func(p *signalpath.Path) {
			d := demoDAC()
			d.Filter = stating(t, pressure)
			p.Elements[0] = d
		}, "filter"},
		"amplifier's transfer": {func(p *signalpath.Path) {
			a := amp
			a.Transfer = stating(t, pressure)
			p.Elements[1] = a
		}, "transfer"},
		"load at its measurement": {func(p *signalpath.Path) {
			a := amp
			a.Transfer, a.MeasuredInto = freq.Gain(1), stating(t, pressure)
			p.Elements[1] = a
		}, "want impedance"},
		"excursion":     {func(p *signalpath.Path) { p.Driver.Displacement = stating(t, pressure) }, "want displacement"},
		"two distances": {func(p *signalpath.Path) { p.Driver.Pressure = stating(t, pressure) }, "2 m and is said to be"},
	} {
		p := plain("way", demoDAC(), amp)
		c.change(&p)
		if err := p.Validate(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestSettingsThatWouldBeTakenForOthers(t *testing.T) {
	s := must(plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 10, ClipVolts: 20}).On(audio(t)))(t)
	silent := demoDAC()
	silent.Filter = freq.Gain(0)
	for name, c := range map[string]struct {
		of   func() error
		want string
	}{
		"dither": {func() error { _, err := signalpath.Quantisation(16, 48000, 7); return err }, "dither 7"},
		"weighting": {func() error {
			n := setup()
			n.Weighting = 9
			_, err := signalpath.NoiseBudget(n, s)
			return err
		}, "Weighting(9)"},
		"three points for 20 Hz to 20 kHz": {func() error {
			few := must(freq.NewGrid([]float64{20, 1000, 20000}))(t)
			s := must(plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 10}).On(few))(t)
			_, err := signalpath.NoiseBudget(setup(), s)
			return err
		}, "a third of an octave"},
		"cascade of nothing": {func() error {
			return signalpath.Processor{Name: "filters", Rate: 48000, Filters: (*digital.Cascade)(nil)}.Validate()
		}, "cascade that is nil"},
		"no distance": {func() error { _, err := signalpath.IdleNoise(setup(), nil, s); return err }, "no distance"},
		"programme without a shape": {func() error {
			_, err := s.Headroom(signalpath.Input{Peak: 1, From: 30, To: 15000, RMS: 0.3, Crest: 4})
			return err
		}, "no shape"},
		"sensitivity of what is silent": {func() error {
			_, err := signalpath.Sensitivity(plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 10, ClipVolts: 20}),
				signalpath.Sensing{Grid: audio(t), Hz: 1000, Output: "amplifier", Noise: setup()}, signalpath.Position{Name: "off", Element: silent})
			return err
		}, "comes through"},
		"converter beyond half its rate": {func() error {
			p := plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 10})
			p.Elements = append([]signalpath.Element{signalpath.ADC{Name: "input", Rate: 32000, FullScale: 2},
				signalpath.RateConverter{Name: "to 96 kHz", From: 32000, To: 96000}}, p.Elements...)
			_, err := p.On(audio(t))
			return err
		}, "half the sample rate, 16000 Hz"},
		"sound that comes after the end": {func() error {
			p := dcPath()
			p.Elements = append([]signalpath.Element{signalpath.Amplifier{Name: "stage", Gain: 1}}, p.Elements...)
			late := p.Elements[1].(signalpath.Amplifier)
			late.Delay = 0.2
			p.Elements[1] = late
			_, err := p.Transient(must(signalpath.Switched("stage", 1, 0.01, 0.1, 48000))(t))
			return err
		}, "heard 0.2 s later"},
	} {
		if err := c.of(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if got := signalpath.Cause(9).String() + level.Weighting(-1).String(); got != "Cause(9)Weighting(-1)" {
		t.Errorf("unknown ones are called %s", got)
	}
}

// By hand: one sample of 48 kHz late on the left, one of 96 kHz on the right, and left is late by
// half a sample of 48 kHz. It is not the sum of 1 and −1.
func TestPairOfTwoRates(t *testing.T) {
	path := func(first, second int) signalpath.Path {
		p := plain("way", demoDAC(), signalpath.Amplifier{Name: "amplifier", Gain: 10})
		p.Elements = append([]signalpath.Element{
			signalpath.Processor{Name: "filters", Rate: 48000, Block: first},
			signalpath.RateConverter{Name: "to 96 kHz", From: 48000, To: 96000},
			signalpath.Processor{Name: "delay", Rate: 96000, Block: second}}, p.Elements...)
		return p
	}
	rows := must(signalpath.Pair(path(1, 0), path(0, 1)))(t)
	if all := rows[len(rows)-1]; math.Abs(all.Lead-0.5) > 1e-12 || all.Exact {
		t.Errorf("sum is %+v, want 0.5 samples", all)
	}
}

// Digital filters of converters and stated delays are no tolerances of analogue parts.
func TestPairSeesFiltersOfConverters(t *testing.T) {
	amp := signalpath.Amplifier{Name: "amplifier", Gain: 10}
	slow, late := demoDAC(), amp
	slow.Filter, late.Delay = freq.Gain(0.5), 1e-5
	for name, right := range map[string]signalpath.Path{
		"filter": plain("right", slow, amp), "delay": plain("right", demoDAC(), late),
	} {
		rows := must(signalpath.Pair(plain("left", demoDAC(), amp), right))(t)
		if all := rows[len(rows)-1]; all.Exact {
			t.Errorf("%s differs and is found %+v", name, all)
		}
	}
}
