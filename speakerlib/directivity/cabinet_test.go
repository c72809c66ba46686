package directivity_test

import (
	"math"
	"os"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"example.org/loudspeaker/speakerlib/diffraction"
	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/radiation"
)

// Up is up everywhere: the demo's tweeter sits above the middle of the front, so that its edges
// make 1 kHz weaker upward than downward. The edges computed (first order, of the demo's box) and
// the files, whose generator has a rough model of edges of its own, agree to about one decibel; with
// a sign changed they would differ by four.
func TestComputedAndMeasuredDirectionsAgree(t *testing.T) {
	g := must[*freq.Grid](t)(freq.NewGrid([]float64{1000}))
	box := must[*diffraction.Cabinet](t)(diffraction.NewBox(0.19, 0.33, 0.24, diffraction.Rounding{}, diffraction.Rounding{}))
	tweeter := r3.Vec{Y: 0.270 - 0.165}
	d := []directivity.Direction{directivity.Side(0), directivity.Side(30), directivity.Side(-30), directivity.Up(20), directivity.Up(-20)}
	var receivers []diffraction.Receiver
	for _, at := range d {
		x, y, z := at.Unit()
		receivers = append(receivers, diffraction.Toward(r3.Vec{X: x, Y: y, Z: z}))
	}
	plan := must[*diffraction.Plan](t)(diffraction.NewPlan(diffraction.Setup{Cabinet: box, Air: medium, Grid: g, Receivers: receivers, Reference: tweeter}))
	elements := must[[]radiation.Element](t)(radiation.Piston{Radius: 0.015}.Elements(tweeter, r3.Vec{Z: 1}, 2))
	factors := must[[]complex128](t)(plan.NewState().SolveTo(nil, diffraction.Source{Elements: elements}))
	half := perTerminals
	half.Space = freq.HalfSpace
	computed := must[*directivity.Set](t)(directivity.Propagate(must[freq.Response](t)(freq.Evaluate(freq.Gain(1), g, "tweeter", half)), "front", factors, d...))
	measured := must[*directivity.Set](t)(must[*directivity.FolderSet](t)(directivity.ReadFolder(os.DirFS(farField), ".", demo("tweeter"))).Set.Mirror(directivity.Horizontal))
	at := measured.Grid().Nearest(1000)
	between := func(s *directivity.Set, i int, a, b directivity.Direction) float64 {
		return level.DB(must[freq.Curve](t)(s.Magnitude(a)).At(i) / must[freq.Curve](t)(s.Magnitude(b)).At(i))
	}
	up, files := between(computed, 0, d[3], d[4]), between(measured, at, d[3], d[4])
	if math.Abs(up-files) > 1.2 || up > -1 {
		t.Errorf("20° up re 20° down: computed %.2f dB, in the files %.2f dB", up, files)
	}
	if e := between(computed, 0, d[1], d[2]); math.Abs(e) > 1e-9 {
		t.Errorf("30° right re left of a driver in the middle: %g dB", e)
	}
}
