package level_test

import (
	"fmt"
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/level"
)

func Example() {
	fmt.Printf("%.2f dB\n", level.DB(2))
	fmt.Printf("%.2f dB SPL\n", level.SPL(1))
	// Output:
	// 6.02 dB
	// 93.98 dB SPL
}

// ISO 80000-3:2006, 3-22 and 3-23: 1 Np = 20·lg(e) dB = 8.685889638… dB.
func TestNeper(t *testing.T) {
	if got, want := level.DB(math.E), 8.685889638065035; math.Abs(got-want) > 1e-14 {
		t.Errorf("DB(e) = %.16g, want %.16g", got, want)
	}
	if got, want := level.PowerDB(math.E), 8.685889638065035/2; math.Abs(got-want) > 1e-14 {
		t.Errorf("PowerDB(e) = %.16g, want %.16g", got, want)
	}
}

func TestExactDecades(t *testing.T) {
	for n := -8; n <= 8; n++ {
		r := 1.0
		for range max(n, -n) {
			r *= 10
		}
		if n < 0 {
			r = 1 / r
		}
		if got, want := level.DB(r), 20*float64(n); math.Abs(got-want) > 1e-12 {
			t.Errorf("DB(1e%d) = %.16g, want %g", n, got, want)
		}
		if got, want := level.PowerDB(r), 10*float64(n); math.Abs(got-want) > 1e-12 {
			t.Errorf("PowerDB(1e%d) = %.16g, want %g", n, got, want)
		}
	}
}

func TestInverses(t *testing.T) {
	for db := -200.0; db <= 200; db += 7.3 {
		if got := level.DB(level.Ratio(db)); math.Abs(got-db) > 1e-12*200 {
			t.Errorf("DB(Ratio(%g)) = %.16g", db, got)
		}
		if got := level.PowerDB(level.PowerRatio(db)); math.Abs(got-db) > 1e-12*200 {
			t.Errorf("PowerDB(PowerRatio(%g)) = %.16g", db, got)
		}
		if got := level.SPL(level.Pascal(db)); math.Abs(got-db) > 1e-12*400 {
			t.Errorf("SPL(Pascal(%g)) = %.16g", db, got)
		}
	}
}

func TestEdges(t *testing.T) {
	if !math.IsInf(level.DB(0), -1) {
		t.Errorf("DB(0) = %g, want -Inf", level.DB(0))
	}
	if !math.IsNaN(level.DB(-1)) {
		t.Errorf("DB(-1) = %g, want NaN", level.DB(-1))
	}
	got := level.OfComplex(nil, []complex128{3 + 4i, -10})
	if math.Abs(got[0]-level.DB(5)) > 1e-12 || math.Abs(got[1]-20) > 1e-12 {
		t.Errorf("OfComplex = %v", got)
	}
}
