package enclosure_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/enclosure"
)

// The closed form against the circuit at any frequency: the driver and chambers of the
// alignment, solved as two-ports (which ngspice has checked), have the response of the
// mirrored low-pass. And Butterworth's half-power points are F0·(√(S²+4) ± S)/2.
func TestBandpassAlignment(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := drawDriver(t)
		d.Coil = nil
		m := enclosure.Mounted{Driver: d, Air: table, Source: maybe(t, "source", 0.1, 2)}
		ss, err := m.SmallSignal()
		if err != nil {
			t.Fatal(err)
		}
		q := within(t, "Q", 0.5, 1.5)
		s := q / ss.Qt / within(t, "Qtc/Qt", 1.1, 4)
		if s > 50 {
			return
		}
		a, err := enclosure.AlignBandpass(s, q, ss)
		if err != nil {
			t.Fatal(err)
		}
		vent, err := enclosure.Vent{Diameter: 0.001, Inner: 0, Count: 1}.LengthFor(a.F0, a.Front, table)
		if err != nil {
			t.Fatal(err)
		}
		m.Box = enclosure.Bandpass4{Rear: enclosure.Chamber{Vb: a.Rear}, Front: enclosure.Chamber{Vb: a.Front}, Port: vent}
		p := motion(t, m).Pressure
		high := m.Air.Density * d.Bl * d.Sd / (2 * math.Pi * d.Mms * (d.Re + m.Source))
		r := within(t, "f/F0", 0.1, 10)
		x := complex(0, r-1/r)
		want := complex(high, 0) / (x*x + x*complex(s/q, 0) + complex(s*s, 0))
		if got := at(t, p, a.F0*r)[0]; cmplx.Abs(got/want-1) > 1e-8 {
			t.Errorf("at %g F0 pressure is %v, want %v", r, got, want)
		}
		v := at(t, p, a.Low, a.F0, a.High)
		for _, k := range []int{0, 2} {
			if drop := cmplx.Abs(v[k] / v[1]); math.Abs(drop-math.Sqrt(0.5)) > 1e-8 {
				t.Errorf("at %g and %g Hz the pressure is %g of that at F0, want 1/√2", a.Low, a.High, drop)
			}
		}
		if gain := cmplx.Abs(v[1]) / high; math.Abs(gain/a.Gain-1) > 1e-8 {
			t.Errorf("gain at F0 is %g, want %g", gain, a.Gain)
		}
	})
	ss := enclosure.SmallSignal{Fs: 30, Qt: 0.4, Vas: 0.05}
	a, err := enclosure.AlignBandpass(0.7, math.Sqrt(0.5), ss)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "upper half-power frequency", a.High/a.F0, (math.Sqrt(0.49+4)+0.7)/2, 1e-14)
	near(t, "lower half-power frequency", a.Low/a.F0, (math.Sqrt(0.49+4)-0.7)/2, 1e-14)
	for name, c := range map[string]struct {
		s, q float64
		want string
	}{
		"wide":     {2, math.Sqrt(0.5), "Qt is 0.4, want less than the Qtc of 0.3536"},
		"NaN":      {math.NaN(), 1, "S NaN"},
		"negative": {1, -1, "Q -1"},
	} {
		if _, err := enclosure.AlignBandpass(c.s, c.q, ss); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want one with %q", name, err, c.want)
		}
	}
	if _, err := enclosure.AlignBandpass(1, 1, enclosure.SmallSignal{}); err == nil {
		t.Error("a driver of nothing was accepted")
	}
}
