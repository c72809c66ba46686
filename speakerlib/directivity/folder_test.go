package directivity_test

import (
	"math"
	"math/cmplx"
	"os"
	"strings"
	"testing"
	"testing/fstest"

	"example.org/loudspeaker/speakerlib/directivity"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
)

const farField = "../../datasets/standmount/far-field"

// demo states the names of the demo's far-field files of one way.
func demo(way string) directivity.Folder {
	return directivity.Folder{Names: []directivity.Names{
		{Pattern: way + "-axis.txt", Sense: directivity.ToTheRight},
		{Pattern: way + "-side#.txt", Sense: directivity.ToTheRight},
		{Pattern: way + "-up#.txt", Sense: directivity.Upward},
		{Pattern: way + "-down#.txt", Sense: directivity.Downward},
	}}
}

func TestDemoFolder(t *testing.T) {
	f := must[*directivity.FolderSet](t)(directivity.ReadFolder(os.DirFS(farField), ".", demo("woofer")))
	if len(f.Files) != 9 || len(f.Skipped) != 27 {
		t.Fatalf("%d files and %d skipped, want 9 and the 27 of the other sources", len(f.Files), len(f.Skipped))
	}
	for _, s := range f.Skipped {
		if s.Why != "no pattern matches its name" {
			t.Errorf("%s: %s", s.Name, s.Why)
		}
	}
	if f.Set.UsableFrom() != 250 {
		t.Errorf("usable from %g Hz, want 250 as the files say", f.Set.UsableFrom())
	}
	// The sign: the file of 20° down is that of −20° vertically.
	got := must[freq.Response](t)(f.Set.Response(directivity.Up(-20)))
	want := must[freq.Response](t)(f.Measured.Response("woofer-down20"))
	for i := range got.Len() {
		if got.At(i) != want.At(i) {
			t.Fatalf("%g Hz: %v, want %v", got.Grid().At(i), got.At(i), want.At(i))
		}
	}
	// One side only: the others are missing until they are mirrored.
	if _, err := f.Set.Response(directivity.Side(-30)); err == nil {
		t.Error("30° left was not measured, and there was no error")
	}
	both := must[*directivity.Set](t)(f.Set.Mirror(directivity.Horizontal))
	p := must[directivity.Point](t)(both.Point(directivity.Side(-30)))
	if p.Origin != directivity.Mirrored {
		t.Errorf("30° left is %v, want mirrored", p.Origin)
	}
	if p := must[directivity.Point](t)(both.Point(directivity.Side(30))); p.Origin != directivity.Given {
		t.Errorf("30° right is %v, want given", p.Origin)
	}
	// The vertical orbit has the axis from the horizontal one.
	var angles []float64
	for _, p := range f.Set.Orbit(directivity.Vertical) {
		angles = append(angles, p.Direction.Degrees)
	}
	if len(angles) != 5 || angles[0] != -20 || angles[2] != 0 || angles[4] != 20 {
		t.Errorf("vertical angles %v, want −20 −10 0 10 20", angles)
	}
	if _, err := f.Set.Averages(directivity.Reading{}); err == nil || !strings.Contains(err.Error(), "behind") {
		t.Errorf("averages of a front: %v, want the missing directions", err)
	}
}

const header = "# quantity: sound pressure\n# space: full space\n# distance_m: 1\n# per: terminals\n# drive_V: 2\n# reference_Pa: 20e-6\n"

func file(zero, columns, rows string) *fstest.MapFile {
	h := header
	if zero != "" {
		h += "# set: " + zero + "\n"
	}
	return &fstest.MapFile{Data: []byte(h + "# columns: " + columns + "\n" + rows)}
}

const phased = "frequency_Hz level_dB phase_deg"

func TestFolderWithFaults(t *testing.T) {
	ok := file("a", phased, "100 80 0\n200 80 0\n")
	names := []directivity.Names{{Pattern: "h#.txt", Sense: directivity.ToTheRight}, {Pattern: "l#.txt", Sense: directivity.ToTheLeft}}
	for name, c := range map[string]struct {
		files  fstest.MapFS
		folder directivity.Folder
		want   []string
	}{
		"two of one direction": {fstest.MapFS{"h10.txt": ok, "h-350.txt": ok, "h20.txt": ok, "l-20.txt": ok}, directivity.Folder{Names: names},
			[]string{"h-350.txt and h10.txt are both 10° right", "h20.txt and l-20.txt are both 20° right"}},
		"minus and plus 180": {fstest.MapFS{"h180.txt": ok, "h-180.txt": ok}, directivity.Folder{Names: names}, []string{"both behind"}},
		"two meanings": {fstest.MapFS{"h10.txt": ok}, directivity.Folder{Names: append(names, directivity.Names{Pattern: "h#.txt", Sense: directivity.Upward})},
			[]string{"h10.txt", "10° right", "10° up", "one meaning"}},
		"missing": {fstest.MapFS{"h10.txt": ok}, directivity.Folder{Names: names, Want: []directivity.Direction{directivity.Side(10), directivity.Side(-20), directivity.Up(5)}},
			[]string{"no file for 20° left (horizontal), 5° up (vertical)"}},
		"nothing":      {fstest.MapFS{"x.txt": ok}, directivity.Folder{Names: names}, []string{"none of the 1 entries"}},
		"no patterns":  {fstest.MapFS{"h10.txt": ok}, directivity.Folder{}, []string{"without patterns"}},
		"no sense":     {fstest.MapFS{"h10.txt": ok}, directivity.Folder{Names: []directivity.Names{{Pattern: "h#.txt"}}}, []string{"sense", "ToTheRight"}},
		"two angles":   {fstest.MapFS{"h10.txt": ok}, directivity.Folder{Names: []directivity.Names{{Pattern: "h##.txt", Sense: 1}}}, []string{"one #"}},
		"unreadable":   {fstest.MapFS{"h10.txt": ok, "h20.txt": file("a", phased, "100 80\n"), "h30.txt": file("a", phased, "x 80 0\n")}, directivity.Folder{Names: names}, []string{"h20.txt", "h30.txt"}},
		"no time zero": {fstest.MapFS{"h10.txt": ok, "h20.txt": file("", phased, "100 80 0\n200 80 0\n")}, directivity.Folder{Names: names}, []string{"h20.txt", "time zero"}},
		"another one":  {fstest.MapFS{"h10.txt": ok, "h20.txt": file("b", phased, "100 80 0\n200 80 0\n")}, directivity.Folder{Names: names}, []string{"h20.txt", `"b"`, `"a"`}},
		"two by one name": {fstest.MapFS{"h10.txt": ok, "h15.txt": file("", phased, "100 80 0\n200 80 0\n"), "h20.txt": file("b", phased, "100 80 0\n200 80 0\n")}, directivity.Folder{Names: names, Format: measure.Format{TimeZero: "c"}},
			[]string{"h20.txt", `"b"`, `"a"`, `"c"`}},
		"another grid":  {fstest.MapFS{"h10.txt": ok, "h20.txt": file("a", phased, "100 80 0\n210 80 0\n")}, directivity.Folder{Names: names}, []string{"same frequencies"}},
		"no phase":      {fstest.MapFS{"h10.txt": file("a", "frequency_Hz level_dB", "100 80\n")}, directivity.Folder{Names: names}, []string{"h10.txt", "phase"}},
		"levels unsaid": {fstest.MapFS{"h10.txt": file("", "frequency_Hz magnitude_Pa", "100 80\n")}, directivity.Folder{Names: names, Phases: directivity.Unknown}, []string{"Format.Columns", "level_dB"}},
	} {
		_, err := directivity.ReadFolder(c.files, ".", c.folder)
		if err == nil {
			t.Errorf("%s: no error", name)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %v\nwant %q in it", name, err, w)
			}
		}
	}
	if _, err := directivity.ReadFolder(fstest.MapFS{}, "absent", directivity.Folder{Names: names}); err == nil {
		t.Error("a folder that is not there was read")
	}
}

// Names with what looks like an angle and is none are left alone, and told.
func TestFolderTellsWhatItSkips(t *testing.T) {
	ok := file("a", phased, "100 80 0\n200 80 0\n")
	f := must[*directivity.FolderSet](t)(directivity.ReadFolder(fstest.MapFS{
		"h-7.5.txt": ok, "h+10.txt": ok, "h.txt": ok, "h10a.txt": ok, "h1e1.txt": ok, "h500.txt": ok, "hInf.txt": ok, "h10.csv": ok, "sub/h20.txt": ok,
	}, ".", directivity.Folder{Names: []directivity.Names{{Pattern: "h#.txt", Sense: directivity.ToTheRight}}}))
	if len(f.Files) != 2 || len(f.Skipped) != 7 {
		t.Fatalf("files %v, skipped %v", f.Files, f.Skipped)
	}
	for _, a := range []float64{-7.5, 10} {
		if _, err := f.Set.Point(directivity.Side(a)); err != nil {
			t.Error(err)
		}
	}
	for _, s := range f.Skipped {
		if (s.Why == "a folder") != (s.Name == "sub") {
			t.Errorf("%s skipped: %s", s.Name, s.Why)
		}
	}
}

// Levels alone, by hand: 80 dB re 20 µPa at 2 V are 0.1 Pa/V. They give averages, and no sum.
func TestFolderOfLevels(t *testing.T) {
	files := fstest.MapFS{
		"h0.txt":  {Data: []byte(header + "100 80\n200 80\n")},
		"h10.txt": {Data: []byte(header + "100 74\n200 80\n")},
	}
	folder := directivity.Folder{Names: []directivity.Names{{Pattern: "h#.txt", Sense: directivity.ToTheRight}}, Phases: directivity.Unknown,
		Format: measure.Format{Columns: []measure.Column{measure.Frequency, measure.LevelDB}}}
	f := must[*directivity.FolderSet](t)(directivity.ReadFolder(files, ".", folder))
	m := must[freq.Curve](t)(f.Set.Magnitude(directivity.Side(0)))
	if math.Abs(m.At(0)-0.1) > 1e-12 {
		t.Errorf("magnitude %g Pa/V, want 0.1", m.At(0))
	}
	if _, err := f.Set.Response(directivity.Side(0)); err == nil || !strings.Contains(err.Error(), "no phases") {
		t.Errorf("a complex response of levels: %v", err)
	}
	if _, err := f.Set.Without(1e-3); err == nil {
		t.Error("a time of flight of levels was taken out")
	}
	if f.Measured != nil {
		t.Error("a measured set without time zero")
	}
	mean := must[directivity.Mean](t)(f.Set.Average("both", directivity.Side(0), directivity.Side(10)))
	if want := 0.1 * math.Sqrt((1+level.PowerRatio(-6))/2); math.Abs(mean.Pressure.At(0)-want) > 1e-12 {
		t.Errorf("mean %g, want %g", mean.Pressure.At(0), want)
	}
	folder.Phases = directivity.Separate
	if _, err := directivity.ReadFolder(files, ".", folder); err == nil {
		t.Error("complex responses from levels")
	}
}

func TestWithoutTakesOneFlightOut(t *testing.T) {
	f := must[*directivity.FolderSet](t)(directivity.ReadFolder(os.DirFS(farField), ".", demo("tweeter")))
	flight := must[float64](t)(f.Measured.Flight("tweeter-axis", 3000, 15000, 10e-3))
	s := must[*directivity.Set](t)(f.Set.Without(flight))
	if s.Clock().Removed != flight || s.UsableFrom() != 250 {
		t.Errorf("removed %g s, usable from %g Hz", s.Clock().Removed, s.UsableFrom())
	}
	for _, d := range []directivity.Direction{directivity.Side(0), directivity.Side(45), directivity.Up(-20)} {
		a, b := must[freq.Response](t)(f.Set.Response(d)), must[freq.Response](t)(s.Response(d))
		for i := range a.Len() {
			want := a.At(i) * cmplx.Rect(1, 2*math.Pi*a.Grid().At(i)*flight)
			if cmplx.Abs(b.At(i)-want) > 1e-9*cmplx.Abs(want) {
				t.Fatalf("%v at %g Hz: %v, want %v", d, a.Grid().At(i), b.At(i), want)
			}
		}
	}
}

// The demo's polar set: all 70 directions, in a band. The passive loudspeaker is the sum of
// what nobody took apart, so that it cannot be told from the ways; but the orbits agree
// where they meet, right is like left of a symmetric cabinet, and behind is the shadow.
func TestDemoPolarSet(t *testing.T) {
	read := func(way string) *directivity.Set {
		f := directivity.Folder{Names: []directivity.Names{{Pattern: way + "-side#.txt", Sense: directivity.ToTheRight}, {Pattern: way + "-up#.txt", Sense: directivity.Upward}},
			Want: directivity.Orbits70(), From: 250, To: 20e3}
		return must[*directivity.FolderSet](t)(directivity.ReadFolder(os.DirFS("../../datasets/standmount/polar"), ".", f)).Set
	}
	tweeter := read("tweeter")
	if g := tweeter.Grid(); g.First() < 250 || g.Last() > 20e3 || len(tweeter.Points()) != 70 {
		t.Errorf("%d points over %v, want 70 within 250 … 20000 Hz", len(tweeter.Points()), g)
	}
	db := func(s *directivity.Set, d directivity.Direction, hz float64) float64 {
		c := must[freq.Curve](t)(s.SPL(d, 2.83))
		return must[float64](t)(c.Interpolate(hz))
	}
	for _, a := range []float64{30, 90, 150} {
		if r, l := db(tweeter, directivity.Side(a), 2000), db(tweeter, directivity.Side(-a), 2000); math.Abs(r-l) > 0.6 {
			t.Errorf("tweeter at ±%g°: %.2f and %.2f dB at 2 kHz, want alike to the noise", a, r, l)
		}
	}
	if front, back := db(tweeter, directivity.Side(0), 6000), db(tweeter, directivity.Side(180), 6000); front-back < 12 {
		t.Errorf("tweeter at 6 kHz: %.1f dB in front, %.1f behind, want the shadow of the cabinet", front, back)
	}
	// Below the axis the microphone is nearer to the woofer than above.
	woofer := read("woofer")
	if up, down := db(woofer, directivity.Up(60), 300), db(woofer, directivity.Up(-60), 300); down < up {
		t.Errorf("woofer at 300 Hz: %.1f dB at 60° up, %.1f dB down, want more below", up, down)
	}
}

func TestFolderBandIsChecked(t *testing.T) {
	f := demo("woofer")
	f.From, f.To = 30e3, 40e3
	if _, err := directivity.ReadFolder(os.DirFS(farField), ".", f); err == nil || !strings.Contains(err.Error(), "woofer-axis.txt") {
		t.Errorf("%v, want an error that names the files", err)
	}
	for _, band := range [][2]float64{{250, 0}, {2000, 250}, {250, 250}, {-1, 20e3}, {math.NaN(), 20e3}, {250, math.NaN()}, {math.Inf(1), math.Inf(1)}} {
		f.From, f.To = band[0], band[1]
		if _, err := directivity.ReadFolder(os.DirFS(farField), ".", f); err == nil || !strings.Contains(err.Error(), "0 ≤ from < to") {
			t.Errorf("%v: %v, want an error that says what a band is", band, err)
		}
	}
	f.From, f.To = 0, math.Inf(1)
	if _, err := directivity.ReadFolder(os.DirFS(farField), ".", f); err != nil {
		t.Errorf("all of it: %v", err)
	}
}
