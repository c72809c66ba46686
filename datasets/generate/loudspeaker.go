package main

// The invented loudspeaker. Its small-signal values are those of the brief; the
// rest is what a real one would have besides.

func woofer() driver {
	return driver{
		name: "woofer", re: 5.5, fs: 41.5, qms: 4.7, qes: 0.39, mms: 15.2e-3, sd: 138e-4,
		linear: 6e-3, damage: 11e-3,
		coil: coil{henry: 0.42e-3, at: 1000, lead: 0.16, shape: [2]fractional{
			{n: 0.62, corner: 900, share: 0.55}, {n: 0.55, corner: 4200, share: 0.29}}},
		creep: 0.07,
		modes: []mode{
			{1180, 5, -0.09}, {1420, 6, 0.05}, // surround
			{4350, 6, 0.10}, {5150, 8, 0.75}, {6350, 9, -0.42}, {7700, 8, 0.22}, {10400, 6, -0.08},
		},
		rollHz: 4700, rollQ: 0.85, rim: mode{1180, 7, 0.14}, depth: 0.024,
	}
}

func tweeter() driver {
	return driver{
		name: "tweeter", re: 4.9, fs: 980, qms: 1.6, qes: 1.15, mms: 0.34e-3, sd: 7.1e-4,
		linear: 0.3e-3,
		coil: coil{henry: 0.03e-3, at: 10000, lead: 0.3, shape: [2]fractional{
			{n: 0.6, corner: 9000, share: 0.45}, {n: 0.5, corner: 30000, share: 0.25}}},
		modes:  []mode{{8600, 2.5, -0.06}, {14500, 5, 0.05}, {23900, 9, 0.9}},
		rollHz: 31000, rollQ: 0.8, rim: mode{2600, 4, 0.04}, depth: 0.003,
	}
}

func box() cabinet {
	return cabinet{
		gross: 15.2e-3, leakQ: 11, absorbQ: 65,
		tube:   tube{diameter: 54e-3, wall: 3e-3},
		height: 0.298, depth: 0.345, driverAt: 0.109, ventAt: 0.215, heightQ: 9, depthQ: 6,
	}.tuned(49)
}

// The front: 190 × 330 mm, edges of 8 mm radius, woofer 125 mm and tweeter
// 270 mm above the lower edge.
var (
	wooferAt  = point{0, 0.125, 0}
	tweeterAt = point{0, 0.270, 0}
)

// network is the passive crossover.
type network struct {
	choke, chokeR float64 // in series with the woofer
	shunt, shuntR float64 // C and R across the woofer
	first         float64 // C in series with the tweeter
	coil, coilR   float64 // L across it
	second        float64 // C in series behind that
	pad, padShunt float64 // R in series, and across the tweeter
}

func passive() network {
	return network{
		choke: 1.8e-3, chokeR: 0.32, shunt: 8.2e-6, shuntR: 0.1,
		first: 5.1e-6, coil: 0.36e-3, coilR: 0.3, second: 68e-6, pad: 3.9, padShunt: 47,
	}
}

// solve returns the input impedance and the voltages at the drivers' terminals
// per volt at the input.
func (n network) solve(f float64, zw, zt complex128) (z, low, high complex128) {
	w := tau * f
	l := func(h, r float64) complex128 { return complex(r, w*h) }
	c := func(farad float64) complex128 { return complex(0, -1/(w*farad)) }
	par := func(a, b complex128) complex128 { return a * b / (a + b) }
	// woofer
	across := par(zw, c(n.shunt)+complex(n.shuntR, 0))
	branch := l(n.choke, n.chokeR) + across
	low = across / branch
	// tweeter, from its terminals back to the input
	end := par(zt, complex(n.padShunt, 0))
	z3 := c(n.second) + complex(n.pad, 0) + end
	z2 := par(l(n.coil, n.coilR), z3)
	z1 := c(n.first) + z2
	high = z2 / z1 * end / z3
	return par(branch, z1), low, high
}
