package enclosure_test

import (
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
)

// By symmetry n equal drivers in a box are n boxes with an n-th of its volume and its
// vents each: the pressures add, and the terminals are n of the single ones in series
// and in parallel.
func TestSeveralDriversAreSeveralBoxes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := enclosure.Mounted{Driver: drawDriver(t), Air: table}
		v := enclosure.Several{Series: rapid.IntRange(1, 3).Draw(t, "series"), Parallel: rapid.IntRange(1, 3).Draw(t, "parallel")}
		if rapid.Bool().Draw(t, "any coil") && m.Driver.Coil != nil {
			m.Driver.Coil = hidden{m.Driver.Coil}
		}
		n := v.Series * v.Parallel
		vent := drawVent(t)
		vent.Count = 1
		vb := within(t, "Vb", 5e-3, 0.1)
		m.Box = enclosure.Vented{Vb: vb, Vent: vent, Losses: enclosure.Losses{QL: 7}}
		single := motion(t, m)
		var err error
		if m.Driver, err = v.Of(m.Driver); err != nil {
			t.Fatal(err)
		}
		vent.Count = n
		m.Box = enclosure.Vented{Vb: vb * float64(n), Vent: vent, Losses: enclosure.Losses{QL: 7}}
		all := motion(t, m)
		hz := within(t, "Hz", 10, 2000)
		s, p := float64(v.Series), float64(v.Parallel)
		for _, c := range []struct {
			name      string
			all, each freq.Transfer
			ratio     float64
		}{
			{"impedance", all.Impedance, single.Impedance, s / p},
			{"displacement", all.Cone, single.Cone, 1 / s}, // of a volt, each has 1/s
			{"pressure", all.Pressure, single.Pressure, p},
			{"vent air", all.VentAir, single.VentAir, 1 / s},
		} {
			if got := at(t, c.all, hz)[0] / at(t, c.each, hz)[0]; cmplx.Abs(got-complex(c.ratio, 0)) > 1e-9*c.ratio {
				t.Errorf("%d in series, %d in parallel: %s is %v of the single, want %g", v.Series, v.Parallel, c.name, got, c.ratio)
			}
		}
	})
}

// A compound pair has half the Vas and the same Fs and Q: in half the box it does what
// one does in the whole, with half the efficiency. Common practice, and of the
// definition of Vas.
func TestCompoundPair(t *testing.T) {
	pair, err := enclosure.Several{Series: 1, Parallel: 2, Compound: true}.Of(woofer)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "Vas", pair.Vas(table)/woofer.Vas(table), 0.5, 1e-14)
	near(t, "Fs", pair.Fs()/woofer.Fs(), 1, 1e-14)
	near(t, "Qts", pair.Qts()/woofer.Qts(), 1, 1e-14)
	near(t, "η₀", pair.Eta0(table)/woofer.Eta0(table), 0.5, 1e-14)
	four, err := enclosure.Several{Series: 2, Parallel: 2}.Of(woofer)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "Re of two by two", four.Re, woofer.Re, 0)
	near(t, "η₀ of four", four.Eta0(table)/woofer.Eta0(table), 4, 1e-13)
	for _, v := range []enclosure.Several{{}, {Series: 1}, {Series: 1, Parallel: -1}, {Series: 5000, Parallel: 1}} {
		if _, err := v.Of(woofer); err == nil {
			t.Errorf("%+v was accepted", v)
		}
	}
}
