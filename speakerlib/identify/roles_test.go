package identify_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/identify"
)

// A curve that is in another's place is refused with the likely reason, and one that is
// in its own is not.
func TestRoles(t *testing.T) {
	g := grid(t)
	random := rand.New(rand.NewPCG(4, 8))
	d := woofer()
	pair := massPair(t, g, random, d, 0.003, 6e-3, 0, 0)
	p := lumped(0)
	open := free(t, p, g, random, 0.003)
	closed := identify.Measurement{Impedance: boxed(t, p, enclosure.Closed{Vb: 12e-3}, g, random, 0.003), Setup: identify.ClosedBox{Volume: 12e-3}}
	vent := enclosure.Vent{Diameter: 0.054, Length: 0.15, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1}
	vented := identify.Measurement{Impedance: boxed(t, p, enclosure.Vented{Vb: 15e-3, Vent: vent, Losses: enclosure.Losses{QL: 9}}, g, random, 0.003), Setup: identify.VentedBox{Volume: 15e-3}}
	tweeter := identify.Measurement{Impedance: demo(t, "tweeter-free-air.txt"), Setup: identify.FreeAir{}}
	as := func(m identify.Measurement, s identify.Setup) identify.Measurement {
		m.Setup = s
		return m
	}
	for name, c := range map[string]struct {
		ms   []identify.Measurement
		want string // of the error; "" for none
	}{
		"a pair":                   {pair, ""},
		"swapped":                  {[]identify.Measurement{as(pair[1], identify.FreeAir{}), as(pair[0], pair[1].Setup)}, "are the files swapped"},
		"another driver":           {[]identify.Measurement{pair[0], as(tweeter, pair[1].Setup)}, "of two drivers"},
		"twice":                    {[]identify.Measurement{pair[0], as(pair[0], pair[1].Setup)}, "one file twice"},
		"twice with mass":          {[]identify.Measurement{pair[0], pair[1], as(pair[1], closed.Setup)}, "one file twice"},
		"closed":                   {[]identify.Measurement{open, closed}, ""},
		"closed swapped":           {[]identify.Measurement{as(closed, identify.FreeAir{}), as(open, closed.Setup)}, "are the files swapped"},
		"vented":                   {[]identify.Measurement{open, vented}, ""},
		"vented of another":        {[]identify.Measurement{tweeter, vented}, "lie on one side"},
		"free air called vented":   {[]identify.Measurement{as(vented, identify.FreeAir{}), as(open, vented.Setup)}, "want the two of a vented box"},
		"closed box called vented": {[]identify.Measurement{open, as(closed, vented.Setup)}, "want the two of a vented box"},
	} {
		_, err := identify.Fit(c.ms, &identify.Settings{Sd: p.Sd, Air: air.Room()})
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%s: error is %v, want %q", name, err, c.want)
		}
	}
	// The smallest mass that is worth a fit, at a lot of noise, stays accepted.
	for range 50 {
		if _, err := identify.Fit(massPair(t, g, random, d, 0.02, 0.03*d.mms, 0, 0.05*random.NormFloat64()), nil); err != nil {
			t.Fatal(err)
		}
	}
}

// Every driver here is drawn from ranges of the trade (common practice, no source): a
// mass per area of 0.3 to 5 kg/m², and a resonance and a Qes for the size.
func plausible(r *rand.Rand) (d truth, le float64) {
	log := func(a, b float64) float64 { return a * math.Pow(b/a, r.Float64()) }
	size := r.Float64() // 0: a dome of 19 mm, 1: a woofer of 46 cm
	d = truth{sd: 2.8e-4 * math.Pow(1200/2.8, size), re: log(2.5, 14), qms: log(1.5, 12), qes: log(0.25, 1.3)}
	d.mms = d.sd * log(0.35+0.3*size, 0.8+4*size)
	d.fs = 1500 * math.Pow(30.0/1500, math.Sqrt(size)) * log(0.7, 1.4)
	le = d.re / (2 * math.Pi * log(600+8000*(1-size), 1500+20000*(1-size)))
	d.coil = both(inductor(le/2), rung(le/2, d.re))
	return d, le
}

// No plausible driver warns, and a mass, an area or a volume in another unit is refused
// or warned of: always if the area is known, and nearly so if it is not.
func TestScale(t *testing.T) {
	random := rand.New(rand.NewPCG(12, 1))
	g, err := freq.LogGrid(5, 40000, 15)
	if err != nil {
		t.Fatal(err)
	}
	const drivers = 60
	seen, tried := map[string]int{}, map[string]int{}
	for i := range drivers {
		d, le := plausible(random)
		share := 0.3 + 0.4*random.Float64()
		p := driver.Params{Re: d.re, Bl: d.bl(), Mms: d.mms, Cms: d.cms(), Rms: 2 * math.Pi * d.fs * d.mms / d.qms, Sd: d.sd, Coil: driver.Ladder{Le: le / 2, L2: le / 2, R2: d.re}}
		vb := p.Vas(air.Room()) / (0.8 + random.Float64())
		fit := func(massFactor, areaFactor, volumeFactor float64) (warned bool, said string) {
			ms := massPair(t, g, random, d, 0.003, d.mms*share, 0, 0)
			ms[1].Setup = identify.AddedMass{Mass: d.mms * share * massFactor}
			if volumeFactor != 0 {
				ms = []identify.Measurement{free(t, p, g, random, 0.003), {Impedance: boxed(t, p, enclosure.Closed{Vb: vb}, g, random, 0.003), Setup: identify.ClosedBox{Volume: vb * volumeFactor}}}
			}
			set := &identify.Settings{Sd: d.sd * areaFactor, Air: air.Room(), Coils: []driver.TunableCoil{driver.Ladder{}}, Suspensions: []identify.Suspension{identify.Constant}}
			if areaFactor == 0 {
				set.Air = air.Medium{}
			}
			f, err := identify.Fit(ms, set)
			if err != nil {
				return true, err.Error()
			}
			for _, w := range f.Warnings {
				if w.Kind == identify.ImplausibleScale {
					return true, w.Text
				}
			}
			return false, ""
		}
		for name, c := range map[string][3]float64{
			"right": {1, 1, 0}, "right, no area": {1, 0, 0}, "right box": {1, 1, 1},
			"mass/1000": {1e-3, 1, 0}, "mass·1000": {1e3, 1, 0}, "mass/1000, no area": {1e-3, 0, 0}, "mass·1000, no area": {1e3, 0, 0},
			"area·100": {1, 1e2, 0}, "area/1e4": {1, 1e-4, 0}, "volume·1000": {1, 1, 1e3}, "volume/1000": {1, 1, 1e-3}, "box, area·1e4": {1, 1e4, 1},
		} {
			tried[name]++
			bad, said := fit(c[0], c[1], c[2])
			if bad {
				seen[name]++
			}
			if i == 3 && bad {
				t.Logf("%s: %s", name, said)
			}
			if bad && (c == [3]float64{1, 1, 0} || c == [3]float64{1, 0, 0} || c == [3]float64{1, 1, 1}) {
				t.Errorf("%s, Sd %.3g cm², Fs %.4g Hz, Mms %.3g g: %s", name, 1e4*d.sd, d.fs, 1e3*d.mms, said)
			}
		}
	}
	for name, n := range tried {
		t.Logf("%-20s seen %d of %d", name, seen[name], n)
		least := n
		if strings.Contains(name, "no area") {
			least = n * 95 / 100
		}
		if !strings.HasPrefix(name, "right") && seen[name] < least {
			t.Errorf("%s is noticed %d times of %d, want %d", name, seen[name], n, least)
		}
	}
}
