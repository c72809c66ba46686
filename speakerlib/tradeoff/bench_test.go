package tradeoff

import (
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/limits"
)

// benchStudy is the study of testdata/numpy_search.py: 5 volumes × 40 tunings × 2
// shapes × 25 extensions = 10 000 candidates at 240 frequencies.
func benchStudy(t testing.TB) *Study {
	g, err := freq.LogGrid(12, 12*31.6, 48)
	if err != nil || g.Len() != 240 {
		t.Fatalf("grid %v (%v), want 240 points", g, err)
	}
	return &Study{
		Woofers: []Woofer{{Name: "A", Driver: driver.Params{Re: 5.5, Bl: 7.5, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.85, Sd: 0.0138, Coil: driver.Inductor{Le: 0.4e-3}}, Excursion: 6e-3}},
		Book:    enclosure.Book{VentWall: 3e-3, VentRoom: 0.25},
		Gross:   Range{From: 0.012, To: 0.020, Steps: 4}, Tunings: Range{From: 34, To: 53.5, Steps: 39},
		Vent:         enclosure.Vent{Diameter: 0.052, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1},
		VentedLosses: enclosure.Losses{QL: 8}, Air: air.Medium{Density: 1.2, SpeedOfSound: 343},
		Shapes:    []analog.Prototype{analog.Butterworth(4), analog.Butterworth(6)},
		Extension: Range{From: 30, To: 42, Steps: 24}, Drop: 6,
		Level: 97, Crest: 12, VentAir: 20, Amplifier: limits.Amplifier{PeakVolts: 30, PeakAmperes: 14},
		Delays: []DelayLimit{{At: 38.5, Most: 30e-3}},
		Grid:   g, SearchFrom: 12, SearchTo: 380,
		Objectives: []Objective{Extension, Level, Delay},
	}
}

func BenchmarkSearch10000x240(b *testing.B) {
	s := benchStudy(b)
	for b.Loop() {
		r, err := s.Search()
		if err != nil || len(r.Points)+r.Unbuilt != 10000 {
			b.Fatal(err)
		}
	}
}

// BenchmarkCandidate is one candidate of a box that is mounted.
func BenchmarkCandidate(b *testing.B) {
	w, target := benchWork(b)
	var p Point
	b.ReportAllocs()
	for b.Loop() {
		w.measure(&p, target, 0)
	}
}

// BenchmarkBox is what a box costs before its first candidate.
func BenchmarkBox(b *testing.B) {
	w, _ := benchWork(b)
	for k := 0; b.Loop(); k++ {
		if err := w.mount(0, 0.0152, 40+float64(k%2)); err != nil {
			b.Fatal(err)
		}
	}
}

func benchWork(t testing.TB) (*work, *target) {
	w, err := newWork(benchStudy(t))
	if err != nil {
		t.Fatal(err)
	}
	if err := w.mount(0, 0.0152, 40); err != nil {
		t.Fatal(err)
	}
	target, err := w.newTarget(analog.Butterworth(6), 35)
	if err != nil {
		t.Fatal(err)
	}
	return w, target
}

func TestCandidateDoesNotAllocate(t *testing.T) {
	w, target := benchWork(t)
	var p Point
	if n := testing.AllocsPerRun(100, func() { w.measure(&p, target, 0) }); n != 0 {
		t.Errorf("a candidate allocates %g times", n)
	}
}
