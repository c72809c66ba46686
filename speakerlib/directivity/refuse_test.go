package directivity_test

import (
	"math"
	"math/cmplx"
	"strconv"
	"strings"
	"testing"
	"testing/fstest"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
)

var notPositive = []float64{0, -1, math.Inf(1), math.Inf(-1), math.NaN()}

// What is no drive, drop, time or gap is refused wherever it is asked for.
func TestNumbersAreRefused(t *testing.T) {
	g := grid(t, 300, 5000, 12)
	set := ideal(t, math.Cos)
	front := way(t, g, "w", 0, 10)
	in := directivity.Interpolation{Method: directivity.LogPhase}
	lobe := must[*directivity.Lobe](t)(directivity.LobeAt([]directivity.Way{front}, 2, []float64{0, 0.1}, in, medium))
	mean := must[directivity.Mean](t)(set.SoundPower(directivity.Zones))
	for _, v := range notPositive {
		for name, err := range map[string]error{
			"level":     third(set.SPL(directivity.Side(0), v)),
			"map":       third(set.Levels(directivity.Horizontal, v)),
			"watts":     third(mean.Watts(v, medium)),
			"lobe":      third(lobe.Levels(v)),
			"window":    third(lobe.Window(0, v, 300, 5000)),
			"beamwidth": third(set.Beamwidth(directivity.Horizontal, directivity.Side(0), v)),
		} {
			if err == nil {
				t.Errorf("%s of %g was taken", name, v)
			}
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			if _, err := front.Set.Without(v); err == nil {
				t.Errorf("a flight of %g s was taken out", v)
			}
		}
		if v != 0 {
			in := directivity.Interpolation{Method: directivity.LogPhase, Widest: v}
			if _, err := front.Set.Fill(in, directivity.Up(5)); err == nil {
				t.Errorf("a widest gap of %g° was taken", v)
			}
		}
		if _, err := front.Set.Heard(directivity.Listener{Distance: v}, 0, in, medium); err == nil {
			t.Errorf("a listener at %g m was taken", v)
		}
	}
	if _, err := front.Set.Heard(directivity.Listener{Distance: 2, Height: math.Inf(1)}, 0, in, medium); err == nil {
		t.Error("an infinite height was taken")
	}
	// At 0.51 m of a set at 1 m there is a listener, at 0.5 m not.
	for d, ok := range map[float64]bool{0.5: false, 0.51: true} {
		if _, err := front.Set.Heard(directivity.Listener{Distance: d}, 0, in, medium); (err == nil) != ok {
			t.Errorf("listener at %g m: %v", d, err)
		}
	}
	if _, err := lobe.Window(0, 1, 6000, 7000); err == nil {
		t.Error("a window beyond the grid")
	}
	if _, err := directivity.LobeAt([]directivity.Way{front}, 2, nil, in, medium); err == nil {
		t.Error("a lobe over no height")
	}
	b := perTerminals
	b.Per = freq.Absolute
	absolute := must[*directivity.Set](t)(directivity.Simulate(g, b, "z", func(directivity.Direction) (freq.Transfer, error) { return freq.Gain(1), nil }, directivity.Orbits70()...))
	if _, err := absolute.SPL(directivity.Side(0), 1); err == nil || !strings.Contains(err.Error(), "per volt") {
		t.Errorf("levels at a drive of what is absolute: %v", err)
	}
	if _, err := must[directivity.Mean](t)(absolute.SoundPower(directivity.Zones)).Watts(1, medium); err == nil {
		t.Error("watts at a drive of what is absolute")
	}
	if _, err := absolute.SoundPower(7); err == nil {
		t.Error("weights that there are not were taken")
	}
	if _, err := absolute.Average("nothing"); err == nil {
		t.Error("an average over nothing")
	}
}

func third[T any](_ T, err error) error { return err }

// A beam that is wide open to the left ends where it was measured to, not on the other side.
func TestBeamEndsWhereItWasMeasured(t *testing.T) {
	g := grid(t, 500, 1000, 1)
	for _, o := range [][2]float64{{-60, 90}, {-90, 60}} {
		set := must[*directivity.Set](t)(directivity.Simulate(g, fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
			if math.Abs(d.Degrees) == 90 {
				return freq.Gain(0.1), nil
			}
			return freq.Gain(1), nil
		}, orbit(directivity.Horizontal, o[0], o[1], 10)...))
		b := must[*directivity.Beamwidth](t)(set.Beamwidth(directivity.Horizontal, directivity.Side(0), 6))
		open, closed := b.Minus, b.Plus
		if o[0] == -90 {
			open, closed = closed, open
		}
		if !math.IsInf(open.At(0), 1) || math.Abs(closed.At(0)-83) > 1e-9 {
			t.Errorf("%g … %g°: %g° and %g°, want +Inf on the open side and 83° on the other (6 of 20 dB in 10°)", o[0], o[1], b.Minus.At(0), b.Plus.At(0))
		}
	}
}

// A beam that has fallen by 20 dB at the very next angle, 10° away, has fallen by 6 dB at 3°, and by
// half a decibel at a quarter of a degree.
func TestNarrowBeam(t *testing.T) {
	set := must[*directivity.Set](t)(directivity.Simulate(grid(t, 500, 1000, 1), fullSpace, "z", func(d directivity.Direction) (freq.Transfer, error) {
		if d.Degrees != 0 {
			return freq.Gain(0.1), nil
		}
		return freq.Gain(1), nil
	}, orbit(directivity.Horizontal, -170, 180, 10)...))
	for drop, want := range map[float64]float64{6: 3, 0.5: 0.25} {
		b := must[*directivity.Beamwidth](t)(set.Beamwidth(directivity.Horizontal, directivity.Side(0), drop))
		if math.Abs(b.Plus.At(0)-want) > 1e-9 || math.Abs(b.Minus.At(0)-want) > 1e-9 {
			t.Errorf("−%g dB at %g° and %g°, want %g°", drop, b.Plus.At(0), b.Minus.At(0), want)
		}
	}
}

// Files of different frequencies on one grid, and two files of the axis, one for each orbit.
func TestFolderOnAGrid(t *testing.T) {
	var fine, coarse strings.Builder
	for i := range 25 {
		f := 100 * math.Exp2(float64(i)/12)
		row := row1(f)
		fine.WriteString(row)
		if i%2 == 0 {
			coarse.WriteString(row)
		}
	}
	files := fstest.MapFS{"h0.txt": file("a", phased, fine.String()), "v0.txt": file("a", phased, coarse.String()), "v10.txt": file("a", phased, coarse.String())}
	names := []directivity.Names{{Pattern: "h#.txt", Sense: directivity.ToTheRight}, {Pattern: "v#.txt", Sense: directivity.Downward}}
	g := grid(t, 110, 390, 6)
	f := must[*directivity.FolderSet](t)(directivity.ReadFolder(files, ".", directivity.Folder{Names: names, On: g}))
	if f.Measured != nil || !f.Set.Grid().Equal(g) || len(f.Set.Points()) != 3 {
		t.Fatalf("%v on %v", f.Files, f.Set.Grid())
	}
	for _, d := range []directivity.Direction{directivity.Side(0), directivity.Up(0), directivity.Up(-10)} {
		r := must[freq.Response](t)(f.Set.Response(d))
		for i := range g.Len() {
			want := cmplx.Rect(0.1*math.Sqrt(g.At(i)/1000), -2*math.Pi*g.At(i)*1e-3)
			if cmplx.Abs(r.At(i)/want-1) > 1e-3 {
				t.Errorf("%v at %g Hz: %v, want %v", d, g.At(i), r.At(i), want)
			}
		}
	}
	// Another time zero is another one on any grid.
	other := fstest.MapFS{"h0.txt": files["h0.txt"], "v10.txt": file("b", phased, coarse.String())}
	if _, err := directivity.ReadFolder(other, ".", directivity.Folder{Names: names, On: g}); err == nil || !strings.Contains(err.Error(), `"b"`) {
		t.Errorf("two time zeros: %v", err)
	}
	// One time zero by the format, for files that name none.
	for k, v := range files {
		files[k] = &fstest.MapFile{Data: []byte(strings.Replace(string(v.Data), "# set: a\n", "", 1))}
	}
	folder := directivity.Folder{Names: names, On: g}
	if _, err := directivity.ReadFolder(files, ".", folder); err == nil {
		t.Error("files without a time zero")
	}
	folder.Format.TimeZero = "b"
	if c := must[*directivity.FolderSet](t)(directivity.ReadFolder(files, ".", folder)).Set.Clock(); c.TimeZero != "b" {
		t.Errorf("time zero %q", c.TimeZero)
	}
	folder.Format.TimeZero, folder.Phases = "", directivity.Separate
	if c := must[*directivity.FolderSet](t)(directivity.ReadFolder(files, ".", folder)).Set.Clock(); c.Phases != directivity.Separate || c.TimeZero != "" {
		t.Errorf("clock %+v", c)
	}
	folder.Phases, folder.Format.Columns = directivity.Unknown, []measure.Column{measure.Frequency, measure.LevelDB, measure.Ignored}
	if _, err := directivity.ReadFolder(files, ".", folder); err == nil || !strings.Contains(err.Error(), "resampling") {
		t.Errorf("levels on another grid: %v", err)
	}
}

// row1 is 0.1 Pa/V·√(f/kHz) with a delay of 1 ms, at 2 V re 20 µPa.
func row1(f float64) string {
	phase := math.Remainder(-360*f*1e-3, 360)
	return strings.Join([]string{ftoa(f), ftoa(80 + level.PowerDB(f/1000)), ftoa(phase)}, " ") + "\n"
}

func ftoa(v float64) string { return strconv.FormatFloat(v, 'f', 6, 64) }
