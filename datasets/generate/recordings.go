package main

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The recorder: a second rig in the same hall, at a lower rate, whose files are as
// they come from the converters.
const (
	recordRate = 48000.0
	recordLine = 1 << 15 // samples of an impulse response: 0.68 s
	// The sweep, synchronised: From·L is a whole number.
	sweepFrom, sweepTo   = 20.0, 20000.0
	sweepCycles          = 5.0 // From·L
	sweepAmplitude       = 0.5 // of full scale
	sweepRise, sweepFall = 0.1, 0.005
	sweepTail            = 0.35 // s after the sweep
	amplifierGain        = 8.0  // V at the terminals at full scale
	terminalScale        = 10.0 // V at the terminals for full scale of the second channel
	microphonePerPascal  = 0.2  // full scale per pascal, microphone and preamplifier
	recordNoise          = 2e-5 // full scale rms
)

// ear is the response of the invented microphone: a capsule's resonance and the
// pressure equalisation at low frequencies.
func ear(f float64) complex128 {
	x := complex(0, f/24e3)
	low := complex(0, f/4)
	return low / (1 + low) / (1 + x/0.95 + x*x)
}

// at48 passes a spectrum on the lines of the recorder through hall and converters,
// with a latency, and returns the impulse response: samples whose sum is the
// response.
func at48(spectrum func(f float64) complex128, hall bool, latency float64) []float64 {
	floor, ceiling := math.Hypot(micAt, 2*axisHeight), math.Hypot(micAt, 2*(hallHeight-axisHeight))
	x := make([]complex128, recordLine/2+1)
	for i := 1; i < len(x)-1; i++ {
		f := float64(i) * recordRate / recordLine
		v := spectrum(f) * cmplx.Exp(complex(0, -tau*f*latency))
		if hall {
			v *= 1 + mirror(f, floor, 0.80) + mirror(f, ceiling, 0.70)
		}
		if f > 20.5e3 {
			c := math.Cos(math.Pi / 2 * min(1, (f-20.5e3)/3e3))
			v *= complex(c*c, 0)
		}
		x[i] = v
	}
	h := fourier.NewFFT(recordLine).Sequence(nil, x)
	for i := range h {
		h[i] /= recordLine
	}
	return h
}

// convolved is the beginning of a convolution, n samples of it.
func convolved(a, b []float64, n int) []float64 {
	size := 1
	for size < len(a)+len(b) {
		size *= 2
	}
	fft := fourier.NewFFT(size)
	pad := func(v []float64) []complex128 {
		return fft.Coefficients(nil, append(slices.Clone(v), make([]float64, size-len(v))...))
	}
	x, y := pad(a), pad(b)
	for i := range x {
		x[i] *= y[i]
	}
	out := fft.Sequence(nil, x)[:n]
	for i := range out {
		out[i] /= float64(size)
	}
	return out
}

// sweep is x(t) = A·sin(2π·From·L·(e^{t/L} − 1)), with half a cosine at both ends.
func sweep() []float64 {
	l := sweepCycles / sweepFrom
	duration := l * math.Log(sweepTo/sweepFrom)
	n := int(math.Ceil(duration*recordRate - 1e-9))
	out := make([]float64, n)
	for i := range out {
		t := float64(i) / recordRate
		x := sweepAmplitude * math.Sin(tau*sweepCycles*math.Expm1(t/l))
		if t < sweepRise {
			x *= 0.5 - 0.5*math.Cos(math.Pi*t/sweepRise)
		}
		if left := duration - t; left < sweepFall {
			x *= 0.5 - 0.5*math.Cos(math.Pi*left/sweepFall)
		}
		out[i] = x
	}
	return out
}

// bent is the force that a voltage makes, relative to a linear driver: what stands
// for displacement is the voltage behind a low-pass of second order at 70 Hz, and the
// force factor falls with it, more to one side.
func bent(volts []float64) []float64 {
	const hz, q = 70.0, 0.8
	k := math.Tan(math.Pi * hz / recordRate)
	norm := 1 / (1 + k/q + k*k)
	b0, a1, a2 := k*k*norm, 2*(k*k-1)*norm, (1-k/q+k*k)*norm
	var x1, x2, y1, y2 float64
	out := make([]float64, len(volts))
	for i, v := range volts {
		y := b0*(v+2*x1+x2) - a1*y1 - a2*y2
		x2, x1, y2, y1 = x1, v, y1, y
		out[i] = v * (1 + 0.004*y - 0.0022*y*y)
	}
	return out
}

func recordings(files map[string][]byte) {
	w, t, b, mic := woofer(), tweeter(), box(), directions()[0].microphone()
	out := seenFrom(mic)
	noise := rand.New(rand.NewPCG(5001, 0xca11))
	hiss := func() float64 { return recordNoise * noise.NormFloat64() }

	// The sweep: first channel the microphone, second the terminals.
	volts := sweep()
	for i := range volts {
		volts[i] *= amplifierGain
	}
	n := len(volts) + int(sweepTail*recordRate)
	path := at48(func(f float64) complex128 {
		st := b.solve(w, f)
		return (st.cone*out.woofer(f, w) + (st.vent+st.leak)*out.vent(f)) * ear(f)
	}, true, latency)
	wire := at48(func(float64) complex128 { return 1 }, false, latency)
	heard, read := convolved(bent(volts), path, n), convolved(volts, wire, n)
	for i := range n {
		heard[i] = heard[i]*microphonePerPascal + hiss()
		read[i] = read[i]/terminalScale + hiss()
	}
	files["standmount/recordings/sweep-woofer.wav"] = wav(16, heard, read)
	var made bytes.Buffer
	fmt.Fprintf(&made, "# How sweep-woofer.wav was made. %s\n# key = value unit\n", invented)
	fmt.Fprintf(&made, "sample_rate = %g Hz\nsweep_from = %g Hz\nsweep_to = %g Hz\nsweep_duration = %.9f s\nsweep_amplitude = %g\nsweep_rise = %g s\nsweep_fall = %g s\n",
		recordRate, sweepFrom, sweepTo, sweepCycles/sweepFrom*math.Log(sweepTo/sweepFrom), sweepAmplitude, sweepRise, sweepFall)
	fmt.Fprintf(&made, "amplifier_full_scale = %g V   # at the woofer's terminals, for full scale of the sweep\nterminals_full_scale = %g V   # at the woofer's terminals, for full scale of the second channel\ndistance = %g m\n", amplifierGain, terminalScale, micAt)
	fmt.Fprintf(&made, "calibrator_tone = 1 kHz\ncalibrator_level = 94 dB   # re 20 µPa\n")
	files["standmount/recordings/recording.txt"] = made.Bytes()

	// An impulse response of the tweeter: microphone, and the loop of the converters.
	direct := at48(func(f float64) complex128 { return t.velocity(f, 0) * complex(t.sd, 0) * out.tweeter(f, t) * ear(f) }, true, latency)[:4800]
	loop := at48(func(float64) complex128 { return 0.5 }, false, latency)[:4800]
	for i := range direct {
		direct[i] = direct[i]*microphonePerPascal + hiss()/30
		loop[i] += hiss() / 30
	}
	files["standmount/recordings/impulse-tweeter.wav"] = wav(24, direct, loop)

	// The calibrator: 1 Pa rms, a trace off its frequency, with hum.
	tone := make([]float64, 24000)
	for i := range tone {
		at := float64(i) / recordRate
		tone[i] = microphonePerPascal*math.Sqrt2*(math.Pow(10, 94.0/20)*reference*cmplx.Abs(ear(1000))*math.Sin(tau*1000.4*at+0.7)+0.002*math.Sin(tau*50*at)) + hiss()
	}
	files["standmount/recordings/calibrator.wav"] = wav(16, tone)

	sheet := newTable("frequency_Hz level_dB phase_deg", "Correction file of the microphone: its response re that at 1 kHz", "holds", "response", "quantity", "ratio", "reference", "1")
	for _, f := range logarithmic(10, 22e3, 12) {
		v := ear(f) / complex(cmplx.Abs(ear(1000)), 0)
		fmt.Fprintf(sheet, "%.5g\t%.3f\t%.2f\n", f, 20*math.Log10(cmplx.Abs(v)), degrees(v))
	}
	files["standmount/recordings/microphone.txt"] = sheet.Bytes()
}

// repeats writes the passive loudspeaker on its axis as five set-ups of the same
// microphone give it: it stands a few millimetres elsewhere each time.
func repeats(files map[string][]byte) {
	w, t, b, n := woofer(), tweeter(), box(), passive()
	random := rand.New(rand.NewPCG(5002, 0x4e9ea7))
	for k := 1; k <= 5; k++ {
		mic := directions()[0].microphone()
		mic.x += 4e-3 * random.NormFloat64()
		mic.y += 4e-3 * random.NormFloat64()
		mic.z += 1e-3 * random.NormFloat64()
		heard := seenFrom(mic)
		all := make([]complex128, frame/2+1)
		for i := 1; i < frame/2; i++ {
			f := float64(i) * sampleRate / frame
			st := b.solve(w, f)
			_, low, high := n.solve(f, st.impedance, t.impedance(f, 0, 0))
			all[i] = low*(st.cone*heard.woofer(f, w)+(st.vent+st.leak)*heard.vent(f)) + high*t.velocity(f, 0)*complex(t.sd, 0)*heard.tweeter(f, t)
		}
		lines := measured(all, uint64(6000+k), 0)
		out := newTable(pressureColumns, "The passive loudspeaker, set up anew", "quantity", "sound pressure", "reference_Pa", "20e-6", "drive_V", "2.83", "per", "input",
			"space", "full space", "distance_m", "1", "set", fmt.Sprintf("set-up %d", k), "gate_ms", "5.0", "usable_from_Hz", "250", "air", "20 degC, 101325 Pa, 50 % relative humidity")
		for next, i := 250.0, 0; i < len(lines); i++ {
			if f := float64(i) * sampleRate / record; f >= next && f <= 20.1e3 {
				out.line(f, lines[i], drive)
				next = f * math.Exp2(1.0/24)
			}
		}
		files[fmt.Sprintf("standmount/recordings/set-up-%d.txt", k)] = out.Bytes()
	}
}

// wav is a file of integers with an extensible header.
func wav(bits int, channels ...[]float64) []byte {
	n, bytesEach := len(channels[0]), bits/8
	size := n * len(channels) * bytesEach
	var b bytes.Buffer
	put := func(v any) { _ = binary.Write(&b, binary.LittleEndian, v) }
	b.WriteString("RIFF")
	put(uint32(4 + 8 + 40 + 8 + size + size%2))
	b.WriteString("WAVEfmt ")
	put(uint32(40))
	put(uint16(0xFFFE))
	put(uint16(len(channels)))
	put(uint32(recordRate))
	put(uint32(int(recordRate) * len(channels) * bytesEach))
	put(uint16(len(channels) * bytesEach))
	put(uint16(bits))
	put(uint16(22))
	put(uint16(bits))
	put(uint32(0))
	// The identifier of integer samples.
	b.Write([]byte{1, 0, 0, 0, 0, 0, 0x10, 0, 0x80, 0, 0, 0xaa, 0, 0x38, 0x9b, 0x71})
	b.WriteString("data")
	put(uint32(size))
	full := float64(int64(1) << (bits - 1))
	for i := range n {
		for _, c := range channels {
			x := math.Round(c[i] * full)
			if !(x >= -full && x < full) {
				panic("generate: a recording is beyond full scale")
			}
			v := int32(x)
			for k := range bytesEach {
				b.WriteByte(byte(v >> (8 * k)))
			}
		}
	}
	if size%2 == 1 {
		b.WriteByte(0)
	}
	return b.Bytes()
}
