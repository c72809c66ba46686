package signalpath

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/signal"
)

// Event is something that happens in a path while nothing is played: a direct voltage that is
// switched on, or what a processor gives when its coefficients change.
type Event struct {
	// At is the name of the element that gives the samples, in front of its output impedance: in
	// V, or FS of a digital output.
	At         string
	Samples    []float64 // before them is silence, after them the last one stays
	SampleRate float64   // Hz
	Since      int       // sample from which on peaks count: what comes before is the run-up
}

// Switched returns the event of a direct voltage, or of a digital value, that goes from 0 to a
// height along a ramp and stays: a raised cosine, height·(1 − cos(πt/ramp))/2, or a step with a
// ramp of 0 s.
func Switched(at string, height float64, ramp, duration, sampleRate float64) (Event, error) {
	e := Event{At: at, SampleRate: sampleRate}
	if math.IsNaN(height) || math.IsInf(height, 0) || !(ramp >= 0) || !(duration > ramp) || !(sampleRate > 0) {
		return e, fmt.Errorf("signalpath: step of %g in %g s of %g s at %g Hz, want finite values and a ramp shorter than the whole", height, ramp, duration, sampleRate)
	}
	n := duration * sampleRate
	if !(n >= 2) || n > 1<<20 {
		return e, fmt.Errorf("signalpath: %g s at %g Hz are %g samples, want 2 … %d", duration, sampleRate, n, 1<<20)
	}
	e.Samples = make([]float64, int(n))
	for i := range e.Samples {
		e.Samples[i] = height * fade(float64(i)/sampleRate, ramp)
	}
	return e, nil
}

// fade returns (1 − cos(πt/ramp))/2, 1 after the ramp.
func fade(t, ramp float64) float64 {
	if t >= ramp {
		return 1
	}
	x := math.Sin(math.Pi * t / ramp / 2)
	return x * x
}

// Transient is what an event does at the driver and as sound.
type Transient struct {
	Volts        float64 // V peak at the terminals
	Pascal       float64 // Pa peak where the driver's response is known
	Level        float64 // that peak in dB re 20 µPa: 3.01 dB above that of a sine of the same peak
	Displacement float64 // m peak; 0 if the driver does not tell

	Terminals, Pressure *signal.Clip // V, Pa
	Excursion           *signal.Clip // m; nil if the driver does not tell
}

// Transient returns what an event does behind its element: through all filters, into the loads, by
// one Fourier transform of at least four times the length of the samples, band-limited to half
// their rate. All transfers from it on must be known there (models, not measurements on a grid of
// their own, which end somewhere); at direct current they are taken as real, and as what they are
// at a thousandth of the lowest line. The last value stays for a length of the samples and goes
// back along half a cosine, out of sight.
func (p Path) Transient(e Event) (Transient, error) {
	if err := e.validate(p); err != nil {
		return Transient{}, err
	}
	b, err := p.behind(e.At, len(e.Samples), e.SampleRate)
	if err != nil {
		return Transient{}, err
	}
	spectrum := b.transformed(e.Samples)
	var t Transient
	for _, out := range []struct {
		r    response
		clip **signal.Clip
		peak *float64
	}{{b.terminals, &t.Terminals, &t.Volts}, {b.sound, &t.Pressure, &t.Pascal}, {b.excursion, &t.Excursion, &t.Displacement}} {
		if out.r.h == nil {
			continue
		}
		y := b.samples(spectrum, out.r)
		if *out.clip, err = signal.NewClip(e.SampleRate, y); err != nil {
			return Transient{}, err
		}
		*out.peak = largest(y[e.Since:])
	}
	t.Level = level.SPL(t.Pascal)
	return t, nil
}

// behind is what is behind the inner output of an element, on the lines of a Fourier transform.
type behind struct {
	fft                         *fourier.FFT
	length                      int // of the samples
	terminals, sound, excursion response
}

// response is a response at the lines of a transform from the first on, and its value at direct
// current.
type response struct {
	h  []complex128
	dc float64
}

func (p Path) behind(at string, length int, sampleRate float64) (*behind, error) {
	k, err := p.index(at)
	if err != nil {
		return nil, err
	}
	p.Elements, p.SourceResistance = p.Elements[k:], 0
	if l := p.latency() - p.Elements[0].(block).delay().total(); l*sampleRate >= float64(length) {
		return nil, fmt.Errorf("signalpath: event at %q takes %g s and is heard %g s later, want it longer than that", at, float64(length)/sampleRate, l)
	}
	n := signal.FastLength(4 * length)
	first := sampleRate / float64(n)
	g, err := freq.LinearGrid(first, sampleRate/2, n/2)
	if err != nil {
		return nil, err
	}
	low, err := freq.NewGrid([]float64{first / 1000})
	if err != nil {
		return nil, err
	}
	b := &behind{fft: fourier.NewFFT(n), length: length}
	for _, to := range []struct {
		r     *response
		after freq.Transfer
	}{{&b.terminals, freq.Gain(1)}, {&b.sound, p.Driver.Pressure}, {&b.excursion, p.Driver.Displacement}} {
		if to.after == nil {
			continue
		}
		if to.r.h, err = p.fromFirst(g, to.after); err != nil {
			return nil, err
		}
		dc, err := p.fromFirst(low, to.after)
		if err != nil {
			return nil, err
		}
		to.r.dc = real(dc[0])
	}
	return b, nil
}

// fromFirst returns the response from the inner output of the first element to what a transfer
// makes of the voltage at the terminals.
func (p Path) fromFirst(g *freq.Grid, after freq.Transfer) ([]complex128, error) {
	s, err := p.respond(g)
	if err != nil {
		return nil, err
	}
	h, err := evaluate(p.Driver.Name, after, g)
	if err != nil {
		return nil, err
	}
	st := s.stages[0]
	for i, v := range st.after {
		h[i] *= v
	}
	for i, d := range st.divider {
		h[i] *= d
	}
	return h, nil
}

// transformed returns the spectrum of samples that stay at their last value and go back to 0.
func (b *behind) transformed(x []float64) []complex128 {
	long := make([]float64, b.fft.Len())
	copy(long, x)
	last := x[len(x)-1]
	for i := len(x); i < len(long); i++ {
		long[i] = last * (1 - fade(math.Max(float64(i-2*len(x)), 0), float64(len(x))))
	}
	return b.fft.Coefficients(nil, long)
}

// samples returns those of a spectrum behind a response.
func (b *behind) samples(spectrum []complex128, r response) []float64 {
	n := b.fft.Len()
	out := make([]complex128, len(spectrum))
	out[0] = spectrum[0] * complex(r.dc, 0)
	for i := 1; i < len(out); i++ {
		out[i] = spectrum[i] * r.h[i-1]
	}
	out[n/2] = complex(real(out[n/2]), 0) // n is even; the line at half the rate is real
	y := b.fft.Sequence(nil, out)[:b.length]
	for i := range y {
		y[i] /= float64(n)
	}
	return y
}

func largest(x []float64) float64 {
	var most float64
	for _, v := range x {
		most = max(most, math.Abs(v))
	}
	return most
}

func (e Event) validate(p Path) error {
	if err := p.Validate(); err != nil {
		return err
	}
	k, err := p.index(e.At)
	if err != nil {
		return err
	}
	at := p.Elements[k]
	if _, ok := at.(block); !ok {
		return fmt.Errorf("signalpath: event at %q, want an element that gives a voltage or samples of its own", e.At)
	}
	if len(e.Samples) < 2 || len(e.Samples) > 1<<20 {
		return fmt.Errorf("signalpath: event at %q has %d samples, want 2 … %d", e.At, len(e.Samples), 1<<20)
	}
	if e.Since < 0 || e.Since >= len(e.Samples) {
		return fmt.Errorf("signalpath: peaks of the event at %q count from sample %d of %d, want one of them", e.At, e.Since, len(e.Samples))
	}
	if err := positive("the event", value{"sample rate", "Hz", e.SampleRate}); err != nil {
		return err
	}
	for i, v := range e.Samples {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("signalpath: sample %d of the event at %q is %g, want a finite value", i, e.At, v)
		}
	}
	if r := at.out().rate; r > 0 && r != e.SampleRate {
		return fmt.Errorf("signalpath: event at %q is sampled at %g Hz, want the rate there, %g Hz", e.At, e.SampleRate, r)
	}
	return nil
}
