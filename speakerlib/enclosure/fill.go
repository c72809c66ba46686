package enclosure

import (
	"fmt"
	"math"
)

// heatRatio is γ = cp/cv of air. It is 7/5 for the two-atomic gases that air is of;
// water vapour of a moist room takes off less than 0.3 %.
const heatRatio = 1.4

// Fill is fibre in the air of a box. Its threads hold the temperature, wholly or in
// part, so that the air yields more,
//
//	C = V/ρc² · (1 + (γ−1)·Isothermal),  γ = 1.4
//
// from adiabatic to isothermal; and it holds the flow with a resistivity σ. The
// zero Fill is none.
//
// In a lumped box the flow enters at one end of a filled depth ℓ and stops at the
// other, which makes the resistance σ·ℓ/(3·S) in series with the compliance, S = V/ℓ:
// the first term of Z = Zc·coth γℓ, exact while ℓ is short against the wavelength in
// the fill. In a [Column] the resistance is spread along it.
//
// The share is a constant here. It is right well below the frequency at which
// heat has no time to reach a thread: near 1 kHz for threads 0.1 mm apart (from the
// diffusivity of air). Boxes are found at shares of a half and less (R. H. Small,
// "Closed-Box Loudspeaker Systems", JAES 20, 1972, has volumes felt larger by up to
// 25 %; from memory). Resistivities of loose fibre are of the order of 10³ to 10⁴
// Pa·s/m² (common practice, no source). The mass of fibre that moves with the air is
// left out.
type Fill struct {
	Isothermal  float64 // 0 (adiabatic) to 1 (isothermal)
	Resistivity float64 // σ, to steady flow, Pa·s/m²
	Depth       float64 // ℓ, of the filled air in front of the cone, m; needed with a resistivity in a lumped box
}

// Validate reports a share outside 0 to 1, and a resistivity or depth that is
// negative or not finite.
func (f Fill) Validate() error {
	if !(f.Isothermal >= 0 && f.Isothermal <= 1) {
		return fmt.Errorf("enclosure: isothermal share of the fill is %g, want 0 to 1", f.Isothermal)
	}
	if !(f.Resistivity >= 0) || math.IsInf(f.Resistivity, 0) || !(f.Depth >= 0) || math.IsInf(f.Depth, 0) {
		return fmt.Errorf("enclosure: fill has %g Pa·s/m² over %g m, want finite values ≥ 0", f.Resistivity, f.Depth)
	}
	return nil
}

// lumped is Validate for a box without a [Column], which needs the depth.
func (f Fill) lumped() error {
	if err := f.Validate(); err != nil {
		return err
	}
	if f.Resistivity > 0 && f.Depth == 0 {
		return fmt.Errorf("enclosure: fill of %g Pa·s/m² has no depth, want that of the filled air in front of the cone, m", f.Resistivity)
	}
	return nil
}

// felt returns the adiabatic volume of the same compliance.
func (f Fill) felt(vb float64) float64 { return vb * (1 + (heatRatio-1)*f.Isothermal) }

func (f Fill) resistance(vb float64) float64 { return f.Resistivity * f.Depth * f.Depth / (3 * vb) }
