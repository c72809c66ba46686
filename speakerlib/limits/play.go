package limits

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/signal"
)

// PlaySetup says what is played and how.
type PlaySetup struct {
	Clip    *signal.Clip
	Channel int     // from 0
	Volts   float64 // at the loudspeaker's input, V per unit of a sample
	Loop    bool    // played without end: what follows the end is the beginning
	Silence float64 // s after the end, in which the loudspeaker rings down; 0: 1 s; not in a loop
}

// Play is a programme that a loudspeaker is given.
//
// What any transfer makes of it is found by one transform over all of its length
// (of a loop over two passes, of which the second counts), so that peaks are exact
// for a linear loudspeaker, filters in place: no sine of the same level has those of
// music. Direct current is taken out. Peaks are those of the samples; between them
// a quantity can be higher, a sine by 1/cos(π·f/fs) at worst: 0.4 dB at a tenth of the
// sample rate, nothing to speak of for excursion and vent air. A Play belongs to one
// goroutine.
type Play struct {
	fft    *fourier.FFT
	rate   float64
	first  int // of the samples that count
	count  int
	grid   *freq.Grid   // lines 1 … n/2
	lines  []complex128 // of the input in V, over n
	input  signal.Statistics
	worked []complex128 // lines of the output; that of direct current stays 0
}

// NewPlay takes the spectrum of a clip. It takes 80 bytes a sample and is for minutes,
// not for hours.
func NewPlay(s PlaySetup) (*Play, error) {
	if s.Clip == nil {
		return nil, fmt.Errorf("limits: nothing to play, want a clip")
	}
	if !(s.Volts > 0) || math.IsInf(s.Volts, 0) {
		return nil, fmt.Errorf("limits: clip played at %g V per unit, want a finite value > 0", s.Volts)
	}
	if !(s.Silence >= 0) || math.IsInf(s.Silence, 0) {
		return nil, fmt.Errorf("limits: silence of %g s after a clip, want a finite value ≥ 0", s.Silence)
	}
	x, err := s.Clip.Channel(s.Channel)
	if err != nil {
		return nil, fmt.Errorf("limits: %w", err)
	}
	for i := range x {
		x[i] *= s.Volts
	}
	rate := s.Clip.SampleRate()
	p := &Play{rate: rate, count: len(x), input: signal.StatisticsOf(x)}
	length := len(x)
	switch {
	case s.Loop && signal.FastLength(length) == length: // periodic as it is
	case s.Loop:
		p.first, length = len(x), 2*len(x)
	case s.Silence == 0:
		s.Silence = 1
		fallthrough
	default:
		if all := float64(p.count) + s.Silence*rate; all > freq.MaxPoints {
			return nil, fmt.Errorf("limits: clip and silence of %.0f samples, want at most %d", all, freq.MaxPoints)
		}
		p.count += int(s.Silence * rate)
		length = p.count
	}
	n := signal.FastLength(length)
	if p.grid, err = freq.LinearGrid(rate/float64(n), rate/2, n/2); err != nil {
		return nil, fmt.Errorf("limits: clip of %d samples: %w", len(x), err)
	}
	padded := make([]float64, n)
	copy(padded, x)
	if p.first > 0 {
		copy(padded[p.first:], x)
	}
	p.fft = fourier.NewFFT(n)
	p.lines = p.fft.Coefficients(nil, padded)
	for k := range p.lines {
		p.lines[k] /= complex(float64(n), 0)
	}
	p.worked = make([]complex128, len(p.lines))
	return p, nil
}

// Input returns the statistics of the programme itself, in V.
func (p *Play) Input() signal.Statistics { return p.input }

// SampleRate returns the sample rate in hertz.
func (p *Play) SampleRate() float64 { return p.rate }

// Waveform returns what a transfer makes of the programme, a sample each, in the unit
// of the transfer times V.
func (p *Play) Waveform(t freq.Transfer) ([]float64, error) {
	if err := freq.CheckGrid(t, p.grid); err != nil {
		return nil, fmt.Errorf("limits: what is played: %w", err)
	}
	t.ResponseTo(p.worked[1:], p.grid)
	for k, z := range p.lines {
		p.worked[k] *= z
	}
	y := p.fft.Sequence(nil, p.worked)
	y = y[p.first : p.first+p.count]
	for i, v := range y {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, fmt.Errorf("limits: sample %d of what is played is %g, want finite values", i, v)
		}
	}
	return y, nil
}

// Reach is how far a programme goes towards one bound.
type Reach struct {
	Bound    Bound             `col:"bound"`
	Used     float64           `col:"used" unit:"%" fmt:"%.0f"`        // peak over the allowed one
	Headroom float64           `col:"headroom" unit:"dB" fmt:"%+.1f"`  // by which the programme can be turned up
	Over     float64           `col:"time beyond" unit:"%" fmt:"%.4f"` // share of the time: of the volts, what clips
	At       float64           `col:"peak at" unit:"s" fmt:"%.2f"`     // of the peak
	Crest    float64           `col:"crest" fmt:"%.1f"`                // peak over rms
	Peak     float64           // in the unit of the bound
	RMS      float64           // in the unit of the bound
	Levels   []signal.LevelBin // of the magnitude over the allowed peak, in steps of 1 dB from −60 dB
}

// Reaches returns how far the programme goes towards each bound, in their order.
//
// Heat is not a matter of peaks: of [Heat] what counts is the rms of the current over
// the whole programme, silence included, against that of the sine that is allowed,
// and Over is 0 or 1. With bounds of the cold coil that is on the safe side, because
// a warm one draws less; see [Play.Heating]. The bounds
// [WorstAmperes] and [ProgrammeHeat] hold for any programme of a peak and for the one
// that was stated, and count by the peak of the input. [Distortion] is known for
// sines only and is refused.
func (p *Play) Reaches(bounds []Bound) ([]Reach, error) {
	var out []Reach
	for _, b := range bounds {
		if b.Cause == Distortion {
			return nil, fmt.Errorf("limits: %v is known for sines, want bounds of what a programme can be put through", b)
		}
		if !(b.Peak > 0) || math.IsInf(b.Peak, 0) {
			return nil, fmt.Errorf("limits: peak of %v is %g %s, want a finite value > 0", b, b.Peak, b.Cause.Unit())
		}
		y, err := p.Waveform(b.PerVolt)
		if err != nil {
			return nil, fmt.Errorf("%w (%v)", err, b)
		}
		s := signal.StatisticsOf(y)
		r := Reach{Bound: b, Peak: s.Peak, RMS: s.RMS, Crest: s.Crest(), Used: s.Peak / b.Peak}
		var over int
		for i, v := range y {
			if math.Abs(v) > b.Peak {
				over++
			}
			if math.Abs(v) == s.Peak && r.At == 0 {
				r.At = float64(i) / p.rate
			}
		}
		r.Over = float64(over) / float64(len(y))
		if b.Cause == Heat {
			if r.Used, r.Over = s.RMS*math.Sqrt2/b.Peak, 0; r.Used > 1 {
				r.Over = 1
			}
		}
		r.Headroom = -level.DB(r.Used)
		r.Levels, err = signal.Histogram(y, signal.HistogramSetup{Reference: b.Peak, Lowest: -60, Step: 1})
		if err != nil {
			return nil, fmt.Errorf("limits: levels of %v: %w", b, err)
		}
		out = append(out, r)
	}
	return out, nil
}

// Level returns the level of the programme through a pressure per volt, in dB SPL:
// the rms over all of its time, and the peak re 20 µPa as it stands.
func (p *Play) Level(output freq.Transfer) (rms, peak float64, err error) {
	y, err := p.Waveform(output)
	if err != nil {
		return 0, 0, err
	}
	s := signal.StatisticsOf(y)
	return level.SPL(s.RMS), level.SPL(s.Peak), nil
}
