package loudness

import (
	"fmt"
	"math"
	"slices"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// run is what a match works with.
type run struct {
	variants []Variant
	p        *Programme
	grid     *freq.Grid
	ceiling  float64
	input    float64    // true peak of the programme
	impulses []*impulse // of the responses
	outputs  [][]*impulse
	spectrum []float64 // the gain of each by the spectrum's route
	buffer   []float64
}

func newRun(variants []Variant, p *Programme, s Settings) (*run, error) {
	if len(variants) < 2 {
		return nil, fmt.Errorf("loudness: %d variants, want at least 2 to match", len(variants))
	}
	if p == nil {
		return nil, fmt.Errorf("loudness: no programme to match with")
	}
	if s.Lines == 0 {
		s.Lines = 16384
	}
	if s.Ceiling == 0 {
		s.Ceiling = 1
	}
	if !(s.Ceiling > 0) || s.Ceiling > 1 {
		return nil, fmt.Errorf("loudness: ceiling of %g of full scale, want 0 < ceiling ≤ 1", s.Ceiling)
	}
	g, err := Lines(p.SampleRate(), s.Lines)
	if err != nil {
		return nil, err
	}
	r := &run{variants: variants, p: p, grid: g, ceiling: s.Ceiling, input: TruePeak(p.clip), buffer: make([]float64, p.clip.Len())}
	k, err := Weighting(p.SampleRate())
	if err != nil {
		return nil, err
	}
	weighted := k.ResponseTo(nil, g)
	power := make([]float64, g.Len())
	for i, z := range weighted {
		half := g.First() / 2
		power[i] = p.power(g.At(i)-half, g.At(i)+half) * (real(z)*real(z) + imag(z)*imag(z))
	}
	for i, v := range variants {
		if v.Name == "" || r.index(v.Name) != i {
			return nil, fmt.Errorf("loudness: variant %d is called %q, want names that differ", i+1, v.Name)
		}
		if v.Response == nil {
			return nil, fmt.Errorf("loudness: variant %q has no response", v.Name)
		}
		drive := v.Drive
		if drive == 0 {
			drive = 1
		}
		if !(drive > 0) || math.IsInf(drive, 0) {
			return nil, fmt.Errorf("loudness: variant %q is driven with %g at full scale, want a finite value > 0", v.Name, v.Drive)
		}
		if b, ok := v.Response.(stated); ok {
			if q := b.Basis().Quantity; q != freq.Pressure && q != freq.Dimensionless {
				return nil, fmt.Errorf("loudness: variant %q is %v, want a sound pressure", v.Name, b.Basis())
			}
			if b.Basis().Per == freq.PerFullScale && drive != 1 {
				return nil, fmt.Errorf("loudness: variant %q is %v and driven with %g at full scale, want 1, or a response per volt", v.Name, b.Basis(), drive)
			}
		}
		if err := r.sameBasis(i); err != nil {
			return nil, err
		}
		h, err := newImpulse(fmt.Sprintf("variant %q", v.Name), freq.Series{v.Response, freq.Gain(drive)}, g, false)
		if err != nil {
			return nil, err
		}
		var sum float64
		for n, z := range h.lines[1:] {
			sum += power[n] * (real(z)*real(z) + imag(z)*imag(z))
		}
		if !(sum > 0) || math.IsInf(sum, 0) {
			return nil, fmt.Errorf("loudness: variant %q plays the programme with the power %g, want a finite value > 0", v.Name, sum)
		}
		r.impulses = append(r.impulses, h)
		r.spectrum = append(r.spectrum, level.Ratio(p.own.Ungated-offset-level.PowerDB(sum)))
		var outputs []*impulse
		for k, o := range v.Outputs {
			if o.Name == "" || slices.ContainsFunc(v.Outputs[:k], func(p Output) bool { return p.Name == o.Name }) {
				return nil, fmt.Errorf("loudness: output %d of variant %q is called %q, want names that differ", k+1, v.Name, o.Name)
			}
			if o.Transfer == nil {
				return nil, fmt.Errorf("loudness: output %q of variant %q has no transfer", o.Name, v.Name)
			}
			h, err := newImpulse(fmt.Sprintf("output %q of variant %q", o.Name, v.Name), o.Transfer, g, true)
			if err != nil {
				return nil, err
			}
			outputs = append(outputs, h)
		}
		r.outputs = append(r.outputs, outputs)
	}
	return r, nil
}

// index returns the first variant of a name, or −1.
func (r *run) index(name string) int {
	for i, v := range r.variants {
		if v.Name == name {
			return i
		}
	}
	return -1
}

// stated is a response that says what it is.
type stated interface{ Basis() freq.Basis }

// sameBasis reports a variant whose response states another quantity, space or distance
// than one before it. What it is divided by is what Drive is in, and may differ.
func (r *run) sameBasis(i int) error {
	own, ok := r.variants[i].Response.(stated)
	if !ok {
		return nil
	}
	for _, v := range r.variants[:i] {
		other, ok := v.Response.(stated)
		if !ok {
			continue
		}
		a, b := other.Basis(), own.Basis()
		a.Per, b.Per = freq.Absolute, freq.Absolute
		if a != b {
			return fmt.Errorf("loudness: variant %q is %v and variant %q is %v, want one quantity, space and distance", v.Name, other.Basis(), r.variants[i].Name, own.Basis())
		}
	}
	return nil
}

// heard returns the loudness of variant i with a gain.
func (r *run) heard(i int, gain float64) (float64, error) {
	m, err := newMeter(r.p.clip, r.p.positions)
	if err != nil {
		return 0, err
	}
	for c := range r.p.clip.Channels() {
		x, err := r.p.clip.Channel(c)
		if err != nil {
			return 0, err
		}
		r.impulses[i].to(r.buffer, x, gain)
		m.add(c, r.buffer)
	}
	l := m.loudness()
	if l.Passed == 0 {
		return 0, fmt.Errorf("loudness: of variant %q nothing passes the gate at %d LKFS", r.variants[i].Name, absoluteGate)
	}
	return l.Integrated, nil
}

// peak returns the highest true peak at the input and the outputs of variant i,
// without its gain.
func (r *run) peak(i int) (peak float64, output string) {
	peak = r.input
	for k, h := range r.outputs[i] {
		for c := range r.p.clip.Channels() {
			x, err := r.p.clip.Channel(c)
			if err != nil {
				panic("loudness: clip refuses a channel that it has")
			}
			h.to(r.buffer, x, 1)
			if p := peakOf(r.buffer); p > peak {
				peak, output = p, r.variants[i].Outputs[k].Name
			}
		}
	}
	return peak, output
}
