package activerc

import (
	"fmt"
	"math"
)

// Amplifier is an operational amplifier with one pole,
//
//	A(s) = A₀/(1 + s·A₀/ω_t),  ω_t = 2π·GBW
//
// its noise, what it can give, its input capacitance and output resistance. The zero value is an ideal one.
// Sheets state typical values: a sample may have half the gain-bandwidth.
type Amplifier struct {
	Name   string
	GBW    float64 // gain-bandwidth product, Hz; 0 is infinite
	DCGain float64 // A₀, a ratio; 0 is infinite

	Voltage       float64 // noise voltage in series with an input, V/√Hz, far above its corner
	VoltageCorner float64 // below which it rises as 1/√f, Hz: e² = Voltage²·(1 + corner/f)
	Current       float64 // noise current at each of both inputs, uncorrelated, A/√Hz
	CurrentCorner float64 // Hz, the same

	Swing float64 // the highest peak at its output, V; 0 is not stated
	Slew  float64 // the fastest change at its output, V/s; 0 is not stated

	Differential float64 // capacitance between the inputs, F; 0 leaves it out
	Common       float64 // capacitance of each input to ground, F; 0 leaves it out

	// Output is the resistance behind the output without feedback, Ω; 0 leaves it out. Its own
	// noise is left out, and so is what the next stage takes from it: feedback divides both by
	// the loop gain.
	Output float64
}

// Validate reports values that are negative or not finite, and a noise corner or a gain at
// direct current that says nothing.
func (a Amplifier) Validate() error {
	for _, v := range []struct {
		what string
		v    float64
		unit string
	}{
		{"gain-bandwidth product", a.GBW, "Hz"}, {"gain at direct current", a.DCGain, ""},
		{"noise voltage", a.Voltage, "V/√Hz"}, {"corner of the noise voltage", a.VoltageCorner, "Hz"},
		{"noise current", a.Current, "A/√Hz"}, {"corner of the noise current", a.CurrentCorner, "Hz"},
		{"swing", a.Swing, "V"}, {"slew rate", a.Slew, "V/s"},
		{"differential input capacitance", a.Differential, "F"}, {"common-mode input capacitance", a.Common, "F"},
		{"output resistance", a.Output, "Ω"},
	} {
		if !(v.v >= 0) || math.IsInf(v.v, 0) {
			return fmt.Errorf("activerc: %s of amplifier %q is %g %s, want a finite value ≥ 0", v.what, a.Name, v.v, v.unit)
		}
	}
	if a.DCGain > 0 && a.DCGain < 10 {
		return fmt.Errorf("activerc: gain at direct current of amplifier %q is %g, want at least 10, or 0 for infinite", a.Name, a.DCGain)
	}
	return nil
}

// inverse returns 1/A(s) as c₀ + c₁·s, which is 0 for an ideal amplifier.
func (a Amplifier) inverse() (c0, c1 float64) {
	if a.DCGain > 0 {
		c0 = 1 / a.DCGain
	}
	if a.GBW > 0 {
		c1 = 1 / (2 * math.Pi * a.GBW)
	}
	return c0, c1
}

// voltage2 and current2 return the densities of the noise at a frequency, V²/Hz and A²/Hz.
func (a Amplifier) voltage2(hz float64) float64 {
	return a.Voltage * a.Voltage * (1 + a.VoltageCorner/hz)
}

func (a Amplifier) current2(hz float64) float64 {
	return a.Current * a.Current * (1 + a.CurrentCorner/hz)
}
