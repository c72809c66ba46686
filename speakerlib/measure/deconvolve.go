package measure

import (
	"fmt"
	"math"
	"math/bits"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/signal"
)

// MaxOrder is the highest order of a distortion product that is separated.
const MaxOrder = 12

// SweepRecording is a recording of an exponential sweep that went through a
// loudspeaker.
type SweepRecording struct {
	Samples []float64     // from the very sample at which the sweep began, at its rate
	Sweep   *signal.Sweep // what was played
	// Reference is what the response is divided by: nil for the sweep itself, or a
	// recording of the same instant and clock, such as of the terminals, which
	// takes converters and amplifier out of the result.
	Reference []float64
	Orders    int // highest order; 0: 1, the linear response alone
	Label     string
	Basis     freq.Basis
	TimeZero  string
}

// Order is the response at m times the frequency of the sine that excites it.
type Order struct {
	Order int // m; 1 is the linear response
	// Impulse has the response from the sweep at the output frequency f = m·f₁:
	// a sine A·sin φ gives A·|H(f)|·sin(mφ + arg H(f)) of this order. It holds for
	// the level of this sweep; all orders have one time zero.
	Impulse *Impulse
	// From … To is the band of output frequencies in which it is known. With the time
	// √(L/f) that the sweep takes to pass a frequency (stationary phase), From is m
	// times where the sweep is four such times after its beginning, and one after
	// the fade, and To where it is as far from its end; and 1/T.
	From, To float64
}

// Deconvolution is what a recorded sweep tells.
type Deconvolution struct {
	// Phases reports whether the phases of the orders above 1 mean something: the
	// sweep was synchronised. If not, order m is turned by −2π·From·L·(m−1), and what
	// the clock of a player adds.
	Phases bool
	Orders []Order // of ascending order, from 1
}

// Deconvolve divides the spectrum of a recorded exponential sweep by that of its
// reference and separates what stands at −L·ln m, the response of order m, from the
// linear one at 0 (A. Farina, "Simultaneous measurement of impulse response and
// distortion with a swept-sine technique", 108th AES Convention, 2000; A. Novak,
// P. Lotton, L. Simon, "Synchronized swept-sine: theory, application, and
// implementation", J. Audio Eng. Soc. 63, 2015). Neighbours are crossfaded along
// half a cosine over the middle half of the gap L·ln((m+1)/m) between them, so that
// each order has half a gap before its zero and (but for the linear one, which goes
// on for as long as the recording does after the sweep) half a gap to die away.
// What takes longer spills into the next order; noise lies below all of them.
//
//	H = W·Y·X*/(|X|² + ε)
//
// W is 1 from the lowest frequency of the sweep without its fades to the highest
// one, and falls over an octave below and a sixth above (or up to half the
// sample rate) along half a cosine over ln f: these edges ring before the zero too.
// ε is 1e-8 + 1e-4·(1−W) of the power that an unfaded sweep has there, and keeps
// noise from being raised without bound. Without noise, at L times the lowest
// frequency of 20, fades of 0.5 s and 5 ms and products 28 and 42 dB down, each order
// is found to 2 parts in 1000 of itself at the ends of its band and to 2 in 10000
// within; a sweep without fades leaves 3 % at the ends.
//
// It refuses a recording that does not outlast the sweep, a reference that is
// silent, is the recording itself or has another sweep in it (of another rate, duration
// or band), a recording in which the sound is earlier than in the reference, and orders
// that have no band.
func Deconvolve(r SweepRecording) (*Deconvolution, error) {
	if r.Sweep == nil {
		return nil, fmt.Errorf("measure: recording %q has no sweep", r.Label)
	}
	setup, fs := r.Sweep.Setup(), r.Sweep.Setup().SampleRate
	played := r.Sweep.Samples()
	reference := r.Reference
	if reference == nil {
		reference = played
	}
	if len(reference) < len(played) || len(r.Samples) <= len(played) {
		return nil, fmt.Errorf("measure: recording %q of %d samples and reference of %d, want a sweep of %d: a recording that goes on until the sound has died away", r.Label, len(r.Samples), len(reference), len(played))
	}
	if most := signal.DefaultMaxSamples; len(r.Samples) > most || len(reference) > most {
		return nil, fmt.Errorf("measure: recording %q of %d samples and reference of %d, want at most %d", r.Label, len(r.Samples), len(reference), most)
	}
	if err := finite(r.Samples, "the recording", r.Label); err != nil {
		return nil, err
	}
	if err := finite(reference, "the reference of", r.Label); err != nil {
		return nil, err
	}
	orders := max(r.Orders, 1)
	if r.Orders < 0 || orders > MaxOrder {
		return nil, fmt.Errorf("measure: orders up to %d of %q, want 1 … %d", r.Orders, r.Label, MaxOrder)
	}
	energy := sumOfSquares(reference)
	if energy == 0 {
		return nil, fmt.Errorf("measure: the reference of %q is silent, want the sweep", r.Label)
	}
	from, to := r.Sweep.HzAt(setup.FadeIn), r.Sweep.HzAt(setup.Duration-setup.FadeOut)
	// Where the neighbourhood of a frequency is in the sweep as well.
	pass := math.Sqrt(r.Sweep.L() / from)
	begin := r.Sweep.HzAt(max(setup.FadeIn+pass, 4*pass))
	pass = math.Sqrt(r.Sweep.L() / to)
	end := r.Sweep.HzAt(setup.Duration - max(setup.FadeOut+pass, 4*pass))
	if r.Reference != nil {
		if err := belongs(r, played, from, to); err != nil {
			return nil, err
		}
	}
	h := divide(r, reference, played, energy, from, to)
	d := &Deconvolution{Phases: !setup.Exact}
	for m := 1; m <= orders; m++ {
		if float64(m)*begin >= end {
			return nil, fmt.Errorf("measure: order %d of %q would be known from %.4g to %.4g Hz, want a sweep that goes higher, or fewer orders", m, r.Label, float64(m)*begin, end)
		}
		zero, gap := -r.Sweep.Lead(m), r.Sweep.Lead(m+1)-r.Sweep.Lead(m)
		g := Gate{From: zero - 0.75*gap, Rise: gap / 2, To: float64(len(r.Samples)-len(played)-1) / fs}
		if m > 1 {
			below := r.Sweep.Lead(m) - r.Sweep.Lead(m-1)
			g.To, g.Fall = zero+0.75*below, below/2
		}
		first, last := int(math.Ceil(g.From*fs)), int(math.Floor(g.To*fs))
		samples := make([]float64, max(0, last-first+1))
		for i := range samples {
			n := first + i // negative times are at the end
			samples[i] = h[(n+len(h))%len(h)] * g.Weight(float64(n)/fs)
		}
		label := r.Label
		if m > 1 {
			label = fmt.Sprintf("%s, order %d", r.Label, m)
		}
		impulse, err := newImpulse(samples, Timing{SampleRate: fs, Start: float64(first)/fs - zero, TimeZero: r.TimeZero}, label, r.Basis)
		if err != nil {
			return nil, err
		}
		impulse.from = max(impulse.from, float64(m)*begin)
		if impulse.from >= end {
			return nil, fmt.Errorf("measure: order %d of %q would be known from %.4g to %.4g Hz, want a longer sweep and recording", m, r.Label, impulse.from, end)
		}
		d.Orders = append(d.Orders, Order{Order: m, Impulse: impulse, From: impulse.from, To: end})
	}
	return d, nil
}

func finite(samples []float64, what, label string) error {
	for i, x := range samples {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return fmt.Errorf("measure: sample %d of %s %q is %g, want finite values", i, what, label, x)
		}
	}
	return nil
}

func sumOfSquares(samples []float64) float64 {
	var sum float64
	for _, x := range samples {
		sum += x * x
	}
	return sum
}

// divide returns the periodic response in a band, negative times at its end.
func divide(r SweepRecording, reference, played []float64, energy, from, to float64) []float64 {
	setup, fs := r.Sweep.Setup(), r.Sweep.Setup().SampleRate
	size := 1 << bits.Len(uint(len(r.Samples)+len(reference)-1))
	fft := fourier.NewFFT(size)
	padded := make([]float64, size)
	copy(padded, r.Samples)
	lines := fft.Coefficients(nil, padded)
	clear(padded)
	copy(padded, reference)
	// |X|² ≈ (A·fs/2)²·L/f of an unfaded sweep, by stationary phase; here at 1 Hz.
	unfaded := setup.Amplitude * fs / 2
	unfaded *= unfaded * r.Sweep.L() * energy / sumOfSquares(played)
	low, high := from/2, min(to*math.Exp2(1.0/6), fs/2)
	for k, x := range fft.Coefficients(nil, padded) {
		f := float64(k) / float64(size) * fs
		w := 0.0
		switch {
		case f >= from && f <= to:
			w = 1
		case f > low && f < from:
			w = HalfCosine.at(math.Log(f/low) / math.Log(from/low))
		case f > to && f < high:
			w = HalfCosine.at(math.Log(high/f) / math.Log(high/to))
		}
		if w == 0 {
			lines[k] = 0
			continue
		}
		lines[k] *= cmplx.Conj(x) * complex(w/(norm(x)+(1e-8+1e-4*(1-w))*unfaded/f)/float64(size), 0)
	}
	return fft.Sequence(padded, lines)
}

// Distortion returns the magnitude of order m over that of the linear response at
// the frequency that causes it,
//
//	|H_m(m·f)| / |H_1(f)|,
//
// as a curve over f, a ratio. The grid must lie where both are known: m·f within the
// band of order m and f within that of order 1.
func (d *Deconvolution) Distortion(m int, g *freq.Grid) (freq.Curve, error) {
	if m < 2 || m > len(d.Orders) {
		return freq.Curve{}, fmt.Errorf("measure: distortion of order %d, want 2 … %d", m, len(d.Orders))
	}
	if g == nil {
		return freq.Curve{}, fmt.Errorf("measure: distortion of order %d has no grid", m)
	}
	one, o, k := d.Orders[0], d.Orders[m-1], float64(m)
	low, high := max(one.From, o.From/k), min(one.To, o.To/k)
	if g.First() < low*(1-1e-9) || g.Last() > high*(1+1e-9) {
		return freq.Curve{}, fmt.Errorf("measure: distortion of order %d on %v, want %.4g … %.4g Hz, where it is known", m, g, low, high)
	}
	hz := g.Hz()
	for i := range hz {
		hz[i] *= k
	}
	up, err := freq.NewGrid(hz)
	if err != nil {
		return freq.Curve{}, err
	}
	linear, err := one.Impulse.Response(g)
	if err != nil {
		return freq.Curve{}, err
	}
	product, err := o.Impulse.Response(up)
	if err != nil {
		return freq.Curve{}, err
	}
	v := make([]float64, len(hz))
	for i := range v {
		a := cmplx.Abs(linear.At(i))
		if a == 0 {
			return freq.Curve{}, fmt.Errorf("measure: linear response of %q is zero at %g Hz, want one that distortion can be compared with", one.Impulse.label, g.At(i))
		}
		v[i] = cmplx.Abs(product.At(i)) / a
	}
	return freq.NewCurve(g, v, o.Impulse.label, "1", freq.Basis{Quantity: freq.Dimensionless})
}
