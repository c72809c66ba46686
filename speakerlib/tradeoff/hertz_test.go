package tradeoff_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/tradeoff"
)

// Where nothing but the cone of a closed box binds, well above the extension the
// target does not change it: X ∝ |T|/ω² has its largest value at a fixed multiple of
// the extension, so that X ∝ 1/f², the level falls by 40·log10 of the ratio, and a
// hertz costs 40/(ln 10·f) dB and 2·X/f; the group delay of one shape at a fixed
// multiple of the extension goes as 1/f (dimensional analysis).
func TestHertzOfAClosedBox(t *testing.T) {
	s := study(t)
	s.VentAir, s.Amplifier.PeakVolts, s.Amplifier.PeakAmperes = 0, 0, 0
	s.ClosedLosses = enclosure.Losses{}
	r := tradeoff.Recipe{Gross: 0.015, Shape: analog.Butterworth(4), Extension: 36}
	h, err := s.Hertz(r, tradeoff.FilterAlone)
	if err != nil {
		t.Fatal(err)
	}
	p, err := s.Measure(r)
	if err != nil {
		t.Fatal(err)
	}
	// The peak is looked for on a grid of 48 points an octave, which misses it by up
	// to (curvature)·(1/96 octave)²: below 1e-4 of X, and 0.2 Hz apart.
	near(t, "level lost", h.Level, 40/math.Ln10/36, 5e-3)
	near(t, "excursion", h.Excursion, 2*p.Excursion/36, 5e-3*p.Excursion)
	if h.Length != 0 || h.VentAir != 0 || !(h.Delay > 0) || !(h.Power > 0) || !(h.Heat > 0) {
		t.Errorf("%+v", h)
	}
	both, err := s.Hertz(r, tradeoff.FilterAndVent)
	if err != nil || both != h {
		t.Errorf("a closed box has no vent to move: %+v, %+v (%v)", both, h, err)
	}
}

// A vent that moves along gets longer: (L+e)·(G−k·L) = q with q = c²S/ωb² gives, by
// implicit differentiation, dL/dfb = −2·q/fb/(G − k·L − k·(L+e)); fb moves by fb/f of
// a hertz. The delay moves as that of the target.
func TestHertzOfAVent(t *testing.T) {
	s := study(t)
	r := tradeoff.Recipe{Gross: 0.0152, Tuning: 40, Shape: analog.Butterworth(6), Extension: 35}
	h, err := s.Hertz(r, tradeoff.FilterAndVent)
	if err != nil {
		t.Fatal(err)
	}
	p, err := s.Measure(r)
	if err != nil {
		t.Fatal(err)
	}
	w := 2 * math.Pi * r.Tuning
	q := s.Air.SpeedOfSound * s.Air.SpeedOfSound * math.Pi * 0.026 * 0.026 / (w * w)
	k, e := math.Pi*0.029*0.029, 0.026*1.435
	near(t, "net volume", p.Net, q/(p.Length+e), 1e-12)
	near(t, "vent length", h.Length, 2*q/35/(r.Gross-k*p.Length-k*(p.Length+e)), 1e-4*h.Length)
	alone, err := s.Hertz(r, tradeoff.FilterAlone)
	if err != nil {
		t.Fatal(err)
	}
	if alone.Length != 0 || !(alone.Power > 0) || alone.Extension != 35 {
		t.Errorf("%+v", alone)
	}
	delay := func(hz float64) float64 {
		f, err := analog.HighpassThrough(r.Shape, hz, math.Pow(10, -0.3))
		if err != nil {
			t.Fatal(err)
		}
		return freq.GroupDelay(f, one(t, 38.5), "").At(0)
	}
	near(t, "delay", alone.Delay, (delay(34.9)-delay(35.1))/0.2, 1e-7)
}

// The front's own hertz: from neighbour to neighbour they add up to the whole way.
func TestAlongTheFront(t *testing.T) {
	s := study(t)
	s.Objectives = []tradeoff.Objective{tradeoff.Extension, tradeoff.Level}
	r, err := s.Search()
	if err != nil || len(r.Front) < 3 {
		t.Fatal(len(r.Front), err)
	}
	first, last := r.Front[0], r.Front[len(r.Front)-1]
	level, at := 0.0, first.Extension
	for _, h := range tradeoff.Along(r.Front) {
		d := 2 * (h.Extension - at)
		level, at = level+h.Level*d, at+d
	}
	near(t, "end", at, last.Extension, 1e-9)
	near(t, "level", level, last.MaxLevel-first.MaxLevel, 1e-9)
}

// Without a filter a lossless closed Butterworth box is R. H. Small's second-order
// high-pass, |G|² = w⁴/(1+w⁴), w = f/fc: Drop below the plateau's own |G|², which is not
// quite 1.
func TestPassiveClosedBox(t *testing.T) {
	s := study(t)
	s.ClosedLosses, s.Source = enclosure.Losses{}, 0
	s.Woofers[0].Driver.Coil = nil
	small, err := enclosure.SmallSignalOf(s.Woofers[0].Driver, s.Air)
	if err != nil {
		t.Fatal(err)
	}
	a, err := enclosure.AlignClosed(enclosure.ClosedButterworth, small)
	if err != nil {
		t.Fatal(err)
	}
	p, err := s.Passive(tradeoff.Recipe{Gross: a.Vb}, 330, 370)
	if err != nil {
		t.Fatal(err)
	}
	x := math.Pow(350/a.Fc, 4)
	x = math.Pow(10, -0.6) * x / (1 + x)
	near(t, "extension", p.Extension, a.Fc*math.Pow(x/(1-x), 0.25), 2e-3)
	// Its group delay at w = f/fc: √2·(1+w²)/(1+w⁴)/(2π·fc).
	w := 38.5 / a.Fc
	near(t, "delay", p.Delay, math.Sqrt2*(1+w*w)/(1+w*w*w*w)/(2*math.Pi*a.Fc), 1e-7)
	// One voltage everywhere: the most volts are those of the level.
	if p.Shape != "no filter" || !(p.Volts > 0) || p.VentAir != 0 || !(p.MaxLevel > 0) {
		t.Errorf("%+v", p)
	}
	if _, err := s.Passive(tradeoff.Recipe{Gross: a.Vb, Woofer: 7}, 330, 370); err == nil {
		t.Error("a woofer that is not there is accepted")
	}
}

func TestJudge(t *testing.T) {
	s := study(t)
	r, err := s.Search()
	if err != nil {
		t.Fatal(err)
	}
	judged, err := tradeoff.Judge(r.Front, func(r tradeoff.Recipe) (float64, error) { return r.Extension / 1000, nil })
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range judged {
		if p.Distortion != p.Extension/1000 || r.Front[i].Distortion != 0 {
			t.Errorf("%+v", p)
		}
	}
	fault := errors.New("does not settle")
	if _, err := tradeoff.Judge(r.Front, func(tradeoff.Recipe) (float64, error) { return 0, fault }); !errors.Is(err, fault) {
		t.Error(err)
	}
	if _, err := tradeoff.Judge(r.Front, func(tradeoff.Recipe) (float64, error) { return math.NaN(), nil }); err == nil {
		t.Error("NaN is accepted")
	}
}

func TestRefusals(t *testing.T) {
	for _, c := range []struct {
		spoil func(s *tradeoff.Study)
		want  string
	}{
		{func(s *tradeoff.Study) { s.Woofers = nil }, "0 woofers"},
		{func(s *tradeoff.Study) { s.Objectives = nil }, "0 objectives"},
		{func(s *tradeoff.Study) { s.Objectives[0] = 99 }, "objective 99"},
		{func(s *tradeoff.Study) { s.Tunings.To = math.Inf(1) }, "tuning from"},
		{func(s *tradeoff.Study) { s.Tunings, s.Closed = tradeoff.Range{}, false }, "neither tunings nor closed"},
		{func(s *tradeoff.Study) { s.Gross.From = math.NaN() }, "gross volume"},
		{func(s *tradeoff.Study) { s.Drop = 0 }, "drop"},
		{func(s *tradeoff.Study) { s.Gross.Steps = 60000 }, "candidates, want 4194304"},
		{func(s *tradeoff.Study) { s.Pipe = math.NaN() }, "bound is NaN"},
		{func(s *tradeoff.Study) { s.Level = math.NaN() }, "level"},
		{func(s *tradeoff.Study) { s.VentAir = -1 }, "bound is -1"},
		{func(s *tradeoff.Study) { s.Amplifier.OutputResistance = 1 }, "in Source"},
		{func(s *tradeoff.Study) { s.SearchFrom = 5000 }, "0 frequencies"},
		{func(s *tradeoff.Study) { s.SearchFrom = 8 }, "all of the band on it"},
		{func(s *tradeoff.Study) { s.SearchTo = 500 }, "all of the band on it"},
		{func(s *tradeoff.Study) { s.Extension.From = 17 }, "extension from 17"},
		{func(s *tradeoff.Study) { s.Extension.To = 351 }, "351 Hz, want it within"},
		{func(s *tradeoff.Study) { s.Delays = nil }, "want one in Delays"},
		{func(s *tradeoff.Study) { s.Vent.Diameter = 0 }, "vented boxes"},
		{func(s *tradeoff.Study) { s.VentedLosses.QL = -1 }, "vented boxes"},
		{func(s *tradeoff.Study) { s.ClosedLosses.QP = 30 }, "closed boxes"},
		{func(s *tradeoff.Study) { s.Refine = 7 }, "halved 7 times"},
		{func(s *tradeoff.Study) { s.Grid = nil }, "no grid"},
		{func(s *tradeoff.Study) { s.Shapes[0] = nil }, "no shape"},
		{func(s *tradeoff.Study) { s.Delays[0].Most = 0 }, "group delay"},
		{func(s *tradeoff.Study) { s.Woofers[0].Excursion = 0 }, "excursion of 0"},
		{func(s *tradeoff.Study) { s.Gross = tradeoff.Range{From: 1e-4}; s.Closed = false }, "none of"},
		{func(s *tradeoff.Study) { s.Shapes = []analog.Prototype{analog.Butterworth(1)} }, "lower order"},
	} {
		s := study(t)
		c.spoil(s)
		if _, err := s.Search(); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error is %v, want one with %q", err, c.want)
		}
	}
}

// What is no recipe is refused, and never taken for another one.
func TestRecipesThatAreRefused(t *testing.T) {
	s := study(t)
	good := tradeoff.Recipe{Gross: 0.015, Tuning: 40, Shape: analog.Butterworth(4), Extension: 35}
	for _, c := range []struct {
		spoil func(r *tradeoff.Recipe)
		want  string
	}{
		{func(r *tradeoff.Recipe) { r.Tuning = -40 }, "tuning of -40"},
		{func(r *tradeoff.Recipe) { r.Tuning = math.NaN() }, "tuning of NaN"},
		{func(r *tradeoff.Recipe) { r.Extension = 10 }, "extension of 10"},
		{func(r *tradeoff.Recipe) { r.Extension = 400 }, "extension of 400"},
		{func(r *tradeoff.Recipe) { r.Shape = analog.Butterworth(3) }, "box of order 4"},
		{func(r *tradeoff.Recipe) { r.Tuning, r.Shape = 0, analog.Butterworth(2) }, "box of order 3"},
		{func(r *tradeoff.Recipe) { r.Woofer = -1 }, "woofer -1"},
	} {
		r := good
		c.spoil(&r)
		if _, err := s.Measure(r); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
		if _, err := s.Hertz(r, tradeoff.FilterAlone); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %q", err, c.want)
		}
	}
	if _, err := s.Passive(tradeoff.Recipe{Gross: 0.015, Tuning: -40}, 100, 300); err == nil {
		t.Error("a negative tuning is taken for a closed box")
	}
	if _, err := s.Hertz(good, tradeoff.Move(2)); err == nil || !strings.Contains(err.Error(), "move 2") {
		t.Error(err)
	}
	s.ClosedLosses = enclosure.Losses{}
	if _, err := s.Measure(tradeoff.Recipe{Gross: 0.015, Shape: analog.Butterworth(2), Extension: 35}); err != nil {
		t.Error(err)
	}
}

// A front that would be looked around for minutes ends the search.
func TestFrontThatIsTooLargeToRefine(t *testing.T) {
	s := study(t)
	s.Gross.Steps, s.Tunings.Steps, s.Extension.Steps, s.Refine = 2, 2, 2, 6
	s.VentAir, s.Amplifier = 100, limits.Amplifier{PeakVolts: 100, PeakAmperes: 100}
	s.Objectives = []tradeoff.Objective{tradeoff.Extension, tradeoff.Level, tradeoff.VentAir, tradeoff.Power, tradeoff.Delay}
	if _, err := s.Search(); err == nil || !strings.Contains(err.Error(), "want 16384 at most") {
		t.Error(err)
	}
}
