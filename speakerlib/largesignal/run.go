package largesignal

import (
	"fmt"
	"math"
)

// block is the number of steps between two looks at heat and extremes.
const block = 256

// row is one sample of all states.
type row struct {
	state
	current float64
	sound   float64 // Pa
	volts   float64 // at the amplifier, after its limits
	held    bool    // the amplifier limits its current
}

// Run is a model in motion: it goes through a signal sample by sample. It belongs to one
// goroutine and does not allocate while it runs.
type Run struct {
	m                  *Model
	rate, h            float64
	method             Method
	s                  state
	resistance         float64                 // Re and source, hot
	explicit, implicit [stages][stages]float64 // tableaux times the step
	keep               [2]float64              // of the ladder's decay in an implicit stage: 1/(1 + h/4·R/L)
	gamma              float64                 // i over j of the last solution, for the next to start at
	slopes             [stages]state           // of one step
	places             [stages]ready
	decay              [2]float64 // R/L times keep
	held               float64    // −1, 1: the current is held at the amplifier's limit
	heat               *heatState
	drive              [block + 5]float64 // volts asked for: two samples before, the block, three after
	out                [block]row
	account            Account
}

// NewRun returns a run from rest, with the coil at the temperature of the room, in steps
// of 1/rate.
func (m *Model) NewRun(rate float64) (*Run, error) {
	if !(rate > 0) || math.IsInf(rate, 0) {
		return nil, fmt.Errorf("largesignal: rate is %g Hz, want a finite value > 0", rate)
	}
	r := &Run{m: m, rate: rate, h: 1 / rate, resistance: m.re + m.source, gamma: 1}
	if r.method = m.method(r.h); r.method == RK4 && m.stiffness()*r.h > unstable {
		return nil, fmt.Errorf("largesignal: RK4 in steps of %g s is unstable with a coil of %.3g 1/s, want a rate above %.0f Hz, or ARK4", r.h, m.stiffness(), m.stiffness()/unstable)
	}
	for k := range stages {
		for j := range stages {
			r.explicit[k][j], r.implicit[k][j] = r.h*explicit[k][j], r.h*implicit[k][j]
		}
	}
	for k, rate := range m.coil.rate {
		r.keep[k] = 1 / (1 + diagonal*r.h*rate)
		r.decay[k] = rate * r.keep[k]
	}
	if o := m.options.Heat; o != nil {
		var err error
		if r.heat, err = o.newState(m.re, block*r.h); err != nil {
			return nil, err
		}
	}
	return r, nil
}

// Trace is what a run did: point k belongs to sample k of the signal, before its step. A
// nil slice is not recorded, any other has the length of the signal.
type Trace struct {
	Current   []float64 // A
	Cone      []float64 // displacement, outward, m
	Velocity  []float64 // of the cone, m/s
	Pressure  []float64 // in the box, above that of the room, Pa
	VentAir   []float64 // speed in vent, or of the passive radiator, outward, m/s
	VentPath  []float64 // displacement there, m
	Sound     []float64 // at 1 m in half space, without the time of flight, Pa
	Amplifier []float64 // what the amplifier gives after its limits, V
}

// NewTrace returns a trace of everything for n samples.
func NewTrace(n int) *Trace {
	a := make([]float64, 8*n)
	cut := func(k int) []float64 { return a[k*n : (k+1)*n : (k+1)*n] }
	return &Trace{cut(0), cut(1), cut(2), cut(3), cut(4), cut(5), cut(6), cut(7)}
}

func (t *Trace) fits(n int) bool {
	for _, s := range [...][]float64{t.Current, t.Cone, t.Velocity, t.Pressure, t.VentAir, t.VentPath, t.Sound, t.Amplifier} {
		if s != nil && len(s) != n {
			return false
		}
	}
	return true
}

// Account is what a run has seen so far.
type Account struct {
	Seconds  float64
	Outward  float64 // largest displacement outward, m
	Inward   float64 // and inward, a positive number
	Beyond   float64 // s outside the range in which the characteristics are measured
	VentAir  float64 // highest speed in the vent, or of the passive radiator, m/s
	Current  float64 // highest magnitude, A
	Clipped  float64 // s in which the amplifier's voltage was at its limit
	Limited  float64 // s in which its current was
	Coil     float64 // highest rise of the coil above the room, K
	CoilNow  float64 // its rise now, K
	Finite   bool    // false if the numbers left the range of float64
	Pressure float64 // highest magnitude of the sound pressure at 1 m in half space, Pa
}

// Excursion returns the larger of the displacements outward and inward, m.
func (a Account) Excursion() float64 { return max(a.Outward, a.Inward) }

// Account returns what the run has seen.
func (r *Run) Account() Account {
	a := r.account
	a.Finite = finite(r.s.x) && finite(r.s.flux) && finite(r.s.p) && finite(r.s.u)
	return a
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// Play goes through a signal of volts at the source and writes into t, if it is not nil;
// it panics if t has another length. Between samples the voltage is the polynomial of
// fifth order through the six nearest ones; before the first and after the last it is
// held. A run may go on with another signal: its first sample follows the last one.
func (r *Run) Play(volts []float64, t *Trace) {
	if t != nil && !t.fits(len(volts)) {
		panic("largesignal: trace has another length than the signal")
	}
	n := len(volts)
	for at := 0; at < n; at += block {
		k := min(block, n-at)
		for j := range k + 5 {
			r.drive[j] = volts[min(max(at+j-2, 0), n-1)]
		}
		r.advance(k, at, t)
	}
}

// loop goes n samples through a periodic signal, from its sample at.
func (r *Run) loop(period []float64, at, n int, t *Trace) {
	p := len(period)
	for done := 0; done < n; done += block {
		k := min(block, n-done)
		for j := range k + 5 {
			r.drive[j] = period[((at+done+j-2)%p+p)%p]
		}
		r.advance(k, done, t)
	}
}

// advance makes n steps over the drive.
func (r *Run) advance(n, at int, t *Trace) {
	plain := r.method == RK4 && r.m.plain()
	for k := 0; k < n; {
		if plain && r.held == 0 {
			if k = r.fast4(k, n); k == n {
				break
			}
			if r.m.options.Amplifier.Amperes > 0 {
				r.hold(clip(r.drive[k+2], r.limit()))
			}
		}
		r.step(k)
		k++
	}
	r.observe(n)
	if t != nil {
		r.record(n, at, t)
	}
}

func (r *Run) observe(n int) {
	a, m := &r.account, r.m
	out, in, air, current, sound, heat := a.Outward, a.Inward, 0.0, a.Current, a.Pressure, 0.0
	volts := r.limit()
	beyond, clipped, limited := 0, 0, 0
	for k := range r.out[:n] {
		o := &r.out[k]
		out, in = greater(out, o.x), greater(in, -o.x)
		air = greater(air, math.Abs(o.u))
		current = greater(current, math.Abs(o.current))
		sound = greater(sound, math.Abs(o.sound))
		if o.x < m.lo || o.x > m.hi {
			beyond++
		}
		if math.Abs(o.volts) >= volts {
			clipped++
		}
		if o.held {
			limited++
		}
		heat += o.current * o.current
	}
	a.Outward, a.Inward, a.Current, a.Pressure = out, in, current, sound
	a.Beyond += float64(beyond) * r.h
	a.Clipped += float64(clipped) * r.h
	a.Limited += float64(limited) * r.h
	if m.box.area > 0 {
		a.VentAir = max(a.VentAir, air/m.box.area)
	}
	a.Seconds += float64(n) * r.h
	if r.heat != nil {
		r.resistance = m.source + r.heat.step(heat*r.h, float64(n)*r.h)
		a.CoilNow = r.heat.rise()
		a.Coil = max(a.Coil, a.CoilNow)
	}
}

func (r *Run) record(n, at int, t *Trace) {
	area := r.m.box.area
	if area == 0 {
		area = 1
	}
	area = 1 / area
	for k := range r.out[:n] {
		o := &r.out[k]
		put(t.Current, at+k, o.current)
		put(t.Cone, at+k, o.x)
		put(t.Velocity, at+k, o.v)
		put(t.Pressure, at+k, r.m.pressure(o.p, o.v, o.u))
		put(t.VentAir, at+k, o.u*area)
		put(t.VentPath, at+k, o.y*area)
		put(t.Sound, at+k, o.sound)
		put(t.Amplifier, at+k, o.volts)
	}
}

func put(s []float64, k int, v float64) {
	if s != nil {
		s[k] = v
	}
}

// greater is max without its care for NaN, which Account looks for itself.
func greater(a, b float64) float64 {
	if b > a {
		return b
	}
	return a
}

// limit returns the highest voltage.
func (r *Run) limit() float64 {
	if v := r.m.options.Amplifier.Volts; v > 0 {
		return v
	}
	return math.Inf(1)
}

func clip(x, most float64) float64 { return min(max(x, -most), most) }

// middle interpolates half way between the third and the fourth of six samples, of
// order 6.
func middle(d []float64) float64 {
	_ = d[5]
	return (150*(d[2]+d[3]) - 25*(d[1]+d[4]) + 3*(d[0]+d[5])) / 256
}
