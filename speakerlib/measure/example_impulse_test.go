package measure_test

import (
	"bytes"
	"fmt"
	"log"

	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/level"
	"example.org/loudspeaker/speakerlib/measure"
	"example.org/loudspeaker/speakerlib/signal"
)

// From a WAV file with an impulse response, in volts at the microphone per volt at
// the loudspeaker, to its sound pressure level: an arrival after 3 ms, and a floor
// echo 6 ms later that the gate takes away.
func ExampleImpulse_Gated() {
	samples := make([]float64, 1024)
	samples[144], samples[432] = 0.002, 0.001
	clip, err := signal.NewClip(48000, samples)
	if err != nil {
		log.Fatal(err)
	}
	var file bytes.Buffer
	if err := signal.WriteWAV(&file, clip, signal.Float32); err != nil {
		log.Fatal(err)
	}

	wav, err := signal.ReadWAV(&file, "woofer.wav", signal.Limits{})
	if err != nil {
		log.Fatal(err)
	}
	channel, err := wav.Clip.Channel(0)
	if err != nil {
		log.Fatal(err)
	}
	h, err := measure.NewImpulse(channel, measure.Timing{SampleRate: wav.Clip.SampleRate(), TimeZero: "rig"},
		"woofer", freq.Basis{Quantity: freq.Voltage, Per: freq.PerTerminals})
	if err != nil {
		log.Fatal(err)
	}
	arrival, err := h.Flight(200, 20000)
	if err != nil {
		log.Fatal(err)
	}
	gated, err := h.Gated(measure.Gate{From: arrival - 1e-3, To: arrival + 5e-3, Rise: 0.5e-3, Fall: 2e-3})
	if err != nil {
		log.Fatal(err)
	}
	g, err := freq.LogGrid(gated.ValidFrom(), 20000, 12)
	if err != nil {
		log.Fatal(err)
	}
	u, err := gated.Response(g)
	if err != nil {
		log.Fatal(err)
	}
	file.Reset()
	file.WriteString("# columns: frequency_Hz level_dB\n# holds: response\n# sensitivity_mV_per_Pa: 10\n20 0\n1000 0\n20000 0\n")
	table, err := measure.ReadResponse(&file, "microphone.txt", measure.Format{})
	if err != nil {
		log.Fatal(err)
	}
	microphone, err := measure.NewMicrophone(table)
	if err != nil {
		log.Fatal(err)
	}
	p, err := microphone.Pressure(u, freq.FullSpace, 1)
	if err != nil {
		log.Fatal(err)
	}
	spl := p.SPL(2.83)
	fmt.Printf("arrives after %.3f ms, valid from %.0f Hz\n", arrival*1e3, gated.ValidFrom())
	fmt.Printf("%.2f dB at %.0f Hz, 2.83 V (0.2 Pa/V: %.2f dB)\n", spl.At(0), g.At(0), level.SPL(0.2*2.83))
	// Output:
	// arrives after 3.000 ms, valid from 250 Hz
	// 89.04 dB at 250 Hz, 2.83 V (0.2 Pa/V: 89.04 dB)
}
