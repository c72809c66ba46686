package main

import (
	"bufio"
	"fmt"
	"math/cmplx"
	"os"
	"strings"
	"testing"
)

// At low frequencies the committed table is that of boundary elements, and the library
// agrees with them: some lines of it. (What is left is the rounding of the edges, for which
// the two methods have other bodies.)
func TestTheEdgeMethodAgreesWithBoundaryElements(t *testing.T) {
	hz := []float64{375, 3000}
	to := []direction{{}, {side: 60}, {up: -20}, {side: 150}}
	got, err := solve(to, hz)
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.Open("../cabinet.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	rows := map[string]string{}
	for lines := bufio.NewScanner(file); lines.Scan(); {
		f := strings.SplitN(lines.Text(), ",", 4)
		if len(f) == 4 {
			rows[strings.Join(f[:3], ",")] = f[3]
		}
	}
	for j, d := range to {
		for k, f := range hz {
			row, ok := rows[fmt.Sprintf("%g,%g,%g", d.side, d.up, f)]
			if !ok {
				t.Fatalf("no row at %v, %g Hz", d, f)
			}
			for i, name := range diaphragms() {
				var re, im float64
				cell := strings.Join(strings.Split(row, ",")[2*i:2*i+2], " ")
				if _, err := fmt.Sscan(cell, &re, &im); err != nil {
					t.Fatal(err)
				}
				if h := got[i][j*len(hz)+k]; cmplx.Abs(h-complex(re, im)) > []float64{0.01, 0.07}[k] {
					t.Errorf("%s at %v, %g Hz: %.5f computed, %.5f in the table", name.name, d, f, h, complex(re, im))
				}
			}
		}
	}
}
