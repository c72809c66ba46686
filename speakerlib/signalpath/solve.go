package signalpath

import (
	"fmt"
	"math"
	"math/cmplx"

	"example.org/loudspeaker/speakerlib/freq"
)

// Solution is a path on a grid. It is immutable.
type Solution struct {
	path   Path
	grid   *freq.Grid
	stages []stage
	source []complex128 // division of the source's volts with the first input
	load   []complex128 // impedance of the driver, Ω
	sound  []complex128 // Pa per volt at the terminals
	end    []complex128 // impedance at the terminals, looking back, Ω
	noise  []component  // at the terminals
}

// stage is an element in its place.
type stage struct {
	element Element
	open    []complex128 // blocks: without load, the pure delay included
	loaded  []complex128 // into its load, the pure delay included
	before  []complex128 // from the input of the path to the input of the element
	after   []complex128 // from its output to the terminals
	admit   []complex128 // of the load, S; of analogue outputs
	divider []complex128 // what the load leaves of the open voltage; of analogue outputs of blocks
	arms    []arm
	ratios  [][]complex128 // of the arms, their output to input
	loads   [][]complex128 // admittances behind the arms, S
}

// component is the noise of an element at the terminals.
type component struct {
	element string
	output  []float64 // at its own output, U²/Hz
	density []float64 // at the terminals, V²/Hz
}

// On solves the path on a grid. It refuses what cannot be evaluated there, and gains with which
// noise alone reaches what an element can give.
func (p Path) On(g *freq.Grid) (*Solution, error) {
	s, err := p.respond(g)
	if err != nil {
		return nil, err
	}
	if err := s.makeNoise(); err != nil {
		return nil, err
	}
	for _, c := range s.noise {
		for i, v := range c.density {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				return nil, fmt.Errorf("signalpath: noise of %q at the terminals is %g V²/Hz at %g Hz, want a finite value", c.element, v, g.At(i))
			}
		}
	}
	return s, s.idle()
}

// respond solves for responses only.
func (p Path) respond(g *freq.Grid) (*Solution, error) {
	if err := p.Validate(); err != nil {
		return nil, err
	}
	if g == nil {
		return nil, fmt.Errorf("signalpath: path %q has no grid", p.Name)
	}
	s := &Solution{path: p, grid: g, stages: make([]stage, len(p.Elements))}
	var err error
	if s.load, err = evaluate(p.Driver.Name, p.Driver.Impedance, g); err != nil {
		return nil, err
	}
	for i, z := range s.load {
		if z == 0 || real(z) < 0 {
			return nil, fmt.Errorf("signalpath: load of path %q is %.4g Ω at %g Hz, want an impedance of positive resistance", p.Name, z, g.At(i))
		}
	}
	for i, z := range s.load {
		if re := p.Driver.Re; re > 1.05*cmplx.Abs(z) {
			return nil, fmt.Errorf("signalpath: coil of driver %q has %g Ω, %.3g times its impedance of %.4g Ω at %g Hz, want at most that",
				p.Driver.Name, re, re/cmplx.Abs(z), cmplx.Abs(z), g.At(i))
		}
	}
	if s.sound, err = evaluate(p.Driver.Name, p.Driver.Pressure, g); err != nil {
		return nil, err
	}
	if err := s.loadBackward(); err != nil {
		return nil, err
	}
	s.chain()
	for _, st := range s.stages {
		for i, h := range st.loaded {
			if cmplx.IsNaN(h) || cmplx.IsInf(h) {
				return nil, fmt.Errorf("signalpath: response of %q into its load is %v at %g Hz, want a finite value", st.element.Label(), h, g.At(i))
			}
		}
	}
	return s, nil
}

// loadBackward finds every element's load, from the driver on, and its response into it.
func (s *Solution) loadBackward() error {
	n := s.grid.Len()
	y := make([]complex128, n) // what the element loads, S
	for i, z := range s.load {
		y[i] = 1 / z
	}
	for k := len(s.stages) - 1; k >= 0; k-- {
		st := &s.stages[k]
		st.element = s.path.Elements[k]
		if ladder, ok := st.element.(passive); ok {
			st.loadArms(ladder.arms(s.grid), y)
			y = st.inputAdmittance(y)
			continue
		}
		b := st.element.(block)
		var err error
		if st.open, err = b.transfer(s.grid); err != nil {
			return err
		}
		late(st.open, s.grid, b.delay().total())
		st.loaded = append([]complex128(nil), st.open...)
		if f, ok := b.(feeder); ok {
			z, err := f.output(s.grid)
			if err != nil {
				return err
			}
			st.admit, st.divider = y, make([]complex128, n)
			for i := range z {
				st.divider[i] = 1 / (1 + z[i]*y[i])
				st.loaded[i] *= st.divider[i]
			}
		}
		y = make([]complex128, n)
		if t, ok := b.(taker); ok {
			for i := range y {
				y[i] = complex(t.input(), 0)
			}
		}
	}
	s.source = make([]complex128, n)
	for i := range s.source {
		s.source[i] = 1 / (1 + complex(s.path.SourceResistance, 0)*y[i])
	}
	return nil
}

// loadArms finds the ratio of every arm with the admittance y behind the last.
func (st *stage) loadArms(arms []arm, y []complex128) {
	st.arms = arms
	st.ratios, st.loads = make([][]complex128, len(arms)), make([][]complex128, len(arms))
	st.loaded = make([]complex128, len(y))
	for i := range st.loaded {
		st.loaded[i] = 1
	}
	for j := len(arms) - 1; j >= 0; j-- {
		a := arms[j]
		st.loads[j] = y
		st.ratios[j] = make([]complex128, len(y))
		next := make([]complex128, len(y))
		for i, z := range a.z {
			if a.across {
				st.ratios[j][i], next[i] = 1, y[i]+1/z
			} else {
				st.ratios[j][i] = 1 / (1 + z*y[i])
				next[i] = y[i] * st.ratios[j][i]
			}
			st.loaded[i] *= st.ratios[j][i]
		}
		y = next
	}
	st.admit = y
}

// inputAdmittance returns what a ladder loads the element in front of it with.
func (st *stage) inputAdmittance(load []complex128) []complex128 {
	if len(st.arms) == 0 {
		return load
	}
	return st.admit
}

// chain finds the products before and after every element.
func (s *Solution) chain() {
	n := s.grid.Len()
	v := append([]complex128(nil), s.source...)
	for k := range s.stages {
		st := &s.stages[k]
		st.before = append([]complex128(nil), v...)
		for i, h := range st.loaded {
			v[i] *= h
		}
	}
	v = make([]complex128, n)
	for i := range v {
		v[i] = 1
	}
	for k := len(s.stages) - 1; k >= 0; k-- {
		st := &s.stages[k]
		st.after = append([]complex128(nil), v...)
		for i, h := range st.loaded {
			v[i] *= h
		}
	}
}

// makeNoise finds the noise of every element, from the source on.
func (s *Solution) makeNoise() error {
	n := s.grid.Len()
	thermal := 4 * Boltzmann * s.path.kelvin()
	zup := make([]complex128, n) // impedance looking back, Ω
	if r := s.path.SourceResistance; r > 0 {
		for i := range zup {
			zup[i] = complex(r, 0)
		}
		c := component{element: "source", output: make([]float64, n), density: make([]float64, n)}
		for i, h := range s.source {
			c.output[i] = thermal * r * square(h)
			c.density[i] = c.output[i] * square(s.stages[0].loaded[i]*s.stages[0].after[i])
		}
		s.noise = append(s.noise, c)
	}
	for k := range s.stages {
		st := &s.stages[k]
		c := component{element: st.element.Label(), density: make([]float64, n)}
		if b, ok := st.element.(block); ok {
			var err error
			if c.output, err = b.noise(s.grid, st.open); err != nil {
				return err
			}
			zup = make([]complex128, n)
			if f, ok := b.(feeder); ok {
				if zup, err = f.output(s.grid); err != nil {
					return err
				}
				for i, d := range st.divider {
					c.output[i] *= square(d)
				}
			}
		} else {
			c.output, zup = st.thermal(thermal, zup)
		}
		for i, v := range c.output {
			c.density[i] = v * square(st.after[i])
		}
		s.noise = append(s.noise, c)
	}
	s.end = zup
	if re := s.path.Driver.Re; re > 0 {
		// In series with the coil, a voltage does what it does at the terminals, but for the
		// part of it that the impedance in front of them takes.
		c := component{element: s.path.Driver.Name, density: make([]float64, n)}
		for i, z := range zup {
			c.density[i] = thermal * re / square(1+z/s.load[i])
		}
		c.output = c.density
		s.noise = append(s.noise, c)
	}
	return nil
}

// thermal returns the noise of a ladder at its output, and the impedance that is seen there
// looking back.
func (st *stage) thermal(k float64, zup []complex128) (output []float64, back []complex128) {
	output = make([]float64, len(zup))
	back = append([]complex128(nil), zup...)
	for j, a := range st.arms {
		for i, z := range a.z {
			var h complex128 // from the arm's e.m.f. to the voltage behind it
			if a.across {
				p := back[i] / (1 + back[i]*st.loads[j][i])
				h = p / (z + p)
				back[i] = back[i] * z / (back[i] + z)
			} else {
				back[i] += z
				h = 1 / (1 + back[i]*st.loads[j][i])
			}
			for _, later := range st.ratios[j+1:] {
				h *= later[i]
			}
			output[i] += k * real(z) * square(h)
		}
	}
	return output, back
}

// Grid returns the grid.
func (s *Solution) Grid() *freq.Grid { return s.grid }

// Path returns the path.
func (s *Solution) Path() Path { return s.path }

// Response returns the voltage at the driver's terminals per unit of the input, with all pure
// delays.
func (s *Solution) Response(label string) (freq.Response, error) {
	return freq.NewResponse(s.grid, s.product(len(s.stages)), label, s.inputBasis())
}

// Element returns the response of an element in its place: into its load, which of a capacitor
// or an output filter is the driver, and with its pure delay. Digital sides are in full scale.
func (s *Solution) Element(name string) (freq.Response, error) {
	k, err := s.path.index(name)
	if err != nil {
		return freq.Response{}, err
	}
	return freq.NewResponse(s.grid, s.stages[k].loaded, name, freq.Basis{})
}

// OutputImpedance returns the impedance in ohm that the driver sees, looking back from its
// terminals.
func (s *Solution) OutputImpedance(label string) (freq.Response, error) {
	return freq.NewResponse(s.grid, s.end, label, freq.Basis{Quantity: freq.Impedance})
}

// Pressure returns the sound pressure per unit of the input, in the space and at the distance that
// the driver states.
func (s *Solution) Pressure(label string) (freq.Response, error) {
	v := s.product(len(s.stages))
	for i := range v {
		v[i] *= s.sound[i]
	}
	b := s.path.Driver.basis()
	b.Per = s.inputBasis().Per
	return freq.NewResponse(s.grid, v, label, b)
}

func (s *Solution) inputBasis() freq.Basis {
	b := freq.Basis{Quantity: freq.Voltage, Per: freq.PerInput}
	if s.path.Digital() {
		b.Per = freq.PerFullScale
	}
	return b
}

// product returns the response from the input of the path to that of element k, or to the
// terminals.
func (s *Solution) product(k int) []complex128 {
	if k < len(s.stages) {
		return append([]complex128(nil), s.stages[k].before...)
	}
	v := append([]complex128(nil), s.stages[k-1].before...)
	for i, h := range s.stages[k-1].loaded {
		v[i] *= h
	}
	return v
}
