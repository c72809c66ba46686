package directivity_test

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// table is a response that is a function of frequency and nothing else.
type pattern func(hz float64) complex128

func (p pattern) ResponseTo(dst []complex128, g *freq.Grid) []complex128 {
	dst = freq.Dst(dst, g.Len())
	for i := range dst {
		dst[i] = p(g.At(i))
	}
	return dst
}

const soundSpeed = 343.0

// pistonPair is a rigid piston of 60 mm radius in an infinite baffle, 2·J₁(x)/x with x = ka·sin θ,
// that is above the point about which the microphone turns by a height: the path of a far
// field is shorter by h·sin θ upward (Beranek and Mellow, Acoustics, 2012, piston; from memory).
func pistonPair(d directivity.Direction, height float64) pattern {
	_, up, _ := d.Unit()
	sin := math.Sin(d.Degrees * math.Pi / 180)
	return func(hz float64) complex128 {
		k := 2 * math.Pi * hz / soundSpeed
		x := k * 0.06 * sin
		amp := 1.0
		if x != 0 {
			amp = 2 * math.J1(x) / x
		}
		return cmplx.Rect(amp, k*(height*up-1))
	}
}

func grid(t testing.TB, lo, hi float64, n int) *freq.Grid {
	t.Helper()
	return must[*freq.Grid](t)(freq.LogGrid(lo, hi, n))
}

func orbit(o directivity.Orbit, lo, hi, step float64) (d []directivity.Direction) {
	for a := lo; a <= hi; a += step {
		d = append(d, directivity.Direction{Orbit: o, Degrees: a})
	}
	return d
}

// Of a piston as large as a woofer, from 10° to 5°, with the rotation 145 mm off its centre
// (the woofer of a set turned about the tweeter): 200 Hz … 2.3 kHz within 60°.
func TestInterpolatedPiston(t *testing.T) {
	g := grid(t, 200, 2300, 24)
	about := func(d directivity.Direction) (freq.Transfer, error) { return pistonPair(d, -0.145), nil }
	set := must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "z", about, orbit(directivity.Vertical, -60, 60, 10)...))
	fine := orbit(directivity.Vertical, -55, 55, 10)
	for _, c := range []struct {
		in        directivity.Interpolation
		db, phase float64 // what an error may be
	}{
		{directivity.Interpolation{Method: directivity.LogPhase}, 0.03, 0.01},
		{directivity.Interpolation{Method: directivity.Complex}, 0.5, 0.06},
		{directivity.Interpolation{Method: directivity.Aligned}, 0.03, 0.01},
	} {
		filled := must[*directivity.Set](t)(set.Fill(c.in, fine...))
		var worst, turned float64
		for _, d := range fine {
			p := must[directivity.Point](t)(filled.Point(d))
			if p.Origin != directivity.Interpolated || !strings.Contains(p.Response.Label(), "interpolated from") {
				t.Fatalf("%v is %v, %q", d, p.Origin, p.Response.Label())
			}
			want := pistonPair(d, -0.145)
			for i := range g.Len() {
				q := p.Response.At(i) / want(g.At(i))
				worst = max(worst, math.Abs(level.DB(cmplx.Abs(q))))
				turned = max(turned, math.Abs(cmplx.Phase(q)))
			}
		}
		if worst > c.db || turned > c.phase {
			t.Errorf("%v: off by %.4f dB and %.4f rad, want at most %g and %g", c.in.Method, worst, turned, c.db, c.phase)
		}
		doubts := must[[]directivity.Doubt](t)(set.LeaveOneOut(directivity.Vertical, c.in, 200, 2300))
		if len(doubts) != 11 {
			t.Fatalf("%v: %d doubts, want those of 11 inner angles", c.in.Method, len(doubts))
		}
		var largest float64
		for _, d := range doubts {
			largest = max(largest, math.Abs(d.Worst))
			if d.RMS > math.Abs(d.Worst) || d.WorstAt < 200 || d.WorstAt > 2300 {
				t.Errorf("%v", d)
			}
		}
		if largest < 4*worst {
			t.Errorf("%v: left out, worst is %.3f dB: want more than four times what the set itself is off by, %.3f dB", c.in.Method, largest, worst)
		}
	}
}

// The same up to 8 kHz, where the piston has nulls within 60°: the logarithm is refused, the
// plain complex method loses the sound of what is beside the axis, and Aligned keeps it to 0.02
// of the sound on the axis.
func TestAlignedTakesNullsAndDelays(t *testing.T) {
	g := grid(t, 200, 8000, 24)
	set := must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
		return pistonPair(d, -0.145), nil
	}, orbit(directivity.Vertical, -60, 60, 10)...))
	fine := orbit(directivity.Vertical, -55, 55, 10)
	worst := map[directivity.Method]float64{}
	for _, m := range []directivity.Method{directivity.Complex, directivity.Aligned} {
		filled := must[*directivity.Set](t)(set.Fill(directivity.Interpolation{Method: m}, fine...))
		for _, d := range fine {
			r := must[freq.Response](t)(filled.Response(d))
			for i := range g.Len() {
				worst[m] = max(worst[m], cmplx.Abs(r.At(i)-pistonPair(d, -0.145)(g.At(i))))
			}
		}
	}
	if worst[directivity.Aligned] > 0.02 || worst[directivity.Complex] < 0.5 {
		t.Errorf("off by %.3f plain and %.3f aligned", worst[directivity.Complex], worst[directivity.Aligned])
	}
	if _, err := set.Fill(directivity.Interpolation{Method: directivity.LogPhase}, fine...); err == nil {
		t.Error("the logarithm passed through a null")
	}
}

// Quadratics of the angle are kept by cubics with the slopes of parabolas: exactly, uneven
// angles and the end of the orbit included.
func TestLogPhaseKeepsQuadratics(t *testing.T) {
	g := grid(t, 100, 200, 6)
	about := func(d directivity.Direction) (freq.Transfer, error) {
		a := d.Degrees
		return pattern(func(hz float64) complex128 {
			return cmplx.Rect(math.Exp(0.01*a-0.0004*a*a*hz/100), 0.02*a*hz/100+0.001*a*a)
		}), nil
	}
	set := must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "z", about, directivity.Side(-20), directivity.Side(-12), directivity.Side(0), directivity.Side(10), directivity.Side(13)))
	in := directivity.Interpolation{Method: directivity.LogPhase}
	var at []directivity.Direction
	for _, a := range []float64{-19, -16, -3, 4, 11} {
		at = append(at, directivity.Side(a))
	}
	filled := must[*directivity.Set](t)(set.Fill(in, at...))
	for _, d := range at {
		r := must[freq.Response](t)(filled.Response(d))
		want, _ := about(d)
		for i := range g.Len() {
			if cmplx.Abs(r.At(i)-want.(pattern)(g.At(i))) > 1e-12 {
				t.Errorf("%v at %g Hz: %v, want %v", d, g.At(i), r.At(i), want.(pattern)(g.At(i)))
			}
		}
	}
}

// A dipole passes through its null: real and imaginary part go on, the logarithm is refused.
func TestNullNeedsComplex(t *testing.T) {
	set := ideal(t, math.Cos)
	var off []directivity.Point
	for _, p := range set.Points() {
		if p.Direction.Orbit == directivity.Horizontal && p.Direction.Degrees != 85 {
			off = append(off, p)
		}
	}
	s := must[*directivity.Set](t)(directivity.NewSet(set.Clock(), off...))
	for _, m := range []directivity.Method{directivity.Complex, directivity.Aligned} {
		filled := must[*directivity.Set](t)(s.Fill(directivity.Interpolation{Method: m}, directivity.Side(75), directivity.Side(-105), directivity.Side(175), directivity.Side(-175)))
		for _, a := range []float64{75, -105, 175, -175} {
			got := must[freq.Response](t)(filled.Response(directivity.Side(a))).At(0)
			if cmplx.Abs(got-complex(math.Cos(a*math.Pi/180), 0)) > 1e-4 {
				t.Errorf("%v at %g°: %v, want %.5f", m, a, got, math.Cos(a*math.Pi/180))
			}
		}
	}
	zero := off
	for i := range zero {
		if math.Abs(zero[i].Direction.Degrees) == 90 {
			zero[i].Response = must[freq.Response](t)(freq.NewResponse(s.Grid(), make([]complex128, s.Grid().Len()), "null", fullSpace))
		}
	}
	s = must[*directivity.Set](t)(directivity.NewSet(set.Clock(), zero...))
	if _, err := s.Fill(directivity.Interpolation{Method: directivity.LogPhase}, directivity.Side(85)); err == nil || !strings.Contains(err.Error(), "Complex") {
		t.Errorf("logarithm of a null: %v", err)
	}
}

func TestPowerOfSeparatePhases(t *testing.T) {
	set := ideal(t, func(a float64) float64 { return 1 + a })
	s := must[*directivity.Set](t)(directivity.NewSet(directivity.Clock{Phases: directivity.Separate}, set.Points()...))
	if _, err := s.Fill(directivity.Interpolation{Method: directivity.Complex}, directivity.Side(5)); err == nil || !strings.Contains(err.Error(), "Power") {
		t.Errorf("phases without a common time zero were interpolated: %v", err)
	}
	f := must[*directivity.Set](t)(s.Fill(directivity.Interpolation{Method: directivity.Power}, directivity.Side(5), directivity.Side(2.5)))
	b := 1 + 10*math.Pi/180
	for a, t0 := range map[float64]float64{5: 0.5, 2.5: 0.25} {
		got := must[freq.Curve](t)(f.Magnitude(directivity.Side(a))).At(0)
		if want := math.Sqrt((1 - t0) + t0*b*b); math.Abs(got-want) > 1e-12 {
			t.Errorf("%g°: %g, want %g", a, got, want)
		}
	}
}

func TestInterpolationRefuses(t *testing.T) {
	g := grid(t, 100, 200, 6)
	flat := func(d directivity.Direction) (freq.Transfer, error) { return freq.Gain(1), nil }
	set := must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "z", flat, orbit(directivity.Horizontal, -30, 30, 10)...))
	in := directivity.Interpolation{Method: directivity.LogPhase}
	for name, c := range map[string]struct {
		in   directivity.Interpolation
		at   directivity.Direction
		want string
	}{
		"beyond the end":  {in, directivity.Side(31), "extrapolation"},
		"other orbit":     {in, directivity.Up(5), "no vertical angle"},
		"narrower gap":    {directivity.Interpolation{Method: directivity.LogPhase, Widest: 5}, directivity.Side(5), "gap is 10°"},
		"no method":       {directivity.Interpolation{}, directivity.Side(5), "method"},
		"power of phases": {directivity.Interpolation{Method: directivity.Power}, directivity.Side(5), "Power without"},
		"widest":          {directivity.Interpolation{Method: directivity.Complex, Widest: math.NaN()}, directivity.Side(5), "widest"},
	} {
		if _, err := set.Fill(c.in, c.at); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
	mute := must[*directivity.Set](t)(directivity.Simulate(grid(t, 200, 2300, 3), fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
		return freq.Gain(math.Abs(d.Degrees) / 10), nil
	}, orbit(directivity.Horizontal, -20, 20, 10)...))
	if d, err := mute.LeaveOneOut(directivity.Horizontal, directivity.Interpolation{Method: directivity.Complex}, 200, 2300); err == nil || !strings.Contains(err.Error(), "silent") {
		t.Errorf("of a silent axis %+v, error %v", d, err)
	}
	if _, err := set.LeaveOneOut(directivity.Vertical, in, 100, 200); err == nil {
		t.Error("doubts of an orbit that is not there")
	}
	// Flights that differ by 4.8 ms between neighbours turn by nearly half a turn from 100 to 200 Hz.
	late := func(d directivity.Direction) (freq.Transfer, error) {
		return freq.Delay(math.Abs(d.Degrees) * 0.48e-3), nil
	}
	set = must[*directivity.Set](t)(directivity.Simulate(must[*freq.Grid](t)(freq.NewGrid([]float64{100, 200})), fullSpace, "z", late, orbit(directivity.Horizontal, -30, 30, 10)...))
	if _, err := set.Fill(in, directivity.Side(5)); err == nil || !strings.Contains(err.Error(), "measure finer") {
		t.Errorf("phases that cannot be followed: %v", err)
	}
}
