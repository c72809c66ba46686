package identify

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/freq"
	"gonum.org/v1/gonum/mat"
)

// Every derivative against a central difference, whose own error is below 1e-8.
func TestDerivatives(t *testing.T) {
	g, err := freq.LogGrid(10, 2000, 6)
	if err != nil {
		t.Fatal(err)
	}
	random := rand.New(rand.NewPCG(3, 5))
	z := make([]complex128, g.Len())
	for i := range z {
		z[i] = complex(3+random.Float64(), random.NormFloat64())
	}
	resp, err := freq.NewResponse(g, z, "test", freq.Basis{Quantity: freq.Impedance})
	if err != nil {
		t.Fatal(err)
	}
	setups := []Setup{FreeAir{}, AddedMass{Mass: 0.01}, ClosedBox{Volume: 0.01}, VentedBox{Volume: 0.02}}
	for _, c := range coils() {
		for _, s := range []Suspension{Constant, Creep} {
			var curves []*curve
			for _, setup := range setups {
				c, err := newCurve(Measurement{Impedance: resp, Setup: setup}, &Settings{})
				if err != nil {
					t.Fatal(err)
				}
				curves = append(curves, c)
			}
			m := newModel(c, s, curves)
			m.prior, m.resistance = 7, 1.5
			x := make([]float64, m.n)
			for j, name := range m.names {
				switch name {
				case "ln Re":
					x[j] = math.Log(5) + 0.1*random.NormFloat64()
				case "ln Fs":
					x[j] = math.Log(60)
				case "ln Z0":
					x[j] = math.Log(14)
				case "loss":
					x[j] = 0.2
				case "creep":
					x[j] = 0.1
				case "ln mass ratio", "ln Vas/Vb":
					x[j] = -0.3
				case "ln fb":
					x[j] = math.Log(50)
				case "air mass":
					x[j] = 0.05
				case "leak":
					x[j] = 6
				case "ln N":
					x[j] = math.Log(0.6)
				case "ln K", "ln Ke":
					x[j] = math.Log(0.02)
				case "ln R2", "ln R3", "ln Rss":
					x[j] = math.Log(8) + random.Float64()
				default:
					x[j] = math.Log(3e-4) + random.Float64()
				}
			}
			n := m.residuals()
			r, jac := make([]float64, n), mat.NewDense(n, m.n, nil)
			m.evaluate(r, jac, x)
			hi, lo, other := make([]float64, n), make([]float64, n), mat.NewDense(n, m.n, nil)
			for j := range x {
				const h = 2e-6
				keep := x[j]
				x[j] = keep + h
				m.evaluate(hi, other, x)
				x[j] = keep - h
				m.evaluate(lo, other, x)
				x[j] = keep
				var most float64
				for i := range n {
					most = max(most, math.Abs(jac.At(i, j)))
				}
				if most == 0 {
					t.Errorf("%s, %v: %s has no influence", CoilName(c), s, m.names[j])
				}
				for i := range n {
					if d := (hi[i] - lo[i]) / (2 * h); math.Abs(d-jac.At(i, j)) > 1e-7*most {
						t.Fatalf("%s, %v: derivative of residual %d by %s is %g, want %g", CoilName(c), s, i, m.names[j], jac.At(i, j), d)
					}
				}
			}
		}
	}
}

// The names of the coil's parameters in a result are those of package driver, each
// with a unit unless it is the exponent.
func TestCoilUnits(t *testing.T) {
	for symbol, unit := range map[string]string{"Le": "H", "Leb": "H", "L2": "H", "R2": "Ω", "Rss": "Ω", "K": "Ω·sⁿ", "Ke": "Ω·s^½", "N": ""} {
		if got := coilUnit(symbol); got != unit {
			t.Errorf("unit of %s is %q, want %q", symbol, got, unit)
		}
	}
	var _ driver.Coil = driver.TwoLadders{}
}
