package network_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/network"
)

// The derivatives against central differences of fourth order, step 1e-3: their error is of
// the order of 1e-12 times the curvature, and rounding 1e-13.
func TestSensitivitiesAgainstDifferences(t *testing.T) {
	g := grid(t, 10, 30e3, 5)
	for _, c := range []struct {
		net  *network.Network
		a, b network.NodeID
	}{{twoWay(t), "w", "0"}, {twoWay(t), "j", "0"}, {twoWay(t), "in", "0"}, {bridge(t), "u", "q"}, {windings(t), "tap", "0"}, {windings(t), "d", "in"}} {
		plan := must(network.NewPlan(c.net, g, network.Source{R: 0.3, L: 10e-6}))(t)
		port := must(plan.Port(c.a, c.b))(t)
		sol := must(plan.Solve())(t)
		sens := must(sol.Sensitivities(port))(t)
		other := plan.NewSolution()
		at := func(k int, factor float64) []complex128 {
			v := plan.Nominal()
			v[k] *= factor
			if err := plan.SolveTo(other, v); err != nil {
				t.Fatal(err)
			}
			return other.VoltageTo(nil, port)
		}
		for k, p := range sens.Parameters() {
			const h = 1e-3
			d := sens.Derivative(k)
			p1, m1, p2, m2 := at(k, math.Exp(h)), at(k, math.Exp(-h)), at(k, math.Exp(2*h)), at(k, math.Exp(-2*h))
			for i := range d {
				want := (8*(p1[i]-m1[i]) - (p2[i] - m2[i])) / (12 * h)
				if !(cmplx.Abs(d[i]-want) <= 1e-8*(cmplx.Abs(want)+1e-3)) {
					t.Errorf("%s to %s, %v at %.5g Hz: %v, want %v", c.a, c.b, p, g.At(i), d[i], want)
				}
			}
		}
	}
}

// A network's voltages depend on ratios of impedances only: with S the relative derivatives,
// those to all R, L, losses and scales less those to all C sum to the derivative with respect
// to a common factor of the impedances, which is 0 (homogeneity; common practice,
// no source).
func TestSensitivitiesSumToZero(t *testing.T) {
	g := grid(t, 10, 30e3, 5)
	plan := must(network.NewPlan(twoWay(t), g, network.Source{}))(t)
	sens := must(must(plan.Solve())(t).Sensitivities(must(plan.Across("tweeter"))(t)))(t)
	sum := make([]complex128, g.Len())
	for k, p := range sens.Parameters() {
		sign := complex(1, 0)
		if q := must(twoWay(t).Part(p.Part))(t); p.Kind == network.Value {
			if _, ok := q.(network.Capacitor); ok {
				sign = -1
			}
		}
		for i, d := range sens.Derivative(k) {
			sum[i] += sign * d
		}
	}
	for i, v := range sum {
		if cmplx.Abs(v) > 1e-13 {
			t.Errorf("at %.5g Hz the sum is %v, want 0", g.At(i), v)
		}
	}
}

// uniform returns a number of −1 … 1 that depends on its arguments only: the finalizer of
// splitmix64 (G. L. Steele and others, OOPSLA 2014; constants from memory).
func uniform(seed, trial, index uint64) float64 {
	z := seed*0x9e3779b97f4a7c15 + trial*0xd1b54a32d192ed03 + index*0x8cb92ba72f3d8dd7
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	z ^= z >> 31
	return 2*float64(z>>11)/(1<<53) - 1
}

// The bands against a thousand networks with parts drawn at random: no level leaves the worst
// case by more than the second order, and the standard deviation is the RMS band's within
// what a thousand trials leave open (2.2 % each, so 4 of them) and the second order.
func TestSpreadAgainstTrials(t *testing.T) {
	g := grid(t, 30, 20e3, 3)
	net := twoWay(t)
	plan := must(network.NewPlan(net, g, network.Source{R: 0.1}))(t)
	zw, zt := must(plan.Across("woofer"))(t), must(plan.Across("tweeter"))(t)
	sol := must(plan.Solve())(t)
	// Drivers that differ in level and delay, so that the sum has something to it.
	basis := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.FullSpace, Distance: 1}
	dw := must(freq.Evaluate(freq.Series{freq.Gain(0.9), freq.Delay(60e-6)}, g, "w", basis))(t)
	dt := must(freq.Evaluate(freq.Gain(1.2), g, "t", basis))(t)
	sens := must(network.SumSensitivities(
		[]*network.Sensitivities{must(sol.Sensitivities(zw))(t), must(sol.Sensitivities(zt))(t)},
		[]freq.Response{dw, dt}))(t)
	tol := network.Tolerances{"choke": {0.03, 0.05}, "shunt": {0.05, 0}, "first": {0.05, 0}, "coil": {Value: 0.03, Loss: 0.05},
		"pad": {Value: 0.05}, "across": {Value: 0.05}, "woofer": {Value: 0.04}, "tweeter": {Value: 0.04}}
	spread := must(sens.Spread(tol))(t)
	plain := sum(sol, zw, zt, dw, dt)

	const trials = 1000
	other := plan.NewSolution()
	mean, square := make([]float64, g.Len()), make([]float64, g.Len())
	for trial := range trials {
		v := plan.Nominal()
		for k, p := range plan.Parameters() {
			r := tol[p.Part].Value
			if p.Kind == network.Loss {
				r = tol[p.Part].Loss
			}
			v[k] *= 1 + r*uniform(7, uint64(trial), uint64(k))
		}
		if err := plan.SolveTo(other, v); err != nil {
			t.Fatal(err)
		}
		for i, h := range sum(other, zw, zt, dw, dt) {
			d := level.DB(cmplx.Abs(h / plain[i]))
			mean[i] += d / trials
			square[i] += d * d / trials
			if math.Abs(d) > spread.Worst.At(i)*1.06+0.003 {
				t.Errorf("trial %d is %.3f dB off at %.5g Hz, worst case %.3f", trial, d, g.At(i), spread.Worst.At(i))
			}
		}
	}
	for i := range mean {
		sd := math.Sqrt(square[i] - mean[i]*mean[i])
		want := spread.RMS.At(i) / math.Sqrt(3) // uniform within ±t
		if math.Abs(sd/want-1) > 0.10 {
			t.Errorf("at %.5g Hz the trials' deviation is %.4f dB, the band says %.4f", g.At(i), sd, want)
		}
	}
}

func sum(s *network.Solution, a, b network.Port, da, db freq.Response) []complex128 {
	h, k := s.VoltageTo(nil, a), s.VoltageTo(nil, b)
	for i := range h {
		h[i] = h[i]*da.At(i) + k[i]*db.At(i)
	}
	return h
}

func TestSpreadRefusals(t *testing.T) {
	g := grid(t, 100, 1000, 3)
	plan := must(network.NewPlan(twoWay(t), g, network.Source{}))(t)
	sens := must(must(plan.Solve())(t).Sensitivities(must(plan.Across("woofer"))(t)))(t)
	for _, tol := range []network.Tolerances{{"nothing": {}}, {"choke": {Value: -0.1}}, {"choke": {Loss: 1}}, {"choke": {Value: math.NaN()}}} {
		if _, err := sens.Spread(tol); err == nil {
			t.Errorf("%v is accepted", tol)
		}
	}
	for range 8 { // of three mistakes the same one is named every time
		_, err := sens.Spread(network.Tolerances{"woofer": {Value: -1}, "nothing": {}, "choke": {Value: 2}})
		if err == nil || !strings.Contains(err.Error(), `"choke" is 2`) {
			t.Errorf("the error is %v, want that of the first name", err)
		}
	}
	silent := must(must(plan.Solve())(t).Sensitivities(must(plan.Port("in", "in"))(t)))(t)
	if _, err := silent.Level(0); err == nil || !strings.Contains(err.Error(), "0 at 100 Hz") {
		t.Errorf("level of nothing: error is %v", err)
	}
	d := must(freq.Evaluate(freq.Gain(1), grid(t, 100, 1000, 4), "", freq.Basis{}))(t)
	if _, err := network.SumSensitivities([]*network.Sensitivities{sens}, []freq.Response{d}); err == nil {
		t.Error("a driver on another grid is accepted")
	}
	if _, err := network.SumSensitivities([]*network.Sensitivities{sens}, nil); err == nil {
		t.Error("a way without a driver is accepted")
	}
}
