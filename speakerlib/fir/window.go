package fir

import (
	"fmt"
	"math"

	"example.org/loudspeaker/speakerlib/level"
)

// Window weights the middle of an impulse response: [Rectangular], [Hann],
// [Hamming], [Blackman] or [Kaiser]. The first and the last tap are at ±1.
type Window interface {
	fmt.Stringer
	// At returns the weight at x, −1 … 1, with 1 at 0.
	At(x float64) float64
}

// Rectangular is 1: the least error in the mean, 9 % of overshoot at every edge.
type Rectangular struct{}

// Hann is ½ + ½·cos πx.
type Hann struct{}

// Hamming is 0.54 + 0.46·cos πx.
type Hamming struct{}

// Blackman is 0.42 + 0.5·cos πx + 0.08·cos 2πx.
type Blackman struct{}

// Kaiser is I₀(β·√(1−x²))/I₀(β) (J. F. Kaiser, "Nonrecursive digital filter design
// using the I₀-sinh window function", Proc. IEEE Int. Symp. Circuits Syst., 1974).
type Kaiser struct{ Beta float64 }

// At implements [Window].
func (Rectangular) At(float64) float64 { return 1 }

// At implements [Window].
func (Hann) At(x float64) float64 { return 0.5 + 0.5*math.Cos(math.Pi*x) }

// At implements [Window].
func (Hamming) At(x float64) float64 { return 0.54 + 0.46*math.Cos(math.Pi*x) }

// At implements [Window].
func (Blackman) At(x float64) float64 {
	return 0.42 + 0.5*math.Cos(math.Pi*x) + 0.08*math.Cos(2*math.Pi*x)
}

// At implements [Window].
func (w Kaiser) At(x float64) float64 {
	return besselI0(w.Beta*math.Sqrt(math.Max(0, (1-x)*(1+x)))) / besselI0(w.Beta)
}

func (Rectangular) String() string { return "rectangular window" }
func (Hann) String() string        { return "Hann window" }
func (Hamming) String() string     { return "Hamming window" }
func (Blackman) String() string    { return "Blackman window" }
func (w Kaiser) String() string    { return fmt.Sprintf("Kaiser window, β = %.4g", w.Beta) }

// besselI0 returns I₀(x) = Σ ((x/2)ᵏ/k!)².
func besselI0(x float64) float64 {
	sum, term := 1.0, 1.0
	for k := 1.0; term > 1e-17*sum; k++ {
		term *= x / (2 * k) * (x / (2 * k))
		sum += term
	}
	return sum
}

func checkWindow(w Window) error {
	if w == nil {
		return fmt.Errorf("fir: window is nil, want Rectangular, Hann, Hamming, Blackman or Kaiser")
	}
	if k, ok := w.(Kaiser); ok && !(k.Beta >= 0 && k.Beta <= 100) {
		return fmt.Errorf("fir: β of a Kaiser window is %g, want 0 to 100", k.Beta)
	}
	return nil
}

// KaiserFor returns the window and the number of taps whose windowed filter has
// errors of at most 1/loss in both bands, an amplitude ratio, with a transition of
// a width in hertz: with A = 20·lg loss
//
//	β = 0.1102·(A − 8.7) above 50 dB, 0.5842·(A−21)^0.4 + 0.07886·(A−21) above 21 dB
//	n = (A − 7.95)/(2.285·Δω) + 1
//
// (Kaiser 1974; fitted, good to about 1 dB.)
func KaiserFor(loss, width, sampleRate float64) (Kaiser, int, error) {
	if !(width > 0 && width < sampleRate/2) || math.IsInf(sampleRate, 0) {
		return Kaiser{}, 0, fmt.Errorf("fir: transition is %g Hz wide at a sample rate of %g Hz, want > 0 and less than half of that", width, sampleRate)
	}
	a := level.DB(loss)
	if !(a > 8 && a <= 250) {
		return Kaiser{}, 0, fmt.Errorf("fir: loss is %g dB, want 8 to 250 dB", a)
	}
	var beta float64
	switch {
	case a > 50:
		beta = 0.1102 * (a - 8.7)
	case a > 21:
		beta = 0.5842*math.Pow(a-21, 0.4) + 0.07886*(a-21)
	}
	n := math.Ceil((a-7.95)/(2.285*2*math.Pi*width/sampleRate) + 1)
	if n > MaxTaps {
		return Kaiser{}, 0, fmt.Errorf("fir: a transition of %g Hz with %g dB asks for %.0f taps, want at most %d", width, a, n, MaxTaps)
	}
	return Kaiser{beta}, int(n), nil
}
