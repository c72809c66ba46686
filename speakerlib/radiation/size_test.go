package radiation_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/radiation"
)

// asked is what the methods that return a number are asked for.
type asked struct {
	hz, angle, z, x float64
	air             air.Medium
}

// told is what one of them returns, and which of f, a (angle), z, x and m (medium) it depends on.
type told struct {
	value complex128
	on    string
}

// source is a radiator of any type, with all of its methods.
type source struct {
	validate error
	elements error
	values   func(asked) map[string]told
}

func number(v float64, on string) told { return told{complex(v, 0), on} }

func piston(p radiation.Piston) source {
	_, err := p.Elements(r3.Vec{}, r3.Vec{Z: 1}, 2)
	return source{p.Validate(), err, func(q asked) map[string]told {
		return map[string]told{
			"area":        number(p.Area(), ""),
			"impedance":   {p.Impedance(q.hz, q.air), "fm"},
			"directivity": number(p.Directivity(q.hz, q.angle, q.air), "fam"),
			"factor":      number(p.DirectivityFactor(q.hz, q.air), "fm"),
			"on axis":     {p.OnAxis(q.hz, q.z, q.air), "fzm"},
			"pressure":    {p.Pressure(q.hz, q.z, q.x, q.air), "fzxm"},
		}
	}}
}

func ring(r radiation.Ring) source {
	_, err := r.Elements(r3.Vec{}, r3.Vec{Z: 1}, 2)
	return source{r.Validate(), err, func(q asked) map[string]told {
		return map[string]told{
			"area":        number(r.Area(), ""),
			"directivity": number(r.Directivity(q.hz, q.angle, q.air), "fam"),
			"pressure":    {r.Pressure(q.hz, q.z, q.x, q.air), "fzxm"},
		}
	}}
}

func dome(d radiation.Dome) source {
	_, err := d.Elements(r3.Vec{}, r3.Vec{Z: 1}, 2, still)
	return source{d.Validate(), err, func(q asked) map[string]told {
		return map[string]told{"directivity": {d.Directivity(q.hz, q.angle, q.air), "fam"}}
	}}
}

func rectangle(r radiation.Rectangle) source {
	_, err := r.Elements(r3.Vec{}, r3.Vec{Z: 1}, 2, 2)
	return source{r.Validate(), err, func(q asked) map[string]told {
		return map[string]told{
			"area": number(r.Area(), ""),
			// Of the angle in place of its sine more than 1 is none.
			"across": number(r.Directivity(q.hz, q.angle, 0, q.air), "fam"),
			"up":     number(r.Directivity(q.hz, 0, q.angle, q.air), "fam"),
		}
	}}
}

// sphere has no elements: they are refused by nothing else.
func sphere(s radiation.SphereCap) source {
	return source{s.Validate(), s.Validate(), func(q asked) map[string]told {
		return map[string]told{"directivity": {s.Directivity(q.hz, q.angle, q.air), "fam"}}
	}}
}

// What Validate refuses has no value by any method, and neither has anything at an angle in
// degrees, behind the baffle, below 0 Hz or in no air. Where a size is too large is common
// practice, no source.
func TestNothingOfWhatCannotBe(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	good := asked{2000, 0.5, 0.3, 0.1, still}
	for name, s := range map[string]source{
		"piston":       piston(radiation.Piston{Radius: 0.066}),
		"large piston": piston(radiation.Piston{Radius: radiation.MaxRadius}),
		"piston of Sd": piston(radiation.PistonOf(0.0138)),
		"ring":         ring(radiation.Ring{Outer: 0.066, Inner: 0.02}),
		"full ring":    ring(radiation.Ring{Outer: 0.066}),
		"dome":         dome(radiation.Dome{Radius: 0.0125, Height: 0.004}),
		"hollow":       dome(radiation.Dome{Radius: 0.0125, Height: -0.0125}),
		"rectangle":    rectangle(radiation.Rectangle{Width: 0.06, Height: 0.2}),
		"point":        sphere(radiation.SphereCap{Radius: 0.15}),
		"cap":          sphere(radiation.SphereCap{Radius: 0.15, HalfAngle: 0.3, Motion: radiation.Axial}),
	} {
		if s.validate != nil || s.elements != nil {
			t.Errorf("%s: %v, %v, want it taken", name, s.validate, s.elements)
		}
		for _, c := range []struct {
			what string
			on   byte // the value that is changed; 0: none
			q    asked
			ok   bool
		}{
			{"as it is", 0, good, true},
			{"at 0 Hz", 'f', asked{0, 0.5, 0.3, 0.1, still}, true},
			{"at −1 Hz", 'f', asked{-1, 0.5, 0.3, 0.1, still}, false},
			{"at −2000 Hz", 'f', asked{-2000, 0.5, 0.3, 0.1, still}, false},
			{"at NaN Hz", 'f', asked{nan, 0.5, 0.3, 0.1, still}, false},
			{"at infinity", 'f', asked{inf, 0.5, 0.3, 0.1, still}, false},
			{"to the left", 'a', asked{2000, -0.5, 0.3, 0.1, still}, true},
			{"at 30", 'a', asked{2000, 30, 0.3, 0.1, still}, false},
			{"at −30", 'a', asked{2000, -30, 0.3, 0.1, still}, false},
			{"at 30 and 0 Hz", 'a', asked{0, 30, 0.3, 0.1, still}, false},
			{"at no angle", 'a', asked{2000, nan, 0.3, 0.1, still}, false},
			{"at an angle of infinity", 'a', asked{2000, inf, 0.3, 0.1, still}, false},
			{"in the baffle", 'z', asked{2000, 0.5, 0, 0.1, still}, true},
			{"behind it", 'z', asked{2000, 0.5, -1, 0.1, still}, false},
			{"at z of NaN", 'z', asked{2000, 0.5, nan, 0.1, still}, false},
			{"at z of infinity", 'z', asked{2000, 0.5, inf, 0.1, still}, false},
			{"on the other side", 'x', asked{2000, 0.5, 0.3, -0.1, still}, true},
			{"at x of NaN", 'x', asked{2000, 0.5, 0.3, nan, still}, false},
			{"at x of infinity", 'x', asked{2000, 0.5, 0.3, inf, still}, false},
			{"in no air", 'm', asked{2000, 0.5, 0.3, 0.1, air.Medium{}}, false},
			{"in air without density", 'm', asked{2000, 0.5, 0.3, 0.1, air.Medium{SpeedOfSound: 343}}, false},
			{"in air that is infinitely stiff", 'm', asked{2000, 0.5, 0.3, 0.1, air.Medium{Density: 1.2, SpeedOfSound: inf}}, false},
		} {
			for method, v := range s.values(c.q) {
				if want := c.ok || c.on != 0 && !strings.ContainsRune(v.on, rune(c.on)); cmplx.IsNaN(v.value) == want || cmplx.IsInf(v.value) {
					t.Errorf("%s, %s, %s: %v, want a number: %v", name, method, c.what, v.value, want)
				}
			}
		}
	}
	for name, c := range map[string]struct {
		of   source
		want string
	}{
		"piston of no size":    {piston(radiation.Piston{}), "radius of 0 m"},
		"negative piston":      {piston(radiation.Piston{Radius: -0.1}), "radius of -0.1 m"},
		"piston in mm":         {piston(radiation.Piston{Radius: 66}), "radius of 66 m, want a value > 0 and at most 1 m"},
		"tweeter in cm":        {piston(radiation.Piston{Radius: 1.25}), "radius of 1.25 m"},
		"piston of NaN":        {piston(radiation.Piston{Radius: nan}), "radius of NaN m"},
		"infinite piston":      {piston(radiation.Piston{Radius: inf}), "radius of +Inf m"},
		"piston of cm²":        {piston(radiation.PistonOf(138)), "radius of 6.6"},
		"piston of no area":    {piston(radiation.PistonOf(-0.01)), "radius of NaN m"},
		"ring inside out":      {ring(radiation.Ring{Outer: 0.01, Inner: 0.02}), "from 0.02 to 0.01 m"},
		"ring of no width":     {ring(radiation.Ring{Outer: 0.02, Inner: 0.02}), "inner < outer"},
		"ring below 0":         {ring(radiation.Ring{Outer: 0.02, Inner: -0.01}), "0 ≤ inner"},
		"ring in mm":           {ring(radiation.Ring{Outer: 66, Inner: 20}), "outer ≤ 1 m"},
		"ring of NaN":          {ring(radiation.Ring{Outer: 0.02, Inner: nan}), "from NaN"},
		"deep dome":            {dome(radiation.Dome{Radius: 0.01, Height: 0.05}), "0.05 m high"},
		"deep hollow":          {dome(radiation.Dome{Radius: 0.01, Height: -0.05}), "-0.05 m high"},
		"dome in mm":           {dome(radiation.Dome{Radius: 12.5, Height: 4}), "at most 1 m"},
		"dome of NaN":          {dome(radiation.Dome{Radius: 0.01, Height: nan}), "NaN m high"},
		"negative dome":        {dome(radiation.Dome{Radius: -0.01}), "radius of -0.01 m"},
		"line":                 {rectangle(radiation.Rectangle{Width: 0.06}), "0.06 × 0 m"},
		"negative rectangle":   {rectangle(radiation.Rectangle{Width: -0.06, Height: -0.2}), "> 0"},
		"rectangle in mm":      {rectangle(radiation.Rectangle{Width: 60, Height: 200}), "at most 4 m"},
		"width alone in mm":    {rectangle(radiation.Rectangle{Width: 60, Height: 0.2}), "at most 4 m"},
		"height alone in mm":   {rectangle(radiation.Rectangle{Width: 0.06, Height: 200}), "at most 4 m"},
		"rectangle of NaN":     {rectangle(radiation.Rectangle{Width: 0.06, Height: nan}), "NaN"},
		"cap in degrees":       {sphere(radiation.SphereCap{Radius: 0.15, HalfAngle: 20}), "20 rad"},
		"sphere in mm":         {sphere(radiation.SphereCap{Radius: 150}), "radius of 150 m, want a value > 0 and at most 1 m"},
		"negative sphere":      {sphere(radiation.SphereCap{Radius: -0.15}), "radius of -0.15 m"},
		"sphere of NaN":        {sphere(radiation.SphereCap{Radius: nan}), "NaN"},
		"cap of no motion":     {sphere(radiation.SphereCap{Radius: 0.15, HalfAngle: 0.3, Motion: 7}), "motion 7"},
		"cap to less than 0":   {sphere(radiation.SphereCap{Radius: 0.15, HalfAngle: -0.3}), "-0.3 rad"},
		"cap of more than π/2": {sphere(radiation.SphereCap{Radius: 0.15, HalfAngle: 1.6}), "1.6 rad"},
	} {
		if c.of.validate == nil || !strings.Contains(c.of.validate.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, c.of.validate, c.want)
		}
		if c.of.elements == nil {
			t.Errorf("%s: elements were made", name)
		}
		for _, hz := range []float64{0, 2000} {
			q := good
			q.hz = hz
			for method, v := range c.of.values(q) {
				if !cmplx.IsNaN(v.value) {
					t.Errorf("%s, %s at %g Hz: %v, want no number", name, method, hz, v.value)
				}
			}
		}
	}
}

// A turn is not degrees, and 2 is what the factor goes to at low frequencies, where the baffle
// leaves half of the space.
func TestEndsOfWhatIsTaken(t *testing.T) {
	p := radiation.Piston{Radius: 0.066}
	for _, turn := range []float64{2 * math.Pi, -2 * math.Pi} {
		if d := p.Directivity(2000, turn, still); !(math.Abs(d-1) < 1e-12) {
			t.Errorf("after a turn of %g rad %g, want 1 as on the axis", turn, d)
		}
	}
	if q := p.DirectivityFactor(0, still); q != 2 {
		t.Errorf("factor %g at 0 Hz, want 2", q)
	}
}
