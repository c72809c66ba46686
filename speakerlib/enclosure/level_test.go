package enclosure_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
)

// ventlevel_scipy.py integrates the same circuit in time with the loss |u|u itself,
// harmonics and all. What the equivalent resistance is off by, is what its tolerance
// says: at up to 26 m/s and 2.9 dB of compression 0.4 % of the air speed, 0.6 % of the
// cone's motion, and 1.1 % of the pressure, most at 20 Hz, where cone and vent nearly cancel.
func TestLevelAgainstTheTimeDomain(t *testing.T) {
	d := woofer
	d.Coil = driver.Inductor{Le: 4e-4}
	vent := enclosure.Vent{Diameter: 0.05, Length: 0.26, Count: 1}
	box := enclosure.Vented{Vb: 0.014, Vent: vent}
	box.Losses.QL = 2 * math.Pi * box.Fb(table) * box.Vb / table.Stiffness() * 4e5
	m := enclosure.Mounted{Driver: d, Air: table, Box: box}
	most, rows := 0.0, 0
	for _, r := range testtable.Read(t, "testdata/ventlevel_scipy.csv") {
		rows++
		hz, volts := r.Number(t, "f_hz"), r.Number(t, "volts_peak")
		l, err := m.AtLevel(grid(t, hz), volts)
		if err != nil {
			t.Fatal(err)
		}
		name := r["f_hz"] + " Hz, " + r["volts_peak"] + " V: "
		near(t, name+"speed", l.Speeds[0].At(0)/r.Number(t, "vent_air_mps"), 1, 0.004)
		near(t, name+"pressure", volts*cmplx.Abs(l.Pressure.ResponseTo(nil, grid(t, hz))[0])/r.Number(t, "pressure_pa"), 1, 0.011)
		near(t, name+"cone", volts*cmplx.Abs(l.Cone.ResponseTo(nil, grid(t, hz))[0])/r.Number(t, "cone_m"), 1, 0.006)
		most = math.Min(most, l.Compression.At(0))
	}
	if rows != 18 || most > -2 {
		t.Errorf("%d rows, at most %g dB compression: too little for a test", rows, most)
	}
}

// Any box, any level: each port's resistance is that of its speed, its speed that of its
// flow, and at a low level all is as in the small signal.
func TestLevelsAgreeWithThemselves(t *testing.T) {
	examine(t, func(t *rapid.T, k kind) {
		m := drawIn(t, k.draw(t, drawing{}))
		small := motion(t, m)
		volts := within(t, "volts", 0.1, 60)
		g := grid(t, within(t, "Hz", 10, 300))
		l, err := m.AtLevel(g, volts)
		if err != nil {
			t.Fatal(err)
		}
		if !l.Converged {
			t.Errorf("did not converge at %g V", volts)
		}
		for n, p := range l.Ports {
			v := cmplx.Abs(p.Air.ResponseTo(nil, g)[0]) * volts
			if got := l.Speeds[n].At(0); math.Abs(got-v) > 1e-7*v {
				t.Errorf("port %d has %g m/s in its curve and %g m/s in its flow", n, got, v)
			}
		}
		if len(l.Ports) == 1 { // Thévenin: a loss only slows
			before := cmplx.Abs(small.VentAir.ResponseTo(nil, g)[0]) * volts
			if after := l.Speeds[0].At(0); after > before*(1+1e-9) {
				t.Errorf("air moves with %g m/s, without loss with %g m/s", after, before)
			}
		}
		quiet, err := m.AtLevel(g, 1e-12)
		if err != nil {
			t.Fatal(err)
		}
		for n, pair := range pairs(&quiet.Motion, small)[:6] {
			a, b := pair[0].ResponseTo(nil, g)[0], pair[1].ResponseTo(nil, g)[0]
			if cmplx.Abs(a-b) > 1e-8*cmplx.Abs(b) {
				t.Errorf("transfer %d at 10⁻¹² V is %v, small signal %v", n, a, b)
			}
		}
	})
}

// What the vents add at a level is a resistance in series with each, at its place: the
// small-signal motion with the same resistances as QP of the chambers is the same.
func TestAddedResistancesAreThosePortsHave(t *testing.T) {
	front, rear := enclosure.Vent{Diameter: 0.07, Length: 0.1, Count: 1}, enclosure.Vent{Diameter: 0.05, Length: 0.2, Count: 1}
	g := grid(t, 43)
	const reference = 50.0
	with := func(vb, resistance float64) enclosure.Chamber {
		return enclosure.Chamber{Vb: vb, Reference: reference, Losses: enclosure.Losses{QP: 1 / (2 * math.Pi * reference * vb / table.Stiffness() * resistance)}}
	}
	bare := func(vb float64) enclosure.Chamber { return enclosure.Chamber{Vb: vb} }
	for name, build := range map[string]func(first, second enclosure.Chamber) enclosure.Box{
		"parallel": func(first, second enclosure.Chamber) enclosure.Box {
			return enclosure.Bandpass6{Rear: second, Front: first, RearPort: rear, FrontPort: front}
		},
		"series": func(first, second enclosure.Chamber) enclosure.Box {
			return enclosure.Bandpass6{Rear: second, Front: first, RearPort: rear, FrontPort: front, Series: true}
		},
		"two chambers": func(first, second enclosure.Chamber) enclosure.Box {
			return enclosure.DoubleChamber{First: second, Second: first, Between: rear, Outer: front}
		},
	} {
		m := enclosure.Mounted{Driver: woofer, Air: table, Box: build(bare(0.012), bare(0.02))}
		l, err := m.AtLevel(g, 25)
		if err != nil || !l.Converged {
			t.Fatalf("%s: converged %v (%v)", name, l.Converged, err)
		}
		m.Box = build(with(0.012, l.Added[0].At(0)), with(0.02, l.Added[1].At(0)))
		for n, pair := range pairs(&l.Motion, motion(t, m)) {
			a, b := pair[0].ResponseTo(nil, g)[0], pair[1].ResponseTo(nil, g)[0]
			if cmplx.Abs(a/b-1) > 1e-10 {
				t.Errorf("%s: transfer %d is %v, with the resistances as losses %v", name, n, a, b)
			}
		}
	}
}

// The sharper the vent is driven the more it compresses, and a closed box or a passive
// radiator does not.
func TestCompression(t *testing.T) {
	m := standMount()
	g := grid(t, m.Box.(enclosure.Vented).Fb(m.Air))
	last := 0.0
	for _, volts := range []float64{1, 3, 10, 30} {
		l, err := m.AtLevel(g, volts)
		if err != nil {
			t.Fatal(err)
		}
		if c := l.Compression.At(0); !(c < last) {
			t.Errorf("%g dB at %g V, %g dB below it", c, volts, last)
		} else {
			last = c
		}
		r := m.Box.(enclosure.Vented).Vent.Loss(g.At(0), l.Speeds[0].At(0), m.Air)
		near(t, "added resistance", l.Added[0].At(0)/r, 1, 1e-12)
	}
	if level.Ratio(last) > 0.95 {
		t.Errorf("only %g dB at 30 V", last)
	}
	for _, box := range []enclosure.Box{enclosure.Closed{Vb: 0.01}, enclosure.InfiniteBaffle{},
		enclosure.PassiveRadiator{Vb: 0.01, Radiator: enclosure.Radiator{Mmp: 0.05, Cmp: 1e-3, Rmp: 1, Sp: 0.0136, Count: 1}}} {
		m.Box = box
		l, err := m.AtLevel(g, 30)
		if err != nil || l.Compression.At(0) != 0 || !l.Converged {
			t.Errorf("%T compresses by %g dB (%v)", box, l.Compression.At(0), err)
		}
	}
	for _, volts := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		if _, err := m.AtLevel(g, volts); err == nil {
			t.Errorf("%g V was accepted", volts)
		}
	}
	m.Box = nil
	if _, err := m.AtLevel(g, 1); err == nil {
		t.Error("no box was accepted")
	}
	m = standMount()
	m.Air = air.Medium{}
	if _, err := m.AtLevel(g, 1); err == nil {
		t.Error("no air was accepted")
	}
}
