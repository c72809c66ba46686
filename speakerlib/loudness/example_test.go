package loudness_test

import (
	"fmt"
	"testing"

	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/loudness"
	"example.org/loudspeaker/speakerlib/signal"
)

// Two loudspeakers are brought to one loudness with programme noise, and compared
// in 16 trials of which nobody knows the order. The loudspeakers are invented.
func Example() {
	p, err := loudness.FromShape(signal.NoiseSetup{SampleRate: 48000, Duration: 10, From: 20, To: 20000, Shape: signal.Programme{}, RMS: 0.1, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err := loudness.Match(pair(&testing.T{}), p, loudness.Settings{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, v := range m.Variants {
		fmt.Printf("%s: %.2f dB\n", v.Name, level.DB(v.Gain))
	}
	fmt.Println("within 0.1 dB:", m.Within())
	plan, err := loudness.NewPlan(m, loudness.PlanSetup{Test: loudness.ABX, Trials: 16, Seed: 42})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("correct answers needed of 16:", plan.Sheet.Needed)
	fmt.Println("key as announced:", plan.Sheet.CheckKey(plan.Key()) == nil)
	// Output:
	// large: -6.13 dB
	// small: 0.00 dB
	// within 0.1 dB: true
	// correct answers needed of 16: 12
	// key as announced: true
}

// A minute of stereo.
func BenchmarkOf(b *testing.B) {
	c := clip(b, 48000, 60, left, right)
	for b.Loop() {
		if _, err := loudness.Of(c); err != nil {
			b.Fatal(err)
		}
	}
}

// Two variants with ten seconds of one channel, peaks included.
func BenchmarkMatch(b *testing.B) {
	p, err := loudness.FromClip(clip(b, 48000, 10, left))
	if err != nil {
		b.Fatal(err)
	}
	v := pair(b)
	for b.Loop() {
		if _, err := loudness.Match(v, p, loudness.Settings{}); err != nil {
			b.Fatal(err)
		}
	}
}
