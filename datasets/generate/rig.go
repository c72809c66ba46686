package main

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The far-field rig: loudspeaker on a turntable high in a hall, the reference
// axis through the middle of the tweeter, microphone 1 m from the baffle's plane.
const (
	sampleRate = 96000.0
	frame      = 1 << 14 // samples computed: 171 ms
	record     = 1 << 12 // samples transformed after gating: 23.4 Hz a line
	micAt      = 1.0     // m
	latency    = 1.37e-3 // s, of the converters and the programme
	axisHeight = 1.40    // m above the floor
	hallHeight = 3.60
	gateRise   = 0.5e-3 // s before the direct sound
	gateAround = 0.5e-3 // s by which it opens earlier when the loudspeaker is turned all around: below, the woofer is nearer
	gateFlat   = 3.6e-3 // s after it
	gateEnd    = 5.0e-3
	noiseRMS   = 3.0e-5 // Pa/V a sample: about 65 dB below the response after gating
	drive      = 2.83   // V rms
	reference  = 20e-6  // Pa
)

// direction is a place of the microphone, degrees from the reference axis.
type direction struct {
	name     string
	side, up float64
}

func directions() []direction {
	return []direction{
		{"axis", 0, 0},
		{"side15", 15, 0}, {"side30", 30, 0}, {"side45", 45, 0}, {"side60", 60, 0},
		{"up10", 0, 10}, {"up20", 0, 20}, {"down10", 0, -10}, {"down20", 0, -20},
	}
}

// orbits are the two circles of the turntable, all around.
func orbits() []direction {
	var d []direction
	for a := -170.0; a <= 180; a += 10 {
		d = append(d, direction{fmt.Sprintf("side%g", a), a, 0})
	}
	for a := -170.0; a < 180; a += 10 {
		if a != 0 {
			d = append(d, direction{fmt.Sprintf("up%g", a), 0, a})
		}
	}
	return d
}

func (d direction) microphone() point {
	s, u := d.side*math.Pi/180, d.up*math.Pi/180
	return point{
		tweeterAt.x + micAt*math.Sin(s)*math.Cos(u),
		tweeterAt.y + micAt*math.Sin(u),
		micAt * math.Cos(s) * math.Cos(u),
	}
}

// spectra are the responses at one place of the microphone, before the rig, on
// the lines of the frame: per volt at each driver's terminals.
type spectra struct{ woofer, tweeter []complex128 }

func (p specimen) compute(dir direction) spectra {
	w, t, b, out := p.woofer, p.tweeter, p.box, seenFrom(dir.microphone())
	s := spectra{make([]complex128, frame/2+1), make([]complex128, frame/2+1)}
	for i := 1; i < frame/2; i++ {
		f := float64(i) * sampleRate / frame
		st := b.solve(w, f)
		s.woofer[i] = st.cone*out.woofer(f, w) + (st.vent+st.leak)*out.vent(f)
		s.tweeter[i] = t.velocity(f, 0) * complex(t.sd, 0) * out.tweeter(f, t)
	}
	return s
}

// measured passes a response through the rig: the hall's first reflections,
// latency, the converter's band limit, noise, gating, and the transform of the
// gated record, the gate opening some seconds ahead of the direct sound. It returns the
// lines of the record.
func measured(spectrum []complex128, seed uint64, ahead float64) []complex128 {
	fft := fourier.NewFFT(frame)
	random := rand.New(rand.NewPCG(seed, 0x5ca1ab1e))
	gain := 1 + 0.0012*random.NormFloat64()       // repeatability of the level: 0.01 dB
	jitter := latency + 8e-8*random.NormFloat64() // and of the time: 0.08 µs
	x := make([]complex128, len(spectrum))
	floor := math.Hypot(micAt, 2*axisHeight)
	ceiling := math.Hypot(micAt, 2*(hallHeight-axisHeight))
	for i, v := range spectrum {
		f := float64(i) * sampleRate / frame
		w := tau * f
		h := 1 + mirror(f, floor, 0.80) + mirror(f, ceiling, 0.70)
		band := 1.0
		if f > 30e3 {
			c := math.Cos(math.Pi / 2 * (f - 30e3) / 18e3)
			band = c * c
		}
		x[i] = v * h * complex(gain*band, 0) * cmplx.Exp(complex(0, -w*jitter))
	}
	samples := fft.Sequence(nil, x)
	for i := range samples {
		samples[i] = samples[i]*sampleRate/frame + noiseRMS*random.NormFloat64()*sampleRate/1000
	}
	arrival := micAt/c0 + latency
	gated := make([]float64, record)
	for i := range gated {
		gated[i] = samples[i] * gate(float64(i)/sampleRate-arrival, ahead) / sampleRate
	}
	return fourier.NewFFT(record).Coefficients(nil, gated)
}

// mirror is a reflection at a floor or ceiling relative to the direct sound.
func mirror(f, path, strength float64) complex128 {
	return complex(strength*micAt/path, 0) * phasor(tau*f/c0, path-micAt) / (1 + complex(0, f/6000))
}

// gate is the window over time after the direct sound's arrival.
func gate(t, ahead float64) float64 {
	switch {
	case t < -gateRise-ahead || t > gateEnd:
		return 0
	case t < -ahead:
		c := math.Cos(math.Pi / 2 * (t + ahead) / gateRise)
		return c * c
	case t > gateFlat:
		c := math.Cos(math.Pi / 2 * (t - gateFlat) / (gateEnd - gateFlat))
		return c * c
	}
	return 1
}

// near is the sound pressure close to the middle of a flat round piston in a
// wall, per volume velocity through it, at a distance.
func near(f, area, distance float64) complex128 {
	k, a := tau*f/c0, math.Sqrt(area/math.Pi)
	return complex(rho*c0/area, 0) * (phasor(k, distance) - phasor(k, math.Hypot(distance, a)))
}

// noisy adds relative and absolute noise.
func noisy(random *rand.Rand, v complex128, relative, absolute float64) complex128 {
	n := func() float64 { return random.NormFloat64() }
	return v*complex(1+relative*n(), relative*n()) + complex(absolute*n(), absolute*n())
}
