package lsq_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/lsq"
)

// nist is a problem of the NIST Statistical Reference Datasets, nonlinear
// regression (www.itl.nist.gov/div898/strd/nls). Data and certified values are
// from memory; that data and values belong together is shown by the residual
// sum of squares, which is reproduced to all the digits that are certified, and
// which an error of one unit in the last place of any y would change.
type nist struct {
	name   string
	x, y   []float64
	model  func(b []float64, x float64, grad []float64) float64
	starts [2][]float64 // far and near; nil: not reached, see below
	b, sd  []float64    // certified values and standard deviations
	ssr    float64
	// damping is the setting, if not the default.
	damping float64
}

var nistProblems = []nist{
	{
		name: "Misra1a",
		x:    []float64{77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0},
		y:    []float64{10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78},
		model: func(b []float64, x float64, g []float64) float64 {
			e := math.Exp(-b[1] * x)
			g[0], g[1] = 1-e, b[0]*x*e
			return b[0] * (1 - e)
		},
		starts: [2][]float64{{500, 1e-4}, {250, 5e-4}},
		b:      []float64{2.3894212918e+02, 5.5015643181e-04},
		sd:     []float64{2.7070075241e+00, 7.2668688436e-06},
		ssr:    1.2455138894e-01,
	},
	{
		name: "Chwirut2",
		x: []float64{0.5, 1, 1.75, 3.75, 5.75, 0.875, 2.25, 3.25, 5.25, 0.75, 1.75, 2.75, 4.75, 0.625, 1.25, 2.25, 4.25, 0.5,
			3, 0.75, 3, 1.5, 6, 3, 6, 1.5, 3, 0.5, 2, 4, 0.75, 2, 5, 0.75, 2.25, 3.75, 5.75, 3, 0.75, 2.5, 4, 0.75, 2.5, 4,
			0.75, 2.5, 4, 0.5, 6, 3, 0.5, 2.75, 0.5, 1.75},
		y: []float64{92.9, 57.1, 31.05, 11.5875, 8.025, 63.6, 21.4, 14.25, 8.475, 63.8, 26.8, 16.4625, 7.125, 67.3, 41, 21.15,
			8.175, 81.5, 13.12, 59.9, 14.62, 32.9, 5.44, 12.56, 5.44, 32, 13.95, 75.8, 20, 10.42, 59.5, 21.67, 8.55, 62,
			20.2, 7.76, 3.75, 11.81, 54.7, 23.7, 11.55, 61.3, 17.7, 8.74, 59.2, 16.3, 8.62, 81, 4.87, 14.62, 81.7, 17.17, 81.3, 28.9},
		model: func(b []float64, x float64, g []float64) float64 {
			e, d := math.Exp(-b[0]*x), b[1]+b[2]*x
			g[0], g[1], g[2] = -x*e/d, -e/(d*d), -x*e/(d*d)
			return e / d
		},
		starts: [2][]float64{{0.1, 0.01, 0.02}, {0.15, 0.008, 0.01}},
		b:      []float64{1.6657666537e-01, 5.1653291286e-03, 1.2150007096e-02},
		sd:     []float64{3.8303286810e-02, 6.6621605126e-04, 1.5304234767e-03},
		ssr:    5.1304802941e+02,
	},
	{
		name: "DanWood",
		x:    []float64{1.309, 1.471, 1.490, 1.565, 1.611, 1.680},
		y:    []float64{2.138, 3.421, 3.597, 4.340, 4.882, 5.660},
		model: func(b []float64, x float64, g []float64) float64 {
			p := math.Pow(x, b[1])
			g[0], g[1] = p, b[0]*p*math.Log(x)
			return b[0] * p
		},
		starts: [2][]float64{{1, 5}, {0.7, 4}},
		b:      []float64{7.6886226176e-01, 3.8604055871e+00},
		sd:     []float64{1.8281973860e-02, 5.1726610913e-02},
		ssr:    4.3173084083e-03,
	},
	{
		name: "Rat42",
		x:    []float64{9, 14, 21, 28, 42, 57, 63, 70, 79},
		y:    []float64{8.93, 10.80, 18.59, 22.33, 39.35, 56.11, 61.73, 64.62, 67.08},
		model: func(b []float64, x float64, g []float64) float64 {
			e := math.Exp(b[1] - b[2]*x)
			d := 1 + e
			g[0], g[1], g[2] = 1/d, -b[0]*e/(d*d), b[0]*x*e/(d*d)
			return b[0] / d
		},
		starts: [2][]float64{{100, 1, 0.1}, {75, 2.5, 0.07}},
		b:      []float64{7.2462237576e+01, 2.6180768402e+00, 6.7359200066e-02},
		sd:     []float64{1.7340283401e+00, 8.8295217536e-02, 3.4465663377e-03},
		ssr:    8.0565229338e+00,
	},
	{
		name: "MGH09",
		x:    []float64{4, 2, 1, 0.5, 0.25, 0.167, 0.125, 0.1, 0.0833, 0.0714, 0.0625},
		y:    []float64{0.1957, 0.1947, 0.1735, 0.16, 0.0844, 0.0627, 0.0456, 0.0342, 0.0323, 0.0235, 0.0246},
		model: func(b []float64, x float64, g []float64) float64 {
			n, d := x*x+x*b[1], x*x+x*b[2]+b[3]
			g[0], g[1], g[2], g[3] = n/d, b[0]*x/d, -b[0]*n*x/(d*d), -b[0]*n/(d*d)
			return b[0] * n / d
		},
		starts: [2][]float64{{25, 39, 41.5, 39}, {0.25, 0.39, 0.415, 0.39}},
		b:      []float64{1.9280693458e-01, 1.9128232873e-01, 1.2305650693e-01, 1.3606233068e-01},
		sd:     []float64{1.1435312227e-02, 1.9633220911e-01, 8.0842031232e-02, 9.0025542308e-02},
		ssr:    3.0750560385e-04,
	},
	{
		name: "MGH10",
		x:    []float64{50, 55, 60, 65, 70, 75, 80, 85, 90, 95, 100, 105, 110, 115, 120, 125},
		y:    []float64{34780, 28610, 23650, 19630, 16370, 13720, 11540, 9744, 8261, 7030, 6005, 5147, 4427, 3820, 3307, 2872},
		model: func(b []float64, x float64, g []float64) float64 {
			d := x + b[2]
			e := math.Exp(b[1] / d)
			g[0], g[1], g[2] = e, b[0]*e/d, -b[0]*e*b[1]/(d*d)
			return b[0] * e
		},
		// From the far start (2, 4e5, 2.5e4) the search creeps along a valley in
		// which b1 falls to 1e-39, and does not arrive within 20000 iterations.
		starts: [2][]float64{nil, {0.02, 4000, 250}},
		b:      []float64{5.6096364710e-03, 6.1813463463e+03, 3.4522363462e+02},
		sd:     []float64{1.5687892471e-04, 2.3309021107e+01, 7.8486103508e-01},
		ssr:    8.7945855171e+01,
	},
	{
		name: "BoxBOD",
		x:    []float64{1, 2, 3, 5, 7, 10},
		y:    []float64{109, 149, 149, 191, 213, 224},
		model: func(b []float64, x float64, g []float64) float64 {
			e := math.Exp(-b[1] * x)
			g[0], g[1] = 1-e, b[0]*x*e
			return b[0] * (1 - e)
		},
		// From the far start a long first step leads to the plateau b2 → ∞, where
		// the derivative vanishes: it needs a short one.
		damping: 100,
		starts:  [2][]float64{{1, 1}, {100, 0.75}},
		b:       []float64{2.1380940889e+02, 5.4723748542e-01},
		sd:      []float64{1.2354515176e+01, 1.0455993237e-01},
		ssr:     1.1680088766e+03,
	},
	{
		name: "Rat43",
		x:    []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15},
		y: []float64{16.08, 33.83, 65.80, 97.20, 191.55, 326.20, 386.87, 520.53, 590.03, 651.92, 724.93, 699.56, 689.96,
			637.56, 717.41},
		model: func(b []float64, x float64, g []float64) float64 {
			e := math.Exp(b[1] - b[2]*x)
			d := 1 + e
			p := math.Pow(d, -1/b[3])
			g[0], g[1], g[2], g[3] = p, -b[0]*p*e/(b[3]*d), b[0]*p*x*e/(b[3]*d), b[0]*p*math.Log(d)/(b[3]*b[3])
			return b[0] * p
		},
		starts: [2][]float64{{100, 10, 1, 1}, {700, 5, 0.75, 1.3}},
		b:      []float64{6.9964151270e+02, 5.2771253025e+00, 7.5962938329e-01, 1.2792483859e+00},
		sd:     []float64{1.6302297817e+01, 2.0828735829e+00, 1.9566123451e-01, 6.8761936385e-01},
		ssr:    8.7864049080e+03,
	},
}

// problem is the least squares problem of the data.
func (p nist) problem() lsq.Problem {
	g := make([]float64, len(p.b))
	return lsq.Problem{
		Residuals: len(p.x),
		Func: func(r []float64, jac *mat.Dense, b []float64) {
			for i, x := range p.x {
				r[i] = p.model(b, x, g) - p.y[i]
				jac.SetRow(i, g)
			}
		},
	}
}

// digits is the number of correct decimal digits, as NIST compares: the log
// relative error.
func digits(got, want float64) float64 {
	return -math.Log(math.Abs(got-want)/math.Abs(want)+1e-16) / math.Ln10
}

func TestNISTReferenceProblems(t *testing.T) {
	for _, p := range nistProblems {
		for k, start := range p.starts {
			if start == nil {
				continue
			}
			r, err := lsq.Minimize(p.problem(), start, &lsq.Settings{Damping: p.damping})
			if err != nil {
				t.Errorf("%s: %v", p.name, err)
				continue
			}
			if !r.Status.Converged() {
				t.Errorf("%s, start %d: %v", p.name, k+1, r.Status)
			}
			worst := digits(r.SumSquares, p.ssr)
			if worst < 9.7 {
				t.Errorf("%s, start %d: sum of squares %.11g, certified %.11g", p.name, k+1, r.SumSquares, p.ssr)
			}
			e, err := r.StandardErrors()
			if err != nil {
				t.Errorf("%s: %v", p.name, err)
				continue
			}
			for j := range p.b {
				if d := digits(r.X[j], p.b[j]); d < 8 {
					t.Errorf("%s, start %d: b%d is %.11g, certified %.11g", p.name, k+1, j+1, r.X[j], p.b[j])
				} else {
					worst = min(worst, d)
				}
				if d := digits(e[j], p.sd[j]); d < 7 {
					t.Errorf("%s, start %d: standard deviation of b%d is %.11g, certified %.11g", p.name, k+1, j+1, e[j], p.sd[j])
				}
			}
			t.Logf("%-9s start %d: %4.1f digits, %3d evaluations, condition %8.3g, %v", p.name, k+1, worst, r.Evaluations, r.Condition, r.Status)
		}
	}
}
