package figure_test

import (
	"log"
	"math"

	"example.org/loudspeaker/speakerlib/figure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/si"
)

// beam is an invented pattern re the axis in dB: a piston of 60 mm radius, of which less
// goes to the rear the higher the frequency is, in a cabinet that is not quite even.
func beam(hz, degrees float64) float64 {
	a := degrees * math.Pi / 180
	x := 2 * math.Pi * hz / 343.8 * 0.06 * math.Sin(a)
	piston := 1.0
	if x != 0 {
		piston = 2 * math.J1(x) / x
	}
	rear := 0.5 * (1 - math.Cos(a)) * math.Min(1, hz/2500)
	return level.DB(math.Abs(piston)*(1-0.9*rear)) + 0.6*math.Sin(a)*math.Min(1, hz/1000)
}

// orbit is the pattern at angles in steps.
func orbit(label string, hz, from, to, step float64) figure.Arc {
	a := figure.Arc{Label: label}
	for d := from; d <= to; d += step {
		a.Degrees, a.DB = append(a.Degrees, d), append(a.DB, beam(hz, d))
	}
	return a
}

func ExamplePolar() {
	write("polar.png", figure.Polar(figure.PolarOptions{
		Title: "A woofer over the angle", Level: "Level re the axis", Floor: -30, Top: 3,
		Note: "Invented pattern.",
	}, orbit("500 Hz", 500, -170, 180, 10), orbit("1 kHz", 1000, -170, 180, 10), orbit("2.5 kHz", 2500, -170, 180, 10), orbit("5 kHz", 5000, -170, 180, 10)))
}

// The upper and lower front of a set that has a gap, and two angles of which are
// interpolated.
func ExamplePolar_half() {
	measured, copied := orbit("measured", 2500, -90, 90, 10), orbit("another sample", 3200, -60, 60, 10)
	measured.Filled = make([]bool, len(measured.Degrees))
	measured.Filled[11], measured.Filled[12] = true, true
	copied.Degrees, copied.DB = append(copied.Degrees[:4:4], copied.Degrees[8:]...), append(copied.DB[:4:4], copied.DB[8:]...)
	write("polar-half.png", figure.Polar(figure.PolarOptions{
		Title: "Two samples at 2.5 kHz, up and down", Level: "Level re the axis", Turn: figure.Upward, Note: "Invented pattern.",
	}, measured, copied))
}

// An invented measure of the ripple that a tweeter has at each place of a baffle, wherever
// it does not touch the woofer.
func ExamplePlane() {
	f := figure.Field{Unit: "dB"}
	for x := -70.0; x <= 70; x += 5 {
		f.X = append(f.X, x*si.Millimetre)
	}
	for y := 150.0; y <= 305; y += 5 {
		f.Y = append(f.Y, y*si.Millimetre)
	}
	best := figure.Pin{Label: "least ripple"}
	least := math.Inf(1)
	for _, y := range f.Y {
		var row []float64
		for _, x := range f.X {
			v := 1 + 900*math.Pow(math.Abs(x-0.004)-0.042, 2) + 120*math.Pow(y-0.258, 2) + 0.15*math.Cos(90*y)
			if math.Hypot(x, y-0.125) < 0.115 {
				v = math.NaN()
			}
			if v < least {
				best.X, best.Y, least = x, y, v
			}
			row = append(row, v)
		}
		f.Z = append(f.Z, row)
	}
	baffle := figure.Outline{Label: "baffle", X: []float64{-0.095, 0.095, 0.095, -0.095}, Y: []float64{0, 0, 0.33, 0.33}}
	write("plane.png", figure.Plane(figure.PlaneOptions{
		Title: "Where the tweeter should be: ripple in the listening window", Note: "Invented measure.",
		X: "Right of the middle", Y: "Above the lower edge",
		Outlines: []figure.Outline{baffle, figure.Circle("woofer", 0, 0.125, 0.083), figure.Circle("", 0, 0.27, 0.026)},
		Pins:     []figure.Pin{{Label: "as sold", X: 0, Y: 0.27}, best},
	}, f, []float64{1, 1.5, 2, 2.5, 3}))
}

// around samples a level over frequency and the angle.
func around(z func(hz, degrees float64) float64) figure.Field {
	f := figure.Field{Unit: "dB"}
	for k := range 181 {
		f.X = append(f.X, 100*math.Pow(200, float64(k)/180))
	}
	for d := -170.0; d <= 180; d += 10 {
		f.Y = append(f.Y, d)
		var row []float64
		for _, hz := range f.X {
			row = append(row, z(hz, d))
		}
		f.Z = append(f.Z, row)
	}
	return f
}

func ExampleShades_around() {
	f := around(beam)
	write("around.png", figure.Shades(figure.Options{Title: "A woofer over frequency and angle", From: 100, Note: "Invented pattern, level re the axis."},
		figure.Axis{Name: "Angle, positive to the right", Unit: "°"}, f, []float64{-20, -15, -10, -6, -3}))
}

func ExampleShades_twoSided() {
	f := around(func(hz, degrees float64) float64 {
		return 2.5 * math.Sin(degrees*math.Pi/180) * math.Sin(3*math.Log(hz/100)) * math.Min(1, hz/800)
	})
	f.TwoSided = true
	f.Filled = make([]bool, len(f.Y))
	for j, d := range f.Y {
		f.Filled[j] = math.Abs(d) > 150
	}
	write("two-sided.png", figure.Shades(figure.Options{Title: "Predicted less measured", From: 100, Note: "Invented difference."},
		figure.Axis{Name: "Angle, positive to the right", Unit: "°"}, f, []float64{-2, -1, -0.5, 0.5, 1, 2}))
}

// Beamwidths to both sides. Where the level does not fall by 6 dB within the angles that
// were measured, they are infinite.
func ExampleQuantity_beamwidth() {
	g, err := freq.LogGrid(100, 20000, 24)
	if err != nil {
		log.Fatal(err)
	}
	side := func(label string, most, lean float64) freq.Curve {
		v := make([]float64, g.Len())
		for i := range v {
			if v[i] = lean * 55 * math.Pow(2500/g.At(i), 0.7) * (1 + 0.1*math.Sin(4*math.Log(g.At(i)))); v[i] > most {
				v[i] = math.Inf(1)
			}
		}
		c, err := freq.NewCurve(g, v, label, "°", freq.Basis{})
		if err != nil {
			log.Fatal(err)
		}
		return c
	}
	write("beamwidth.png", figure.Quantity(figure.Options{
		Title: "Where the level has fallen by 6 dB", Y: "Angle from the axis", From: 100, Bottom: 0, Top: 90,
		Note: "Invented.", Beyond: "wider than was measured (60°)",
	}, side("to the right", 60, 1), side("to the left", 60, 0.9)))
}
