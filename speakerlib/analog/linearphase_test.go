package analog_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
)

// Pole locations as tables of filter handbooks print them for linear phase with
// equiripple error, half the power at 1 rad/s (A. I. Zverev, "Handbook of Filter
// Synthesis", 1967, and A. B. Williams, "Electronic Filter Design Handbook"; all
// from memory).
func TestLinearPhaseAgainstPrintedTables(t *testing.T) {
	for _, c := range []struct {
		n      int
		degree float64
		want   []complex128
	}{
		{2, 0.05, []complex128{1.0087 + 0.6680i}},
		{3, 0.05, []complex128{0.8541 + 1.0725i, 1.0459}},
		{4, 0.05, []complex128{0.7448 + 1.4008i, 0.9648 + 0.4748i}},
		{5, 0.05, []complex128{0.6731 + 1.7085i, 0.8915 + 0.8733i, 0.9430}},
		{2, 0.5, []complex128{0.8590 + 0.6981i}},
		{3, 0.5, []complex128{0.6969 + 1.1318i, 0.8257}},
		{4, 0.5, []complex128{0.6037 + 1.4983i, 0.7448 + 0.5133i}},
		{5, 0.5, []complex128{0.5412 + 1.8256i, 0.6775 + 0.9401i, 0.7056}},
	} {
		p := analog.LinearPhase{Order: c.n, Error: c.degree * math.Pi / 180}
		if want := fmt.Sprintf("linear phase order %d, error %g°", c.n, c.degree); p.String() != want {
			t.Errorf("called %q, want %q", p, want)
		}
		poles, err := p.Poles()
		if err != nil {
			t.Errorf("%v: %v", p, err)
			continue
		}
		for i, z := range upper(poles) {
			if got := complex(-real(z), imag(z)); cmplx.Abs(got-c.want[i]) > 1e-4 {
				t.Errorf("%v: pole %d is %.4f, printed as %.4f", p, i, got, c.want[i])
			}
		}
	}
}

// Solved with 40 digits by another route (testdata/mpmath_linear_phase.py).
func TestLinearPhaseAgainstLongArithmetic(t *testing.T) {
	rows := testtable.Read(t, "testdata/mpmath_linear_phase.csv")
	if len(rows) != 234 {
		t.Errorf("table has %d rows", len(rows))
	}
	seen := map[string]int{}
	for i, row := range rows {
		kind, n, dev := row.Text(t, "kind"), int(row.Number(t, "order")), row.Number(t, "ripple")
		var p analog.Prototype = analog.LinearPhase{Order: n, Error: dev}
		if kind == "delay" {
			p = analog.EquirippleDelay{Order: n, Ripple: dev}
		}
		poles, err := p.Poles()
		if err != nil {
			t.Errorf("row %d: %v", i+2, err)
			continue
		}
		key := fmt.Sprint(kind, n, dev)
		got, want := upper(poles)[seen[key]], complex(row.Number(t, "re"), row.Number(t, "im"))
		seen[key]++
		if d := cmplx.Abs(got-want) / cmplx.Abs(want); d > 1e-12 {
			t.Errorf("row %d: %v: pole %.15g, want %.15g (off by %.2g)", i+2, p, got, want, d)
		}
	}
}

// The definition, up to the highest order: the phase, or the delay, turns round n
// times at ± the ripple, alternating and last above, before it leaves for good; half
// the power is at the corner, and the magnitude does not rise by more than 0.03 dB.
func TestLinearPhaseRipplesEvenly(t *testing.T) {
	unit := 1 / (2 * math.Pi)
	g, err := freq.LinearGrid(unit*1e-5, unit*8, 60001)
	if err != nil {
		t.Fatal(err)
	}
	for n := 2; n <= analog.MaxLinearPhase; n++ {
		for _, dev := range []float64{1e-4, 2e-3, 1e-2} {
			for _, p := range []analog.Prototype{analog.LinearPhase{Order: n, Error: dev}, analog.EquirippleDelay{Order: n, Ripple: dev}} {
				f := design(t, analog.Lowpass{Fc: unit}, p)
				delay := f.GroupDelayTo(nil, g)
				w := g.Omega()
				// What is to ripple: the delay over its middle, or the phase less a
				// straight line, whose slope is found from the last top.
				e := make([]float64, len(w))
				if _, ok := p.(analog.LinearPhase); ok {
					phase := make([]float64, len(w))
					for i, x := range w {
						for _, z := range upper(f.Poles()) {
							phase[i] += math.Atan((x - imag(z)) / -real(z))
							if imag(z) != 0 {
								phase[i] += math.Atan((x + imag(z)) / -real(z))
							}
						}
					}
					last := func(T float64) float64 {
						at := len(w) - 1
						for at > 0 && delay[at] < T {
							at--
						}
						return phase[at] - T*w[at]
					}
					lo, hi := delay[0]*0.9, delay[0]*1.1
					for range 60 {
						if mid := (lo + hi) / 2; last(mid) > dev {
							lo = mid
						} else {
							hi = mid
						}
					}
					for i, x := range w {
						e[i] = phase[i] - lo*x
					}
				} else {
					var top float64
					for _, v := range delay {
						top = math.Max(top, v)
					}
					for i, v := range delay {
						e[i] = v*(1+dev)/top - 1
					}
				}
				var turns []float64
				if p == (analog.EquirippleDelay{Order: n, Ripple: dev}) {
					turns = append(turns, e[0])
				}
				for i := 1; i+1 < len(e); i++ {
					if (e[i]-e[i-1])*(e[i+1]-e[i]) < 0 && e[i+1] > -2*dev {
						turns = append(turns, e[i])
					}
				}
				if len(turns) != n {
					t.Errorf("%v turns %d times, want %d: %v", p, len(turns), n, turns)
					continue
				}
				for i, v := range turns {
					want := dev
					if (n-i)%2 == 0 {
						want = -dev
					}
					if math.Abs(v-want) > 2e-5*dev+2e-8 { // what the grid leaves
						t.Errorf("%v: turn %d of %d at %.9g, want %.9g", p, i+1, n, v, want)
					}
				}
				h := f.ResponseTo(nil, g)
				low, corners := 1.0, 0
				for i, v := range h {
					a := cmplx.Abs(v)
					low = math.Min(low, a)
					if a > low*1.0036 {
						t.Errorf("%v rises to %.6g from %.6g", p, a, low)
						break
					}
					if i > 0 && a*a < 0.5 && cmplx.Abs(h[i-1])*cmplx.Abs(h[i-1]) >= 0.5 {
						corners++
						if math.Abs(w[i]-1) > 2e-4 {
							t.Errorf("%v has half the power at %.6g rad/s, want 1", p, w[i])
						}
					}
				}
				if corners != 1 {
					t.Errorf("%v has half the power %d times", p, corners)
				}
			}
		}
	}
}

// Of one half-power point the delay is even to a percent over more of the band than
// that of a Bessel filter (why one takes it), and order 1 is the same whatever the
// ripple.
func TestLinearPhaseIsWider(t *testing.T) {
	width := func(p analog.Prototype) float64 {
		f := design(t, analog.Lowpass{Fc: 1000}, p)
		g, err := freq.LinearGrid(1, 4000, 4000)
		if err != nil {
			t.Fatal(err)
		}
		d := f.GroupDelayTo(nil, g)
		lo, hi := d[0], d[0]
		for i, v := range d {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
			if hi > lo*1.021 {
				return g.At(i)
			}
		}
		return math.Inf(1)
	}
	bessel, even := width(analog.Bessel(7, analog.ByMagnitude)), width(analog.EquirippleDelay{Order: 7, Ripple: 0.01})
	if !(even > 1.2*bessel) {
		t.Errorf("delay is even to %.0f Hz, that of Bessel to %.0f Hz, want more than 1.2 times as far", even, bessel)
	}
	if s := (analog.EquirippleDelay{Order: 5, Ripple: 0.015}).String(); s != "equal-ripple delay order 5, ripple 1.5 %" {
		t.Errorf("called %q", s)
	}
	if p, err := (analog.LinearPhase{Order: 1, Error: 1e-3}).Poles(); err != nil || len(p) != 1 || p[0] != -1 {
		t.Errorf("order 1 has %v, %v", p, err)
	}
}

func TestLinearPhaseRefuses(t *testing.T) {
	for _, c := range []struct {
		p    analog.Prototype
		want string
	}{
		{analog.LinearPhase{Order: 0, Error: 1e-3}, "order of linear phase is 0, want 1 to 16"},
		{analog.LinearPhase{Order: 17, Error: 1e-3}, "17"},
		{analog.LinearPhase{Order: 4, Error: 0.5}, "ripple of linear phase is 0.5, want 1e-5 to 0.01"}, // degrees
		{analog.LinearPhase{Order: 4, Error: math.NaN()}, "NaN"},
		{analog.EquirippleDelay{Order: 4}, "ripple of equal-ripple delay is 0"},
		{analog.EquirippleDelay{Order: -1, Ripple: 1e-3}, "-1"},
		{analog.EquirippleDelay{Order: 4, Ripple: math.Inf(1)}, "+Inf"},
	} {
		if _, err := analog.Design(analog.Lowpass{Fc: 1000}, c.p); err == nil || !strings.HasPrefix(err.Error(), "analog: ") || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v: error %v, want one with %q", c.p, err, c.want)
		}
	}
}
