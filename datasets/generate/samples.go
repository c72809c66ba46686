package main

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// How samples of the woofer differ: standard deviations, relative.
const (
	spreadStiffness = 0.04
	spreadForce     = 0.012 // Bl
	spreadMass      = 0.008
	spreadRe        = 0.01
	spreadLoss      = 0.06 // Rms
	spreadCoil      = 0.015
	sampleCount     = 8
	// One sample came with a suspension whose glue has crept into the corrugations.
	stiffSample, stiffer = 6, 1.28
)

// varied is a driver of the same make: the mechanical and electrical parts differ,
// and what the trade calls parameters follows.
func (d driver) varied(random *rand.Rand, stiffer float64) driver {
	ws := tau * d.fs
	k, bl, r := ws*ws*d.mms, d.bl(), ws*d.mms/d.qms
	by := func(sigma float64) float64 { return 1 + sigma*random.NormFloat64() }
	k *= by(spreadStiffness) * stiffer
	bl *= by(spreadForce)
	d.mms *= by(spreadMass)
	d.re *= by(spreadRe)
	r *= by(spreadLoss)
	d.coil.henry *= by(spreadCoil)
	ws = math.Sqrt(k / d.mms)
	d.fs, d.qms, d.qes = ws/tau, ws*d.mms/r, ws*d.mms*d.re/(bl*bl)
	return d
}

// samples writes the impedance of a handful of woofers, in free air and with the same
// mass on the cone.
func samples(files map[string][]byte) {
	const added = 10.0e-3
	for k := 1; k <= sampleCount; k++ {
		random := rand.New(rand.NewPCG(uint64(3000+k), 0x5a3b1e))
		more := 1.0
		if k == stiffSample {
			more = stiffer
		}
		w := woofer().varied(random, more)
		write := func(what, title string, mass float64, settings ...string) {
			settings = append([]string{"quantity", "impedance", "drive_V", "0.2", "sample", fmt.Sprintf("woofer %02d", k), "air", "20 degC, 101325 Pa, 50 % relative humidity"}, settings...)
			out := newTable(impedanceColumns, title, settings...)
			for _, f := range logarithmic(8, 20e3, 20) {
				out.impedance(f, noisy(random, w.impedance(f, mass, 0), 0.003/math.Sqrt2, 0.002))
			}
			files[fmt.Sprintf("standmount/samples/woofer-%02d-%s.txt", k, what)] = out.Bytes()
		}
		write("free-air", "Woofer, free air", 0)
		write("added-mass", "Woofer, free air, with a mass on the cone", added, "added_mass_g", "10.0")
	}
}
