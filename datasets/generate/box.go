package main

import (
	"math"
	"math/cmplx"
)

// cabinet is a vented box with the standing waves of its inside, losses, and a
// vent that is a pipe.
type cabinet struct {
	gross             float64 // m³ before the vent tube
	leakQ, absorbQ    float64 // of the tuned box
	tube              tube
	height, depth     float64 // m, inside
	driverAt, ventAt  float64 // m above the inside of the bottom
	heightQ, depthQ   float64 // of the standing waves
	volume, resonance float64 // m³ less the tube, Hz: solved
}

type tube struct {
	diameter, wall, length float64 // m
}

func (t tube) area() float64 { return math.Pi * t.diameter * t.diameter / 4 }

// End corrections in radii: King 1936 for the flanged end, Levine and Schwinger
// 1948 for the free one.
const flanged, free = 0.8217, 0.6133

func (t tube) acousticLength() float64 { return t.length + (flanged+free)*t.diameter/2 }

func (t tube) displaced() float64 {
	r := t.diameter/2 + t.wall
	return math.Pi * r * r * t.length
}

// tuned returns the cabinet with the length of its tube such that it resonates
// at hz, the volume that the tube takes included.
func (b cabinet) tuned(hz float64) cabinet {
	k := c0 / (tau * hz)
	for range 200 {
		b.volume = b.gross - b.tube.displaced()
		b.tube.length += k*k*b.tube.area()/b.volume - b.tube.acousticLength()
	}
	b.resonance = hz
	return b
}

// conductance is the leak's, m³/(s·Pa).
func (b cabinet) conductance() float64 {
	return tau * b.resonance * b.volume / (rho * c0 * c0) / b.leakQ
}

// field is the transfer impedance of the inside, Pa·s/m³: the pressure at one
// place due to a volume velocity at another, as a sum over the standing waves of
// height and depth. The driver sits on the front, the vent in the rear wall.
func (b cabinet) field(f float64, from, to float64, acrossDepth bool) complex128 {
	w := tau * f
	jw := complex(0, w)
	cab := b.volume / (rho * c0 * c0)
	wb := tau * b.resonance
	// Uniform pressure: compliance with leak and absorption.
	series := 1/(jw*complex(cab, 0)) + complex(1/(wb*cab*b.absorbQ), 0)
	z := 1 / (1/series + complex(b.conductance(), 0))
	add := func(wn, q, shapes float64) {
		z += complex(2*shapes/cab, 0) * jw / complex(wn*wn-w*w, w*wn/q)
	}
	for n := 1; n <= 3; n++ {
		k := math.Pi * float64(n) / b.height
		add(k*c0, b.heightQ, math.Cos(k*from)*math.Cos(k*to))
		k = math.Pi * float64(n) / b.depth
		s := 1.0
		if acrossDepth && n%2 == 1 {
			s = -1
		}
		add(k*c0, b.depthQ, 0.6*s) // 0.6: the lining and the magnet in the way
	}
	return z
}

// pipe returns the impedance of the tube seen from the inside, Pa·s/m³, and the
// volume velocity at its outer mouth per volume velocity at the inner one.
func (b cabinet) pipe(f float64) (z, through complex128) {
	w := tau * f
	a, s := b.tube.diameter/2, b.tube.area()
	ka := w / c0 * a
	char := rho * c0 / s
	out := complex(char*ka*ka/2/(1+ka*ka/2), char*ka*flanged/(1+ka*ka/2))
	alpha := 3e-5 * math.Sqrt(f) / a * 1.3 // viscous and thermal loss of the wall; 1.3: rough
	kl := complex(w/c0+alpha, -alpha) * complex(b.tube.length, 0)
	cos, sin := cmplx.Cos(kl), cmplx.Sin(kl)
	j := complex(0, 1)
	zc := complex(char, 0)
	z = zc*(out*cos+j*zc*sin)/(zc*cos+j*out*sin) + complex(0, w*rho*free*a/s)
	return z, 1 / (cos + j*out/zc*sin)
}

// state is what moves in the box per volt at the driver's terminals.
type state struct {
	impedance  complex128 // Ω
	cone, vent complex128 // volume velocities outward, m³/s per V
	leak       complex128 // around the flange of the vent's tube
}

func (b cabinet) solve(d driver, f float64) state {
	zdd := b.field(f, b.driverAt, b.driverAt, false)
	zdv := b.field(f, b.driverAt, b.ventAt, true)
	zvv := b.field(f, b.ventAt, b.ventAt, false)
	zp, through := b.pipe(f)
	inside := zdd - zdv*zdv/(zvv+zp)
	load := inside * complex(d.sd*d.sd, 0)
	v := d.velocity(f, load)
	u := v * complex(d.sd, 0)
	return state{
		impedance: d.impedance(f, 0, load),
		cone:      u,
		vent:      -u * zdv / (zvv + zp) * through,
		leak:      -u * inside * complex(b.conductance(), 0) / (1 + complex(0, f/300)),
	}
}
