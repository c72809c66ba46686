package main

import (
	_ "embed"
	"fmt"
	"math"
	"math/cmplx"
	"strings"

	"gonum.org/v1/gonum/dsp/fourier"
)

type point struct{ x, y, z float64 } // m: right, up, forward; z = 0 is the front

func (p point) to(q point) float64 {
	return math.Sqrt((p.x-q.x)*(p.x-q.x) + (p.y-q.y)*(p.y-q.y) + (p.z-q.z)*(p.z-q.z))
}

// cabinetTable is what the cabinet makes of its drivers and its vent in each
// direction of the rig, computed once: see datasets/generate/cabinet.
//
//go:embed cabinet.csv
var cabinetTable string

const (
	tableStep  = 93.75 // Hz; the sound is over in its inverse
	tableEnd   = 30e3  // Hz
	tableTaper = 26e3  // Hz, from where it fades to nothing
	tableSize  = 1 << 10
)

// outlets are the pressures of the woofer, the tweeter and the vent at a microphone 1 m
// from the tweeter's place, re a point source of the same volume velocity in an infinite
// baffle there, on the lines of the frame.
type outlets struct{ woofer, tweeter, vent []complex128 }

// shapes are the outlets by direction. They are alike on both sides.
var shapes = readShapes()

func readShapes() map[[2]float64]outlets {
	read := map[[2]float64]*[3][]complex128{}
	for n, row := range strings.Split(strings.TrimSpace(cabinetTable), "\n") {
		if strings.HasPrefix(row, "#") || strings.HasPrefix(row, "side") {
			continue
		}
		var v [9]float64
		if _, err := fmt.Sscanf(strings.ReplaceAll(row, ",", " "), "%g %g %g %g %g %g %g %g %g",
			&v[0], &v[1], &v[2], &v[3], &v[4], &v[5], &v[6], &v[7], &v[8]); err != nil {
			panic(fmt.Sprintf("generate: line %d of cabinet.csv: %v", n+1, err))
		}
		d := [2]float64{v[0], v[1]}
		if read[d] == nil {
			read[d] = &[3][]complex128{{0}, {0}, {0}}
		}
		for i := range read[d] {
			if f := float64(len(read[d][i])) * tableStep; f != v[2] {
				panic(fmt.Sprintf("generate: line %d of cabinet.csv is at %g Hz, want %g", n+1, v[2], f))
			}
			read[d][i] = append(read[d][i], complex(v[3+2*i], v[4+2*i]))
		}
	}
	by := map[[2]float64]outlets{}
	for d, v := range read {
		by[d] = outlets{finer(v[0]), finer(v[1]), finer(v[2])}
	}
	return by
}

// finer is a table on the lines of the frame, by way of its impulse response: exact for
// sound that is over in 1/tableStep.
func finer(table []complex128) []complex128 {
	lines := make([]complex128, tableSize/2+1)
	table[0] = complex((4*real(table[1])-real(table[2]))/3, 0) // even over frequency
	for i, v := range table {
		f := float64(i) * tableStep
		if f > tableTaper {
			c := math.Cos(math.Pi / 2 * (f - tableTaper) / (tableEnd - tableTaper))
			v *= complex(c*c, 0)
		}
		lines[i] = v
	}
	short := fourier.NewFFT(tableSize).Sequence(nil, lines)
	long := make([]float64, frame)
	const ahead = tableSize / 8 // samples before time zero
	for i := range tableSize {
		at := i
		if i >= tableSize-ahead {
			at = frame - tableSize + i
		}
		long[at] = short[i] / tableSize
	}
	return fourier.NewFFT(frame).Coefficients(nil, long)
}

// at returns the value at a frequency between two lines.
func at(lines []complex128, f float64) complex128 {
	x := f * frame / sampleRate
	i := int(x)
	if i+1 >= len(lines) {
		return 0
	}
	t := complex(x-float64(i), 0)
	return lines[i]*(1-t) + lines[i+1]*t
}

// seen is what the cabinet makes of its outlets at a microphone that may be a few
// millimetres off a direction of the table: between directions it goes straight.
type seen struct {
	distance float64 // m from the tweeter's place
	near     [4]outlets
	share    [4]float64
}

func seenFrom(mic point) seen {
	r := tweeterAt.to(mic)
	side := math.Atan2(mic.x-tweeterAt.x, mic.z) * 180 / math.Pi
	up := math.Asin((mic.y-tweeterAt.y)/r) * 180 / math.Pi
	if mic.z < 0 && math.Abs(math.Abs(side)-180) < 1e-6 && math.Abs(up) > 1e-6 {
		side, up = 0, math.Copysign(180, up)-up // beyond the zenith, as the vertical orbit counts
	}
	s := seen{distance: r}
	add := func(d [2]float64, share float64) {
		o, ok := shapes[d]
		if !ok {
			panic(fmt.Sprintf("generate: the cabinet's table has no direction %v", d))
		}
		for i := range s.near {
			if s.share[i] == 0 {
				s.near[i], s.share[i] = o, share
				return
			}
		}
	}
	tidy := func(deg float64) float64 { return math.Round(deg*1e6) / 1e6 }
	side, up = tidy(math.Abs(side)), tidy(up)
	if _, ok := shapes[[2]float64{side, up}]; ok {
		add([2]float64{side, up}, 1)
		return s
	}
	if math.Abs(side) > 5 || math.Abs(up) > 5 {
		panic(fmt.Sprintf("generate: the cabinet's table has no direction near %g° to the side, %g° up", side, up))
	}
	add([2]float64{0, 0}, 1-side/10-math.Abs(up)/10)
	add([2]float64{10, 0}, side/10)
	add([2]float64{0, math.Copysign(10, up)}, math.Abs(up)/10)
	return s
}

// of is the sound pressure per volume velocity of an outlet with a delay of its own.
func (s seen) of(f, depth float64, lines func(outlets) []complex128) complex128 {
	k := tau * f / c0
	var h complex128
	for i, share := range s.share {
		if share != 0 {
			h += complex(share, 0) * at(lines(s.near[i]), f)
		}
	}
	return complex(0, tau*f*rho/(tau*s.distance)) * phasor(k, s.distance+depth) * h
}

func (s seen) woofer(f float64, d driver) complex128 {
	return s.of(f, d.depth, func(o outlets) []complex128 { return o.woofer }) * d.breakup(f)
}

func (s seen) tweeter(f float64, d driver) complex128 {
	return s.of(f, d.depth, func(o outlets) []complex128 { return o.tweeter }) * d.breakup(f)
}

func (s seen) vent(f float64) complex128 {
	return s.of(f, 0, func(o outlets) []complex128 { return o.vent })
}

func phasor(k, r float64) complex128 { return cmplx.Exp(complex(0, -k*r)) }
