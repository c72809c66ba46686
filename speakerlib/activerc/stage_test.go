package activerc_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"example.org/loudspeaker/speakerlib/activerc"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/freq"
)

func response(s analog.Section, hz float64) complex128 {
	w := 2 * math.Pi * hz
	return complex(s.N0-s.N2*w*w, s.N1*w) / complex(s.D0-s.D2*w*w, s.D1*w)
}

func grid(t testing.TB, lo, hi float64, perOctave int) *freq.Grid {
	t.Helper()
	g, err := freq.LogGrid(lo, hi, perOctave)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// Every topology realises what it is for: the nodal response of the circuit is that of the
// section (the formulas that doc comments state are what the search uses; this is the circuit).
func TestStagesAreTheirSections(t *testing.T) {
	g := grid(t, 10, 40e3, 12)
	for _, c := range []struct {
		name string
		s    analog.Section
		t    activerc.Topology
		most float64
	}{
		{"first low-pass", activerc.FirstLowpass(1000, 1), activerc.FirstOrder, 0.005},
		{"first low-pass of gain 2", activerc.FirstLowpass(1000, 2), activerc.FirstOrder, 0.005},
		{"first low-pass of gain ½", activerc.FirstLowpass(1000, 0.5), activerc.FirstOrder, 0.005},
		{"first high-pass", activerc.FirstHighpass(1000, 1), activerc.FirstOrder, 0.005},
		{"first high-pass of gain ½", activerc.FirstHighpass(1000, 0.5), activerc.FirstOrder, 0.005},
		{"first all-pass", activerc.FirstAllpass(1000), activerc.FirstOrder, 0.005},
		{"inverted first all-pass", analog.Section{N1: 1, N0: -6000, D1: 1, D0: 6000}, activerc.FirstOrder, 0.005},
		{"baffle step", activerc.FirstShelf(700, 350, 1), activerc.FirstOrder, 0.005},
		{"low-pass", activerc.Lowpass(2200, math.Sqrt(0.5), 1), activerc.SallenKey, 0.003},
		{"low-pass of gain 2", activerc.Lowpass(2200, 1.3, 2), activerc.SallenKey, 0.003},
		{"high-pass", activerc.Highpass(2200, 0.5, 1), activerc.SallenKey, 0.003},
		{"high-pass of gain 1.6", activerc.Highpass(35, 1.3, 1.6), activerc.SallenKey, 0.003},
		{"low-pass", activerc.Lowpass(2200, 2, 0.5), activerc.MultipleFeedback, 0.003},
		{"high-pass", activerc.Highpass(2200, 1, 1), activerc.MultipleFeedback, 0.003},
		{"high-pass of gain ½", activerc.Highpass(2200, 1, 10./22), activerc.MultipleFeedback, 0.005},
		{"band-pass", activerc.Bandpass(300, 4, 1), activerc.MultipleFeedback, 0.012},
		{"notch", activerc.Notch(980, 1.5), activerc.BandpassSum, 0.01},
		{"all-pass", activerc.Allpass(3000, 0.8), activerc.BandpassSum, 0.01},
		{"peak", activerc.Peak(90, 2, 2), activerc.BandpassSum, 0.01},
		{"dip", activerc.Peak(900, 0.5, 3), activerc.BandpassSum, 0.01},
		{"relocation", activerc.Relocate(62, 1.1, 36, 0.707), activerc.BridgedT, 0.01},
		{"low-pass", activerc.Lowpass(2200, 8, 1), activerc.StateVariable, 0.003},
		{"high-pass", activerc.Highpass(200, 8, 2), activerc.StateVariable, 0.003},
		{"band-pass", activerc.Bandpass(200, 12, 2), activerc.StateVariable, 0.01},
		{"low shelf", activerc.LowShelf(120, 2, 0.7), activerc.StateVariable, 0.005},
		{"high shelf", activerc.HighShelf(8000, 0.6, 0.7), activerc.StateVariable, 0.005},
		{"all-pass", activerc.Allpass(3000, 2), activerc.StateVariable, 0.005},
		{"notch", activerc.Notch(3000, 2), activerc.StateVariable, 0.01},
		{"relocation", activerc.Relocate(62, 0.5, 36, 0.707), activerc.StateVariable, 0.005},
		{"elliptic", analog.Section{N2: 0.3, N0: 8e8, D2: 1, D1: 9e3, D0: 2e8}, activerc.StateVariable, 0.005},
	} {
		t.Run(fmt.Sprint(c.t, " ", c.name), func(t *testing.T) {
			st, err := activerc.Realise(c.s, activerc.Amplifier{}, activerc.Options{Topology: c.t})
			if err != nil {
				t.Fatal(err)
			}
			e, tried := st.Error()
			t.Logf("error %.2g, %d tried, %v", e, tried, st.Circuit().Parts())
			most := 0.0
			for i := range g.Len() {
				most = max(most, cmplx.Abs(response(c.s, g.At(i))))
			}
			sign := complex(1, 0)
			if st.Inverted() {
				sign = -1
			}
			worst := 0.0
			for i, h := range st.ResponseTo(nil, g) {
				want := response(c.s, g.At(i))
				worst = max(worst, cmplx.Abs(h*sign-want)/max(cmplx.Abs(want), 0.01*most))
			}
			if worst > c.most {
				t.Errorf("circuit is off by %.2g, want at most %.2g", worst, c.most)
			}
			// the search samples what this grid samples closer, over a wider range
			if worst > 1.3*e+1e-9 {
				t.Errorf("circuit is off by %.3g, but the search says %.3g", worst, e)
			}
		})
	}
}
