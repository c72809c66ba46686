package signalpath

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/signal"
)

// Event is something that happens in a path while nothing is played: a direct voltage that is switched on, or what a
// processor gives when its coefficients change.
type Event struct {
	// At is the name of the element that gives the samples, in front of its output impedance: in V, or FS
	// of a digital output.
	At         string
	Samples    []float64 // before them is silence, after them the last one stays
	SampleRate float64   // Hz
}

// Switched returns the event of a direct voltage, or of a digital value, that goes from 0 to a height
// along a ramp and stays: a raised cosine, height·(1 − cos(πt/ramp))/2, or a step with a ramp of 0 s.
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

// Transient returns what an event does behind its element: through all filters, into the loads, by one
// Fourier transform of at least four times the length of the samples, band-limited to half their rate. All
// transfers from it on must be known there (models, not measurements on a grid of their own, which end
// somewhere); at direct current they are taken as real, and as what they are at a thousandth of the lowest line.
// The last value stays for a length of the samples and goes back along half a cosine, out of sight.
func (p Path) Transient(e Event) (Transient, error) {
	k, err := p.index(e.At)
	if err != nil {
		return Transient{}, err
	}
	if err := e.validate(p.Elements[k]); err != nil {
		return Transient{}, err
	}
	n := signal.FastLength(4 * len(e.Samples))
	spectrum := transformed(e.Samples, n)
	first := e.SampleRate / float64(n)
	g, err := freq.LinearGrid(first, e.SampleRate/2, n/2)
	if err != nil {
		return Transient{}, err
	}
	h, err := p.behind(k, g)
	if err != nil {
		return Transient{}, err
	}
	low, err := freq.NewGrid([]float64{first / 1000})
	if err != nil {
		return Transient{}, err
	}
	dc, err := p.behind(k, low)
	if err != nil {
		return Transient{}, err
	}
	var t Transient
	make1 := func(which int) (clip *signal.Clip, peak float64, err error) {
		if h[which] == nil {
			return nil, 0, nil
		}
		y := backward(spectrum, h[which], real(dc[which][0]), n)[:len(e.Samples)]
		if clip, err = signal.NewClip(e.SampleRate, y); err != nil {
			return nil, 0, err
		}
		return clip, clip.Peak(), nil
	}
	if t.Terminals, t.Volts, err = make1(0); err != nil {
		return Transient{}, err
	}
	if t.Pressure, t.Pascal, err = make1(1); err != nil {
		return Transient{}, err
	}
	if t.Excursion, t.Displacement, err = make1(2); err != nil {
		return Transient{}, err
	}
	t.Level = level.SPL(t.Pascal)
	return t, nil
}

// behind returns the responses from the inner output of element k to the terminals, the sound and the
// displacement, which is nil if it is not known.
func (p Path) behind(k int, g *freq.Grid) ([3][]complex128, error) {
	var h [3][]complex128
	p.Elements, p.SourceResistance = p.Elements[k:], 0
	s, err := p.respond(g)
	if err != nil {
		return h, err
	}
	st := s.stages[0]
	h[0], h[1] = append([]complex128(nil), st.after...), make([]complex128, g.Len())
	if f, ok := st.element.(feeder); ok {
		z, err := f.output(g)
		if err != nil {
			return h, err
		}
		for i, y := range st.admit {
			h[0][i] /= 1 + z[i]*y
		}
	}
	for i, v := range h[0] {
		h[1][i] = v * s.sound[i]
	}
	if p.Driver.Displacement == nil {
		return h, nil
	}
	if h[2], err = evaluate(p.Driver.Name, p.Driver.Displacement, g); err != nil {
		return h, err
	}
	for i, v := range h[0] {
		h[2][i] *= v
	}
	return h, nil
}

func (e Event) validate(at Element) error {
	if _, ok := at.(block); !ok {
		return fmt.Errorf("signalpath: event at %q, want an element that gives a voltage or samples of its own", e.At)
	}
	if len(e.Samples) < 2 || len(e.Samples) > 1<<20 {
		return fmt.Errorf("signalpath: event at %q has %d samples, want 2 … %d", e.At, len(e.Samples), 1<<20)
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

// transformed returns the spectrum of samples that stay at their last value and go back to 0.
func transformed(x []float64, n int) []complex128 {
	long := make([]float64, n)
	copy(long, x)
	last := x[len(x)-1]
	for i := len(x); i < n; i++ {
		long[i] = last * (1 - fade(math.Max(float64(i-2*len(x)), 0), float64(len(x))))
	}
	return fourier.NewFFT(n).Coefficients(nil, long)
}

// backward returns the samples of a spectrum behind a response.
func backward(spectrum, h []complex128, dc float64, n int) []float64 {
	out := make([]complex128, len(spectrum))
	out[0] = spectrum[0] * complex(dc, 0)
	for i := 1; i < len(out); i++ {
		out[i] = spectrum[i] * h[i-1]
	}
	if n%2 == 0 { // the line at half the rate is real
		out[n/2] = complex(real(out[n/2]), 0)
	}
	y := fourier.NewFFT(n).Sequence(nil, out)
	for i := range y {
		y[i] /= float64(n)
	}
	return y
}

// ThumpRow is what switching on the offset of an element does.
type ThumpRow struct {
	Element string  `col:"offset of"`
	Offset  float64 `col:"offset" fmt:"%.3g"`                          // V or FS
	Volts   float64 `col:"at the terminals" unit:"mV peak" fmt:"%.3g"` // V
	Level   float64 `col:"sound, peak" unit:"dB" fmt:"%.1f"`
	Move    float64 `col:"excursion" unit:"µm peak" fmt:"%.3g"` // 0 if the driver does not tell
}

// Thumps returns what happens when the offset of each element is switched on, as by a relay or a mute
// behind nothing but itself, along a ramp: see [Switched]. Elements without an offset are left out.
func (p Path) Thumps(ramp, duration, sampleRate float64) ([]ThumpRow, error) {
	var rows []ThumpRow
	for _, el := range p.Elements {
		offset := 0.0
		switch e := el.(type) {
		case ADC:
			offset = e.Offset
		case DAC:
			offset = e.Offset
		case Amplifier:
			offset = e.Offset
		}
		if offset == 0 {
			continue
		}
		if r := el.out().rate; r > 0 && r != sampleRate {
			return nil, fmt.Errorf("signalpath: offset of %q is at %g Hz, want a run at that rate, not %g Hz", el.Label(), r, sampleRate)
		}
		e, err := Switched(el.Label(), offset, ramp, duration, sampleRate)
		if err != nil {
			return nil, err
		}
		t, err := p.Transient(e)
		if err != nil {
			return nil, err
		}
		rows = append(rows, ThumpRow{el.Label(), offset, t.Volts, t.Level, t.Displacement})
	}
	return rows, nil
}

// RampFor returns the shortest raised cosine, in seconds and to within 2 %, along which the offset or
// value at the element can be switched so that the peak of the sound stays at or below a bound in pascal. It
// doubles the ramp until that holds and then halves the interval; ramps of more than half of the
// duration are refused. The level falls with the ramp on the whole; where it ripples, a shorter ramp may do too.
func (p Path) RampFor(at string, height, pascal, duration, sampleRate float64) (float64, error) {
	if err := positive("the ramp", value{"bound of the sound", "Pa", pascal}); err != nil {
		return 0, err
	}
	peak := func(ramp float64) (float64, error) {
		e, err := Switched(at, height, ramp, duration, sampleRate)
		if err != nil {
			return 0, err
		}
		t, err := p.Transient(e)
		return t.Pascal, err
	}
	least, err := peak(0)
	if err != nil || least <= pascal {
		return 0, err
	}
	lo, hi := 0.0, 2/sampleRate
	for ; ; lo, hi = hi, 2*hi {
		if hi > duration/2 {
			return 0, fmt.Errorf("signalpath: sound of %g at %q is %.3g Pa peak with a ramp of %.3g s, want at most %.3g Pa: a longer duration than %g s, or a smaller offset",
				height, at, least, lo, pascal, duration)
		}
		if least, err = peak(hi); err != nil {
			return 0, err
		}
		if least <= pascal {
			break
		}
	}
	for hi-lo > 0.02*hi {
		mid := (lo + hi) / 2
		v, err := peak(mid)
		if err != nil {
			return 0, err
		}
		if v <= pascal {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi, nil
}
