package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
)

func tuning(t Tube, vb float64, m air.Medium) float64 {
	return 1 / (2 * math.Pi * math.Sqrt(t.Mass(m)*vb/m.Stiffness()))
}

// effective returns what is to be added to the length of a tube, so that its mass is
// ρ·(L + e)/S.
func effective(t Tube, m air.Medium) float64 {
	return t.Mass(m)*t.Area()/m.Density - t.length()
}

// LengthFor returns the tube with the length that tunes a net volume to fb, as
// [Vent.LengthFor] does it for a round one; its own length is not looked at. It is
// an error if the shortest tube of that section tunes lower than fb.
func LengthFor(t Tube, fb, vb float64, m air.Medium) (Tube, error) {
	if err := checkVolume(vb, m); err != nil {
		return nil, err
	}
	if !positive(fb) {
		return nil, fmt.Errorf("enclosure: tuning is %g Hz, want a finite frequency > 0", fb)
	}
	t = t.withLength(t.shortest() + 1)
	if err := t.Validate(); err != nil {
		return nil, err
	}
	w := 2 * math.Pi * fb
	l := m.SpeedOfSound*m.SpeedOfSound*t.Area()/(w*w*vb) - effective(t, m)
	if l < t.shortest() {
		return nil, fmt.Errorf("enclosure: the shortest vent of %g m² in %g m³ tunes to %.4g Hz, want %g Hz: take a wider one", t.Area(), vb, tuning(t.withLength(t.shortest()), vb, m), fb)
	}
	t = t.withLength(l)
	return t, t.Validate()
}

// Fitted is a tube in a cabinet as the book has it.
type Fitted struct {
	Vb    float64 // net volume, m³
	Tube  Tube
	Fb    float64 // tuning, Hz
	Taken float64 // what the tubes take, m³
	Fits  bool    // whether the tube fits the straight room; true if none is stated
	Spare float64 // room left over, m; negative if it does not fit
	Pipe  float64 // first resonance of the tube, c/2 over its effective length, Hz
}

// Box returns the cabinet: lumped, or with the tube as a [Pipe].
func (f Fitted) Box(pipe bool) Cabinet {
	b := Cabinet{Chamber: Chamber{Vb: f.Vb}, Port: f.Tube}
	if pipe {
		b.Port = Pipe{Of: f.Tube}
	}
	return b
}

// Fit finds length, tube volume and net volume of any tube together, as [Book.Tune]
// does it for a round one, from the same quadratic: mass and displaced volume of every
// tube grow evenly with its length.
func (b Book) Fit(fb float64, t Tube, m air.Medium) (Fitted, error) {
	if err := b.Validate(); err != nil {
		return Fitted{}, err
	}
	if _, err := LengthFor(t, fb, b.before(), m); err != nil {
		return Fitted{}, err
	}
	shortest := t.shortest()
	first, longer := t.withLength(shortest), t.withLength(shortest+1)
	k := longer.Displaced(b.VentWall) - first.Displaced(b.VentWall)
	v0 := b.before() - first.Displaced(b.VentWall) + k*shortest
	ends := effective(longer, m)
	w := 2 * math.Pi * fb
	q := m.SpeedOfSound * m.SpeedOfSound * t.Area() / (w * w)
	// k·L² − (V₀ − k·e)·L + q − V₀·e = 0
	half, c := (v0-k*ends)/2, q-v0*ends
	disc := half*half - k*c
	if !(disc >= 0) || !(half > 0) {
		return Fitted{}, fmt.Errorf("enclosure: vents of %g m² cannot tune %g m³ as low as %g Hz: the tube takes more volume than it gains", t.Area(), b.before(), fb)
	}
	l := c / (half + math.Sqrt(disc))
	if l < shortest {
		return Fitted{}, fmt.Errorf("enclosure: the shortest vent of %g m² tunes what it leaves of %g m³ below %g Hz: take a wider one", t.Area(), b.before(), fb)
	}
	t = t.withLength(l)
	f := Fitted{Tube: t, Taken: t.Displaced(b.VentWall), Fits: true, Pipe: m.SpeedOfSound / (2 * (l + ends))}
	f.Vb = b.before() - f.Taken
	f.Fb = tuning(t, f.Vb, m)
	if b.VentRoom > 0 {
		f.Spare = b.VentRoom - l
		f.Fits = f.Spare >= 0
	}
	return f, nil
}

// Peak speeds of the air in a vent that designers keep to, m/s. None has a source that
// we could check: common practice, from memory.
const (
	QuietSpeed  = 10.0              // nearly no noise, any edge
	SmallSpeed  = 2 * math.Pi / 0.8 // 7.9, that of R. H. Small's rule Sv ≥ 0.8·fb·Vd (1973), if the vent carries Vd
	UsualSpeed  = 17.0              // 5 % of the speed of sound
	FlaredSpeed = 22.0              // with generous flares, 20 to 25
)

// FlowFor returns the peak volume velocity, m³/s, that makes a peak sound pressure, Pa, at
// 1 m in half space at a frequency:
//
//	Û = p̂·2π·1 m/(ωρ)
//
// At its tuning the vent carries nearly all of it.
func FlowFor(pressure, hz float64, m air.Medium) (float64, error) {
	if err := m.Validate(); err != nil {
		return 0, err
	}
	if !positive(pressure, hz) {
		return 0, fmt.Errorf("enclosure: flow for %g Pa at %g Hz, want finite values > 0", pressure, hz)
	}
	return pressure / (hz * m.Density), nil
}

// MinimumArea returns the area of vents, all together, m², in which a peak volume
// velocity, m³/s, has a peak speed, m/s.
func MinimumArea(flow, speed float64) (float64, error) {
	if !positive(flow, speed) || !positive(flow/speed) {
		return 0, fmt.Errorf("enclosure: area for %g m³/s at %g m/s, want finite values > 0", flow, speed)
	}
	return flow / speed, nil
}
