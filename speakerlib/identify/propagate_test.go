package identify_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/identify"
	"gonum.org/v1/gonum/mat"
)

// cutOff is the −3 dB frequency of a driver in a closed box (R. H. Small, "Closed-Box
// Loudspeaker Systems", J. Audio Eng. Soc. 20, 1972, the response of a second-order
// high-pass; from memory, checked by |G|² = ½ in TestPropagate).
func cutOff(fs, qts, vas, vb float64) float64 {
	a := 1 + vas/vb
	fc, q := fs*math.Sqrt(a), qts*math.Sqrt(a)
	b := 1/(q*q) - 2
	return fc * math.Sqrt((b+math.Sqrt(b*b+4))/2)
}

const studyBox = 18e-3 // m³

func boxFigure(p driver.Params) (float64, error) {
	at, err := p.At(p.Fs())
	if err != nil {
		return 0, err
	}
	return cutOff(at.Fs(), at.Qts(), at.Vas(air.Room()), studyBox), nil
}

// The parameters themselves have their own errors; a figure of several has that of a
// Monte Carlo of the stated errors and correlations.
func TestPropagate(t *testing.T) {
	if f := cutOff(40, 0.4, 0.02, 0.01); math.Abs(secondOrder(f, 40*math.Sqrt(3), 0.4*math.Sqrt(3))-0.5) > 1e-12 {
		t.Fatal("the closed form of the test is wrong")
	}
	g := grid(t)
	for _, creep := range []float64{0, 0.07} {
		d := woofer()
		d.creep = creep
		ms := massPair(t, g, rand.New(rand.NewPCG(2, 9)), d, 0.003, 6e-3, 0, 0)
		ms[0].RunIn = 0.02
		r, err := identify.Fit(ms, &identify.Settings{Sd: d.sd, SdAccuracy: 0.015, Air: air.Room(), Re: d.re, ReError: 0.01})
		if err != nil {
			t.Fatal(err)
		}
		symbols := []identify.Symbol{identify.Re, identify.Fs, identify.Qms, identify.Qes, identify.Qts, identify.Mms, identify.Bl, identify.Cms, identify.Rms, identify.Vas}
		calls := 0
		all, err := r.PropagateAll(func(p driver.Params) ([]float64, error) {
			calls++
			// F0 of the creep is the resonance with all of it.
			f := p.Fs()
			if c, ok := p.Suspension.(driver.LogCreep); ok {
				f = c.F0
			}
			a, err := p.At(f)
			return []float64{a.Re, a.Fs(), a.Qms(), a.Qes(), a.Qts(), a.Mms, a.Bl, a.Cms, a.Rms, a.Vas(air.Room())}, err
		})
		if err != nil {
			t.Fatal(err)
		}
		for i, s := range symbols {
			p := value(t, r, s)
			if math.Abs(all[i].Value/p.Value-1) > 1e-9 || math.Abs(all[i].Error/p.Error-1) > 0.01 {
				t.Errorf("creep %g: %s comes out as %.6g ± %.4g, want %.6g ± %.4g", creep, s, all[i].Value, all[i].Error, p.Value, p.Error)
			}
			if math.Abs(all[i].Bias) > 0.05*all[i].Error {
				t.Errorf("creep %g: %s has a bias of %.2g, want it small beside %.2g", creep, s, all[i].Bias, all[i].Error)
			}
		}
		// Two parameters of the tables have a correlation, and the figure needs it.
		want := monteCarlo(t, r, []identify.Symbol{identify.Fs, identify.Qts, identify.Vas}, func(v []float64) float64 { return cutOff(v[0], v[1], v[2], studyBox) })
		f, sigma, err := r.Propagate(boxFigure)
		if err != nil {
			t.Fatal(err)
		}
		// 20 000 draws know a deviation to 0.5 %.
		if math.Abs(sigma/want-1) > 0.02 {
			t.Errorf("creep %g: −3 dB at %.4g Hz ± %.4g, a Monte Carlo says ± %.4g", creep, f, sigma, want)
		}
		t.Logf("creep %g: −3 dB at %.5g ± %.2g Hz, Monte Carlo %.2g; %d calls", creep, f, sigma, want, calls)
	}
}

// On a band that ends at 300 Hz the demo does not tell which coil it is, and the models
// make more of the error of Re than the noise does. A figure must have it too.
func TestPropagateOtherModels(t *testing.T) {
	r, err := identify.Fit(pair(t), &identify.Settings{Sd: 138e-4, To: 300})
	if err != nil {
		t.Fatal(err)
	}
	for s, f := range map[identify.Symbol]func(p driver.Params) float64{
		identify.Re: func(p driver.Params) float64 { return p.Re }, identify.Bl: func(p driver.Params) float64 { return p.Bl },
		identify.Mms: func(p driver.Params) float64 { return p.Mms },
	} {
		p := value(t, r, s)
		v, sigma, err := r.Propagate(func(p driver.Params) (float64, error) { return f(p), nil })
		if err != nil {
			t.Fatal(err)
		}
		if v != p.Value || math.Abs(sigma/p.Error-1) > 0.01 {
			t.Errorf("%s comes out as %.6g ± %.4g, want %.6g ± %.4g", s, v, sigma, p.Value, p.Error)
		}
	}
	// The error of one model is 0.0023 Ω.
	if p := value(t, r, identify.Re); p.Error < 0.004 {
		t.Errorf("%v, want the models to make at least 0.004", p)
	}
}

// secondOrder is |G|² of a second-order high-pass.
func secondOrder(f, fc, q float64) float64 {
	x := f * f / (fc * fc)
	return x * x / ((1-x)*(1-x) + x/(q*q))
}

// monteCarlo is the deviation of a function of parameters that are drawn from a normal
// distribution with the errors and correlations of a result.
func monteCarlo(t *testing.T, r *identify.Result, symbols []identify.Symbol, f func([]float64) float64) float64 {
	t.Helper()
	at := make([]int, len(symbols))
	for i, p := range r.Parameters {
		for k, s := range symbols {
			if p.Symbol == s {
				at[k] = i
			}
		}
	}
	cov := mat.NewSymDense(len(at), nil)
	for a, i := range at {
		for b, j := range at[:a+1] {
			c := r.Correlation.At(i, j)
			if i == j {
				c = 1
			}
			cov.SetSym(a, b, c*r.Parameters[i].Error*r.Parameters[j].Error)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(cov) {
		t.Fatal("the covariance of the parameters is not positive")
	}
	var l mat.TriDense
	chol.LTo(&l)
	random := rand.New(rand.NewPCG(5, 5))
	const draws = 20000
	var sum, squares float64
	z, v := make([]float64, len(at)), make([]float64, len(at))
	for range draws {
		for i := range z {
			z[i] = random.NormFloat64()
		}
		for i := range v {
			v[i] = r.Parameters[at[i]].Value
			for k := range i + 1 {
				v[i] += l.At(i, k) * z[k]
			}
		}
		y := f(v)
		sum, squares = sum+y, squares+y*y
	}
	mean := sum / draws
	return math.Sqrt(squares/draws - mean*mean)
}

// A figure at an extreme has no first order: its error comes out as nothing, and the
// bias tells. (Q − Q₀)² of a normal Q has the mean σ².
func TestPropagateBias(t *testing.T) {
	g := grid(t)
	d := woofer()
	r, err := identify.Fit(massPair(t, g, rand.New(rand.NewPCG(2, 9)), d, 0.003, 6e-3, 0, 0), &identify.Settings{Sd: d.sd})
	if err != nil {
		t.Fatal(err)
	}
	q := value(t, r, identify.Mms)
	all, err := r.PropagateAll(func(p driver.Params) ([]float64, error) {
		return []float64{(p.Mms - q.Value) * (p.Mms - q.Value)}, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if want := q.Error * q.Error; all[0].Error > 0.02*want || math.Abs(all[0].Bias/want-1) > 0.02 {
		t.Errorf("an extreme has %+v, want no error and a bias of %.3g", all[0], want)
	}
}

// Over 200 noisy pairs of curves, with a mass known to 0.3 % and a ruler's error of the
// area, the −3 dB frequency of the true driver lies within two standard errors as often
// as is promised.
func TestPropagateCoverage(t *testing.T) {
	const samples = 200
	g := grid(t)
	random := rand.New(rand.NewPCG(77, 3))
	inside := 0
	for range samples {
		d := woofer()
		d.creep = 0
		d.coil = both(inductor(0.2e-3), rung(0.4e-3, 6))
		d.fs *= 0.7 + 0.8*random.Float64()
		d.qes *= 0.8 + 0.6*random.Float64()
		ms := massPair(t, g, random, d, 0.003, 6e-3, 0.003*random.NormFloat64(), 0)
		r, err := identify.Fit(ms, &identify.Settings{Sd: d.sd * (1 + 0.005*random.NormFloat64()), SdAccuracy: 0.005, Air: air.Room()})
		if err != nil {
			t.Fatal(err)
		}
		f, sigma, err := r.Propagate(boxFigure)
		if err != nil {
			t.Fatal(err)
		}
		vas := air.Room().Stiffness() * d.sd * d.sd * d.cms()
		if math.Abs(f-cutOff(d.fs, d.qms*d.qes/(d.qms+d.qes), vas, studyBox)) <= 2*sigma {
			inside++
		}
	}
	t.Logf("−3 dB frequency within two standard errors: %d of %d", inside, samples)
	if c := float64(inside) / samples; c < 0.90 || c > 0.99 {
		t.Errorf("coverage %.3f, want 0.90 to 0.99", c)
	}
}

func TestPropagateRefuses(t *testing.T) {
	g := grid(t)
	d := woofer()
	ms := massPair(t, g, rand.New(rand.NewPCG(2, 9)), d, 0.003, 6e-3, 0, 0)
	fit := func(ms []identify.Measurement, sd float64) *identify.Result {
		r, err := identify.Fit(ms, &identify.Settings{Sd: sd})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	calls := 0
	for want, c := range map[string]struct {
		r *identify.Result
		f func(driver.Params) ([]float64, error)
	}{
		"Mms is not known":  {fit(ms[:1], d.sd), func(driver.Params) ([]float64, error) { return nil, nil }},
		"Sd is not known":   {fit(ms, 0), func(driver.Params) ([]float64, error) { return nil, nil }},
		"want a finite":     {fit(ms, d.sd), func(driver.Params) ([]float64, error) { return []float64{math.NaN()}, nil }},
		"no such alignment": {fit(ms, d.sd), func(driver.Params) ([]float64, error) { return nil, fmt.Errorf("no such alignment") }},
		"want as many":      {fit(ms, d.sd), func(driver.Params) ([]float64, error) { calls++; return make([]float64, calls), nil }},
	} {
		if _, err := c.r.PropagateAll(c.f); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error is %v, want one with %q", err, want)
		}
	}
}
