package signalpath

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
)

// LatencyRow is the delay of a part of a path.
type LatencyRow struct {
	Way     string  `col:"way"`
	Part    string  `col:"part"`
	Samples float64 `col:"samples" fmt:"%.4g"`
	Rate    float64 `col:"at" unit:"kHz" fmt:"%g"`
	Latency float64 `col:"latency" unit:"ms" fmt:"%.3f"`        // pure delay, the same at all frequencies
	Group   float64 `col:"filter's delay" unit:"ms" fmt:"%.3f"` // group delay of the rest of its response at the frequency
	Sum     float64 `col:"sum so far" unit:"ms" fmt:"%.3f"`     // of the latencies
}

// Latency returns the delays by part, and a row "all". Pure latency and what the responses add at
// a frequency are apart: the first is what a limit is about and what a delay in another way makes
// up for, the second belongs to the sound. The group delay is that of the response into its load
// by differences on the grid, second order in its spacing; it may be negative.
func (s *Solution) Latency(hz float64) ([]LatencyRow, error) {
	if !(hz >= s.grid.First() && hz <= s.grid.Last()) {
		return nil, fmt.Errorf("signalpath: delay of path %q at %g Hz, want a frequency within its grid, %v", s.path.Name, hz, s.grid)
	}
	all := LatencyRow{Way: s.path.Name, Part: "all"}
	var rows []LatencyRow
	for _, st := range s.stages {
		row := LatencyRow{Way: s.path.Name, Part: st.element.Label()}
		h := append([]complex128(nil), st.loaded...)
		if b, ok := st.element.(block); ok {
			d := b.delay()
			row.Samples, row.Rate, row.Latency = d.samples, d.rate, d.total()
			late(h, s.grid, -row.Latency)
		}
		group, err := s.groupDelay(row.Part, h, hz)
		if err != nil {
			return nil, err
		}
		row.Group = group
		all.Latency += row.Latency
		all.Group += row.Group
		row.Sum = all.Latency
		rows = append(rows, row)
	}
	all.Sum = all.Latency
	return append(rows, all), nil
}

// groupDelay returns that of a response on the grid at a frequency.
func (s *Solution) groupDelay(name string, h []complex128, hz float64) (float64, error) {
	if s.grid.Len() < 3 {
		return 0, fmt.Errorf("signalpath: path %q is on %v, want 3 points or more for a group delay", s.path.Name, s.grid)
	}
	for i, v := range h {
		if cmplx.Abs(v) == 0 {
			return 0, fmt.Errorf("signalpath: response of %q is 0 at %g Hz, where it has no delay", name, s.grid.At(i))
		}
	}
	r, err := freq.NewResponse(s.grid, h, name, freq.Basis{})
	if err != nil {
		return 0, err
	}
	d, err := r.GroupDelay()
	if err != nil {
		return 0, err
	}
	return d.Interpolate(hz)
}

// latency returns the sum of the pure delays in seconds.
func (p Path) latency() float64 {
	var sum float64
	for _, e := range p.Elements {
		if b, ok := e.(block); ok {
			sum += b.delay().total()
		}
	}
	return sum
}

// LatencyCheck is the pure latency of the ways against a limit.
type LatencyCheck struct {
	Latency float64 // s, of the way that is the latest
	Way     string
	Left    float64 // s, limit less latency; negative: it is exceeded
	Apart   float64 // s, by how much the latest way is later than the earliest
}

// CheckLatency compares the pure latency of the ways with a limit in seconds.
func CheckLatency(limit float64, ways ...Path) (LatencyCheck, error) {
	if len(ways) == 0 || !(limit > 0) || math.IsInf(limit, 0) {
		return LatencyCheck{}, fmt.Errorf("signalpath: %d ways against a latency of %g s, want ways and a positive limit", len(ways), limit)
	}
	c := LatencyCheck{Latency: math.Inf(-1)}
	least := math.Inf(1)
	for _, p := range ways {
		if err := p.Validate(); err != nil {
			return LatencyCheck{}, err
		}
		l := p.latency()
		least = min(least, l)
		if l > c.Latency {
			c.Latency, c.Way = l, p.Name
		}
	}
	c.Left, c.Apart = limit-c.Latency, c.Latency-least
	return c, nil
}
