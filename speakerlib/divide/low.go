package divide

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Low is the bass of a task's lowest way below the frequency from which its far-field
// responses can be trusted. What is missing to a goal is a difference of levels, and
// means the same in half space and in full space; the levels themselves do not. So
// bass and voice are joined as differences (as [freq.Join] does it for one fit), and
// nothing that is done for the voice can tilt the bass unnoticed.
type Low struct {
	Bass freq.Response // of the lowest way, per volt at its terminals, such as of its near fields
	Goal freq.Curve    // what the bass shall be behind its chain, dB SPL at Volts, on the grid of Bass
	// Volts is the drive of the goal at the input, V rms.
	Volts float64
	At    float64 // where bass and voice meet, Hz
	From  float64 // from which on the bass counts, Hz
}

// Join returns the task on the points of the bass below At and its own from there on,
// with From moved down. In all directions the bass is the same. Below At, bass and goal
// are scaled alike, so that the voice has no step there, and the phase of the bass is
// turned by a constant to meet that of the way; only the lowest way sounds (the others
// are set to a thousandth of the bass). Ways' Before must be defined on both grids.
func (l Low) Join(t Task) (Task, error) {
	if len(t.Ways) == 0 || len(t.Voice) == 0 || len(t.Ways[0].Responses) == 0 {
		return t, fmt.Errorf("divide: task has no way or no voice to join a bass to")
	}
	low, high := l.Bass.Grid(), t.Voice[0].Grid()
	if low == nil || l.Goal.Grid() == nil || !l.Goal.Grid().Equal(low) || l.Goal.Unit() != "dB" {
		return t, fmt.Errorf("divide: goal of the bass is on %v in %q, want %v in dB as the bass", l.Goal.Grid(), l.Goal.Unit(), low)
	}
	if !(l.Volts > 0) || math.IsInf(l.Volts, 0) || !(l.From > 0) || !(l.At > l.From) {
		return t, fmt.Errorf("divide: bass from %g to %g Hz at %g V, want 0 < from < at and a finite drive > 0", l.From, l.At, l.Volts)
	}
	if b := l.Bass.Basis(); b.Per != freq.PerTerminals || b.Quantity != freq.Pressure {
		return t, fmt.Errorf("divide: bass is %v, want a sound pressure per volt at the terminals", b)
	}
	_, i := low.Between(low.First(), l.At)
	if i > 0 && low.At(i-1) == l.At {
		i--
	}
	j, _ := high.Between(l.At, high.Last())
	if i < 2 || low.First() > l.From || low.At(i-1) < 0.8*l.At || j >= high.Len() || high.At(j) > 1.25*l.At {
		return t, fmt.Errorf("divide: bass is on %v and the voice on %v, want both to reach %g Hz and the bass to begin at %g Hz", low, high, l.At, l.From)
	}
	g, err := freq.NewGrid(append(low.Hz()[:i], high.Hz()[j:]...))
	if err != nil {
		return t, fmt.Errorf("divide: %w", err)
	}
	out := t
	out.From, out.Ways, out.Voice = l.From, append([]Way(nil), t.Ways...), nil
	join := func(below []complex128, r freq.Response) (freq.Response, error) {
		return freq.NewResponse(g, append(below, r.Values()[j:]...), r.Label(), r.Basis())
	}
	goal := make([]float64, i) // per volt at the input, Pa/V
	for k := range goal {
		goal[k] = level.Pascal(l.Goal.At(k)) / l.Volts
	}
	for k := range out.Ways {
		out.Ways[k].Responses = nil
	}
	for d, v := range t.Voice {
		if !v.Grid().Equal(high) {
			return t, fmt.Errorf("divide: voice %d is on %v, want %v as the first", d, v.Grid(), high)
		}
		scale := cmplx.Abs(v.At(j)) / goal[i-1]
		if !(scale > 0) || math.IsInf(scale, 0) {
			return t, fmt.Errorf("divide: voice and goal of the bass are %g and %g Pa/V where they meet, want both > 0", cmplx.Abs(v.At(j)), goal[i-1])
		}
		below := make([]complex128, i)
		for k, x := range goal {
			below[k] = complex(x*scale, 0) * cmplx.Rect(1, cmplx.Phase(v.At(j)))
		}
		r, err := join(below, v)
		if err != nil {
			return t, fmt.Errorf("divide: %w", err)
		}
		out.Voice = append(out.Voice, r)
		for k, w := range t.Ways {
			if len(w.Responses) != len(t.Voice) || !w.Responses[d].Grid().Equal(high) {
				return t, fmt.Errorf("divide: way %q has %d responses, want %d, one for each direction, on %v", w.Name, len(w.Responses), len(t.Voice), high)
			}
			turn := complex(scale, 0)
			if k > 0 {
				turn *= 1e-3
			}
			turn *= cmplx.Rect(1, cmplx.Phase(w.Responses[d].At(j))-cmplx.Phase(l.Bass.At(i-1)))
			for n := range below {
				below[n] = l.Bass.At(n) * turn
			}
			r, err := join(append([]complex128(nil), below...), w.Responses[d])
			if err != nil {
				return t, fmt.Errorf("divide: %w", err)
			}
			out.Ways[k].Responses = append(out.Ways[k].Responses, r)
		}
	}
	return out, nil
}
