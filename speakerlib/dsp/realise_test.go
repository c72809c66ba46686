package dsp

import (
	"math"
	"strings"
	"testing"

	"example.org/loudspeaker/speakerlib/digital"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
)

func cascade(t testing.TB, fs, gain float64, sections ...digital.Section) *digital.Cascade {
	t.Helper()
	c, err := digital.NewCascade(fs, sections...)
	if err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithGain(gain); err != nil {
		t.Fatal(err)
	}
	return c
}

// woofer is a chain as a way has it (invented).
func woofer(t testing.TB) *digital.Cascade {
	c := cascade(t, 96000, 0.63, digital.Highpass{F0: 28, Q: 0.8}, digital.Peak{F0: 37, Gain: level.Ratio(4), Q: 1.8}, digital.LowShelf{F0: 160, Gain: level.Ratio(5), Q: 0.7},
		digital.Peak{F0: 700, Gain: level.Ratio(-3), Q: 1.2}, digital.Lowpass{F0: 2100, Q: 0.54}, digital.Lowpass{F0: 2100, Q: 1.31}, digital.Peak{F0: 1500, Gain: level.Ratio(2), Q: 2},
		digital.Allpass{F0: 300, Q: 0.6}, digital.Notch{F0: 8200, Q: 6}, digital.Peak{F0: 55, Gain: level.Ratio(-2), Q: 4})
	c, err := c.WithPolarity(true).WithDelay(11)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// A gain that is 1 but for its last digits is none, in any format, and one that is not is kept.
func TestGainOfOne(t *testing.T) {
	for _, a := range []Arithmetic{{Signal: Float64(), Coefficient: Float64()}, {Signal: Float32(), Coefficient: Float32()},
		{Signal: Fixed(4, 27), Coefficient: Fixed(1, 30), Accumulator: 72}} {
		for gain, none := range map[float64]bool{1: true, 1 + 0x1p-52: true, 1 - 0x1p-51: true, 1 + 1e-4: false, 1 - 1e-4: false} {
			r, err := Realise(Chain{Sections: cascade(t, 96000, gain, digital.Peak{F0: 700, Gain: 0.7, Q: 1.2})}, a, Options{Scaling: Unscaled})
			if err != nil {
				t.Fatal(err)
			}
			if (r.Program.Gain == nil) != none {
				t.Errorf("%v: of a gain of 1%+.3g the program has %v", a, gain-1, r.Program.Gain)
			}
		}
	}
}

func TestRealise(t *testing.T) {
	design := woofer(t)
	g, err := freq.LogGrid(10, 40000, 24)
	if err != nil {
		t.Fatal(err)
	}
	want := design.ResponseTo(nil, g)
	for _, c := range []struct {
		a     Arithmetic
		o     Options
		error float64 // dB from 10 Hz to 20 kHz, where the response is above −80 dB
	}{
		{Arithmetic{Signal: Float64(), Coefficient: Float64()}, Options{Structure: TransposedII}, 1e-8},
		{Arithmetic{Signal: Float32(), Coefficient: Float32()}, Options{}, 0.02},
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}, Options{Feedback: 2}, 0.05},
		{Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}, Options{Feedback: 2, Split: SplitNeeded}, 0.02},
		{Arithmetic{Signal: Fixed(4, 27), Coefficient: Fixed(1, 30), Accumulator: 72}, Options{}, 0.002},
		{Arithmetic{Signal: Fixed(4, 27), Coefficient: Fixed(4, 27), Accumulator: 72}, Options{Structure: DirectI, Split: SplitAlways, Scaling: Unscaled, KeepOrder: true}, 1e-6},
	} {
		r, err := Realise(Chain{Sections: design}, c.a, c.o)
		if err != nil {
			t.Errorf("%v: %v", c.a, err)
			continue
		}
		tr, err := r.Program.Transfer()
		if err != nil {
			t.Fatal(err)
		}
		got := tr.ResponseTo(nil, g)
		var worst float64
		for i := range got {
			if level.DB(math.Hypot(real(want[i]), imag(want[i]))) > -80 {
				worst = math.Max(worst, math.Abs(level.DB(math.Hypot(real(got[i]/want[i]), imag(got[i]/want[i])))))
			}
		}
		n, err := r.Program.Noise(0.5)
		if err != nil {
			t.Fatal(err)
		}
		nodes, err := r.Program.Headroom()
		if err != nil {
			t.Fatal(err)
		}
		least := math.Inf(1)
		for _, x := range nodes {
			if x.Section < len(r.Program.Sections) {
				least = math.Min(least, x.Headroom())
			}
		}
		for i, s := range r.Program.Sections {
			t.Logf("%d %-28s %v scale %d shift %d feedback %d", r.Order[i], s.Design, s.Structure, s.Scale, s.InputShift, s.Feedback)
		}
		t.Logf("%v: error %.3g dB, noise %.1f dB re a sine of full scale, headroom %.2f dB, gain %v", c.a, worst, level.PowerDB(2*n.Power), level.DB(least), r.Program.Gain)
		if worst > c.error {
			t.Errorf("%v: response is off by %.3g dB, want at most %g", c.a, worst, c.error)
		}
		if c.o.Scaling != Unscaled && least < 1-1e-6 {
			t.Errorf("%v: a sum reaches its limit at a sine of %.6g, want full scale", c.a, least)
		}
		if r.Program.Latency() != 11 || r.Program.gain() > 0 {
			t.Errorf("latency %g, gain %g, want 11 samples and an inverted polarity", r.Program.Latency(), r.Program.gain())
		}
	}
}

// A chain of chosen structures blocks direct current exactly where its design does, in words
// of any length: a constant input ends in silence, and no taken structure is one that rounds
// its zeros.
func TestDirectCurrentStaysBlocked(t *testing.T) {
	c, err := digital.NewCascade(96000, digital.Highpass{F0: 38, Q: 1.9}, digital.FirstHighpass{F0: 10}, digital.Peak{F0: 200, Gain: 1.4, Q: 1})
	if err != nil {
		t.Fatal(err)
	}
	for _, bits := range []int{16, 24, 32} {
		for feedback := range 3 {
			r, err := Realise(Chain{Sections: c}, Arithmetic{Signal: Fixed(3, bits-4), Coefficient: Fixed(0, bits-1), Accumulator: 64, Rounding: HalfEven, Exponent: 1}, Options{Feedback: feedback})
			if err != nil {
				t.Fatal(err)
			}
			for i, s := range r.Program.Sections {
				design := c.At(r.Order[i])
				if b := s.Biquad(); design.B0+design.B1+design.B2 == 0 && (b.B0+b.B1+b.B2 != 0 || !s.Structure.keepsDirect()) {
					t.Errorf("%d bits, feedback %d: %s as %v has a numerator of %g at direct current, want 0", bits, feedback, s.Design, s.Structure, b.B0+b.B1+b.B2)
				}
			}
		}
	}
}

// Coefficients that are too short for a section or a gain are refused, and not run as silence or
// as something else.
func TestTooSmallIsRefused(t *testing.T) {
	a := Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 56}
	for _, g := range []float64{1e-7, 1e-8, 1e-12, 1e-30, 1e-300} {
		for _, s := range append(Structures(), Automatic) {
			if g > 5e-8 && (s == Coupled || s == StateVariable || s == Lattice || s == Automatic) {
				continue // something is left
			}
			c, err := digital.NewCascade(48000, digital.Given{SampleRate: 48000, Coefficients: digital.Biquad{B0: g, B1: 0.3 * g, A1: -1.2, A2: 0.5}})
			if err != nil {
				t.Fatal(err)
			}
			_, err = Realise(Chain{Sections: c}, a, Options{Structure: s})
			if err == nil || !strings.Contains(err.Error(), "is 0 when rounded") {
				t.Errorf("%v, numerator of %g: error is %v, want one that says so", s, g, err)
			}
		}
	}
	// Poles at 20 Hz in eight bits.
	short := Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 6), Accumulator: 56}
	if _, err := Realise(Chain{Sections: cascade(t, 96000, 1, digital.Lowpass{F0: 20, Q: 8})}, short, Options{}); err == nil || !strings.Contains(err.Error(), "Q1.6") {
		t.Errorf("low-pass at 20 Hz in eight bits: error is %v", err)
	}
	c, err := digital.NewCascade(48000)
	if err != nil {
		t.Fatal(err)
	}
	if c, err = c.WithGain(1e-12); err != nil {
		t.Fatal(err)
	}
	if _, err = Realise(Chain{Sections: c}, a, Options{}); err == nil || !strings.Contains(err.Error(), "ratio 1e-12, which is 0 in Q1.22") {
		t.Errorf("gain of 1e-12: error is %v", err)
	}
}

// A high-pass whose numerator is off by the last bit of float64 is one: of the structures that
// are chosen from, all block direct current.
func TestZeroThatRoundingLeft(t *testing.T) {
	b, err := digital.Highpass{F0: 30, Q: 0.7}.Biquad(96000)
	if err != nil {
		t.Fatal(err)
	}
	b.B1 = math.Nextafter(b.B1, 0)
	for _, a := range []Arithmetic{{Signal: Fixed(3, 20), Coefficient: Fixed(1, 22), Accumulator: 64}, {Signal: Float32(), Coefficient: Float32()}} {
		r, err := Realise(Chain{Sections: cascade(t, 96000, 1, digital.Given{SampleRate: 96000, Coefficients: b})}, a, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if q := r.Program.Sections[0].Biquad(); q.B0+q.B1+q.B2 != 0 {
			t.Errorf("%v: %v has the numerator %g + %g + %g = %g at direct current, want 0", a, r.Program.Sections[0].Structure, q.B0, q.B1, q.B2, q.B0+q.B1+q.B2)
		}
	}
}

// An input that is shifted out of the word of its constant is refused, and one that is not is
// what the response says.
func TestInputShiftWithinTheWord(t *testing.T) {
	a := Arithmetic{Signal: Fixed(0, 23), Coefficient: Fixed(1, 22), Accumulator: 128, Exponent: 19}
	at := func(v float64, shift int) Coefficient {
		return Coefficient{Word: int64(math.Round(math.Ldexp(v, shift))), Shift: shift}
	}
	for _, shift := range []int{0, 10, 21, 22, 30} {
		s := Section{Structure: DirectII, InputShift: shift, Coefficients: []Coefficient{at(0.5, 22), at(0, 22), at(0, 22), at(-0.5, 22), at(1e-6, 41)}}
		p := &Program{SampleRate: 48000, Arithmetic: a, Sections: []Section{s}}
		if err := p.Validate(); err != nil {
			if shift < 22 || !strings.Contains(err.Error(), "shifts its input") {
				t.Errorf("shift of %d: %v", shift, err)
			}
			continue
		}
		if y := p.NewRunner().Process(nil, []float64{0x1p-23}); shift > 21 || shift > 0 && y[0] != 0x1p-23 {
			t.Errorf("shift of %d: the first sample is %g steps, want 1 (a half, rounded up)", shift, y[0]*0x1p23)
		}
	}
}
