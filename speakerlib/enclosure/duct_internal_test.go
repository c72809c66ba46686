package enclosure

import (
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/internal/testtable"
)

// Both branches of the profile against SciPy's Bessel functions and Python's tangent.
func TestDuctProfileAgainstSciPy(t *testing.T) {
	rows := testtable.Read(t, "testdata/duct_scipy.csv")
	if len(rows) != 17 {
		t.Errorf("table has %d rows, want 17", len(rows))
	}
	for _, r := range rows {
		size := r.Number(t, "size")
		x := cmplx.Rect(size, -math.Pi/4)
		if got, want := besselRatio(x), complex(r.Number(t, "bessel_re"), r.Number(t, "bessel_im")); cmplx.Abs(got/want-1) > 1e-12 {
			t.Errorf("J1/J0 at %g is %v, want %v", size, got, want)
		}
		if got, want := (duct{slot: true}).profile(x), complex(r.Number(t, "tan_re"), r.Number(t, "tan_im")); cmplx.Abs(got/want-1) > 1e-10 {
			t.Errorf("tan(x)/x at %g is %v, want %v", size, got, want)
		}
	}
}

// The limits that every textbook has. Narrow: Poiseuille's resistance, 8η/(πa⁴) round
// and 12η/(h³·w) between planes, and isothermal air. Wide: Kirchhoff's attenuation
//
//	α = 1/(a·c)·√(ωη/2ρ)·(1 + (γ−1)/√Pr)
//
// (L. E. Kinsler and others, Fundamentals of Acoustics, 1982; from memory), to first order in the
// boundary layer over a; a half between planes 2a apart.
func TestDuctLimits(t *testing.T) {
	const rho, c = 1.2, 343.0
	for _, d := range []duct{{width: 20e-6}, {width: 20e-6, slot: true}} {
		s := math.Pi * d.width * d.width
		want := 8 * viscosity / (math.Pi * math.Pow(d.width, 4))
		if d.slot { // 2b high, 1 wide
			s = 2 * d.width
			want = 12 * viscosity / math.Pow(2*d.width, 3)
		}
		z, y := d.line(20, rho, rho*c*c, s)
		if math.Abs(real(z)/want-1) > 1e-5 {
			t.Errorf("resistance of %+v is %g, want %g", d, real(z), want)
		}
		if iso := 2 * math.Pi * 20 * s * heatRatio / (rho * c * c); math.Abs(imag(y)/iso-1) > 1e-5 {
			t.Errorf("susceptance of %+v is %g, want %g", d, imag(y), iso)
		}
	}
	for _, hz := range []float64{50, 500, 2000} {
		w := 2 * math.Pi * hz
		layer := math.Sqrt(2 * viscosity / (rho * w))
		for _, d := range []duct{{width: 0.025}, {width: 0.025, slot: true}} {
			z, y := d.line(hz, rho, rho*c*c, 1)
			want := math.Sqrt(w*viscosity/(2*rho)) * (1 + (heatRatio-1)/math.Sqrt(prandtl)) / (d.width * c)
			if d.slot {
				want /= 2
			}
			if got := real(cmplx.Sqrt(z * y)); math.Abs(got/want-1) > 2*layer/d.width {
				t.Errorf("attenuation of %+v at %g Hz is %g Np/m, want %g", d, hz, got, want)
			}
		}
	}
}

// In a wide duct of any section the boundary layer counts by perimeter over area, P/2S
// in the place of 1/a (Kirchhoff, as above): a slot as it is made into planes.
func TestSlotsLoseByTheirPerimeter(t *testing.T) {
	const rho, c, hz = 1.2, 343.0, 500.0
	slot := Slot{Width: 0.09, Height: 0.03, Length: 0.2, Count: 1}
	cut := slot.slices()[0]
	z, y := cut.duct.line(hz, rho, rho*c*c, cut.area)
	w := 2 * math.Pi * hz
	want := math.Sqrt(w*viscosity/(2*rho)) * (1 + (heatRatio-1)/math.Sqrt(prandtl)) / c * (2 * (0.09 + 0.03)) / (2 * 0.09 * 0.03)
	if got := real(cmplx.Sqrt(z * y)); math.Abs(got/want-1) > 0.02 {
		t.Errorf("attenuation is %g Np/m, want %g", got, want)
	}
}

// Between the series for small x and the function there is no step.
func TestPistonResistance(t *testing.T) {
	for _, x := range []float64{1e-4, 0.01, 0.0499, 0.0501, 0.3, 2, 10} {
		want := 1 - math.J1(2*x)/x
		if got := pistonResistance(x); math.Abs(got-want) > 1e-15+1e-9*want {
			t.Errorf("resistance at ka = %g is %.12g, want %.12g", x, got, want)
		}
	}
}
