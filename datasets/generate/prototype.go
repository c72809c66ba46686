package main

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
)

// The release of coefficients that was loaded into the first prototype, as the
// study active-conversion exported it.
//
//go:embed prototype-coefficients.json
var loaded []byte

// release is what the generator reads of it.
type release struct {
	Rate float64 `json:"sample_rate_hz"`
	Ways []chain `json:"ways"`
}

type chain struct {
	Name     string  `json:"name"`
	Polarity string  `json:"polarity"`
	Gain     float64 `json:"gain_ratio"`
	Delay    int     `json:"delay_samples"`
	Sections []struct {
		B0 float64 `json:"b0"`
		B1 float64 `json:"b1"`
		B2 float64 `json:"b2"`
		A1 float64 `json:"a1"`
		A2 float64 `json:"a2"`
	} `json:"sections"`
}

func loadedRelease() (low, high chain, rate float64, err error) {
	var r release
	if err := json.Unmarshal(loaded, &r); err != nil {
		return low, high, 0, fmt.Errorf("prototype's coefficients: %w", err)
	}
	if len(r.Ways) != 2 || r.Ways[0].Name != "woofer" || r.Ways[1].Name != "tweeter" || r.Rate <= 0 {
		return low, high, 0, fmt.Errorf("prototype's coefficients: %d ways at %g Hz, want woofer and tweeter", len(r.Ways), r.Rate)
	}
	return r.Ways[0], r.Ways[1], r.Rate, nil
}

// at is the response of the chain.
func (c chain) at(f, rate float64) complex128 {
	z := cmplx.Exp(complex(0, -tau*f/rate)) // of one sample
	h := complex(c.Gain, 0) * cmplx.Pow(z, complex(float64(c.Delay), 0))
	if c.Polarity == "inverted" {
		h = -h
	}
	for _, s := range c.Sections {
		h *= (complex(s.B0, 0) + z*(complex(s.B1, 0)+z*complex(s.B2, 0))) / (1 + z*(complex(s.A1, 0)+z*complex(s.A2, 0)))
	}
	return h
}

// specimen is a loudspeaker: its drivers and its cabinet.
type specimen struct {
	woofer, tweeter driver
	box             cabinet
}

func passiveSpecimen() specimen { return specimen{woofer(), tweeter(), box()} }

// prototype is the active one as it was built: other samples of the drivers, the
// cabinet with the vent that the study asked for, and a tweeter whose magnet came
// out stronger.
func prototype() specimen {
	random := rand.New(rand.NewPCG(4100, 0x9a27))
	w := woofer().varied(random, 1)
	t := tweeter()
	bl := t.bl() * 1.035
	t.qes = tau * t.fs * t.mms * t.re / (bl * bl)
	return specimen{w, t, box().withTube(tube{diameter: 52e-3, wall: 3e-3, length: 233e-3})}
}

// withTube is the cabinet with another tube in it: the leak stays what it is.
func (b cabinet) withTube(t tube) cabinet {
	leak := b.conductance()
	b.tube = t
	b.volume = b.gross - t.displaced()
	b.resonance = c0 / tau * math.Sqrt(t.area()/(b.volume*t.acousticLength()))
	b.leakQ = tau * b.resonance * b.volume / (rho * c0 * c0) / leak
	return b
}

// trim is what the prototype has and the passive loudspeaker had not: a strip on the new
// foot reflects a little of the woofer's sound towards the microphone.
func trim(f float64) complex128 { return 1 + 0.035*phasor(tau*f/c0, 0.118) }

// prototypeDrive is the voltage at the input of the prototype where it was measured.
const prototypeDrive = 0.283

// prototypes writes the measurements of the first prototype: its ways alone (the
// other one muted) and both, far field, and its low end.
func prototypes(files map[string][]byte) error {
	files["standmount/prototype/coefficients.json"] = loaded
	low, high, rate, err := loadedRelease()
	if err != nil {
		return err
	}
	p := prototype()
	ampLow, ampHigh := amplifiers()
	// drivenLow and drivenHigh are the volts at the terminals per volt at the input.
	drivenLow := func(f float64) complex128 {
		zd := p.box.solve(p.woofer, f).impedance
		load := cable(f) + zd
		return low.at(f, rate) * ampLow.at(f, load) * zd / load
	}
	drivenHigh := func(f float64) complex128 {
		zd := p.tweeter.impedance(f, 0, 0)
		load := cable(f) + protection(f) + zd
		return high.at(f, rate) * ampHigh.at(f, load) * zd / load
	}
	var wooferTo, tweeterTo []complex128
	for i := range frame/2 + 1 {
		f := float64(i) * sampleRate / frame
		if i == 0 || i == frame/2 {
			wooferTo, tweeterTo = append(wooferTo, 0), append(tweeterTo, 0)
			continue
		}
		wooferTo, tweeterTo = append(wooferTo, drivenLow(f)), append(tweeterTo, drivenHigh(f))
	}
	for k, dir := range directions() {
		if dir.side > 30 {
			continue
		}
		s := p.compute(dir)
		both := make([]complex128, len(s.woofer))
		for i := range both {
			f := float64(i) * sampleRate / frame
			s.woofer[i] *= wooferTo[i] * trim(f)
			s.tweeter[i] *= tweeterTo[i]
			both[i] = s.woofer[i] + s.tweeter[i]
		}
		for j, what := range []struct {
			name, title string
			spectrum    []complex128
		}{{"woofer", "Prototype, woofer's way alone", s.woofer}, {"tweeter", "Prototype, tweeter's way alone", s.tweeter}, {"whole", "Prototype, both ways", both}} {
			lines := measured(what.spectrum, uint64(5000+10*k+j), 0)
			files["standmount/prototype/"+what.name+"-"+dir.name+".txt"] = farField(what.title, dir, lines, rigNote{
				per: "input", at: "input of the prototype, in its middle sensitivity position", volts: prototypeDrive,
				set: "prototype far field: one time zero for all files, flight and latency of the rig not removed, latency of the converters in the prototype removed"})
		}
	}
	lowEnd(files, p, drivenLow)
	return nil
}

// lowEnd writes the low frequencies of the prototype, from near fields.
func lowEnd(files map[string][]byte, p specimen, driven func(f float64) complex128) {
	out := newTable(pressureColumns, "Low frequencies of the prototype: near fields of cone and vent scaled by their radii and summed",
		"quantity", "sound pressure", "reference_Pa", "20e-6", "drive_V", fmt.Sprint(prototypeDrive),
		"space", "half space", "distance_m", "1", "per", "input", "driven_at", "input of the prototype", "usable_from_Hz", "15",
		"air", "20 degC, 101325 Pa, 50 % relative humidity")
	random := rand.New(rand.NewPCG(5900, 0xfeed))
	for _, f := range logarithmic(10, 640, 24) {
		s := p.box.solve(p.woofer, f)
		cone := s.cone * near(f, p.woofer.sd, 0.5e-3) * p.woofer.breakup(f)
		vent := (s.vent + s.leak) * near(f, p.box.tube.area(), 0)
		half := func(area float64) complex128 { return complex(math.Sqrt(area/math.Pi)/2, 0) }
		v := driven(f) * (cone*half(p.woofer.sd) + vent*half(p.box.tube.area()))
		out.pressureAt(f, noisy(random, v, 0.0004, 2e-5), prototypeDrive)
	}
	files["standmount/prototype/low.txt"] = out.Bytes()
}
