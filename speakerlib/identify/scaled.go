package identify

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/driver"
)

// Scaled returns the driver that a moving mass and an area from elsewhere, such as a
// sheet, make of what a curve in free air tells: with w = 2πFs
//
//	Bl = √(w·Mms·Re/Qes)   Cms = 1/(w²·Mms)   Rms = w·Mms/Qms
//
// For a driver on which nobody puts a weight, a dome. Impedance and relative response
// are those of the curve, whatever the mass; levels go with Sd·√(1/Mms), so that an
// error of the mass is half of one in the level and an error of the area a whole one. The
// mass is that of free air, kg; the area in m².
func (r *Result) Scaled(mms, sd float64) (driver.Params, error) {
	for _, v := range []float64{mms, sd} {
		if !(v > 0) || math.IsInf(v, 0) {
			return driver.Params{}, fmt.Errorf("identify: a moving mass of %g kg and an area of %g m² are to scale a driver, want finite values > 0", mms, sd)
		}
	}
	if mms > heaviest {
		return driver.Params{}, fmt.Errorf("identify: a moving mass of %g kg is to scale a driver, want at most %g kg: is it in grams?", mms, heaviest)
	}
	if sd > 1 {
		return driver.Params{}, fmt.Errorf("identify: an area of %g m² is to scale a driver, want at most 1 m²: is it in cm²?", sd)
	}
	value := func(s Symbol) float64 {
		p, _ := r.Value(s) // every result has these
		return p.Value
	}
	w := 2 * math.Pi * value(Fs)
	list := []Parameter{
		{Symbol: Re, Value: value(Re)}, {Symbol: Fs, Value: value(Fs)}, {Symbol: Decay, Value: value(Decay)},
		{Symbol: Mms, Value: mms}, {Symbol: Cms, Value: 1 / (w * w * mms)},
		{Symbol: Bl, Value: math.Sqrt(w * mms * value(Re) / value(Qes))}, {Symbol: Rms, Value: w * mms / value(Qms)},
	}
	return driverOf(list, r.Coil, sd)
}
