package measure

import (
	"fmt"
	"math"
	"math/bits"
	"math/cmplx"
	"strconv"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/mat"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// Calibration is what the recorded tone of a sound calibrator tells.
type Calibration struct {
	Sensitivity float64 // rms of the samples per pascal: V/Pa, or full scale per pascal
	Hz          float64 // frequency of the tone that was found
	Residual    float64 // rms of all that is neither tone nor constant re the tone, dB
}

// String tells the calibration in words.
func (c Calibration) String() string {
	return fmt.Sprintf("%.4g per pascal at %.2f Hz, residual %.1f dB", c.Sensitivity, c.Hz, c.Residual)
}

// Bounds of a calibration.
const (
	calibratorHz      = 0.03 // the tone is within this of its nominal frequency
	calibratorPeriods = 50
	calibratorNoise   = -20.0 // dB; a residual above it is refused
	// Levels of calibrators and pistonphones lie well within (common practice, no source).
	softestCalibrator, loudestCalibrator = 60, 160
)

// Calibrate finds the tone of a sound calibrator of nominally hz hertz (commonly
// 1 kHz) and a level of spl decibels re 20 µPa (commonly 94 or 114; IEC 60942, from memory) in a
// recording: a sine, a constant and the frequency are fitted by least squares (the
// four-parameter fit of IEEE Std 1057, from memory), so that noise and hum do not count as level.
//
// It refuses a level outside 60 to 160 dB, fewer than 50 periods, a tone more than 3 % from the nominal frequency,
// and a residual above −20 dB of the tone: hum, a clipped input or no calibrator.
// Of a sound one the residual is better than −40 dB (common practice, no source).
func Calibrate(samples []float64, sampleRate, hz, spl float64) (Calibration, error) {
	n := len(samples)
	if !(sampleRate > 0) || math.IsInf(sampleRate, 0) || !(hz > 0) || !(hz*(1+calibratorHz) < sampleRate/2) {
		return Calibration{}, fmt.Errorf("measure: calibrator of %g Hz at a sample rate of %g Hz, want one below half of it", hz, sampleRate)
	}
	if !(spl >= softestCalibrator && spl <= loudestCalibrator) {
		return Calibration{}, fmt.Errorf("measure: level of a calibrator is %g dB, want %d to %d dB re 20 µPa (94 and 114 are common; 94 dB are 1 Pa)", spl, softestCalibrator, loudestCalibrator)
	}
	if periods := float64(n) / sampleRate * hz; periods < calibratorPeriods {
		return Calibration{}, fmt.Errorf("measure: %.3g periods of the calibrator, want at least %d", periods, calibratorPeriods)
	}
	if err := finite(samples, "the tone of", "calibrator"); err != nil {
		return Calibration{}, err
	}
	// The largest line within the tolerance, through a Hann window.
	size := 2 << bits.Len(uint(n-1))
	windowed := make([]float64, size)
	for i, x := range samples {
		windowed[i] = x * (0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n)))
	}
	lo, hi, width := hz*(1-calibratorHz), hz*(1+calibratorHz), sampleRate/float64(size)
	lines := fourier.NewFFT(size).Coefficients(nil, windowed)
	found, value := 0.0, 0.0
	for k := int(math.Ceil(lo / width)); k <= int(hi/width); k++ {
		if a := norm(lines[k]); a > value {
			found, value = float64(k)*width, a
		}
	}
	if value == 0 {
		return Calibration{}, fmt.Errorf("measure: no tone within %g … %g Hz of the calibrator, want %g Hz", lo, hi, hz)
	}
	found = maximise(func(f float64) float64 {
		sin, cos := math.Sincos(2 * math.Pi * f / sampleRate)
		var re, im float64
		for i := n - 1; i >= 0; i-- {
			re, im = re*cos-im*sin+windowed[i], re*sin+im*cos
		}
		return re*re + im*im
	}, found-width, found+width)
	// Gauss–Newton on amplitude, phase, constant and frequency; time from the middle,
	// in half lengths.
	var a, b, c float64
	half := float64(n) / 2
	turn := 2 * math.Pi * found / sampleRate * half // rad in half the length
	var rest float64
	for range 6 {
		var sums [16]float64
		var right [4]float64
		for i, x := range samples {
			t := (float64(i) - half) / half
			sin, cos := math.Sincos(turn * t)
			row := [4]float64{cos, sin, 1, t * (b*cos - a*sin)}
			for p, u := range row {
				for q := p; q < 4; q++ {
					sums[4*p+q] += u * row[q]
				}
				right[p] += u * x
			}
		}
		if a == 0 && b == 0 { // the first time without the frequency
			sums[3], sums[7], sums[11], sums[15], right[3] = 0, 0, 0, 1, 0
		}
		var chol mat.Cholesky
		var next mat.VecDense
		if !chol.Factorize(mat.NewSymDense(4, sums[:])) || chol.SolveVecTo(&next, mat.NewVecDense(4, right[:])) != nil {
			return Calibration{}, fmt.Errorf("measure: the tone of the calibrator cannot be told from a constant, want %g Hz", hz)
		}
		a, b, c = next.AtVec(0), next.AtVec(1), next.AtVec(2)
		turn += next.AtVec(3)
	}
	found = turn / half * sampleRate / (2 * math.Pi)
	for i, x := range samples {
		sin, cos := math.Sincos(turn * (float64(i) - half) / half)
		e := x - a*cos - b*sin - c
		rest += e * e
	}
	rms := math.Hypot(a, b) / math.Sqrt2
	cal := Calibration{Sensitivity: rms / level.Pascal(spl), Hz: found, Residual: level.DB(math.Sqrt(rest/float64(n)) / rms)}
	switch {
	case !(cal.Hz >= lo && cal.Hz <= hi):
		return Calibration{}, fmt.Errorf("measure: tone of the calibrator at %.5g Hz, want %g Hz within %g %%", cal.Hz, hz, 100*calibratorHz)
	case !(cal.Residual <= calibratorNoise):
		return Calibration{}, fmt.Errorf("measure: what is not the tone of %g Hz is %.1f dB of it, want at most %g: no calibrator, hum, or a clipped input", hz, cal.Residual, calibratorNoise)
	case !(cal.Sensitivity > 0) || math.IsInf(cal.Sensitivity, 0):
		return Calibration{}, fmt.Errorf("measure: sensitivity from the calibrator is %g per pascal, want a finite value > 0", cal.Sensitivity)
	}
	return cal, nil
}

// farthestMicrophone is how far a microphone may be from its sensitivity, dB, anywhere in
// its band (common practice, no source: they are made to be flat).
const farthestMicrophone = 60

// Settings of a microphone's file.
const (
	keyHolds       = "holds"
	keySensitivity = "sensitivity_mV_per_Pa"
)

// Microphone turns what a microphone gave into sound pressure. It is immutable.
type Microphone struct {
	sensitivity float64       // per pascal; 0: not known
	relative    freq.Response // of the microphone, 1 at the frequency of the sensitivity
	phase       bool
}

// NewMicrophone returns the microphone of a correction file, a table of level in dB
// or magnitude, with phase or without, that says in its settings
//
//	# holds: response          (of the microphone: it is divided by)
//	# holds: correction        (it is multiplied by)
//	# sensitivity_mV_per_Pa: 12.6
//
// Which of the two it holds is never guessed: the wrong one doubles the error. The
// sensitivity is optional. Levels must be relative to it: a mean of those from 200 Hz
// to 2 kHz beyond ±10 dB is refused as an absolute level (in dB re 1 V/Pa), and so is
// any level beyond ±60 dB.
func NewMicrophone(t *Table) (*Microphone, error) {
	if t == nil {
		return nil, fmt.Errorf("measure: microphone without a table")
	}
	if t.impedance {
		return nil, fmt.Errorf("measure: %s was read as an impedance, want the response of a microphone", t.name)
	}
	holds, ok := t.Setting(keyHolds)
	if !ok || holds != "response" && holds != "correction" {
		return nil, &ParseError{Package: "measure", File: t.name, Had: keyHolds + ": " + strconv.Quote(holds), Want: `a line "# holds: response" (of the microphone) or "# holds: correction"`}
	}
	mV, err := t.positive(keySensitivity)
	if err != nil {
		return nil, err
	}
	if mV > 1e6 {
		return nil, &ParseError{Package: "measure", File: t.name, Had: fmt.Sprintf("%s: %g", keySensitivity, mV), Want: "at most 1e6"}
	}
	c, err := t.Level()
	if err != nil {
		return nil, err
	}
	if i, j := c.Grid().Between(200, 2000); i < j {
		var mean float64
		for k := i; k < j; k++ {
			mean += c.At(k) / float64(j-i)
		}
		if !(math.Abs(mean) <= 10) {
			return nil, &ParseError{Package: "measure", File: t.name, Had: fmt.Sprintf("a mean level of %.1f dB from 200 to 2000 Hz", mean),
				Want: "levels relative to the sensitivity, near 0 dB: perhaps these are absolute, in dB re 1 V/Pa"}
		}
	}
	v := make([]complex128, c.Len())
	for i := range v {
		if !(math.Abs(c.At(i)) <= farthestMicrophone) {
			return nil, &ParseError{Package: "measure", File: t.name, Had: fmt.Sprintf("a level of %.4g dB at %.5g Hz", c.At(i), c.Grid().At(i)),
				Want: fmt.Sprintf("levels within ±%d dB: no microphone is further from its own sensitivity", farthestMicrophone)}
		}
		var turn float64
		if t.second != nil {
			turn = t.second[i]
			if t.layout.kind == Real {
				turn = math.Atan2(t.second[i], t.first[i])
			}
		}
		v[i] = cmplx.Rect(level.Ratio(c.At(i)), turn)
		if holds == "correction" {
			v[i] = 1 / v[i]
		}
	}
	r, err := freq.NewResponse(c.Grid(), v, t.Label(), freq.Basis{Quantity: freq.Dimensionless})
	if err != nil {
		return nil, err
	}
	return &Microphone{sensitivity: mV * 1e-3, relative: r, phase: t.HasPhase()}, nil
}

// Sensitivity returns the sensitivity per pascal (V/Pa from a file), 0 if it is not
// known.
func (m *Microphone) Sensitivity() float64 { return m.sensitivity }

// HasPhase reports whether the phase of the microphone is corrected too. Without,
// its minimum phase is left in the result: small as long as its level is flat.
func (m *Microphone) HasPhase() bool { return m.phase }

// Calibrated returns the microphone with another sensitivity per pascal, such as
// [Calibration.Sensitivity], which then also is in full scale per pascal.
func (m *Microphone) Calibrated(sensitivity float64) (*Microphone, error) {
	if !(sensitivity > 0) || math.IsInf(sensitivity, 0) {
		return nil, fmt.Errorf("measure: sensitivity of %q is %g per pascal, want a finite value > 0", m.relative.Label(), sensitivity)
	}
	c := *m
	c.sensitivity = sensitivity
	return &c, nil
}

// Pressure returns the sound pressure at the microphone,
//
//	p(f) = u(f) / (S·D(f))
//
// with the sensitivity S and the response D relative to it, for a response u in
// volts or, with a sensitivity per full scale, a ratio. Space and distance are those
// of the measurement; what it is per stays. D is interpolated by [Resample], which
// refuses frequencies outside the file.
func (m *Microphone) Pressure(u freq.Response, s freq.Space, distance float64) (freq.Response, error) {
	b := u.Basis()
	if b.Quantity != freq.Voltage && b.Quantity != freq.Dimensionless {
		return freq.Response{}, fmt.Errorf("measure: %q is %v, want the voltage of a microphone, or a ratio to full scale", u.Label(), b)
	}
	if m.sensitivity == 0 {
		return freq.Response{}, fmt.Errorf("measure: sensitivity of %q is not known, want it in its file or from a calibrator", m.relative.Label())
	}
	if s == freq.NotRadiated || !(distance >= 0) || math.IsInf(distance, 0) {
		return freq.Response{}, fmt.Errorf("measure: sound pressure of %q in %v at %g m, want a space and a distance", u.Label(), s, distance)
	}
	d, err := Resample(m.relative, u.Grid())
	if err != nil {
		return freq.Response{}, err
	}
	v := u.Values()
	for i := range v {
		v[i] /= d.At(i) * complex(m.sensitivity, 0)
	}
	b.Quantity, b.Space, b.Distance = freq.Pressure, s, distance
	return freq.NewResponse(u.Grid(), v, u.Label(), b)
}
