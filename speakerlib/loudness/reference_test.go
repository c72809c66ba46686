package loudness_test

import (
	"math"
	"testing"

	"example.org/loudspeaker/speakerlib/internal/testtable"
	"example.org/loudspeaker/speakerlib/signal"
)

// scipy returns the rows of one kind of testdata/loudness_scipy.csv (see
// loudness_scipy.py).
func scipy(t *testing.T, kind string) []testtable.Row {
	t.Helper()
	return testtable.Select(t, testtable.Read(t, "testdata/loudness_scipy.csv"), "kind", kind)
}

// clip samples functions of time.
func clip(t testing.TB, rate, duration float64, channels ...func(t float64) float64) *signal.Clip {
	t.Helper()
	var x [][]float64
	for _, f := range channels {
		s := make([]float64, int(math.Round(rate*duration)))
		for n := range s {
			s[n] = f(float64(n) / rate)
		}
		x = append(x, s)
	}
	c, err := signal.NewClip(rate, x...)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func sine(hz, amplitude float64) func(float64) float64 {
	return func(t float64) float64 { return amplitude * math.Sin(2*math.Pi*hz*t) }
}

// The signals of loudness_scipy.py.
func envelope(t float64) float64 {
	e := 0.5
	if int(math.Floor(t/1.5))%2 != 0 {
		e = 0.05 + 0.02*math.Sin(2*math.Pi*0.37*t)
	}
	if t > 8 {
		e *= 1e-4
	}
	return e
}

func left(t float64) float64 {
	return envelope(t) * (0.5*math.Sin(2*math.Pi*53.7*t) + 0.3*math.Sin(2*math.Pi*971.3*t+1) + 0.2*math.Sin(2*math.Pi*7013.1*t+2))
}

func right(t float64) float64 { return 0.3 * envelope(t) * math.Sin(2*math.Pi*(200+40*t)*t) }
