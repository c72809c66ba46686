package figure

import (
	"math"
	"strconv"
	"strings"
)

// scale is one axis: its range in shown units, and its ticks.
type scale struct {
	log      bool
	min, max float64
	ticks    []tick
}

// tick is a line of the grid; with a label, if it has one.
type tick struct {
	at    float64
	label string
	major bool
}

// pos returns the place of v on the axis, 0 … 1 within it.
func (s scale) pos(v float64) float64 {
	if s.log {
		return math.Log(v/s.min) / math.Log(s.max/s.min)
	}
	return (v - s.min) / (s.max - s.min)
}

// decades returns the length of a logarithmic axis.
func (s scale) decades() float64 { return math.Log(s.max/s.min) / math.Ln10 }

// logScale has grid lines at 1 … 9 times the powers of ten, and labels at 1, 2
// and 5 times, or at all of them on less than a decade.
func logScale(lo, hi float64, label func(float64) string) scale {
	s := scale{log: true, min: lo, max: hi}
	exp := int(math.Floor(math.Log(lo)/math.Ln10 + 1e-9))
	for ; ; exp++ {
		for m := 1; m <= 9; m++ {
			v := float64(m) * tenTo(exp)
			if v > hi*(1+1e-9) {
				return s
			}
			if v < lo*(1-1e-9) {
				continue
			}
			t := tick{at: v, major: m == 1}
			if m == 1 || m == 2 || m == 5 || s.decades() < 1 {
				t.label = label(v)
			}
			s.ticks = append(s.ticks, t)
		}
	}
}

func tenTo(exp int) float64 {
	v, err := strconv.ParseFloat("1e"+strconv.Itoa(exp), 64)
	if err != nil {
		panic("figure: power of ten out of range")
	}
	return v
}

// hertz labels a frequency: 20, 50, … 1k, 20k.
func hertz(f float64) string {
	if f >= 1000 {
		return number(f/1000) + "k"
	}
	return number(f)
}

// number prints up to four significant digits, with a true minus.
func number(v float64) string {
	switch {
	case math.IsInf(v, 1):
		return "∞"
	case math.IsInf(v, -1):
		return "−∞"
	}
	r, err := strconv.ParseFloat(strconv.FormatFloat(v, 'e', 3, 64), 64)
	if err != nil {
		r = v
	}
	return strings.ReplaceAll(strconv.FormatFloat(r+0, 'g', -1, 64), "-", "−")
}

// linearScale covers lo … hi as they are, with labels at the multiples of step.
func linearScale(lo, hi, step float64) scale {
	s := scale{min: lo, max: hi}
	for k := math.Ceil(lo/step - 1e-9); k*step <= hi+1e-9*step; k++ {
		s.ticks = append(s.ticks, tick{at: k * step, label: fixed(k*step, step), major: k == 0})
	}
	return s
}

// niceStep returns the smallest 1, 2 or 5 times a power of ten that is at least v.
func niceStep(v float64) float64 {
	exp := int(math.Floor(math.Log(v)/math.Ln10 + 1e-12))
	for _, m := range []float64{1, 2, 5} {
		if s := m * tenTo(exp); s >= v*(1-1e-9) {
			return s
		}
	}
	return tenTo(exp + 1)
}

// degreeStep returns a step of degrees that is at least v, if there is one.
func degreeStep(v float64) float64 {
	for _, s := range []float64{5, 15, 30, 45, 90, 180} {
		if s >= v*(1-1e-9) {
			return s
		}
	}
	return 180 * math.Ceil(v/180)
}

// fixed prints a multiple of a step with the decimals of the step.
func fixed(v, step float64) string {
	digits := max(0, -int(math.Floor(math.Log(step)/math.Ln10+1e-9)))
	s := strconv.FormatFloat(v, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return strings.Replace(s, "-", "−", 1)
}

// levelScale is the axis of decibels from bottom to top: a line every step, and
// labels where there is room for them. perDB is the height of a dB in points.
func levelScale(bottom, top, perDB float64) scale {
	s := scale{min: bottom, max: top}
	step := 10.0
	for _, finer := range []float64{5, 2, 1, 0.5, 0.2, 0.1} {
		if finer*perDB < 15 {
			break
		}
		step = finer
	}
	for k := math.Ceil(bottom/step - 1e-9); k*step <= top+1e-9; k++ {
		s.ticks = append(s.ticks, tick{at: k * step, label: fixed(k*step, step), major: k == 0})
	}
	return s
}
