package enclosure

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

// LevelMotion is what a driver in a box does at a level, sine by sine, with the loss
// of its vents at the speed that their air has there. Its transfers are per volt as
// those of the small signal, and known at the frequencies of the grid only.
type LevelMotion struct {
	Motion
	Volts       float64      // peak, at the source
	Compression freq.Curve   // pressure over that of the small signal, dB; ≤ 0 where the vent carries the sound
	Speeds      []freq.Curve // peak speed of each port's air, m/s
	Added       []freq.Curve // resistance that it adds to each port, Pa·s/m³
	// Converged is whether the speeds of several ports agree with each other to 1e-9.
	// For one port they always do.
	Converged bool
}

// AtLevel solves the motion with sines of a peak voltage of the source, one frequency
// at a time: what a slow sine sweep of that level shows. Everything but the vents stays
// linear; what they have is [Vent.Loss], the equivalent resistance of a sine. Two tones
// at once see more. Against the same circuit integrated in time, with the jet's |u|u
// itself, air speed, cone and pressure of a woofer at up to 26 m/s are right within
// about 1 %.
//
// At each frequency the speed û in a vent is the root of
//
//	|air(R(û))|·V = û
//
// By Thévenin the flow is p₀/(Zs + R) with Re Zs ≥ 0 of whatever passive thing the box
// is, so that the left side only falls with R, and R only grows with û: there is one
// root, between 0 and the speed without loss, and halving finds it to the last bit.
// Several ports take turns until none moves; that this ends is not proven, and
// [LevelMotion.Converged] says whether it did.
//
// Reality adds the heat of the coil and the driver's own nonlinearity, which both
// compress, too.
func (m Mounted) AtLevel(g *freq.Grid, volts float64) (*LevelMotion, error) {
	if err := m.validate(); err != nil {
		return nil, err
	}
	if !positive(volts) {
		return nil, fmt.Errorf("enclosure: drive is %g V peak, want a finite voltage > 0", volts)
	}
	s, err := m.solver()
	if err != nil {
		return nil, err
	}
	if err := checkGrid(g, s.coil, s.driver.Suspension); err != nil {
		return nil, err
	}
	n := g.Len()
	out := &LevelMotion{Volts: volts, Converged: true}
	coil := s.coil.ImpedanceTo(nil, g)
	compression := make([]float64, n)
	speeds, added := make([][]float64, len(s.open)), make([][]float64, len(s.open))
	for k := range s.open {
		speeds[k], added[k] = make([]float64, n), make([]float64, n)
	}
	resistances := make([][mostPorts]float64, n)
	var none [mostPorts]float64
	for i := range n {
		hz := g.At(i)
		speed, ok := s.settle(hz, coil[i], volts, m, &resistances[i])
		out.Converged = out.Converged && ok
		for k := range s.open {
			speeds[k][i], added[k][i] = speed[k], resistances[i][k]
		}
		loud, soft := s.value(pressure, 0, hz, coil[i], resistances[i]), s.value(pressure, 0, hz, coil[i], none)
		compression[i] = level.DB(cmplx.Abs(loud) / cmplx.Abs(soft))
	}
	of := func(q quantity, port int, label string, what freq.Quantity) (freq.Transfer, error) {
		values := make([]complex128, n)
		for i := range values {
			values[i] = s.value(q, port, g.At(i), coil[i], resistances[i])
		}
		b := freq.Basis{Quantity: what, Per: freq.PerTerminals}
		if q == pressure {
			b = PressureBasis()
		}
		return freq.NewResponse(g, values, label, b)
	}
	take := func(q quantity, port int, label string, what freq.Quantity) (t freq.Transfer) {
		if err == nil {
			t, err = of(q, port, label, what)
		}
		return t
	}
	out.Motion = Motion{
		Impedance: take(impedance, 0, "impedance", freq.Impedance), Current: take(current, 0, "current", freq.Current),
		Cone: take(cone, 0, "cone", freq.Displacement), ConeFlow: take(coneFlow, 0, "flow of the cone", freq.VolumeFlow),
		VentFlow: take(ventFlow, 0, "flow of the ports", freq.VolumeFlow), VentAir: freq.Gain(0),
		Pressure: take(pressure, 0, "pressure", freq.Pressure),
	}
	for k := range s.open {
		out.Ports = append(out.Ports, PortMotion{
			Flow: take(portFlow, k, "flow of a port", freq.VolumeFlow), Air: take(portAir, k, "air in a port", freq.Velocity),
			Excursion: take(portExcursion, k, "excursion in a port", freq.Displacement),
		})
		out.VentAir = out.Ports[0].Air
	}
	curve := func(values []float64, label, unit string) (c freq.Curve) {
		if err == nil {
			c, err = freq.NewCurve(g, values, label, unit, freq.Basis{})
		}
		return c
	}
	out.Compression = curve(compression, fmt.Sprintf("compression at %.3g V peak", volts), "dB")
	for k := range s.open {
		out.Speeds = append(out.Speeds, curve(speeds[k], "peak air speed", "m/s"))
		out.Added = append(out.Added, curve(added[k], "added resistance", "Pa·s/m³"))
	}
	if err != nil {
		return nil, err
	}
	return out, nil
}

// settle finds the speeds of all ports at a frequency and the resistances that belong
// to them.
func (s *solver) settle(hz float64, zc complex128, volts float64, m Mounted, r *[mostPorts]float64) (speed [mostPorts]float64, converged bool) {
	const rounds = 200
	lossy := 0
	for _, o := range s.open {
		if o.loss != nil {
			lossy++
		}
	}
	for range rounds {
		moved := 0.0
		for k, o := range s.open {
			at := func(v float64) float64 {
				trial := *r
				if o.loss != nil {
					trial[k] = o.loss(hz, v, m.Air)
				}
				return cmplx.Abs(s.value(portAir, k, hz, zc, trial)) * volts
			}
			v := at(0)
			if o.loss != nil {
				// beyond it by more than rounding, so that there is a change of sign
				v, _ = bisect(func(v float64) float64 { return at(v) - v }, 0, v*(1+1e-12))
				r[k] = o.loss(hz, v, m.Air)
			}
			if v > 0 {
				moved = math.Max(moved, math.Abs(v-speed[k])/v)
			}
			speed[k] = v
		}
		if lossy < 2 && len(s.open) < 2 || moved < 1e-9 {
			return speed, true
		}
	}
	return speed, false
}
