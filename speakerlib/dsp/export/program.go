package export

import (
	"fmt"
	"strconv"
	"strings"

	"example.org/loudspeaker/speakerlib/dsp"
)

// A program on the wire: integers as they are held, with their shifts.
type (
	wireProgram struct {
		Arithmetic *wireArithmetic      `json:"arithmetic"`
		Sections   []wireProgramSection `json:"sections"`
		Gain       *wireGain            `json:"gain,omitempty"`
		FIR        []wireProgramFIR     `json:"fir"`
		Delay      *int                 `json:"delay_samples"`
	}
	wireArithmetic struct {
		Signal      *string `json:"signal"`
		Coefficient *string `json:"coefficient"`
		// Of fixed point only.
		Accumulator *int    `json:"accumulator_bits,omitempty"`
		Rounding    *string `json:"rounding,omitempty"`
		Overflow    *string `json:"overflow,omitempty"`
		Exponent    *int    `json:"exponent_bits,omitempty"`
	}
	wireProgramSection struct {
		Design       *string           `json:"design"`
		Structure    *string           `json:"structure"`
		InputShift   *int              `json:"input_shift"`
		Scale        *int              `json:"scale_bits"`
		Feedback     *int              `json:"feedback_order"`
		Coefficients []wireCoefficient `json:"coefficients"`
	}
	wireGain struct {
		Coefficient *wireCoefficient `json:"coefficient"`
		Shift       *int             `json:"shift"`
	}
	// wireCoefficient has a value, or a word and a shift, or these and a low word.
	wireCoefficient struct {
		Name    *string  `json:"name,omitempty"`
		Value   *float64 `json:"value,omitempty"`
		Word    *wireInt `json:"word,omitempty"`
		Shift   *int     `json:"shift,omitempty"`
		Low     *wireInt `json:"low,omitempty"`
		LowBits *int     `json:"low_bits,omitempty"`
	}
	// wireProgramFIR has values, or words and a shift, or these and low words.
	wireProgramFIR struct {
		Design  *string   `json:"design"`
		Delay   *float64  `json:"latency_samples"`
		Values  []float64 `json:"values,omitempty"`
		Shift   *int      `json:"shift,omitempty"`
		Words   []wireInt `json:"words,omitempty"`
		LowBits *int      `json:"low_bits,omitempty"`
		Lows    []wireInt `json:"lows,omitempty"`
	}
)

// wireInt is an integer that goes through readers that know float64 only: beyond
// ±2^53 it is a string of decimal digits.
type wireInt int64

const exact = 1 << 53

// MarshalJSON implements json.Marshaler.
func (v wireInt) MarshalJSON() ([]byte, error) {
	s := strconv.FormatInt(int64(v), 10)
	if v < -exact || v > exact {
		s = `"` + s + `"`
	}
	return []byte(s), nil
}

// UnmarshalJSON implements json.Unmarshaler: only what MarshalJSON writes.
func (v *wireInt) UnmarshalJSON(b []byte) error {
	n, err := strconv.ParseInt(strings.Trim(string(b), `"`), 10, 64)
	if err == nil {
		if again, _ := wireInt(n).MarshalJSON(); string(again) != string(b) {
			err = fmt.Errorf("not as it is written")
		}
	}
	if err != nil {
		return fmt.Errorf("integer is %.40s, want decimal digits within 64 bits, as a string beyond ±2^53 only", b)
	}
	*v = wireInt(n)
	return nil
}

// names are what the document calls the choices of an arithmetic and of a section, in
// the order of their constants.
var (
	structures = map[dsp.Structure]string{
		dsp.DirectI: "direct_form_1", dsp.DirectII: "direct_form_2", dsp.TransposedI: "transposed_form_1", dsp.TransposedII: "transposed_form_2",
		dsp.Coupled: "coupled", dsp.StateVariable: "state_variable", dsp.Lattice: "lattice",
	}
	roundings = map[dsp.Rounding]string{
		dsp.HalfUp: "nearest_half_up", dsp.HalfEven: "nearest_half_even", dsp.Floor: "floor", dsp.TowardZero: "toward_zero",
	}
	overflows = map[dsp.Overflow]string{dsp.Saturate: "saturate", dsp.Wrap: "wrap"}
)

// named finds the choice of a name.
func named[T comparable](names map[T]string, where, what, name string) (T, error) {
	for v, n := range names {
		if n == name {
			return v, nil
		}
	}
	var none T
	return none, fmt.Errorf("export: %s: %s is %q, which there is not", where, what, name)
}

// formatOf reads what dsp.Format prints.
func formatOf(where, s string) (dsp.Format, error) {
	f := dsp.Format{}
	switch s {
	case "float32":
		return dsp.Float32(), nil
	case "float64":
		return dsp.Float64(), nil
	}
	if _, err := fmt.Sscanf(s, "Q%d.%d", &f.M, &f.N); err != nil || f.String() != s {
		return f, fmt.Errorf("export: %s: format is %q, want Qm.n, float32 or float64", where, s)
	}
	return f, nil
}

func wireProgramOf(p *dsp.Program) *wireProgram {
	if p == nil {
		return nil
	}
	a := p.Arithmetic
	fixed := a.Signal.Number == dsp.FixedPoint
	signal, coefficient := a.Signal.String(), a.Coefficient.String()
	out := &wireProgram{
		Arithmetic: &wireArithmetic{Signal: &signal, Coefficient: &coefficient},
		Sections:   []wireProgramSection{}, FIR: []wireProgramFIR{}, Delay: &p.Delay,
	}
	if fixed {
		r, o := roundings[a.Rounding], overflows[a.Overflow]
		out.Arithmetic.Accumulator, out.Arithmetic.Rounding, out.Arithmetic.Overflow, out.Arithmetic.Exponent = &a.Accumulator, &r, &o, &a.Exponent
	}
	for i := range p.Sections {
		s := &p.Sections[i]
		structure := structures[s.Structure]
		ws := wireProgramSection{Design: &s.Design, Structure: &structure, InputShift: &s.InputShift, Scale: &s.Scale, Feedback: &s.Feedback}
		for k, name := range s.Structure.Names() {
			c := wireCoefficientOf(&s.Coefficients[k], fixed)
			c.Name = &name
			ws.Coefficients = append(ws.Coefficients, c)
		}
		out.Sections = append(out.Sections, ws)
	}
	if p.Gain != nil {
		c := wireCoefficientOf(&p.Gain.Coefficient, fixed)
		out.Gain = &wireGain{&c, &p.Gain.Shift}
	}
	for i := range p.FIR {
		f := &p.FIR[i]
		wf := wireProgramFIR{Design: &f.Design, Delay: &f.Delay}
		for k := range f.Taps {
			c := &f.Taps[k]
			if !fixed {
				wf.Values = append(wf.Values, c.Value)
				continue
			}
			wf.Shift, wf.Words = &c.Shift, append(wf.Words, wireInt(c.Word))
			if c.LowBits != 0 {
				wf.LowBits, wf.Lows = &c.LowBits, append(wf.Lows, wireInt(c.Low))
			}
		}
		out.FIR = append(out.FIR, wf)
	}
	return out
}

func wireCoefficientOf(c *dsp.Coefficient, fixed bool) wireCoefficient {
	if !fixed {
		return wireCoefficient{Value: &c.Value}
	}
	word := wireInt(c.Word)
	out := wireCoefficient{Word: &word, Shift: &c.Shift}
	if c.LowBits != 0 {
		low := wireInt(c.Low)
		out.Low, out.LowBits = &low, &c.LowBits
	}
	return out
}

// program reads a program; what its numbers must be is for dsp to say.
func (w *wireProgram) program(where string, sampleRate float64) (*dsp.Program, error) {
	if err := require(where, field{"arithmetic", w.Arithmetic == nil}, field{"sections", w.Sections == nil}, field{"fir", w.FIR == nil}, field{"delay_samples", w.Delay == nil}); err != nil {
		return nil, err
	}
	a, err := w.Arithmetic.arithmetic(where)
	if err != nil {
		return nil, err
	}
	fixed := a.Signal.Number == dsp.FixedPoint
	p := &dsp.Program{SampleRate: sampleRate, Arithmetic: a, Delay: *w.Delay}
	for i, s := range w.Sections {
		in := fmt.Sprintf("%s, section %d of %d", where, i+1, len(w.Sections))
		if err := require(in, field{"design", s.Design == nil}, field{"structure", s.Structure == nil}, field{"input_shift", s.InputShift == nil},
			field{"scale_bits", s.Scale == nil}, field{"feedback_order", s.Feedback == nil}, field{"coefficients", s.Coefficients == nil}); err != nil {
			return nil, err
		}
		out := dsp.Section{Design: *s.Design, InputShift: *s.InputShift, Scale: *s.Scale, Feedback: *s.Feedback}
		if out.Structure, err = named(structures, in, "structure", *s.Structure); err != nil {
			return nil, err
		}
		names := out.Structure.Names()
		if len(s.Coefficients) != len(names) {
			return nil, fmt.Errorf("export: %s: %d coefficients, want %d: %v", in, len(s.Coefficients), len(names), names)
		}
		for k, c := range s.Coefficients {
			if c.Name == nil || *c.Name != names[k] {
				return nil, fmt.Errorf("export: %s: coefficient %d has not the name %q, want %v in this order", in, k+1, names[k], names)
			}
			v, err := c.coefficient(fmt.Sprintf("%s, coefficient %s", in, names[k]), fixed)
			if err != nil {
				return nil, err
			}
			out.Coefficients = append(out.Coefficients, v)
		}
		p.Sections = append(p.Sections, out)
	}
	if g := w.Gain; g != nil {
		if err := require(where+", gain", field{"coefficient", g.Coefficient == nil}, field{"shift", g.Shift == nil}); err != nil {
			return nil, err
		}
		c, err := g.Coefficient.coefficient(where+", gain", fixed)
		if err != nil {
			return nil, err
		}
		if g.Coefficient.Name != nil {
			return nil, fmt.Errorf("export: %s: gain has a name, want none", where)
		}
		p.Gain = &dsp.Gain{Coefficient: c, Shift: *g.Shift}
	}
	for i, f := range w.FIR {
		v, err := f.fir(fmt.Sprintf("%s, FIR filter %d of %d", where, i+1, len(w.FIR)), fixed)
		if err != nil {
			return nil, err
		}
		p.FIR = append(p.FIR, v)
	}
	return p, nil
}

func (w *wireArithmetic) arithmetic(where string) (a dsp.Arithmetic, err error) {
	if err := require(where+", arithmetic", field{"signal", w.Signal == nil}, field{"coefficient", w.Coefficient == nil}); err != nil {
		return a, err
	}
	if a.Signal, err = formatOf(where+", signal", *w.Signal); err != nil {
		return a, err
	}
	if a.Coefficient, err = formatOf(where+", coefficient", *w.Coefficient); err != nil {
		return a, err
	}
	if a.Signal.Number != dsp.FixedPoint {
		if w.Accumulator != nil || w.Rounding != nil || w.Overflow != nil || w.Exponent != nil {
			return a, fmt.Errorf("export: %s: arithmetic in %v states what belongs to fixed point, want signal and coefficient alone", where, a.Signal)
		}
		return a, nil
	}
	if err := require(where+", arithmetic", field{"accumulator_bits", w.Accumulator == nil}, field{"rounding", w.Rounding == nil},
		field{"overflow", w.Overflow == nil}, field{"exponent_bits", w.Exponent == nil}); err != nil {
		return a, err
	}
	a.Accumulator, a.Exponent = *w.Accumulator, *w.Exponent
	if a.Rounding, err = named(roundings, where, "rounding", *w.Rounding); err != nil {
		return a, err
	}
	a.Overflow, err = named(overflows, where, "overflow", *w.Overflow)
	return a, err
}

func (w *wireCoefficient) coefficient(where string, fixed bool) (dsp.Coefficient, error) {
	switch words := w.Word != nil || w.Shift != nil || w.Low != nil || w.LowBits != nil; {
	case !fixed && w.Value != nil && !words:
		return dsp.Coefficient{Value: *w.Value}, nil
	case fixed && w.Value == nil && w.Word != nil && w.Shift != nil && (w.Low == nil) == (w.LowBits == nil):
		c := dsp.Coefficient{Word: int64(*w.Word), Shift: *w.Shift}
		if w.Low != nil {
			if *w.LowBits <= 0 {
				return c, fmt.Errorf("export: %s: low_bits is %d, want > 0 with a low word", where, *w.LowBits)
			}
			c.Low, c.LowBits = int64(*w.Low), *w.LowBits
		}
		return c, nil
	case fixed:
		return dsp.Coefficient{}, fmt.Errorf("export: %s: want word and shift in fixed point, and low and low_bits together or not at all", where)
	}
	return dsp.Coefficient{}, fmt.Errorf("export: %s: want value alone in floating point", where)
}

func (w *wireProgramFIR) fir(where string, fixed bool) (dsp.FIR, error) {
	if err := require(where, field{"design", w.Design == nil}, field{"latency_samples", w.Delay == nil}); err != nil {
		return dsp.FIR{}, err
	}
	out := dsp.FIR{Design: *w.Design, Delay: *w.Delay}
	if !fixed {
		if w.Values == nil || w.Words != nil || w.Shift != nil || w.Lows != nil || w.LowBits != nil {
			return out, fmt.Errorf("export: %s: want values alone in floating point", where)
		}
		for _, v := range w.Values {
			out.Taps = append(out.Taps, dsp.Coefficient{Value: v})
		}
		return out, nil
	}
	if w.Values != nil || w.Words == nil || w.Shift == nil || (w.Lows == nil) != (w.LowBits == nil) || w.Lows != nil && (len(w.Lows) != len(w.Words) || *w.LowBits <= 0) {
		return out, fmt.Errorf("export: %s: want words and shift in fixed point, and lows, as many, and low_bits > 0 together or not at all", where)
	}
	for k, v := range w.Words {
		c := dsp.Coefficient{Word: int64(v), Shift: *w.Shift}
		if w.Lows != nil {
			c.Low, c.LowBits = int64(w.Lows[k]), *w.LowBits
		}
		out.Taps = append(out.Taps, c)
	}
	return out, nil
}
