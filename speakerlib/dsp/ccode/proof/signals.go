package proof

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// MaxSamples is the longest signal that is run.
const MaxSamples = 1 << 20

// Signal is what a program is fed with, in full scale. Beyond the range of its format it is
// clipped at the input, as a converter does.
type Signal struct {
	Name    string
	Samples []float64
}

func (s Signal) check() error {
	if s.Name == "" || len(s.Samples) == 0 || len(s.Samples) > MaxSamples {
		return fmt.Errorf("proof: signal %q of %d samples, want a name and 1 to %d of them", s.Name, len(s.Samples), MaxSamples)
	}
	for i, v := range s.Samples {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("proof: sample %d of signal %q is %g, want a finite number", i, s.Name, v)
		}
	}
	return nil
}

// Impulse returns one sample of a height, and silence: what comes out is the impulse
// response times it.
func Impulse(height float64, n int) Signal {
	s := Signal{Name: "impulse", Samples: make([]float64, n)}
	if n > 0 {
		s.Samples[0] = height
	}
	return s
}

// Sweep returns an exponential sweep between two frequencies, in shares of the sample
// rate, 0 < from < to ≤ ½.
func Sweep(height, from, to float64, n int) Signal {
	s := Signal{Name: "sweep", Samples: make([]float64, n)}
	rate := math.Log(to/from) / float64(n)
	for i := range s.Samples {
		s.Samples[i] = height * math.Sin(2*math.Pi*from*math.Expm1(rate*float64(i))/rate)
	}
	return s
}

// Noise returns white Gaussian noise of an rms value from a seed.
func Noise(rms float64, n int, seed uint64) Signal {
	s := Signal{Name: "noise", Samples: make([]float64, n)}
	random := rand.New(rand.NewPCG(seed, 0x90ff))
	for i := range s.Samples {
		s.Samples[i] = rms * random.NormFloat64()
	}
	return s
}

// Overload returns noise in bursts far beyond full scale, of either sign: what drives sums
// into their limits.
func Overload(n int, seed uint64) Signal {
	s := Signal{Name: "overload", Samples: make([]float64, n)}
	random := rand.New(rand.NewPCG(seed, 0x0e12))
	for i := range s.Samples {
		s.Samples[i] = math.Copysign(2*random.Float64(), math.Sin(float64(i)*float64(i)/20000))
	}
	return s
}
