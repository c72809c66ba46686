package room_test

import (
	"math/cmplx"
	"slices"
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/room"
)

// Dampings of first order in β against the exact eigenvalues of walls with an impedance:
// testdata/impedance_box.py. On and beside peaks the level is within 0.3 dB, and elsewhere what
// differs is 0.04 of the sound at 1 m.
func TestModalFieldOfImpedanceWalls(t *testing.T) {
	w := &room.Walls{Length: 5.1, Width: 4.2, Height: 2.6, Air: air.Medium{Density: 1.2, SpeedOfSound: 343}}
	for k := range w.Surfaces {
		w.Surfaces[k] = room.Impedance{Zeta: freq.Gain(80)}
	}
	source, listener := room.Point{X: 0.7, Y: 1.1, Z: 0.8}, room.Point{X: 3.2, Y: 2, Z: 1.2}
	fine := must[*room.ModalField](t)(w.Modal(source, listener, 1600))
	for _, row := range testtable.Read(t, "testdata/impedance_box.csv") {
		hz := row.Number(t, "frequency_hz")
		want := complex(row.Number(t, "p_re"), row.Number(t, "p_im"))
		g := must[*freq.Grid](t)(freq.NewGrid([]float64{hz}))
		got := fine.ResponseTo(nil, g)[0]
		if off, within := cmplx.Abs(got-want), 0.04+0.03*cmplx.Abs(want); off > within {
			t.Errorf("%g Hz: %.4f, want %.4f within %.3f", hz, got, want, within)
		}
	}
}

// What modes from 400 Hz on add below 160 Hz, over places of loudspeakers and listeners: the
// numbers of ModalField's comment. That the sum goes to that of all images is in TestModesAreImages.
func TestWhatHigherModesAdd(t *testing.T) {
	w := &room.Walls{Length: 5.2, Width: 4.2, Height: 2.6, Air: air.Medium{Density: 1.2, SpeedOfSound: 343}}
	for k := range w.Surfaces {
		w.Surfaces[k] = room.Impedance{Zeta: freq.Gain(80)}
	}
	g := must[*freq.Grid](t)(freq.NewGrid([]float64{40, 100, 160}))
	var off []float64
	for _, sx := range []float64{0.4, 1} {
		for _, sy := range []float64{0.7, 2, 3.4} {
			for _, sz := range []float64{0.5, 1} {
				for _, lx := range []float64{2.8, 4} {
					for _, ly := range []float64{1.4, 2.9} {
						source, listener := room.Point{X: sx, Y: sy, Z: sz}, room.Point{X: lx, Y: ly, Z: 1.1}
						coarse := must[*room.ModalField](t)(w.Modal(source, listener, 400)).ResponseTo(nil, g)
						fine := must[*room.ModalField](t)(w.Modal(source, listener, 1600)).ResponseTo(nil, g)
						most := 0.0
						for i := range fine {
							most = max(most, cmplx.Abs(coarse[i]-fine[i]))
						}
						off = append(off, most)
					}
				}
			}
		}
	}
	slices.Sort(off)
	n := len(off)
	if least, middle, most := off[0], off[n/2], off[n-1]; n != 48 || least > 0.001 || middle < 0.008 || middle > 0.012 || most < 0.035 || most > 0.04 {
		t.Errorf("%d pairs of places: %.4f to %.4f, half of them below %.4f, want 48, 0.001 to 0.04 and 0.01", n, least, most, middle)
	}
}
