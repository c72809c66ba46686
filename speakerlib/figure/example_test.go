package figure_test

import (
	"fmt"
	"log"
	"math"
	"os"

	"example.org/loudspeaker/speakerlib/figure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/si"
)

// resonance is a second-order high-pass: what a closed box makes of a driver.
type resonance struct{ f, q float64 }

func (r resonance) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		s := complex(0, g.At(i)/r.f)
		dst[i] = s * s / (s*s + s/complex(r.q, 0) + 1)
	}
	return dst
}

// motor is an impedance with one resonance and a coil: 5.5 Ω and 0.42 mH.
type motor struct{}

func (motor) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		s := complex(0, g.At(i)/41.5)
		dst[i] = 5.5 + 60*s/4.7/(s*s+s/4.7+1) + complex(0, 0.42e-3*g.Omega()[i])
	}
	return dst
}

// box evaluates a resonance at a level of 84 dB.
func box(r resonance, label string) freq.Response {
	g, err := freq.LogGrid(10, 24000, 24)
	if err != nil {
		log.Fatal(err)
	}
	half := freq.Basis{Quantity: freq.Pressure, Per: freq.PerTerminals, Space: freq.HalfSpace, Distance: 1}
	out, err := freq.Evaluate(freq.Series{freq.Gain(level.Pascal(84)), r}, g, label, half)
	if err != nil {
		log.Fatal(err)
	}
	return out
}

// write draws a figure into a file.
func write(name string, f *figure.Figure) {
	png, err := f.PNG()
	if err != nil {
		log.Fatal(err)
	}
	if err := os.WriteFile(name, png, 0o644); err != nil {
		log.Fatal(err)
	}
}

func ExampleMagnitude() {
	small, large := box(resonance{70, 1.1}, "small box"), box(resonance{45, 0.7}, "large box")
	f := figure.Magnitude(figure.Options{
		Title:  "One driver in two boxes",
		Spans:  []figure.Span{{From: 300, To: 3000, Label: "level fitted here"}},
		Marks:  []figure.Mark{{At: 45, Label: "large box, resonance"}, {At: 70, Label: "small box, resonance"}},
		Limits: []figure.Limit{{Label: "at least 78 dB from 50 Hz", Side: figure.AtLeast, Value: 78, From: 50}},
		Valid:  []figure.Valid{{Curve: "small box", From: 40}},
	}, small.DB(level.Reference), large.DB(level.Reference))
	write("magnitude.png", f)
}

func ExampleMagnitude_mask() {
	r := box(resonance{45, 0.7}, "large box")
	// A mask is two curves; where they are infinite there is no limit.
	upper, lower := make([]float64, r.Len()), make([]float64, r.Len())
	for i := range upper {
		upper[i], lower[i] = math.Inf(1), math.Inf(-1)
		if f := r.Grid().At(i); f >= 250 && f <= 12000 {
			upper[i], lower[i] = 84.75, 83.25
		}
	}
	up, err := freq.NewCurve(r.Grid(), upper, "upper", "dB", freq.Basis{})
	if err != nil {
		log.Fatal(err)
	}
	low, err := freq.NewCurve(r.Grid(), lower, "lower", "dB", freq.Basis{})
	if err != nil {
		log.Fatal(err)
	}
	write("mask.png", figure.Magnitude(figure.Options{
		Title: "Within a mask", Bottom: 70, Top: 90, Ratio: figure.Ratio50,
		Masks: []figure.Mask{{Label: "±0.75 dB", Lower: low, Upper: up}},
	}, r.DB(level.Reference)))
}

func ExampleImpedance() {
	g, err := freq.LogGrid(10, 24000, 24)
	if err != nil {
		log.Fatal(err)
	}
	z, err := freq.Evaluate(motor{}, g, "woofer in free air", freq.Basis{Quantity: freq.Impedance})
	if err != nil {
		log.Fatal(err)
	}
	write("impedance.png", figure.Impedance(figure.Options{
		Title: "Impedance of a woofer", Marks: []figure.Mark{{At: 41.5, Label: "Fs"}},
		Limits: []figure.Limit{{Label: "amplifier: at least 4 Ω", Side: figure.AtLeast, Value: 4}},
	}, z))
}

func ExampleGroupDelay() {
	small, err := box(resonance{70, 1.1}, "small box").GroupDelay()
	if err != nil {
		log.Fatal(err)
	}
	large, err := box(resonance{45, 0.7}, "large box").GroupDelay()
	if err != nil {
		log.Fatal(err)
	}
	write("delay.png", figure.GroupDelay(figure.Options{
		Title: "Group delay", From: 20, To: 500,
		Limits: []figure.Limit{{Label: "at most 5 ms from 50 Hz", Value: 5 * si.Millisecond, From: 50}},
	}, small, large))
}

func ExampleGroupDelay_demands() {
	small, err := box(resonance{70, 1.1}, "small box").GroupDelay()
	if err != nil {
		log.Fatal(err)
	}
	// Demands at two frequencies, each drawn over 1 Hz to either side.
	at := func(hz, most float64) figure.Limit {
		return figure.Limit{Label: "demand", Value: most, From: hz - 1, To: hz + 1}
	}
	write("demands.png", figure.GroupDelay(figure.Options{
		Title: "Group delay, demanded at two frequencies", From: 20, To: 200,
		Limits: []figure.Limit{at(38.5, 6*si.Millisecond), at(50, 6*si.Millisecond)},
	}, small))
}

func ExampleStack() {
	r := box(resonance{45, 0.7}, "woofer").Magnitude()
	peak := freq.Basis{Quantity: freq.Displacement}
	var mm, air []float64
	for i := range r.Len() {
		mm = append(mm, 7*si.Millimetre/(1+r.Grid().At(i)/60))
		air = append(air, 24/(1+r.Grid().At(i)/30))
	}
	cone, err := freq.NewCurve(r.Grid(), mm, "cone", "m", peak)
	if err != nil {
		log.Fatal(err)
	}
	vent, err := freq.NewCurve(r.Grid(), air, "vent", "m/s", freq.Basis{Quantity: freq.Velocity})
	if err != nil {
		log.Fatal(err)
	}
	write("stack.png", figure.Stack(figure.Options{Title: "What moves", From: 10, To: 200, Note: "At 26 V peak at the terminals"},
		figure.Panel{Y: "Excursion of the cone, peak", Curves: []freq.Curve{cone}, Limits: []figure.Limit{{Label: "linear range: 6 mm", Value: 6 * si.Millimetre}}},
		figure.Panel{Y: "Air in the vent, peak", Log: true, Curves: []freq.Curve{vent}, Limits: []figure.Limit{{Label: "noise: 20 m/s", Value: 20}}},
	))
}

func ExampleCeiling() {
	loud := box(resonance{45, 0.7}, "ceiling").DB(level.Reference).Plus(20)
	demand := box(resonance{38, 0.7}, "demand").DB(level.Reference).Plus(12)
	write("ceiling.png", figure.Ceiling(figure.Options{Title: "How loud, and what stops it"}, loud, []figure.Span{
		{From: 10, To: 30, Label: "vent air"}, {From: 30, To: 44, Label: "excursion"},
		{From: 44, To: 60, Label: "vent air"}, {From: 60, To: 24000, Label: "amplifier volts"},
	}, demand))
}

func ExampleXY() {
	tuning := []float64{34, 36, 38.5, 41, 45, 49}
	write("xy.png", figure.XY(figure.XYOptions{
		Title: "What a lower tuning costs", Note: "Invented numbers.", Dots: true,
		Marks: []figure.Mark{{At: 38.5, Label: "chosen"}},
	}, figure.Axis{Name: "Tuning", Unit: "Hz"},
		figure.XYPanel{
			Y:      figure.Axis{Name: "Vent length", Unit: "mm", Per: si.Millimetre},
			Series: []figure.Series{{Label: "52 mm vent", X: tuning, Y: []float64{0.29, 0.255, 0.21, 0.18, 0.14, 0.11}}},
			Limits: []figure.Limit{{Label: "room: 250 mm", Value: 250 * si.Millimetre}},
		},
		figure.XYPanel{
			Y:      figure.Axis{Name: "Air in the vent, peak", Unit: "m/s"},
			Series: []figure.Series{{Label: "52 mm vent", X: tuning, Y: []float64{17, 18, 19.5, 21, 23, 25}}},
			Limits: []figure.Limit{{Label: "noise: 20 m/s", Value: 20}},
		},
	))
}

func ExampleXY_range() {
	var x, force, stiff []float64
	for mm := -8.0; mm <= 8; mm += 0.5 {
		x = append(x, mm*si.Millimetre)
		force = append(force, 1-0.004*(mm-0.4)*(mm-0.4))
		stiff = append(stiff, 1+0.006*mm*mm-0.01*mm)
	}
	write("range.png", figure.XY(figure.XYOptions{
		Title: "How a driver changes with displacement", Note: "Invented numbers.",
		Spans: []figure.Span{{From: -6 * si.Millimetre, To: 6 * si.Millimetre, Label: "linear"}},
	}, figure.Axis{Name: "Displacement, positive outward", Unit: "mm", Per: si.Millimetre},
		figure.XYPanel{Y: figure.Axis{Name: "Re the value at rest"}, Series: []figure.Series{{Label: "force factor", X: x, Y: force}, {Label: "stiffness", X: x, Y: stiff}}},
	))
}

func ExampleXY_points() {
	corner := []float64{41, 33, 36, 38, 34.5, 37, 40, 35}
	level := []float64{99.1, 96.2, 96.8, 98.4, 95.1, 97.0, 97.9, 97.4}
	write("points.png", figure.XY(figure.XYOptions{Title: "Lower or louder", Note: "Invented numbers.", Marks: []figure.Mark{{At: 35, Label: "chosen"}}},
		figure.Axis{Name: "Frequency 6 dB down", Unit: "Hz"},
		figure.XYPanel{Y: figure.Axis{Name: "Level of the plateau", Unit: "dB"}, Bottom: 94, Top: 100, Series: []figure.Series{
			{Label: "what can be had", X: corner, Y: level, Points: true}, {Label: "front", X: []float64{33, 35, 38, 41}, Y: []float64{96.2, 97.4, 98.4, 99.1}},
			{Label: "passive", X: []float64{40}, Y: []float64{95}, Points: true}}},
	))
}

func ExampleStep() {
	small, large := make([]float64, 400), make([]float64, 400)
	for i := range small {
		t := float64(i) / 8000
		small[i] = math.Exp(-200*t) * math.Cos(2*math.Pi*62*t)
		large[i] = math.Exp(-201*t) * math.Cos(2*math.Pi*32*t)
	}
	write("step.png", figure.Step(figure.XYOptions{Title: "Step response"},
		figure.Axis{Name: "Sound pressure re its first instant"}, 8000,
		figure.Trace{Label: "small box", Values: small}, figure.Trace{Label: "large box", Values: large}))
}

func ExampleFigure_Alt() {
	f := figure.Magnitude(figure.Options{Title: "A closed box", From: 20, To: 200},
		box(resonance{45, 0.7}, "woofer").DB(level.Reference))
	fmt.Println(f.Alt())
	// Output:
	// A closed box. Over frequency from 20 to 200 Hz. Sound pressure level (dB): woofer from 69.7 to 84. Sound pressure per volt at the way's terminals, half space, 1 m. 50 dB take as much room as a decade.
}

// Two sources above one another, of equal level at all frequencies and in phase on
// the axis between them: the level over frequency and the angle up, re the axis.
func ExampleShades() {
	const apart, c = 0.145, 343.8
	var f figure.Field
	for k := -40; k <= 40; k++ {
		f.Y = append(f.Y, float64(k))
	}
	for k := range 241 {
		f.X = append(f.X, 200*math.Pow(100, float64(k)/240))
	}
	for _, up := range f.Y {
		var row []float64
		for _, hz := range f.X {
			half := math.Pi * hz * apart * math.Sin(up*math.Pi/180) / c
			row = append(row, level.DB(math.Abs(math.Cos(half))))
		}
		f.Z = append(f.Z, row)
	}
	f.Unit = "dB"
	null := figure.Series{Label: "first null, closed form"}
	for k := range 60 {
		up := 40 - float64(k)*35/59
		null.X = append(null.X, c/(2*apart*math.Sin(up*math.Pi/180)))
		null.Y = append(null.Y, up)
	}
	o := figure.Options{Title: "Two sources 145 mm apart", From: 200, Note: "Invented: both play everything."}
	write("shades.png", figure.Shades(o, figure.Axis{Name: "Angle up", Unit: "°"}, f, []float64{-12, -6, -3, -1}, null))
}
