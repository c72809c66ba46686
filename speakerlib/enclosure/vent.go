package enclosure

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/air"
)

// End is how a vent ends: what its air drags along beyond its length, as a
// multiple of its radius.
type End float64

// The ends.
const (
	// Flanged ends in a wall: 0.8217 a (L. V. King, Phil. Mag. 21, 1936).
	Flanged End = 0.8217
	// Free ends in the open as a thin tube: 0.6133 a (H. Levine and J. Schwinger,
	// Phys. Rev. 73, 1948).
	Free End = 0.6133
)

// Vent is one or more equal round tubes. The acoustic mass of n of them is
//
//	Map = ρ·(L + (e₁+e₂)·a) / (n·π·a²)
//
// with the radius a and the end corrections e. It is exact while the tube is
// short against the wavelength; its first pipe resonance is told by
// [Vent.PipeResonance].
type Vent struct {
	Diameter     float64 // inside, m
	Length       float64 // of the tube, m
	Inner, Outer End     // zero means no correction; usually Free and Flanged
	Count        int     // 1 or more
	Edge         float64 // radius of the rounding at both mouths, m; only [Vent.Loss] looks at it
}

// Validate reports a geometry that cannot be.
func (v Vent) Validate() error {
	switch {
	case !(v.Diameter > 0) || math.IsInf(v.Diameter, 0):
		return fmt.Errorf("enclosure: vent diameter is %g m, want a finite value > 0", v.Diameter)
	case !(v.Length >= 0) || math.IsInf(v.Length, 0):
		return fmt.Errorf("enclosure: vent length is %g m, want a finite value ≥ 0", v.Length)
	case v.Count < 1:
		return fmt.Errorf("enclosure: %d vents, want at least 1", v.Count)
	case !(v.Inner >= 0 && v.Inner <= 2 && v.Outer >= 0 && v.Outer <= 2):
		return fmt.Errorf("enclosure: end corrections of the vent are %g and %g radii, want 0 to 2", float64(v.Inner), float64(v.Outer))
	case !(v.Edge >= 0) || math.IsInf(v.Edge, 0):
		return fmt.Errorf("enclosure: the vent's edges have a radius of %g m, want a finite value ≥ 0", v.Edge)
	case !(v.effective() > 0):
		return fmt.Errorf("enclosure: vent of length 0 without end corrections has no mass")
	}
	return nil
}

func (v Vent) effective() float64 {
	return v.Length + float64(v.Inner+v.Outer)*v.Diameter/2
}

// Area returns the area of all vents together, m².
func (v Vent) Area() float64 { return float64(v.Count) * math.Pi / 4 * v.Diameter * v.Diameter }

// Mass returns the acoustic mass of all vents together, kg/m⁴.
func (v Vent) Mass(m air.Medium) float64 { return m.Density * v.effective() / v.Area() }

// Tuning returns the resonance with a net volume, 1/(2π√(Map·Vb/ρc²)), Hz.
func (v Vent) Tuning(vb float64, m air.Medium) float64 {
	return 1 / (2 * math.Pi * math.Sqrt(v.Mass(m)*vb/m.Stiffness()))
}

// LengthFor returns the vent with the length that tunes a net volume to fb: the
// inverse of [Vent.Tuning], L = c²·S/(ωb²·Vb) − (e₁+e₂)·a. The vent's own length
// is not looked at. It is an error if even no tube at all tunes lower than fb.
func (v Vent) LengthFor(fb, vb float64, m air.Medium) (Vent, error) {
	if err := checkVolume(vb, m); err != nil {
		return Vent{}, err
	}
	if !(fb > 0) || math.IsInf(fb, 0) {
		return Vent{}, fmt.Errorf("enclosure: tuning is %g Hz, want a finite frequency > 0", fb)
	}
	v.Length = 1
	if err := v.Validate(); err != nil {
		return Vent{}, err
	}
	w := 2 * math.Pi * fb
	ends := float64(v.Inner+v.Outer) * v.Diameter / 2
	v.Length = m.SpeedOfSound*m.SpeedOfSound*v.Area()/(w*w*vb) - ends
	if v.Length < 0 {
		v.Length = 0
		return Vent{}, fmt.Errorf("enclosure: %d vents of %g m in %g m³ tune to at most %.4g Hz, want %g Hz: take more or wider vents", v.Count, v.Diameter, vb, v.Tuning(vb, m), fb)
	}
	return v, v.Validate()
}

// PipeResonance returns the first resonance of a tube open at both ends,
// c/(2·(L + (e₁+e₂)·a)), Hz: there the vent lets the inside of the box out.
func (v Vent) PipeResonance(m air.Medium) float64 { return m.SpeedOfSound / (2 * v.effective()) }

// Displaced returns the volume that the tubes take from the box with a wall of
// the thickness given: n·π·(a+wall)²·L, air inside included, because the air of
// a vent is no part of the compliance of the box.
func (v Vent) Displaced(wall float64) float64 {
	a := v.Diameter/2 + wall
	return float64(v.Count) * math.Pi * a * a * v.Length
}

// Book keeps the account of a cabinet's volume. The tubes are taken to stand in
// it with their whole length.
type Book struct {
	Gross       float64 // inside the walls, m³
	Driver      float64 // what the driver's body takes, m³
	Bracing     float64 // m³
	Electronics float64 // m³
	VentWall    float64 // thickness of the vent's tube, m
	VentRoom    float64 // the longest straight tube that fits, m; 0: not stated
}

// Validate reports a negative entry, and a book without air left.
func (b Book) Validate() error {
	for _, v := range []float64{b.Gross, b.Driver, b.Bracing, b.Electronics, b.VentWall, b.VentRoom} {
		if !(v >= 0) || math.IsInf(v, 0) {
			return fmt.Errorf("enclosure: the volume book has an entry of %g, want finite values ≥ 0", v)
		}
	}
	if !(b.before() > 0) {
		return fmt.Errorf("enclosure: the volume book leaves %g m³ of %g m³ before the vent, want > 0", b.before(), b.Gross)
	}
	return nil
}

func (b Book) before() float64 { return b.Gross - b.Driver - b.Bracing - b.Electronics }

// Account is a tuned box as the book has it.
type Account struct {
	Box   Vented  // net volume and vent, without losses
	Tube  float64 // what the tubes take, m³
	Fits  bool    // whether the tube fits the straight room; true if none is stated
	Spare float64 // room left over, m; negative if it does not fit
	Pipe  float64 // first pipe resonance of the vent, Hz
}

// With returns the account of a vent of given length: the net volume that is left
// and, in the box, the tuning that follows.
func (b Book) With(v Vent, m air.Medium) (Account, error) {
	if err := b.Validate(); err != nil {
		return Account{}, err
	}
	if err := v.Validate(); err != nil {
		return Account{}, err
	}
	if err := m.Validate(); err != nil {
		return Account{}, err
	}
	a := Account{Tube: v.Displaced(b.VentWall), Pipe: v.PipeResonance(m), Fits: true}
	a.Box = Vented{Vb: b.before() - a.Tube, Vent: v}
	if !(a.Box.Vb > 0) {
		return Account{}, fmt.Errorf("enclosure: a vent of %g m takes %g m³ of the %g m³ before it, want less", v.Length, a.Tube, b.before())
	}
	if b.VentRoom > 0 {
		a.Spare = b.VentRoom - v.Length
		a.Fits = a.Spare >= 0
	}
	return a, nil
}

// Tune finds vent length, tube volume and net volume together: a longer tube
// takes volume, which raises the tuning, which asks for a longer tube. With
// V = V₀ − k·L and Fb fixed the length is the smaller root of
//
//	(L + e)·(V₀ − k·L) = c²·S/ωb²
//
// It is an error if there is none: the cabinet cannot be tuned that low with
// this vent.
func (b Book) Tune(fb float64, v Vent, m air.Medium) (Account, error) {
	if err := b.Validate(); err != nil {
		return Account{}, err
	}
	v.Length = 0
	if _, err := v.LengthFor(fb, b.before(), m); err != nil {
		return Account{}, err
	}
	w := 2 * math.Pi * fb
	ends := float64(v.Inner+v.Outer) * v.Diameter / 2
	k := Vent{Diameter: v.Diameter, Length: 1, Count: v.Count}.Displaced(b.VentWall)
	// k·L² − (V₀ − k·e)·L + q − V₀·e = 0
	q := m.SpeedOfSound * m.SpeedOfSound * v.Area() / (w * w)
	half, c := (b.before()-k*ends)/2, q-b.before()*ends
	disc := half*half - k*c
	if !(disc >= 0) || !(half > 0) {
		return Account{}, fmt.Errorf("enclosure: %d vents of %g m cannot tune %g m³ as low as %g Hz: the tube takes more volume than it gains", v.Count, v.Diameter, b.before(), fb)
	}
	v.Length = c / (half + math.Sqrt(disc))
	return b.With(v, m)
}
