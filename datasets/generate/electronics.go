package main

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
)

// parts is the list of the passive crossover's parts, as its maker buys them.
func parts() []byte {
	n := passive()
	return fmt.Appendf(nil, `# The parts of the passive crossover. Invented, as are all files here.
# key = value unit

# To the woofer: a choke in series, a capacitor and a small resistor across.
choke = %.4g mH
choke_resistance = %.4g ohm
woofer_capacitor = %.4g uF
woofer_resistor = %.4g ohm

# To the tweeter: a capacitor, a coil across, a second capacitor and a resistor, a resistor across.
first_capacitor = %.4g uF
coil = %.4g mH
coil_resistance = %.4g ohm
second_capacitor = %.4g uF
pad_series = %.4g ohm
pad_across = %.4g ohm

# What the parts are bought to, either way.
coil_tolerance = 0.03
capacitor_tolerance = 0.05
resistor_tolerance = 0.05

# How it is driven where it is measured, and at home.
cable_length = 3 m                  # the pair: there and back
cable_area = 0.025 cm2              # of one wire
`, n.choke*1e3, n.chokeR, n.shunt*1e6, n.shuntR, n.first*1e6, n.coil*1e3, n.coilR, n.second*1e6, n.pad, n.padShunt)
}

// electronics is what the makers of converters and amplifiers state, and what
// the bench found.
const electronics = `# The electronics in the stand: what lies between the input and the drivers. Invented.
# key = value unit

# --- Input: a converter, and a rate converter for digital sources -------------
input_range = 110 dB                # A-weighted, re full scale
input_full_scale_low = 2 V          # rms at full scale, by sensitivity position
input_full_scale_mid = 4 V
input_full_scale_high = 8 V
input_latency = 0.354 ms            # of its decimation filter
rate_converter_latency = 0.62 ms
rate_converter_range = 128 dB       # A-weighted, re full scale

# --- Processor -----------------------------------------------------------------
block = 8                           # samples that are handed on at once

# --- Output converters: range, full scale and rate are those of the brief ------
output_latency = 0.302 ms           # of the interpolation filter
output_offset = 0.4 mV              # direct voltage at most

# --- Amplifiers: with gain as in the brief --------------------------------------
amplifier_noise = 32 uV             # at the output, A-weighted, input shorted
amplifier_offset = 6 mV             # direct voltage at the output at most
amplifier_resistance = 18 mohm      # at the output, below 10 kHz
amplifier_inductance = 0.4 uH
filter_inductance = 10 uH           # the low-pass of a switching output
filter_resistance = 12 mohm
filter_capacitance = 0.68 uF
filter_damper_resistance = 10 ohm   # in series with the next, across the output
filter_damper_capacitance = 0.22 uF

# --- From the stand to the drivers ------------------------------------------------
cable_length = 1.1 m                # the pair: there and back
cable_area = 0.015 cm2              # of one wire
protection_capacitor = 47 uF        # in front of the tweeter
protection_capacitor_esr = 60 mohm
`

// amplifier is a measured amplifier: gain, the low-cut of its input, the band of
// its input stage, and a switching output behind a filter.
type amplifier struct{ gain, lowCut, band, r, l, filterL, filterR, filterC, dampR, dampC float64 }

func amplifiers() (low, high amplifier) {
	low = amplifier{gain: 10.06, lowCut: 1.6, band: 92e3, r: 18e-3, l: 0.4e-6,
		filterL: 10e-6, filterR: 12e-3, filterC: 0.68e-6, dampR: 10, dampC: 0.22e-6}
	high = low
	high.gain, high.band = 9.95, 95e3
	return low, high
}

// at is the voltage at the output per volt at the input, into a load.
func (a amplifier) at(f float64, load complex128) complex128 {
	jw := complex(0, tau*f)
	damper := complex(a.dampR, 0) + 1/(jw*complex(a.dampC, 0))
	across := 1 / (jw*complex(a.filterC, 0) + 1/damper + 1/load)
	series := complex(a.r+a.filterR, 0) + jw*complex(a.l+a.filterL, 0)
	cut := complex(0, f/a.lowCut)
	return complex(a.gain, 0) * cut / (1 + cut) / (1 + complex(0, f/a.band)) * across / (across + series)
}

// Beyond the output: 1.1 m of cable, and in front of the tweeter a capacitor.
func cable(f float64) complex128 {
	const length, area, perMetre = 1.1, 1.5e-6, 0.6e-6
	return complex(2*length/58e6/area, tau*f*perMetre*length)
}

func protection(f float64) complex128 { return complex(0.06, -1/(tau*f*47e-6)) }

// amplifierFiles are the two amplifiers, each into its driver in the cabinet.
func amplifierFiles(files map[string][]byte) {
	w, t, b := woofer(), tweeter(), box()
	low, high := amplifiers()
	write := func(name, title string, seed uint64, h func(f float64) complex128) {
		out := newTable("frequency_Hz level_dB phase_deg", title,
			"quantity", "ratio",
			"from_to", "input of the amplifier to its output's connector",
			"load", name+" in the passive cabinet, behind its cable")
		random := rand.New(rand.NewPCG(seed, 0xa3b1))
		for _, f := range logarithmic(10, 40e3, 12) {
			v := noisy(random, h(f), 0.0002, 0)
			fmt.Fprintf(out, "%.5g\t%.4f\t%.3f\n", f, 20*math.Log10(cmplx.Abs(v)), degrees(v))
		}
		files["standmount/electronics/amplifier-"+name+".txt"] = out.Bytes()
	}
	write("woofer", "Amplifier of the woofer, loaded", 301, func(f float64) complex128 {
		return low.at(f, cable(f)+b.solve(w, f).impedance)
	})
	write("tweeter", "Amplifier of the tweeter, loaded by protection capacitor and tweeter", 302, func(f float64) complex128 {
		return high.at(f, cable(f)+protection(f)+t.impedance(f, 0, 0))
	})
}
