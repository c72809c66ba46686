package dsp

import (
	"encoding/json"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/fir"
	"example.org/loudspeaker/speakerlib/level"
)

var q23 = Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}

// Errors say where, what was had, and what was wanted or is missing.
func TestRealiseRefuses(t *testing.T) {
	peak := cascade(t, 48000, 1, digital.Peak{F0: 1000, Gain: level.Ratio(14), Q: 0.5})
	bass := cascade(t, 96000, 1, digital.Allpass{F0: 300, Q: 1}, digital.Highpass{F0: 10, Q: 0.7})
	shifted, err := fir.New(44100, []float64{1}, 0, "one")
	if err != nil {
		t.Fatal(err)
	}
	big, err := fir.New(48000, []float64{0.1, -3.5, 0.1}, 1, "big")
	if err != nil {
		t.Fatal(err)
	}
	narrow := Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 40}
	for name, c := range map[string]struct {
		chain Chain
		a     Arithmetic
		o     Options
		want  []string
	}{
		"gain beyond the format": {Chain{Sections: peak}, Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(0, 23), Accumulator: 56}, Options{Structure: DirectI}, []string{
			"section 1 of 1", "peak 1000 Hz", "coefficient b1 is -1.87", "Q0.23 holds -1 … 0.99999988", "needs 1 bits before the binary point, 1 more"}},
		"pole on the circle": {Chain{Sections: bass}, Arithmetic{Signal: Fixed(0, 15), Coefficient: Fixed(1, 14), Accumulator: 40}, Options{Structure: DirectI}, []string{
			"section 2 of 2", "high-pass 10 Hz", "rounded to Q1.14 for the direct form I", "largest pole radius is 1 +", "want < 1"}},
		"no structure": {Chain{Sections: bass}, Arithmetic{Signal: Fixed(0, 15), Coefficient: Fixed(0, 5), Accumulator: 40}, Options{}, []string{
			"section 1 of 2", "no structure can hold it"}},
		"narrow accumulator":    {Chain{Sections: peak}, narrow, Options{Structure: DirectI}, []string{"sum y of the direct form I needs an accumulator of 46 bits (signal of 24, 22 below its last), have 40"}},
		"double pole":           {Chain{Sections: cascade(t, 48000, 1, digital.Lowpass{F0: 1000, Q: 0.5})}, q23, Options{Structure: Coupled}, []string{"coupled form of a double pole"}},
		"tap beyond the format": {Chain{Sections: cascade(t, 48000, 1), FIR: []*fir.Filter{big}}, q23, Options{}, []string{"FIR filter 1 of 1", "coefficient h[1] is -3.5", "needs 2 bits before the binary point, 1 more"}},
		"other rate":            {Chain{Sections: peak, FIR: []*fir.Filter{shifted}}, q23, Options{}, []string{"FIR filter 1 of 1", "48000 Hz, the sample rate of the cascade"}},
		"no cascade":            {Chain{}, q23, Options{}, []string{"no cascade"}},
		"split floats":          {Chain{Sections: peak}, Arithmetic{Signal: Float32(), Coefficient: Float32()}, Options{Split: SplitNeeded}, []string{"float32 are to be split", "want fixed point"}},
		"reserve":               {Chain{Sections: peak}, q23, Options{Reserve: 0.5}, []string{"reserve is the ratio 0.5"}},
		"mixed formats":         {Chain{Sections: peak}, Arithmetic{Signal: Float32(), Coefficient: Float64()}, Options{}, []string{"signal is float32 and coefficients are float64"}},
		"feedback":              {Chain{Sections: peak}, q23, Options{Feedback: 3}, []string{"feedback 3", "at most 2"}},
	} {
		_, err := Realise(c.chain, c.a, c.o)
		if err == nil {
			t.Errorf("%s: no error, want one", name)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: error is %q, want %q in it", name, err, w)
			}
		}
	}
}

// A program from elsewhere is examined whole.
func TestValidateRefuses(t *testing.T) {
	good := func() *Program {
		return program(t, q23, DirectI, false, 1, digital.Peak{F0: 1000, Gain: 0.5, Q: 1}, digital.Highpass{F0: 40, Q: 0.7})
	}
	floating := func() *Program {
		return program(t, Arithmetic{Signal: Float32(), Coefficient: Float32()}, DirectI, false, 0, digital.Peak{F0: 1000, Gain: 0.5, Q: 1})
	}
	for want, spoil := range map[string]func() *Program{
		"sample rate is NaN": func() *Program { p := good(); p.SampleRate = math.NaN(); return p },
		"section 2 of 2, \"high-pass 40 Hz, Q 0.7\": dsp: coefficient a1 is the word -8388609, want -8388608 to 8388607": func() *Program { p := good(); p.Sections[1].Coefficients[3].Word = -8388609; return p },
		"coefficient b2 has the shift 23, want 22 to 22":                                                                 func() *Program { p := good(); p.Sections[0].Coefficients[2].Shift = 23; return p },
		"largest pole radius is 1 +":                                                   func() *Program { p := good(); p.Sections[0].Coefficients[4].Word = 1 << 22; return p },
		"has 4 coefficients, want 5: [b0 b1 b2 a1 a2]":                                 func() *Program { p := good(); p.Sections[0].Coefficients = p.Sections[0].Coefficients[:4]; return p },
		"input shift of 1":                                                             func() *Program { p := good(); p.Sections[0].InputShift = 1; return p },
		"error feedback of order 3":                                                    func() *Program { p := good(); p.Sections[0].Feedback = 3; return p },
		"structure is automatic":                                                       func() *Program { p := good(); p.Sections[0].Structure = Automatic; return p },
		"is split at 5 bits, want 23":                                                  func() *Program { p := good(); p.Sections[0].Coefficients[0].LowBits = 5; return p },
		"has the low word 9, want 0 to 0":                                              func() *Program { p := good(); p.Sections[0].Coefficients[0].Low = 9; return p },
		"has the floating-point value 0.5":                                             func() *Program { p := good(); p.Sections[0].Coefficients[0].Value = 0.5; return p },
		"gain is 0":                                                                    func() *Program { p := good(); p.Gain.Coefficient.Word = 0; return p },
		"gain in Q0.23 has the shift 31":                                               func() *Program { p := good(); p.Gain.Shift = 31; return p },
		"taps, want 1 to":                                                              func() *Program { p := good(); p.FIR[0].Taps = nil; return p },
		"tap 1 has the shift":                                                          func() *Program { p := good(); p.Arithmetic.Exponent = 2; p.FIR[0].Taps[1].Shift = 21; return p },
		"7 taps has a delay of 8 samples, want 0 to 7":                                 func() *Program { p := good(); p.FIR[0].Delay = 8; return p },
		"delay is -1 samples":                                                          func() *Program { p := good(); p.Delay = -1; return p },
		"accumulator has 200 bits, want 24, as the signal has, to 128":                 func() *Program { p := good(); p.Arithmetic.Accumulator = 200; return p },
		"accumulator of 46 bits":                                                       func() *Program { p := good(); p.Arithmetic.Accumulator = 45; return p },
		"exponent of coefficients of Q1.22 is 20 bits, want 0 to 19":                   func() *Program { p := good(); p.Arithmetic.Exponent = 20; return p },
		"coefficient b0 is NaN, want a finite value":                                   func() *Program { p := floating(); p.Sections[0].Coefficients[0].Value = math.NaN(); return p },
		"coefficient b0 is 0.1, which float32 does not have: the nearest is 0.1":       func() *Program { p := floating(); p.Sections[0].Coefficients[0].Value = 0.1; return p },
		"arithmetic in float32 states accumulator, exponent, rounding or overflow":     func() *Program { p := floating(); p.Arithmetic.Accumulator = 32; return p },
		"format Q40.40 has words of 81 bits with the sign, want m and n of at least 0": func() *Program { p := good(); p.Arithmetic.Signal = Fixed(40, 40); return p },
	} {
		err := spoil().Validate()
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error is %v, want %q in it", err, want)
		}
	}
	if err := good().Validate(); err != nil {
		t.Error(err)
	}
}

// A program is plain data: what is written as JSON reads back as an equal program.
func TestProgramReadsBack(t *testing.T) {
	for _, a := range []Arithmetic{q23, {Signal: Float32(), Coefficient: Float32()}, {Signal: Fixed(1, 30), Coefficient: Fixed(1, 22), Accumulator: 80}} {
		p := program(t, a, StateVariable, a.Accumulator > 64, 0, someSections()...)
		text, err := json.Marshal(p)
		if err != nil {
			t.Fatal(err)
		}
		var back Program
		if err := json.Unmarshal(text, &back); err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(p, &back) {
			t.Errorf("%v: reads back as another program", a)
		}
	}
}

// Zeros on the unit circle stay there when coefficients are rounded, in every direct
// form and in float32 too; and split words are as near to the design as their bits say.
func TestRoundingKeepsZeros(t *testing.T) {
	for _, d := range []digital.Section{digital.Highpass{F0: 21, Q: 1.3}, digital.FirstHighpass{F0: 4}, digital.Lowpass{F0: 150, Q: 0.9}, digital.FirstLowpass{F0: 777}, digital.Bandpass{F0: 47, Q: 3}, digital.Notch{F0: 50, Q: 9},
		// One zero at direct current, or at half the sample rate, and another that is not there.
		digital.Given{SampleRate: 96000, Coefficients: digital.Biquad{B0: 0.371234567, B1: -0.371234567 * 1.3, B2: 0.371234567 * 0.3, A1: -1.2, A2: 0.4}},
		digital.Given{SampleRate: 96000, Coefficients: digital.Biquad{B0: 0.371234567, B1: 0.371234567 * 1.7, B2: 0.371234567 * 0.7, A1: -1.2, A2: 0.4}}} {
		b, err := d.Biquad(96000)
		if err != nil {
			t.Fatal(err)
		}
		near := func(v float64) bool { return math.Abs(v) < 1e-13 }
		dc, nyquist, circle := near(b.B0+b.B1+b.B2), near(b.B0-b.B1+b.B2), near(b.B0-b.B2)
		for _, a := range []Arithmetic{q23, {Signal: Fixed(0, 15), Coefficient: Fixed(1, 27), Accumulator: 64}, {Signal: Float32(), Coefficient: Float32()}} {
			for _, split := range []bool{false, true} {
				if split && !a.fixed() {
					continue
				}
				s, err := newSection(b, "", DirectI, a, split, 0, 0, 0)
				if err != nil {
					t.Fatal(err)
				}
				q := s.Biquad()
				var exact float64 // two words may be longer than a float64
				if split {
					exact = 0x1p-52
				}
				if dc && math.Abs(q.B0+q.B1+q.B2) > exact || nyquist && math.Abs(q.B0-q.B1+q.B2) > exact || circle && q.B0 != q.B2 {
					t.Errorf("%v in %v: numerator %g, %g, %g has lost a zero", d, a, q.B0, q.B1, q.B2)
				}
				step := math.Ldexp(1, -a.Coefficient.N)
				if split {
					step = math.Ldexp(step, 1-a.Coefficient.Word())
				}
				if a.fixed() && (math.Abs(q.A1-b.A1) > step/2 || math.Abs(q.A2-b.A2) > step/2 || math.Abs(q.B0-b.B0) > step/2+1e-15) {
					t.Errorf("%v in %v, split %v: %+v, want %+v within half of %g", d, a, split, q, b, step)
				}
			}
		}
	}
}

// The order that Realise finds, against the noise of every order as it comes out.
func TestOrderIsTheBest(t *testing.T) {
	sections := []digital.Section{digital.Highpass{F0: 60, Q: 0.8}, digital.LowShelf{F0: 250, Gain: level.Ratio(-15), Q: 0.7}, digital.Peak{F0: 5000, Gain: level.Ratio(9), Q: 3}, digital.Peak{F0: 900, Gain: level.Ratio(-6), Q: 1}}
	o := Options{Structure: DirectI}
	noise := func(order []int, keep bool) float64 {
		var list []digital.Section
		for _, i := range order {
			list = append(list, sections[i])
		}
		o.KeepOrder = keep
		r, err := Realise(Chain{Sections: cascade(t, 48000, 1, list...)}, q23, o)
		if err != nil {
			t.Fatal(err)
		}
		n, err := r.Program.Noise(0)
		if err != nil {
			t.Fatal(err)
		}
		if keep && !slices.IsSorted(r.Order) {
			t.Errorf("order is %v, want it kept", r.Order)
		}
		return n.Power
	}
	best, worst := math.Inf(1), 0.
	order := []int{0, 1, 2, 3}
	var walk func(k int)
	walk = func(k int) {
		if k == len(order) {
			n := noise(order, true)
			best, worst = math.Min(best, n), math.Max(worst, n)
			return
		}
		for i := k; i < len(order); i++ {
			order[k], order[i] = order[i], order[k]
			walk(k + 1)
			order[k], order[i] = order[i], order[k]
		}
	}
	walk(0)
	// From wherever it starts; the weighing has its sections scaled one by one, which costs
	// some tenths of a decibel.
	for _, start := range [][]int{{0, 1, 2, 3}, {3, 2, 1, 0}, {2, 0, 3, 1}} {
		if got := noise(start, false); got > best*1.1 {
			t.Errorf("noise of the order found is %.1f dB, of the best %.1f, of the worst %.1f", level.PowerDB(got), level.PowerDB(best), level.PowerDB(worst))
		}
	}
	if worst < 3*best {
		t.Errorf("worst order is %.1f dB above the best: the sections show nothing", level.PowerDB(worst/best))
	}
}

// What an automatic choice must find for a low high-pass: not a plain direct form, whose
// noise gain of 77 dB is in the table of roundoff_noise.csv.
func TestChoiceForTheBass(t *testing.T) {
	c := cascade(t, 96000, 1, digital.Highpass{F0: 30, Q: math.Sqrt(0.5)})
	for feedback := range 3 {
		r, err := Realise(Chain{Sections: c}, Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 30), Accumulator: 64}, Options{Feedback: feedback})
		if err != nil {
			t.Fatal(err)
		}
		ch := r.Choices[0]
		chosen := ch.Alternatives[ch.Chosen]
		var direct Alternative
		for _, a := range ch.Alternatives {
			if a.Structure == DirectI && a.Feedback == 0 {
				direct = a
			}
			if a.Refused == "" && a.Error <= 1e-3 && a.Noise < chosen.Noise/1.26 {
				t.Errorf("%v is quieter than %v", a.Structure, chosen.Structure)
			}
		}
		if gain := level.PowerDB(direct.Noise * 12 * math.Ldexp(1, 46)); math.Abs(gain-76.7057) > 0.01 {
			t.Errorf("noise gain of the direct form is %.4f dB, table 76.7057", gain)
		}
		// One step of rounding at the output is what nothing goes below by much.
		if d := level.PowerDB(direct.Noise / chosen.Noise); d < 35 {
			t.Errorf("feedback %d: %v is %.1f dB quieter than the direct form, want more", feedback, chosen.Structure, d)
		}
	}
}
