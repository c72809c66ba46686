package room_test

import (
	"testing"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/room"
)

var medium = air.Medium{Density: 1.2, SpeedOfSound: 343}

func must[T any](t testing.TB) func(v T, err error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

func grid(t testing.TB, lo, hi float64, n int) *freq.Grid {
	t.Helper()
	return must[*freq.Grid](t)(freq.LogGrid(lo, hi, n))
}

// rigid returns rigid walls, without far ones.
func rigid(w ...room.Wall) *room.Walls {
	r := &room.Walls{Air: medium}
	for _, k := range w {
		r.Surfaces[k] = room.Rigid{}
	}
	return r
}

// closed returns a room of 5.1 × 4.3 × 2.6 m, all walls alike.
func closed(s room.Surface) *room.Walls {
	r := &room.Walls{Length: 5.1, Width: 4.3, Height: 2.6, Air: medium}
	for k := range r.Surfaces {
		r.Surfaces[k] = s
	}
	return r
}
