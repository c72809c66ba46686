// Command cabinet computes what the demo loudspeaker's cabinet makes of its
// drivers and its vent in the directions of the rig, and prints the table that
// the generator of the invented measurements reads:
//
//	go run ./datasets/generate/cabinet > datasets/generate/cabinet.csv
//
// Up to 5 kHz it is what boundary elements give (boundary.py, whose table is
// boundary.csv): a method that shares nothing with the library's, so that a
// prediction of the library is held against something else. From 6 kHz on, where
// they take too long, it is the library's edge method; between, one fades into the
// other. The table is committed, so that a better method of the library does not
// change measurements.
//
// The cabinet is the shape as built, with the edges of the front rounded; the
// diaphragms are rings that lose touch with the coil one after another, from the
// rim inward, as frequency rises.
package main

import (
	"bufio"
	_ "embed"
	"fmt"
	"log"
	"math"
	"math/cmplx"
	"os"
	"strings"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/radiation"
)

// The cabinet, m. The origin is in the middle of the front; heights are above the
// lower edge.
const (
	width, height, depth = 0.190, 0.330, 0.378
	edgeRadius           = 8e-3
	facets               = 3
	tweeterHeight        = 0.270
	micAt                = 1.0 // from the tweeter's point on the front
)

// diaphragm is a radiator of the cabinet.
type diaphragm struct {
	name     string
	face     int     // 0 the front, 1 the back
	height   float64 // m above the lower edge
	radius   float64 // m
	rings    int
	softenHz float64 // above it the radiating part shrinks; 0: never
	lag      float64 // of what the rim radiates after the middle, as a share of its radius over c
}

func diaphragms() []diaphragm {
	return []diaphragm{
		{"woofer", 0, 0.125, math.Sqrt(138e-4 / math.Pi), 4, 3500, 0.15},
		{"tweeter", 0, tweeterHeight, math.Sqrt(7.1e-4 / math.Pi), 3, 14000, 0.10},
		{"vent", 1, 0.230, 0.027, 2, 0, 0},
	}
}

// direction is where the microphone is, degrees from the axis.
type direction struct{ side, up float64 }

// directions are the rig's, without those that mirror another one.
func directions() []direction {
	var d []direction
	for a := 0.0; a <= 180; a += 10 {
		d = append(d, direction{side: a})
		if a == 10 || a == 40 {
			d = append(d, direction{side: a + 5})
		}
	}
	for a := 10.0; a < 180; a += 10 {
		d = append(d, direction{up: a}, direction{up: -a})
	}
	return d
}

// spacing is that of the lines, Hz: the sound is over in its inverse.
const (
	spacing = 93.75
	highest = 30e3
)

// ring is one of the rings of a diaphragm.
type ring struct {
	elements []radiation.Element // with weights that add up to 1
	radius   float64             // m
	area     float64             // share
}

// cut returns the rings of a diaphragm: those of Gauss's rule in r².
func (d diaphragm) cut() ([]ring, error) {
	y := d.height - height/2
	centre, axis := r3.Vec{Y: y}, r3.Vec{Z: 1}
	if d.face == 1 {
		centre, axis = r3.Vec{Y: y, Z: -depth}, r3.Vec{Z: -1}
	}
	elements, err := radiation.Piston{Radius: d.radius}.Elements(centre, axis, d.rings)
	if err != nil {
		return nil, err
	}
	each := len(elements) / d.rings
	var rings []ring
	for i := 0; i < len(elements); i += each {
		r := ring{elements: elements[i : i+each], radius: r3.Norm(r3.Sub(elements[i].At, centre))}
		for _, e := range r.elements {
			r.area += e.Weight
		}
		for j := range r.elements {
			r.elements[j].Weight /= r.area
		}
		rings = append(rings, r)
	}
	return rings, nil
}

// shares are the rings' parts of the volume velocity: less of the outer ones above
// softenHz, and a little later than the inner ones. They add up to 1, so that level and
// delay of the diaphragm are not in here.
func (d diaphragm) shares(rings []ring, f, c float64) []complex128 {
	part := make([]complex128, len(rings))
	var sum complex128
	for i, r := range rings {
		w := r.area
		if d.softenHz > 0 {
			left := d.radius / math.Pow(1+(f/d.softenHz)*(f/d.softenHz), 0.25)
			w /= 1 + math.Pow(r.radius/left, 8)/8
		}
		part[i] = cmplx.Rect(w, -2*math.Pi*f/c*d.lag*r.radius)
		sum += part[i]
	}
	for i := range part {
		part[i] /= sum
	}
	return part
}

func main() {
	log.SetFlags(0)
	var hz []float64
	for f := spacing; f <= highest; f += spacing {
		hz = append(hz, f)
	}
	t, err := solve(directions(), hz)
	if err != nil {
		log.Fatal("cabinet: ", err)
	}
	if err := fade(t, hz); err != nil {
		log.Fatal("cabinet: ", err)
	}
	out := bufio.NewWriter(os.Stdout)
	fmt.Fprintln(out, "# What the cabinet of the invented loudspeaker makes of a volume velocity: pressure re that of a point source")
	fmt.Fprintln(out, "# in an infinite baffle at the tweeter's place, 1 m from there. Made by datasets/generate/cabinet.")
	fmt.Fprint(out, "side_deg,up_deg,frequency_Hz")
	for _, d := range diaphragms() {
		fmt.Fprintf(out, ",%s_re,%s_im", d.name, d.name)
	}
	fmt.Fprintln(out)
	for j, dir := range directions() {
		for k, f := range hz {
			fmt.Fprintf(out, "%g,%g,%g", dir.side, dir.up, f)
			for i := range t {
				h := t[i][j*len(hz)+k]
				fmt.Fprintf(out, ",%.5f,%.5f", real(h), imag(h))
			}
			fmt.Fprintln(out)
		}
	}
	if err := out.Flush(); err != nil {
		log.Fatal("cabinet: ", err)
	}
}

// Where boundary elements fade into the edge method, Hz.
const fadeFrom, fadeTo = 5e3, 6e3

//go:embed boundary.csv
var boundary string

// fade puts the results of boundary elements into the lower part of the tables.
func fade(tables [][]complex128, hz []float64) error {
	rows := map[string][]string{}
	for _, line := range strings.Split(boundary, "\n") {
		if f := strings.Split(line, ","); len(f) == 3+2*len(tables) {
			rows[strings.Join(f[:3], ",")] = f[3:]
		}
	}
	for j, d := range directions() {
		for k, f := range hz {
			if f > fadeTo {
				break
			}
			row, ok := rows[fmt.Sprintf("%g,%g,%g", d.side, d.up, f)]
			if !ok {
				return fmt.Errorf("boundary.csv has no row at %g°, %g°, %g Hz", d.side, d.up, f)
			}
			share := 1.0
			if f > fadeFrom {
				c := math.Cos(math.Pi / 2 * (f - fadeFrom) / (fadeTo - fadeFrom))
				share = c * c
			}
			for i := range tables {
				var re, im float64
				if _, err := fmt.Sscan(row[2*i]+" "+row[2*i+1], &re, &im); err != nil {
					return fmt.Errorf("boundary.csv at %g°, %g°, %g Hz: %w", d.side, d.up, f, err)
				}
				h := &tables[i][j*len(hz)+k]
				*h += complex(share, 0) * (complex(re, im) - *h)
			}
		}
	}
	return nil
}

// solve returns by the edge method the table of each diaphragm: direction by direction, over the
// frequencies.
func solve(to []direction, hz []float64) ([][]complex128, error) {
	a := air.Medium{Density: 1.199, SpeedOfSound: 343.8} // of all measurements
	grid, err := freq.NewGrid(hz)
	if err != nil {
		return nil, err
	}
	sharpBody, err := diffraction.NewBox(width, height, depth, diffraction.Rounding{}, diffraction.Rounding{})
	if err != nil {
		return nil, err
	}
	roundBody, err := diffraction.NewBox(width, height, depth, diffraction.Rounding{Radius: edgeRadius, Facets: facets}, diffraction.Rounding{})
	if err != nil {
		return nil, err
	}
	upTo := min(1.7/(2*math.Pi*edgeRadius)*a.SpeedOfSound, 1.5*hz[len(hz)-1])
	setup := diffraction.Setup{Cabinet: sharpBody, Air: a, Grid: grid, Reference: r3.Vec{Y: tweeterHeight - height/2},
		Order: diffraction.All, UpTo: upTo}
	for _, d := range to {
		s, u := d.side*math.Pi/180, d.up*math.Pi/180
		at := r3.Vec{X: math.Sin(s) * math.Cos(u), Y: math.Sin(u), Z: math.Cos(s) * math.Cos(u)}
		setup.Receivers = append(setup.Receivers, diffraction.At(r3.Add(setup.Reference, r3.Scale(micAt, at))))
	}
	sharp, err := diffraction.NewPlan(setup)
	if err != nil {
		return nil, err
	}
	setup.Cabinet, setup.Order, setup.UpTo = roundBody, diffraction.Second, 0
	round, err := diffraction.NewPlan(setup)
	if err != nil {
		return nil, err
	}
	bySharp, byRound := sharp.NewState(), round.NewState()
	var tables [][]complex128
	for _, d := range diaphragms() {
		rings, err := d.cut()
		if err != nil {
			return nil, err
		}
		table := make([]complex128, len(to)*len(hz))
		for i, r := range rings {
			source := diffraction.Source{Face: d.face, Elements: r.elements}
			h, err := bySharp.SolveTo(nil, source)
			if err != nil {
				return nil, fmt.Errorf("%s, ring of %g m: %w", d.name, r.radius, err)
			}
			if d.face == 0 {
				faceted, err := byRound.SolveTo(nil, source)
				if err != nil {
					return nil, fmt.Errorf("%s, ring of %g m, rounded: %w", d.name, r.radius, err)
				}
				if h, err = sharp.JoinRounded(nil, h, faceted, d.face, edgeRadius); err != nil {
					return nil, err
				}
			}
			for k, f := range hz {
				share := d.shares(rings, f, a.SpeedOfSound)[i]
				for j := range to {
					table[j*len(hz)+k] += share * h[j*len(hz)+k]
				}
			}
		}
		tables = append(tables, table)
	}
	return tables, nil
}
