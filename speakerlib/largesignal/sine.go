package largesignal

import "math"

// Sine returns the tone of a peak voltage, as rooms that count in peaks have it.
func Sine(hz, peak float64) Tone { return Tone{Hz: hz, RMS: peak / math.Sqrt2} }
