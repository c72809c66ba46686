package limits

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/internal/search"
	"example.org/loudspeaker/speakerlib/level"
)

// TuningStudy asks what it costs to tune a cabinet to a frequency and to make
// it, by whatever filter, follow a target at a level.
type TuningStudy struct {
	Driver    driver.Params
	Book      enclosure.Book
	Vent      enclosure.Vent   // its length is found
	Losses    enclosure.Losses // of the tuned box
	Air       air.Medium
	Amplifier Amplifier

	Grid       *freq.Grid    // half space, from well below the corner
	Target     freq.Transfer // 1 on its plateau
	Level      float64       // of the plateau, dB SPL rms, half space, 1 m
	Excursion  float64       // allowed, m peak
	VentAir    float64       // allowed, m/s peak
	ProbeFrom  float64       // the band in which the sensitivity is told, Hz
	ProbeTo    float64
	SearchFrom float64 // the band in which bounds count, Hz
	SearchTo   float64
}

// Tuning is what one tuning gives and what it costs, at the level of the study.
type Tuning struct {
	Fb          float64 `col:"tuning" unit:"Hz" fmt:"%.1f"`
	Length      float64 `col:"vent length" unit:"mm" fmt:"%.0f"`
	Spare       float64 `col:"room left" unit:"mm" fmt:"%.1f"`
	Net         float64 `col:"net volume" unit:"L" fmt:"%.2f"`
	Pipe        float64 `col:"pipe resonance" unit:"Hz" fmt:"%.0f"`
	Sensitivity float64 `col:"sensitivity at 1 V, half space, 1 m" unit:"dB" fmt:"%.1f"` // mean over the probe band
	Excursion   float64 `col:"excursion" unit:"mm peak" fmt:"%.2f"`
	ExcursionAt float64 `col:"excursion at" unit:"Hz" fmt:"%.0f"`
	VentAir     float64 `col:"vent air" unit:"m/s peak" fmt:"%.1f"`
	VentAirAt   float64 `col:"vent air at" unit:"Hz" fmt:"%.0f"`
	Volts       float64 `col:"amplifier" unit:"V peak" fmt:"%.1f"`
	VoltsAt     float64 `col:"amplifier at" unit:"Hz" fmt:"%.0f"`
	Binding     string  `col:"tightest"`                       // what is nearest to its bound
	Used        float64 `col:"used of it" unit:"%" fmt:"%.0f"` // how much of that is used; above 100 % it is broken
}

// Feasible reports whether the tuning keeps all bounds.
func (t Tuning) Feasible() bool { return t.Used <= 1 }

// Mount returns the driver in the cabinet tuned to fb, and the cabinet's account.
func (s TuningStudy) Mount(fb float64) (enclosure.Mounted, enclosure.Account, error) {
	account, err := s.Book.Tune(fb, s.Vent, s.Air)
	if err != nil {
		return enclosure.Mounted{}, account, fmt.Errorf("limits: tuning to %g Hz: %w", fb, err)
	}
	box := account.Box
	box.Losses = s.Losses
	return enclosure.Mounted{Driver: s.Driver, Box: box, Air: s.Air}, account, nil
}

// Motion returns what the driver does in the cabinet tuned to fb.
func (s TuningStudy) Motion(fb float64) (*enclosure.Motion, error) {
	mounted, _, err := s.Mount(fb)
	if err != nil {
		return nil, err
	}
	m, err := mounted.Motion()
	if err != nil {
		return nil, fmt.Errorf("limits: tuning to %g Hz: %w", fb, err)
	}
	return m, nil
}

// Ceiling returns the ceiling of the woofer in the cabinet tuned to fb, per volt
// at its terminals, with the bounds excursion, vent air and volts in this order.
func (s TuningStudy) Ceiling(fb float64) (*Ceiling, error) {
	m, err := s.Motion(fb)
	if err != nil {
		return nil, err
	}
	out, err := freq.Evaluate(m.Pressure, s.Grid, fmt.Sprintf("tuned to %.4g Hz", fb), enclosure.PressureBasis())
	if err != nil {
		return nil, fmt.Errorf("limits: tuning to %g Hz: %w", fb, err)
	}
	return NewCeiling(out, []Bound{
		{Cause: Excursion, Way: "woofer", PerVolt: m.Cone, Peak: s.Excursion},
		{Cause: VentAir, Way: "woofer", PerVolt: m.VentAir, Peak: s.VentAir},
		s.Amplifier.Bound("woofer", freq.Gain(1)),
	})
}

// At finds what a tuning costs. A vent that does not fit its room is told, not
// refused; a tuning that no length gives is an error.
func (s TuningStudy) At(fb float64) (Tuning, error) {
	_, account, err := s.Mount(fb)
	if err != nil {
		return Tuning{}, err
	}
	c, err := s.Ceiling(fb)
	if err != nil {
		return Tuning{}, err
	}
	demand, err := c.Demand(s.Target, s.Level)
	if err != nil {
		return Tuning{}, err
	}
	use, err := demand.Worst(s.SearchFrom, s.SearchTo)
	if err != nil {
		return Tuning{}, err
	}
	sensitivity, err := c.output.DB(level.Reference).Mean(s.ProbeFrom, s.ProbeTo)
	if err != nil {
		return Tuning{}, fmt.Errorf("limits: band of the sensitivity: %w", err)
	}
	t := Tuning{
		Fb: fb, Length: account.Box.Vent.Length, Spare: account.Spare, Net: account.Box.Vb, Pipe: account.Pipe,
		Sensitivity: sensitivity,
		Excursion:   use[0].Most, ExcursionAt: use[0].At,
		VentAir: use[1].Most, VentAirAt: use[1].At,
		Volts: use[2].Most, VoltsAt: use[2].At,
	}
	for _, u := range use {
		if share := u.Share(); share > t.Used {
			t.Used, t.Binding = share, u.Bound.Cause.String()
		}
	}
	if s.Book.VentRoom > 0 {
		if share := t.Length / s.Book.VentRoom; share > t.Used {
			t.Used, t.Binding = share, "vent room"
		}
	}
	return t, nil
}

// Sweep finds what each tuning costs.
func (s TuningStudy) Sweep(fb ...float64) ([]Tuning, error) {
	var out []Tuning
	for _, f := range fb {
		t, err := s.At(f)
		if err != nil {
			return nil, err
		}
		out = append(out, t)
	}
	return out, nil
}

// Best finds the tuning within lo … hi hertz that uses the least of its tightest
// bound, the vent's room included: the one that leaves the most margin where
// margin is scarce. As every bound is used more or less the same way on either
// side (a vent gets longer and slower downward), the search is a golden section
// to 0.01 Hz, started from the best of 33 tunings in equal steps.
func (s TuningStudy) Best(lo, hi float64) (Tuning, error) {
	if !(lo > 0) || !(hi > lo) || math.IsInf(hi, 0) {
		return Tuning{}, fmt.Errorf("limits: tunings from %g to %g Hz, want 0 < from < to", lo, hi)
	}
	const steps = 32
	at := func(k int) float64 { return lo + (hi-lo)*float64(k)/steps }
	best, where := Tuning{Used: math.Inf(1)}, -1
	var last error
	for k := range steps + 1 {
		t, err := s.At(at(k))
		if err != nil {
			last = err
			continue
		}
		if t.Used < best.Used {
			best, where = t, k
		}
	}
	if where < 0 {
		return Tuning{}, fmt.Errorf("limits: no tuning from %g to %g Hz can be built: %w", lo, hi, last)
	}
	// What can be built is an interval around the best: walls of it move in.
	wall := func(edge float64) float64 {
		inside := best.Fb
		for n := 0; n < 200 && math.Abs(inside-edge) > 0.01; n++ {
			mid := (inside + edge) / 2
			if mid == inside || mid == edge {
				break
			}
			if _, err := s.At(mid); err != nil {
				edge = mid
			} else {
				inside = mid
			}
		}
		return inside
	}
	a, b := at(max(where-1, 0)), at(min(where+1, steps))
	if _, err := s.At(a); err != nil {
		a = wall(a)
	}
	if _, err := s.At(b); err != nil {
		b = wall(b)
	}
	search.Golden(func(fb float64) float64 {
		t, err := s.At(fb)
		if err != nil {
			return math.Inf(-1)
		}
		if t.Used < best.Used {
			best = t
		}
		return -t.Used
	}, a, b, 0.01)
	return best, nil
}
