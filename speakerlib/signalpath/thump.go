package signalpath

import "fmt"

// ThumpRow is what switching on the offset of an element does.
type ThumpRow struct {
	Element string  `col:"offset of"`
	Offset  float64 `col:"offset" fmt:"%.3g"`                          // V or FS
	Volts   float64 `col:"at the terminals" unit:"mV peak" fmt:"%.3g"` // V
	Level   float64 `col:"sound, peak" unit:"dB" fmt:"%.1f"`           // re 20 µPa, not weighted, where the driver's response is known
	Move    float64 `col:"excursion" unit:"µm peak" fmt:"%.3g"`        // 0 if the driver does not tell
}

// Thumps returns what happens when the offset of each element is switched on, as by a relay or a
// mute behind nothing but itself, along a ramp: see [Switched]. Elements without an offset are
// left out.
func (p Path) Thumps(ramp, duration, sampleRate float64) ([]ThumpRow, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	var rows []ThumpRow
	for _, el := range p.Elements {
		offset := 0.0
		switch e := el.(type) {
		case ADC:
			offset = e.Offset
		case Processor:
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

// RampFor returns the shortest raised cosine, in seconds and to within 2 %, along which the offset
// or value at the element can be switched so that the peak of the sound stays at or below a bound
// in pascal. It doubles the ramp until that holds and then halves the interval; ramps of more than
// half of the duration are refused. The level falls with the ramp on the whole; where it ripples,
// a shorter ramp may do too.
func (p Path) RampFor(at string, height, pascal, duration, sampleRate float64) (float64, error) {
	if err := positive("the ramp", value{"bound of the sound", "Pa", pascal}); err != nil {
		return 0, err
	}
	step, err := Switched(at, height, 0, duration, sampleRate)
	if err != nil {
		return 0, err
	}
	if err := step.validate(p); err != nil {
		return 0, err
	}
	b, err := p.behind(at, len(step.Samples), sampleRate)
	if err != nil {
		return 0, err
	}
	peak := func(ramp float64) (float64, error) {
		e, err := Switched(at, height, ramp, duration, sampleRate)
		if err != nil {
			return 0, err
		}
		return largest(b.samples(b.transformed(e.Samples), b.sound)), nil
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
