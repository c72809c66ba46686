package tradeoff_test

import (
	"fmt"

	"example.org/loudspeaker/speakerlib/air"
	"example.org/loudspeaker/speakerlib/analog"
	"example.org/loudspeaker/speakerlib/driver"
	"example.org/loudspeaker/speakerlib/enclosure"
	"example.org/loudspeaker/speakerlib/freq"
	"example.org/loudspeaker/speakerlib/limits"
	"example.org/loudspeaker/speakerlib/tradeoff"
)

// A cabinet of 15.2 litres, an invented woofer: which tuning and which corner of a
// sixth-order target reach lowest and loudest, and what the next hertz would cost.
func ExampleStudy_Search() {
	g, err := freq.LogGrid(15, 400, 48)
	if err != nil {
		fmt.Println(err)
		return
	}
	s := tradeoff.Study{
		Woofers: []tradeoff.Woofer{{
			Name:   "six inch",
			Driver: driver.Params{Re: 5.5, Bl: 7.5, Mms: 0.0152, Cms: 0.97e-3, Rms: 0.85, Sd: 0.0138, Coil: driver.Inductor{Le: 0.4e-3}}, Excursion: 6e-3,
		}},
		Book:    enclosure.Book{VentWall: 3e-3, VentRoom: 0.25},
		Gross:   tradeoff.Range{From: 0.0152},
		Tunings: tradeoff.Range{From: 34, To: 50, Steps: 16},
		Vent:    enclosure.Vent{Diameter: 0.052, Inner: enclosure.Free, Outer: enclosure.Flanged, Count: 1},
		Air:     air.Room(), Shapes: []analog.Prototype{analog.Butterworth(6)},
		Extension: tradeoff.Range{From: 32, To: 40, Steps: 8}, Drop: 6,
		Level: 98.5, Crest: 12, VentAir: 20, Amplifier: limits.Amplifier{PeakVolts: 26, PeakAmperes: 12},
		Grid: g, SearchFrom: 20, SearchTo: 300,
		Objectives: []tradeoff.Objective{tradeoff.Extension, tradeoff.Level}, Refine: 2,
	}
	r, err := s.Search()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%d candidates, %d on the front\n", len(r.Points), len(r.Front))
	p, err := tradeoff.Choose(r.Front, func(p *tradeoff.Point) bool { return p.Extension <= 35.5 && p.VentAir <= 18 })
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.2f Hz, tuned to %.2f Hz: up to %.1f dB, stopped by %s; %.1f V, %.2f mm, %.1f m/s, vent %.0f mm\n",
		p.Extension, p.Tuning, p.MaxLevel, p.StoppedBy, p.Volts, 1e3*p.Excursion, p.VentAir, 1e3*p.Length)
	h, err := s.Hertz(p.Recipe(), tradeoff.FilterAndVent)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("the next hertz: %.2f dB, %.1f W, %.0f mm of vent\n", h.Level, h.Power, 1e3*h.Length)
	// Output:
	// 267 candidates, 25 on the front
	// 35.25 Hz, tuned to 39.25 Hz: up to 99.6 dB, stopped by vent air; 15.4 V, 4.06 mm, 17.7 m/s, vent 246 mm
	// the next hertz: 0.25 dB, 2.7 W, 17 mm of vent
}
