package room_test

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/room"
)

// The table of testdata, walls and places chosen anew for every row.
func TestPowerNearWalls(t *testing.T) {
	seen := map[string]int{}
	for k, r := range testtable.Read(t, "testdata/boundaries.csv") {
		name := r.Text(t, "case")
		hz := 80 + 3*float64(k)
		lambda := 343 / hz
		w := rigid(room.Wall(2 * (k % 3)))
		at := [3]float64{9, 9, 9}
		at[k%3] = r.Number(t, "d1_over_lambda") * lambda
		if strings.HasPrefix(name, "2walls") {
			w.Surfaces[2*((k+1)%3)] = room.Rigid{}
			at[(k+1)%3] = r.Number(t, "d2_over_lambda") * lambda
		}
		g := must[*freq.Grid](t)(freq.NewGrid([]float64{hz}))
		got := must[freq.Curve](t)(w.Power(room.Point{X: at[0], Y: at[1], Z: at[2]}, 0, g, "")).At(0)
		if want := r.Number(t, "gain_db"); math.Abs(got-want) > 1e-6 {
			t.Errorf("row %d, %s, %s: %.7f dB, want %.6f", k+2, name, r["x_over_lambda"], got, want)
		}
		seen[name]++
	}
	if len(seen) != 3 || seen["2walls_1_1.5"] != 17 {
		t.Errorf("rows of the table: %v", seen)
	}
}

// In a rigid corner at low frequencies eight sources act as one: 10·lg 8. On the walls
// themselves at all frequencies. At far walls (Length) as at near ones.
func TestPowerInACorner(t *testing.T) {
	g := grid(t, 20, 200, 3)
	w := rigid(room.Front, room.Left, room.Floor)
	c := must[freq.Curve](t)(w.Power(room.Point{}, 0, g, "corner"))
	for i := range g.Len() {
		if math.Abs(c.At(i)-level.PowerDB(8)) > 1e-12 {
			t.Errorf("%g Hz: %g dB, want 9.03", g.At(i), c.At(i))
		}
	}
	near := must[freq.Curve](t)(w.Power(room.Point{X: 0.7, Y: 0.5, Z: 0.8}, 0, g, ""))
	far := rigid(room.Rear, room.Right, room.Floor)
	far.Length, far.Width = 4, 3
	other := must[freq.Curve](t)(far.Power(room.Point{X: 3.3, Y: 2.5, Z: 0.8}, 0, g, ""))
	for i := range g.Len() {
		if math.Abs(near.At(i)-other.At(i)) > 1e-9 {
			t.Errorf("%g Hz: %g and %g dB", g.At(i), near.At(i), other.At(i))
		}
	}
}

// In a corner at three different distances, from Waterhouse's closed form for three walls at right
// angles (1958; as R. F. Allison has it, 1974; both from memory), with j(u) = sin u/u:
//
//	1 + j(2kx) + j(2ky) + j(2kz) + j(2k√(x²+y²)) + j(2k√(y²+z²)) + j(2k√(z²+x²)) + j(2k√(x²+y²+z²))
func TestPowerNearThreeWalls(t *testing.T) {
	j := func(u float64) float64 { return math.Sin(u) / u }
	g := grid(t, 20, 500, 6)
	for _, p := range []room.Point{{X: 0.3, Y: 0.4, Z: 0.79}, {X: 1.1, Y: 0.2, Z: 0.5}, {X: 0.5, Y: 0.5, Z: 0.5}} {
		c := must[freq.Curve](t)(rigid(room.Front, room.Left, room.Floor).Power(p, 0, g, ""))
		for i, w := range g.Omega() {
			k := 2 * w / 343
			want := 1 + j(k*p.X) + j(k*p.Y) + j(k*p.Z) + j(k*math.Hypot(p.X, p.Y)) + j(k*math.Hypot(p.Y, p.Z)) + j(k*math.Hypot(p.Z, p.X)) + j(k*math.Sqrt(p.X*p.X+p.Y*p.Y+p.Z*p.Z))
			if got := c.At(i); math.Abs(got-level.PowerDB(want)) > 1e-9 {
				t.Errorf("%v at %g Hz: %.6f dB, want %.6f", p, g.At(i), got, level.PowerDB(want))
			}
		}
	}
}

// Minima over frequency: of one wall where tan 2kx = 2kx = 4.4934, 10·lg(1 + cos 4.4934); of three
// at one distance x the least of 1 + 3·s(2kx) + 3·s(2√2·kx) + s(2√3·kx) with s(u) = sin u/u,
// by steps of 10⁻⁴ of a wavelength.
func TestFirstMinimum(t *testing.T) {
	g := must[*freq.Grid](t)(freq.LinearGrid(100, 400, 30001))
	const x = 0.5
	one := must[freq.Curve](t)(rigid(room.Floor).Power(room.Point{Z: x}, 0, g, ""))
	if p := must[freq.Point](t)(one.Min(100, 400)); math.Abs(p.Value-level.PowerDB(1+math.Cos(4.493409))) > 1e-5 || math.Abs(p.Hz*x/343-4.493409/(4*math.Pi)) > 1e-4 {
		t.Errorf("one wall: %.4f dB at %.4f of a wavelength", p.Value, p.Hz*x/343)
	}
	three := must[freq.Curve](t)(rigid(room.Front, room.Left, room.Floor).Power(room.Point{X: x, Y: x, Z: x}, 0, g, ""))
	least, at := math.Inf(1), 0.0
	s := func(u float64) float64 { return math.Sin(u) / u }
	for r := 0.15; r < 0.58; r += 1e-4 {
		k := 2 * math.Pi * r
		if v := 1 + 3*s(2*k) + 3*s(2*math.Sqrt2*k) + s(2*math.Sqrt(3)*k); v < least {
			least, at = v, r
		}
	}
	p := must[freq.Point](t)(three.Min(100, 400))
	if math.Abs(p.Value-level.PowerDB(least)) > 1e-3 || math.Abs(p.Hz*x/343-at) > 2e-4 || math.Abs(p.Value+11.4) > 0.05 || math.Abs(at-0.28) > 0.005 {
		t.Errorf("three walls: %.3f dB at %.4f of a wavelength, want %.3f at %.4f", p.Value, p.Hz*x/343, level.PowerDB(least), at)
	}
}

// One wall with R, by hand: 1 + R·sin(2kx)/(2kx); and of a complex R, from the power that the
// pressure of the image does on the source, p·Q* with p = jωρQ·R·e^{−jkd}/(4πd).
func TestPowerNearASoftWall(t *testing.T) {
	g := grid(t, 30, 500, 6)
	a := must[*room.Absorber](t)(room.NewAbsorber(room.Band{Hz: 100, Alpha: 0.36}))
	z := room.Impedance{Zeta: &freq.PolyRatio{Num: freq.NewPoly(400, 2), Den: freq.NewPoly(0, 1)}} // 2 + 400/jω
	soft, reactive := rigid(room.Front), rigid(room.Front)
	soft.Surfaces[room.Front], reactive.Surfaces[room.Front] = a, z
	at := room.Point{X: 0.6}
	p := must[freq.Curve](t)(soft.Power(at, 0, g, ""))
	q := must[freq.Curve](t)(reactive.Power(at, 0, g, ""))
	for i, w := range g.Omega() {
		k := w / 343
		if want := level.PowerDB(1 + 0.8*math.Sin(2*k*0.6)/(2*k*0.6)); math.Abs(p.At(i)-want) > 1e-9 {
			t.Errorf("%g Hz: %g dB, want %g", g.At(i), p.At(i), want)
		}
		zeta := complex(2, -400/w)
		r := (zeta - 1) / (zeta + 1)
		s, c := math.Sincos(k * 1.2)
		image := complex(0, 1) * r * complex(c, -s) / complex(1.2, 0)
		if want := level.PowerDB((k + real(image)) / k); math.Abs(q.At(i)-want) > 1e-9 {
			t.Errorf("%g Hz: %g dB, want %g", g.At(i), q.At(i), want)
		}
	}
}

// On a wall of ζ = 3 itself: R = (3 − 1)/(3 + 1) = 1/2 as close before it.
func TestPowerOnASoftWall(t *testing.T) {
	g := grid(t, 30, 500, 1)
	w := rigid(room.Front)
	w.Surfaces[room.Front] = room.Impedance{Zeta: freq.Gain(3)}
	c := must[freq.Curve](t)(w.Power(room.Point{}, 0, g, ""))
	if want := level.PowerDB(1.5); math.Abs(c.At(0)-want) > 1e-12 {
		t.Errorf("on the wall %g dB, want %g", c.At(0), want)
	}
}

func TestPowerRefuses(t *testing.T) {
	g := grid(t, 30, 500, 6)
	w := rigid(room.Front)
	w.Surfaces[room.Front] = room.Impedance{Zeta: &freq.PolyRatio{Num: freq.NewPoly(3000, 2), Den: freq.NewPoly(0, 1)}} // 2 + 3000/jω
	if c, err := w.Power(room.Point{X: 0.001}, 0, g, ""); err == nil || !strings.Contains(err.Error(), "soft wall") {
		t.Errorf("a millimetre before a soft wall: %v, %v", c, err)
	}
	f := must[*room.Field](t)(rigid(room.Front).Heard(room.Source{At: room.Point{X: 1}}, room.Point{X: 3}, 0))
	if _, err := room.Over(nil, f); err == nil {
		t.Error("a spread on no grid")
	}
	if _, err := room.Over(g, f, nil); err == nil {
		t.Error("a spread with a field that is none")
	}
	if _, err := rigid(room.Front).Power(room.Point{X: -0.1}, 0, g, ""); err == nil || !strings.Contains(err.Error(), "behind the front wall") {
		t.Errorf("a source behind the wall: %v", err)
	}
	if _, err := closed(room.Rigid{}).Power(room.Point{X: 1, Y: 1, Z: 1}, 0, g, ""); err == nil || !strings.Contains(err.Error(), "no end") {
		t.Errorf("a whole room without a longest path: %v", err)
	}
	if _, err := closed(room.Rigid{}).Power(room.Point{X: 1, Y: 1, Z: 1}, 20, g, ""); err == nil || !strings.Contains(err.Error(), "too few") {
		t.Errorf("a rigid room: %v", err)
	}
	if _, err := closed(room.Rigid{}).Power(room.Point{X: 1, Y: 1, Z: 1}, 1e4, g, ""); err == nil || !strings.Contains(err.Error(), "at most") {
		t.Errorf("images without end: %v", err)
	}
}
