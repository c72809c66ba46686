package main

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
)

// large is how a driver changes with displacement (m, positive outward) and
// current, relative to rest.
type large struct {
	d                   driver
	reach, step         float64 // m
	force, stiff, induc func(x float64) float64
	current             func(i float64) float64
	amperes             float64
}

func largeWoofer() large {
	const mm = 1e-3
	return large{
		d: woofer(), reach: 8.5 * mm, step: 0.5 * mm, amperes: 10,
		// The coil rests a little inward of the middle of its gap.
		force: func(x float64) float64 { u := (x - 0.4*mm) / mm; return 1 / (1 + 0.0026*u*u + 5.5e-5*u*u*u*u) },
		// The surround is stiffer inward, and both sides stiffen towards their ends.
		stiff: func(x float64) float64 { u := x / mm; return 1 - 0.0075*u + 0.0046*u*u + 5e-5*u*u*u*u },
		// Outward the coil leaves the iron.
		induc:   func(x float64) float64 { u := x / mm; return 1 - 0.048*u/math.Sqrt(1+u*u/90) - 0.0008*u*u },
		current: func(i float64) float64 { return 1 - 0.0035*i - 0.0007*i*i },
	}
}

func largeTweeter() large {
	const mm = 1e-3
	return large{
		d: tweeter(), reach: 0.35 * mm, step: 0.025 * mm, amperes: 2,
		force:   func(x float64) float64 { u := (x + 0.01*mm) / mm; return 1 / (1 + 1.9*u*u + 3*u*u*u*u) },
		stiff:   func(x float64) float64 { u := x / mm; return 1 + 0.2*u + 2.6*u*u },
		induc:   func(x float64) float64 { u := x / mm; return 1 - 0.5*u - 0.3*u*u },
		current: func(i float64) float64 { return 1 - 0.004*i },
	}
}

// largeSignals writes what a bench for large signals would have: tables over
// displacement and current, each value to a third of a per cent.
func largeSignals(files map[string][]byte) {
	for seed, l := range []large{largeWoofer(), largeTweeter()} {
		random := rand.New(rand.NewPCG(uint64(4000+seed), 0x1a49e))
		read := func(v float64) float64 { return v * (1 + 0.003*random.NormFloat64()) }
		var b bytes.Buffer
		fmt.Fprintf(&b, "# %s: large-signal parameters of the sample whose impedance is in impedance/.\n# %s\n# Displacement from rest, positive outward.\n", l.d.name, invented)
		ws := tau * l.d.fs
		table := func(heading string, to, step, scale, rest float64, format string, relative func(float64) float64) {
			fmt.Fprintf(&b, "\ntable %s\n", heading)
			for k := -int(math.Round(to / step)); k <= int(math.Round(to/step)); k++ {
				x := float64(k) * step
				fmt.Fprintf(&b, format, x*scale, read(rest*relative(x)/relative(0)))
			}
		}
		table("Bl N/A over x mm", l.reach, l.step, 1e3, l.d.bl(), "%7.3f  %.4g\n", l.force)
		table("Kms N/mm over x mm", l.reach, l.step, 1e3, ws*ws*l.d.mms/1e3, "%7.3f  %.4g\n", l.stiff)
		table("Le mH over x mm", l.reach, l.step, 1e3, l.d.coil.henry*1e3, "%7.3f  %.4g\n", l.induc)
		table("Le mH over i A", l.amperes, l.amperes/10, 1, l.d.coil.henry*1e3, "%7.2f  %.4g\n", l.current)
		files["standmount/large-signal/"+l.d.name+".txt"] = b.Bytes()
	}
}
