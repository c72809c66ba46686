package loudness

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/signal"
)

// What the Recommendation prints (ITU-R BS.1770-4, Annex 1; from memory).
const (
	offset       = -0.691 // dB: a sine of 997 Hz at full scale reads −3.01 LKFS
	absoluteGate = -70    // LKFS
	relativeGate = -10    // LU below the loudness of what passes the absolute gate
	hop          = 0.1    // s from one gating block to the next
	hops         = 4      // of a gating block of 400 ms
)

// Position is where the loudspeaker of a channel stands: how much it counts.
type Position int

// The positions.
const (
	Front    Position = iota // left, right, centre: 1
	Surround                 // 60° to 120° to the side: 1.41, which is 1.5 dB
	Bass                     // the channel of low-frequency effects, which is left out
)

// weight is a factor of the power.
func (p Position) weight() (float64, error) {
	switch p {
	case Front:
		return 1, nil
	case Surround:
		return 1.41, nil
	case Bass:
		return 0, nil
	}
	return 0, fmt.Errorf("loudness: position %d, want front, surround or bass", int(p))
}

// Loudness is what a programme reads.
type Loudness struct {
	Integrated float64 `col:"loudness" unit:"dB(LKFS)" fmt:"%.2f"` // with both gates; −Inf of what never passes the first
	Ungated    float64 `col:"without gates" unit:"dB(LKFS)" fmt:"%.2f"`
	Gate       float64 `col:"relative gate" unit:"dB(LKFS)" fmt:"%.2f"`
	Blocks     int     `col:"blocks"`
	Passed     int     `col:"blocks that count"` // through both gates
}

// Of returns the loudness of a programme (ITU-R BS.1770-4, Annex 1):
//
//	L = −0.691 + 10·lg Σ Gᵢ·zᵢ
//
// with zᵢ the mean square of channel i behind the K weighting, from blocks of
// 400 ms every 100 ms: of those above −70 LKFS the loudness less 10 LU is the
// relative gate, and those above both gates count. A last block that is not
// complete does not. Without positions all channels are Front. A sample at full
// scale is 1.
func Of(c *signal.Clip, positions ...Position) (Loudness, error) {
	m, err := newMeter(c, positions)
	if err != nil {
		return Loudness{}, err
	}
	for i := range c.Channels() {
		x, err := c.Channel(i)
		if err != nil {
			return Loudness{}, err
		}
		m.add(i, x)
	}
	return m.loudness(), nil
}

// meter gathers the power of channels in steps of a hop.
type meter struct {
	kernel  func(x []float64) // the K weighting, in place, from rest
	weights []float64
	edges   []int     // of the hops, in samples
	power   []float64 // weighted sum of squares by hop
}

func newMeter(c *signal.Clip, positions []Position) (*meter, error) {
	if c == nil {
		return nil, fmt.Errorf("loudness: no clip to measure")
	}
	if len(positions) != 0 && len(positions) != c.Channels() {
		return nil, fmt.Errorf("loudness: %d positions for %d channels, want one each or none", len(positions), c.Channels())
	}
	k, err := Weighting(c.SampleRate())
	if err != nil {
		return nil, err
	}
	m := &meter{kernel: func(x []float64) { k.NewFilter().Process(x, x) }}
	for i := range c.Channels() {
		var p Position
		if len(positions) > 0 {
			p = positions[i]
		}
		w, err := p.weight()
		if err != nil {
			return nil, err
		}
		m.weights = append(m.weights, w)
	}
	for n := 0; ; n++ {
		at := int(math.Round(float64(n) * hop * c.SampleRate()))
		if at > c.Len() {
			break
		}
		m.edges = append(m.edges, at)
	}
	if len(m.edges) <= hops {
		return nil, fmt.Errorf("loudness: programme of %.3g s, want at least one block of 0.4 s", c.Duration())
	}
	m.power = make([]float64, len(m.edges)-1)
	return m, nil
}

// add weights a channel, which it overwrites, and counts its power.
func (m *meter) add(channel int, x []float64) {
	w := m.weights[channel]
	if w == 0 {
		return
	}
	m.kernel(x)
	for n := range m.power {
		var sum float64
		for _, v := range x[m.edges[n]:m.edges[n+1]] {
			sum += v * v
		}
		m.power[n] += w * sum
	}
}

// loudness gates what was added.
func (m *meter) loudness() Loudness {
	z := make([]float64, len(m.power)-hops+1)
	for n := range z {
		for _, p := range m.power[n : n+hops] {
			z[n] += p
		}
		z[n] /= float64(m.edges[n+hops] - m.edges[n])
	}
	of := func(power float64) float64 { return offset + level.PowerDB(power) }
	var all float64
	for _, v := range z {
		all += v
	}
	mean := func(above float64) (l float64, count int) {
		var sum float64
		for _, v := range z {
			if of(v) > above {
				sum += v
				count++
			}
		}
		if count == 0 {
			return math.Inf(-1), 0
		}
		return of(sum / float64(count)), count
	}
	out := Loudness{Blocks: len(z), Ungated: of(all / float64(len(z)))}
	out.Gate, _ = mean(absoluteGate)
	out.Gate += relativeGate
	out.Integrated, out.Passed = mean(max(out.Gate, absoluteGate))
	return out
}
