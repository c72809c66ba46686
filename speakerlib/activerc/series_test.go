package activerc_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/activerc"
)

// IEC 60063:2015, the printed tables of E12, E24 and E96 (from memory).
func TestSeriesAreThePrinted(t *testing.T) {
	for _, c := range []struct {
		s       activerc.Series
		printed string
	}{
		{activerc.E12, "10 12 15 18 22 27 33 39 47 56 68 82"},
		{activerc.E24, "10 11 12 13 15 16 18 20 22 24 27 30 33 36 39 43 47 51 56 62 68 75 82 91"},
		{activerc.E96, "100 102 105 107 110 113 115 118 121 124 127 130 133 137 140 143 147 150 154 158 162 165 169 174 " +
			"178 182 187 191 196 200 205 210 215 221 226 232 237 243 249 255 261 267 274 280 287 294 301 309 " +
			"316 324 332 340 348 357 365 374 383 392 402 412 422 432 442 453 464 475 487 499 511 523 536 549 " +
			"562 576 590 604 619 634 649 665 681 698 715 732 750 768 787 806 825 845 866 887 909 931 953 976"},
	} {
		if got := strings.Trim(fmt.Sprint(c.s.Mantissas()), "[]"); got != c.printed {
			t.Errorf("%v is\n%s\nwant\n%s", c.s, got, c.printed)
		}
	}
}

func TestValuesOfARange(t *testing.T) {
	v, err := activerc.Range{Series: activerc.E12, Lo: 4.7e-9, Hi: 22e-9}.Values()
	if err != nil {
		t.Fatal(err)
	}
	// to the last bit what a person types, both ends included
	if want := []float64{4.7e-9, 5.6e-9, 6.8e-9, 8.2e-9, 10e-9, 12e-9, 15e-9, 18e-9, 22e-9}; !slices.Equal(v, want) {
		t.Errorf("E12 from 4.7 nF to 22 nF is %v, want %v", v, want)
	}
	r := activerc.Range{Series: activerc.E96, Lo: 1e3, Hi: 100e3}
	if v, _ := r.Values(); len(v) != 193 || v[0] != 1e3 || v[1] != 1.02e3 || v[192] != 100e3 {
		t.Errorf("E96 from 1 kΩ to 100 kΩ has %d values from %v to %v, want 193 from 1000 to 100000", len(v), v[0], v[len(v)-1])
	}
	// the nearest by ratio: 1.1 is nearer to √(1·1.2)=1.0954 from above
	for _, c := range []struct{ x, want float64 }{{1.09e4, 1e4}, {1.1e4, 1.2e4}, {1, 1e3}, {1e9, 100e3}} {
		if got, err := (activerc.Range{Series: activerc.E12, Lo: 1e3, Hi: 100e3}).Nearest(c.x); err != nil || got != c.want {
			t.Errorf("nearest of E12 to %g is %g (%v), want %g", c.x, got, err, c.want)
		}
	}
}

func TestRangesRefused(t *testing.T) {
	for _, r := range []activerc.Range{
		{Series: 10, Lo: 1, Hi: 10}, {Series: activerc.E12, Lo: 2, Hi: 1}, {Series: activerc.E12, Lo: 0, Hi: 1},
		{Series: activerc.E12, Lo: 1.01, Hi: 1.19}, {Series: activerc.E96, Lo: 1, Hi: 1e300},
	} {
		if v, err := r.Values(); err == nil {
			t.Errorf("range %+v has the values %v, want an error", r, v)
		}
	}
}
