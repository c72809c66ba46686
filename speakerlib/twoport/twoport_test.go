package twoport_test

import (
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"example.org/loudspeaker/speakerlib/twoport"
)

func near(t testing.TB, what string, got, want complex128, tol float64) {
	t.Helper()
	if !(cmplx.Abs(got-want) <= tol*math.Max(1, cmplx.Abs(want))) {
		t.Errorf("%s is %v, want %v ± %g", what, got, want, tol)
	}
}

// Closed forms of any textbook of networks: the divider, and the quarter-wave line,
// which turns an impedance into Z²/z.
func TestClosedForms(t *testing.T) {
	divider := twoport.Cascade(twoport.Series(3), twoport.Shunt(0.5))
	near(t, "voltage ratio of 3 Ω over 2 Ω", divider.A, 2.5, 1e-15)
	near(t, "input of the open divider", divider.Impedance(cmplx.Inf()), 5, 1e-15)
	near(t, "input with 2 Ω behind", divider.Impedance(2), 4, 1e-15)
	near(t, "input of the shorted divider", divider.Impedance(0), 3, 1e-15)

	quarter := twoport.Line(50, complex(0, math.Pi/2))
	near(t, "quarter wave into 20+10j", quarter.Impedance(20+10i), 2500/(20+10i), 1e-13)
	half := twoport.Line(50, complex(0, math.Pi))
	near(t, "half wave into 20+10j", half.Impedance(20+10i), 20+10i, 1e-13)
	long := twoport.Line(50+5i, complex(1000, 77))
	near(t, "endless line", long.Impedance(3), 50+5i, 1e-13)

	near(t, "transformer", twoport.Transformer(3).Impedance(2-1i), 18-9i, 1e-14)
	near(t, "gyrator", twoport.Gyrator(7).Impedance(2-1i), 49/(2-1i), 1e-14)
	near(t, "nothing", twoport.Through().Impedance(2-1i), 2-1i, 0)
	near(t, "no parts", twoport.Cascade().Impedance(2-1i), 2-1i, 0)
}

// The functions against those of math/cmplx, and tiny losses against the series.
func TestSinhCosh(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := complex(rapid.Float64Range(-20, 20).Draw(t, "a"), rapid.Float64Range(-50, 50).Draw(t, "b"))
		sh, ch := twoport.SinhCosh(v)
		scale := math.Cosh(real(v))
		if cmplx.Abs(sh-cmplx.Sinh(v)) > 1e-14*scale || cmplx.Abs(ch-cmplx.Cosh(v)) > 1e-14*scale {
			t.Errorf("sinh and cosh of %v are %v and %v, want %v and %v", v, sh, ch, cmplx.Sinh(v), cmplx.Cosh(v))
		}
	})
	sh, _ := twoport.SinhCosh(complex(1e-12, 0))
	if real(sh) != 1e-12 {
		t.Errorf("sinh 1e-12 is %g, want 1e-12", real(sh))
	}
}

func drawPassive(t *rapid.T, label string) complex128 {
	return complex(math.Pow(10, rapid.Float64Range(-3, 3).Draw(t, "Re "+label)), rapid.Float64Range(-100, 100).Draw(t, "Im "+label))
}

func drawPart(t *rapid.T) (m twoport.Matrix, gyrates bool) {
	switch rapid.IntRange(0, 4).Draw(t, "part") {
	case 0:
		return twoport.Series(drawPassive(t, "z")), false
	case 1:
		return twoport.Shunt(1 / drawPassive(t, "1/y")), false
	case 2:
		return twoport.Transformer(rapid.Float64Range(0.1, 10).Draw(t, "n")), false
	case 3:
		return twoport.Gyrator(rapid.Float64Range(0.1, 10).Draw(t, "g")), true
	default: // a line with losses in its series part only is passive
		series := complex(rapid.Float64Range(0, 3).Draw(t, "R"), rapid.Float64Range(0.01, 6).Draw(t, "X"))
		shunt := complex(0, rapid.Float64Range(0.01, 6).Draw(t, "B"))
		return twoport.Line(cmplx.Sqrt(series/shunt), cmplx.Sqrt(series*shunt)), false
	}
}

// A cascade of reciprocal parts is reciprocal, each gyrator turns the sign; it is
// passive with any passive load; and it comes back to itself when turned twice.
func TestCascadesAreReciprocalAndPassive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m, want := twoport.Through(), complex128(1)
		for range rapid.IntRange(1, 5).Draw(t, "parts") {
			p, gyrates := drawPart(t)
			if m = m.Mul(p); gyrates {
				want = -want
			}
		}
		scale := cmplx.Abs(m.A*m.D) + cmplx.Abs(m.B*m.C)
		if d := m.Det(); cmplx.Abs(d-want) > 1e-12*scale {
			t.Errorf("determinant is %v, want %v", d, want)
		}
		load := drawPassive(t, "load")
		p1, u1 := m.Back(load, 1)
		if in := real(p1 * cmplx.Conj(u1)); in < real(load)-1e-11*cmplx.Abs(p1)*cmplx.Abs(u1) {
			t.Errorf("takes %g W and gives %g W to %v", in, real(load), load)
		}
		if scale > 1e6 { // turning divides by the difference
			return
		}
		back := m.Reverse().Reverse()
		for k, pair := range [][2]complex128{{back.A, m.A}, {back.B, m.B}, {back.C, m.C}, {back.D, m.D}} {
			if cmplx.Abs(pair[0]-pair[1]) > 1e-9*(1+cmplx.Abs(pair[1])) {
				t.Errorf("element %d turned twice is %v, want %v", k, pair[0], pair[1])
			}
		}
	})
}

// Turned, the voltage divider becomes the current divider.
func TestReverse(t *testing.T) {
	m := twoport.Cascade(twoport.Series(3), twoport.Shunt(0.5)).Reverse()
	want := twoport.Cascade(twoport.Shunt(0.5), twoport.Series(3))
	if m != want {
		t.Errorf("turned %v, want %v", m, want)
	}
}

func BenchmarkLine(b *testing.B) {
	for b.Loop() {
		twoport.Line(1e4+3i, 0.01+0.7i)
	}
}

func BenchmarkMul(b *testing.B) {
	m, n := twoport.Line(1e4+3i, 0.01+0.7i), twoport.Shunt(1e-4i)
	for b.Loop() {
		m = m.Mul(n)
		m.C = 1e-4i
	}
}
