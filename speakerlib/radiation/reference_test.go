package radiation_test

import (
	"math"

	"example.org/loudspeaker/speakerlib/air"
)

// still is the air of the reference tables.
var still = air.Medium{Density: 1.2, SpeedOfSound: 343}

// hz is the frequency at which a radius has a ka.
func hz(ka, radius float64) float64 { return ka * 343 / (2 * math.Pi * radius) }

func rad(deg float64) float64 { return deg * math.Pi / 180 }
