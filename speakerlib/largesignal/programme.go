package largesignal

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/signal"
)

// Programme is what a programme did.
type Programme struct {
	Account Account
	RMS     float64 // of the sound pressure at 1 m in half space, Pa
	// Lost is the rms of the sound pressure over that of the same model for small
	// signals, cold and without an amplifier's limits: a ratio.
	Lost    float64
	Clipped float64 // share of the time at the limit of voltage, or of current
	Beyond  float64 // share of the time outside the measured range
	// Levels are those of the sound pressure, dB re 20 µPa, in steps of 3 dB and in
	// stretches of 125 ms, from the lowest that there is.
	Levels []signal.LevelBin
}

// Level returns that of RMS, dB re 20 µPa.
func (p *Programme) Level() float64 { return level.SPL(p.RMS) }

// Programme plays volts at the source, sampled at a rate, so many times over (1 or more)
// from rest. The coil's heat goes on from one time to the next; everything but Account is
// that of the last time. For heat, which takes minutes to hours to come to its end, play
// a programme often.
//
// Programme played at high level hurts drivers, and hearing: this is the place to look
// before the bench is.
func (m *Model) Programme(volts []float64, rate float64, times int) (*Programme, error) {
	if len(volts) == 0 || times < 1 {
		return nil, fmt.Errorf("largesignal: programme of %d samples played %d times, want 1 or more", len(volts), times)
	}
	for k, v := range volts {
		if !finite(v) {
			return nil, fmt.Errorf("largesignal: sample %d of the programme is %g V, want a finite value", k, v)
		}
	}
	r, err := m.NewRun(rate)
	if err != nil {
		return nil, err
	}
	sound := make([]float64, len(volts))
	trace := &Trace{Sound: sound}
	var before Account
	for range times {
		before = r.Account()
		r.Play(volts, trace)
	}
	a := r.Account()
	if !a.Finite {
		return nil, fmt.Errorf("largesignal: the programme left the range of numbers, want a lower level or a higher rate")
	}
	p := &Programme{Account: a, RMS: signal.StatisticsOf(sound).RMS}
	seconds := a.Seconds - before.Seconds
	p.Clipped = (a.Clipped - before.Clipped + a.Limited - before.Limited) / seconds
	p.Beyond = (a.Beyond - before.Beyond) / seconds
	p.Levels, err = signal.Histogram(sound, signal.HistogramSetup{Reference: 20e-6, Lowest: 40, Step: 3, Window: max(1, int(rate/8))})
	if err != nil {
		return nil, err
	}
	for len(p.Levels) > 1 && p.Levels[0].Share == 0 {
		p.Levels = p.Levels[1:]
	}
	small, err := m.small().NewRun(rate)
	if err != nil {
		return nil, err
	}
	small.Play(volts, trace)
	p.Lost = 1 // of silence
	if s := signal.StatisticsOf(sound).RMS; s > 0 {
		p.Lost = p.RMS / s
	}
	return p, nil
}

// small returns the model with everything as it is at rest, cold, on an amplifier
// without limits.
func (m *Model) small() *Model {
	s := *m
	s.options.Amplifier, s.options.Heat = Amplifier{}, nil
	s.bl, s.kms, s.le, s.saturation = constant(), constant(), constant(), saturation{}
	s.lo, s.hi = math.Inf(-1), math.Inf(1)
	s.box.jet = 0
	s.prepare(m.fast.density * 2 * math.Pi)
	return &s
}
