package limits

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// Wire is the temperature coefficient of the resistance of a coil's wire at 20 °C,
// in 1/K.
type Wire float64

// The wires (handbook values; alloys differ by some percent). Aluminium is pure and
// annealed; hard-drawn wire of electrical grade has 0.00403, as package identify takes it.
const (
	Copper    Wire = 0.00393
	Aluminium Wire = 0.00429
)

// mostWire is more than any metal has, 1/K: nickel and iron have 0.006.
const mostWire = 0.01

// At returns the coefficient for a resistance that was measured at another
// temperature, in K: α/(1 + α·(T − 293.15 K)), because the resistance is linear in
// the temperature.
func (w Wire) At(kelvin float64) Wire { return w / (1 + w*Wire(kelvin-293.15)) }

// Ratio returns the resistance at a rise of temperature, in K, over that without:
// 1 + α·ΔT. Linear within 1 % or so to 250 °C.
func (w Wire) Ratio(rise float64) float64 { return 1 + float64(w)*rise }

// Stage is one thing that heat must go through.
type Stage struct {
	Resistance float64 // from it to the next, or from the last to the air, K/W
	Capacity   float64 // its own heat capacity, J/K
}

// Thermal is the way of the heat from a coil outward: coil, magnet (or pole and
// magnet), air of the room.
//
//	C₁·dθ₁/dt = P − (θ₁−θ₂)/R₁,  C₂·dθ₂/dt = (θ₁−θ₂)/R₁ − (θ₂−θ₃)/R₂, …,  last θ = 0
//
// θ are rises above the air of the room, in K (C. A. Henricksen, "Heat-Transfer
// Mechanisms in Loudspeakers", J. Audio Eng. Soc. 35, 1987; D. Button, "Heat
// Dissipation and Power Compression in Loudspeakers", J. Audio Eng. Soc. 40, 1992;
// both from memory). Resistances
// are constants here: the cooling by the cone's own motion, which helps a woofer at
// high excursion, is left out, and so is the heat of eddy currents in the iron.
type Thermal []Stage

// Validate reports a network without stages or with a value that is not positive
// and finite.
func (t Thermal) Validate() error {
	if len(t) == 0 {
		return fmt.Errorf("limits: thermal network has no stage, want at least the coil")
	}
	for i, s := range t {
		if !(s.Resistance > 0) || !(s.Capacity > 0) || math.IsInf(s.Resistance, 0) || math.IsInf(s.Capacity, 0) {
			return fmt.Errorf("limits: stage %d of a thermal network has %g K/W and %g J/K, want finite values > 0", i+1, s.Resistance, s.Capacity)
		}
	}
	return nil
}

// Resistance returns the whole resistance from coil to air, in K/W: the steady rise
// of the coil per watt.
func (t Thermal) Resistance() (sum float64) {
	for _, s := range t {
		sum += s.Resistance
	}
	return sum
}

// ThermalState is the temperatures of a network, advanced in equal steps of time.
// It belongs to one goroutine.
type ThermalState struct {
	rise, next []float64
	keep       *mat.Dense // exp(A·dt)
	heat       []float64  // K per W of a step
}

// NewState returns the network at rest, all rises 0, for steps of dt seconds. A step
// with constant power is exact whatever its length: θ ← e^{A·dt}·θ + A⁻¹(e^{A·dt}−1)·b·P.
func (t Thermal) NewState(dt float64) (*ThermalState, error) {
	if err := t.Validate(); err != nil {
		return nil, err
	}
	if !(dt > 0) || math.IsInf(dt, 0) {
		return nil, fmt.Errorf("limits: step of a thermal network is %g s, want a finite value > 0", dt)
	}
	// The exponential loses a digit for each power of ten that a step is longer than what
	// the fastest stage takes.
	for i, s := range t {
		if longest := 1e8 * s.Resistance * s.Capacity; !(dt <= longest) {
			return nil, fmt.Errorf("limits: step of a thermal network is %g s, want at most %g s with the %g K/W and %g J/K of stage %d", dt, longest, s.Resistance, s.Capacity, i+1)
		}
	}
	// The block matrix [A b; 0 0]·dt has both in its exponential.
	n := len(t)
	a := mat.NewDense(n+1, n+1, nil)
	for i, s := range t {
		out := 1 / (s.Resistance * s.Capacity)
		a.Set(i, i, a.At(i, i)-out*dt)
		if i+1 < n {
			a.Set(i, i+1, out*dt)
			in := 1 / (s.Resistance * t[i+1].Capacity)
			a.Set(i+1, i, in*dt)
			a.Set(i+1, i+1, -in*dt)
		}
	}
	a.Set(0, n, dt/t[0].Capacity)
	var e mat.Dense
	e.Exp(a)
	s := &ThermalState{rise: make([]float64, n), next: make([]float64, n), keep: mat.DenseCopyOf(e.Slice(0, n, 0, n)), heat: make([]float64, n)}
	for i := range s.heat {
		s.heat[i] = e.At(i, n)
	}
	return s, nil
}

// Step advances by one step in which the coil is heated by a power in W.
func (s *ThermalState) Step(power float64) {
	n := len(s.rise)
	for i := range n {
		v := s.heat[i] * power
		for k, r := range s.rise {
			v += s.keep.At(i, k) * r
		}
		s.next[i] = v
	}
	s.rise, s.next = s.next, s.rise
}

// Rise returns the rise of a stage, from 0 (the coil), in K.
func (s *ThermalState) Rise(stage int) float64 { return s.rise[stage] }
