package tradeoff

import (
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/enclosure"
)

// Recipe is what is to be built. A closed box has Tuning 0.
type Recipe struct {
	Woofer    int              // index into the study's woofers
	Gross     float64          // m³
	Tuning    float64          // Hz
	Shape     analog.Prototype // of the acoustic high-pass
	Extension float64          // where it is Drop down, Hz
}

// Point is a recipe with what it gives and costs. Peaks are the largest over the
// study's band, of a steady sine at the study's level.
type Point struct {
	Woofer    string  `col:"woofer"`
	Gross     float64 `col:"gross volume" unit:"L" fmt:"%.1f"`
	Tuning    float64 `col:"tuning" unit:"Hz" fmt:"%.1f"` // 0: closed
	Shape     string  `col:"target"`
	Corner    float64 `col:"target's corner" unit:"Hz" fmt:"%.2f"`
	Extension float64 `col:"extension" unit:"Hz" fmt:"%.2f"`

	MaxLevel  float64 `col:"highest level" unit:"dB" fmt:"%.1f"` // within excursion, vent air and amplifier
	StoppedBy string  `col:"stopped by"`

	Excursion float64 `col:"excursion" unit:"mm peak" fmt:"%.2f"`
	Stroke    float64 `col:"of the linear one" unit:"%" fmt:"%.0f"` // stands in for distortion, see Stroke
	VentAir   float64 `col:"vent air" unit:"m/s peak" fmt:"%.1f"`
	Volts     float64 `col:"amplifier" unit:"V peak" fmt:"%.1f"`
	Amperes   float64 `col:"current" unit:"A peak" fmt:"%.2f"`
	Power     float64 `col:"apparent power" unit:"V·A" fmt:"%.0f"` // the largest V·I of a sine, rms
	Heat      float64 `col:"heat of the coil" unit:"W" fmt:"%.1f"`
	Delay     float64 `col:"group delay" unit:"ms" fmt:"%.1f"` // at the first of the study's Delays
	DelayUsed float64 `col:"of the delay allowed" unit:"%" fmt:"%.0f"`

	Net    float64 `col:"net volume" unit:"L" fmt:"%.2f"`
	Length float64 `col:"vent length" unit:"mm" fmt:"%.0f"`
	Spare  float64 `col:"room left" unit:"mm" fmt:"%.1f"`
	Fits   bool    `col:"vent fits"`
	Pipe   float64 `col:"pipe resonance" unit:"Hz" fmt:"%.0f"`

	Used       float64 `col:"used of the tightest" unit:"%" fmt:"%.0f"` // above 100 % it is broken
	Binding    string  `col:"tightest"`
	Distortion float64 `col:"distortion" unit:"%" fmt:"%.2f"` // of the front only, by Judge; 0: not judged

	woofer, order int // index into the study's, and of the point in the result
	shape         analog.Prototype
}

// Recipe returns what is to be built. What Study.Passive returns has no Shape.
func (p *Point) Recipe() Recipe {
	return Recipe{Woofer: p.woofer, Gross: p.Gross, Tuning: p.Tuning, Shape: p.shape, Extension: p.Extension}
}

// Feasible reports whether the point keeps all bounds at the study's level.
func (p *Point) Feasible() bool { return p.Used <= 1 }

// Objective is something to have less of, or of Level more.
type Objective int

// The objectives.
const (
	Extension  Objective = iota // the frequency at which the target is Drop down
	Level                       // the highest level
	VentAir                     // at the study's level, as all that follow
	Power                       // apparent, of the amplifier
	Delay                       // group delay at the first of the study's Delays
	Stroke                      // excursion over the linear one; a linear proxy of distortion, no prediction of it
	Heat                        // of the coil in the programme
	Gross                       // of the cabinet
	VentLength                  // of the tube

	objectives
)

// of returns the objective of a point, the less the better.
func (o Objective) of(p *Point) float64 {
	switch o {
	case Extension:
		return p.Extension
	case Level:
		return -p.MaxLevel
	case VentAir:
		return p.VentAir
	case Power:
		return p.Power
	case Delay:
		return p.Delay
	case Stroke:
		return p.Stroke
	case Heat:
		return p.Heat
	case Gross:
		return p.Gross
	case VentLength:
		return p.Length
	}
	panic("tradeoff: objective that is not known")
}

// Build is a recipe as the other rooms know it.
type Build struct {
	Mounted enclosure.Mounted
	Account enclosure.Account // of a vented box; of a closed one only Spare, Fits and the net volume in Box
	Target  *analog.Filter    // 1 on its plateau
}
