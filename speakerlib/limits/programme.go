package limits

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/signal"
)

// Programme is what heat needs to know of a programme: how its mean power is spread
// over frequency, and its crest.
type Programme struct {
	grid  *freq.Grid
	share []float64 // of the mean power, a point each; their sum is 1
	crest float64   // peak over rms
}

// NewProgramme returns the programme of a spectrum and a crest (peak over rms, a
// ratio ≥ 1) within the range of a grid. A point stands for the band to the
// geometric means with its neighbours.
func NewProgramme(shape signal.Shape, crest float64, g *freq.Grid) (Programme, error) {
	if shape == nil || g == nil {
		return Programme{}, fmt.Errorf("limits: programme without a shape or a grid, want both")
	}
	return programme(crest, g, func(_ int, lo, mid, hi float64) float64 {
		a := shape.Amplitude(mid)
		return a * a * (hi - lo)
	})
}

// ProgrammeOf returns the programme that a channel of a clip holds, from 0: its crest
// over all of its time, and its spectrum as far as the grid goes, whose first and
// last point take what is below and above.
func ProgrammeOf(c *signal.Clip, channel int, g *freq.Grid) (Programme, error) {
	if c == nil || g == nil {
		return Programme{}, fmt.Errorf("limits: programme without a clip or a grid, want both")
	}
	x, err := c.Channel(channel)
	if err != nil {
		return Programme{}, fmt.Errorf("limits: %w", err)
	}
	spectrum, err := signal.SpectrumOf(c, channel)
	if err != nil {
		return Programme{}, fmt.Errorf("limits: %w", err)
	}
	return programme(signal.StatisticsOf(x).Crest(), g, func(i int, lo, _, hi float64) float64 {
		if i == 0 {
			lo = 0
		}
		if i == g.Len()-1 {
			hi = math.Inf(1)
		}
		return spectrum.Power(lo, hi)
	})
}

// programme returns the programme with the power that a function tells of the band
// of every point, normalised.
func programme(crest float64, g *freq.Grid, power func(i int, lo, mid, hi float64) float64) (Programme, error) {
	if !(crest >= 1) || math.IsInf(crest, 0) {
		return Programme{}, fmt.Errorf("limits: crest of a programme is %g, want a finite ratio ≥ 1", crest)
	}
	if g.Len() < 2 {
		return Programme{}, fmt.Errorf("limits: programme on %v, want at least 2 points", g)
	}
	p := Programme{grid: g, share: make([]float64, g.Len()), crest: crest}
	var sum float64
	for i := range p.share {
		lo, hi := g.At(i), g.At(i)
		if i > 0 {
			lo = math.Sqrt(lo * g.At(i-1))
		}
		if i+1 < g.Len() {
			hi = math.Sqrt(hi * g.At(i+1))
		}
		// At the ends of the grid the middle of the half band.
		p.share[i] = power(i, lo, math.Sqrt(lo*hi), hi)
		sum += p.share[i]
	}
	if !(sum > 0) || math.IsInf(sum, 0) {
		return Programme{}, fmt.Errorf("limits: power of a programme is %g, want a finite value > 0", sum)
	}
	for i := range p.share {
		p.share[i] /= sum
	}
	return p, nil
}

// Crest returns peak over rms.
func (p Programme) Crest() float64 { return p.crest }

// RMS returns the rms of what a transfer makes of the programme per volt rms of it,
// √(Σ share·|H|²): the sound pressure, of a pressure per volt; the current, of an
// admittance.
func (p Programme) RMS(t freq.Transfer) (float64, error) {
	r, err := p.evaluate(t)
	if err != nil {
		return 0, err
	}
	var sum float64
	for i, share := range p.share {
		z := r.At(i)
		sum += share * (real(z)*real(z) + imag(z)*imag(z))
	}
	return math.Sqrt(sum), nil
}

func (p Programme) evaluate(t freq.Transfer) (freq.Response, error) {
	if p.grid == nil {
		return freq.Response{}, fmt.Errorf("limits: programme is empty, want one of NewProgramme or ProgrammeOf")
	}
	return freq.Evaluate(t, p.grid, "of a programme", freq.Basis{})
}
