package main

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"maps"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
)

const invented = "Invented measurement of an invented loudspeaker, made by datasets/generate."

// generate writes all files and their sums.
func generate(to string) error {
	files := map[string][]byte{}
	impedances(files)
	nearFields(files)
	farFields(files)
	samples(files)
	largeSignals(files)
	recordings(files)
	repeats(files)
	heats(files)
	amplifierFiles(files)
	if err := prototypes(files); err != nil {
		return err
	}
	files["standmount/woofer.txt"] = driverFile(woofer())
	files["standmount/tweeter.txt"] = driverFile(tweeter())
	files["standmount/brief.txt"] = []byte(brief)
	files["standmount/crossover-parts.txt"] = parts()
	files["standmount/electronics/electronics.txt"] = []byte(electronics)
	var names []string
	for name := range files {
		names = append(names, name)
	}
	slices.Sort(names)
	var sums bytes.Buffer
	for _, name := range names {
		fmt.Fprintf(&sums, "%x  %s\n", sha256.Sum256(files[name]), name)
	}
	files["SHA256SUMS"] = sums.Bytes()
	for _, name := range append(names, "SHA256SUMS") {
		path := filepath.Join(to, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(path, files[name], 0o644); err != nil {
			return err
		}
	}
	return nil
}

// table is a file in the making: a header of settings, then rows.
type table struct{ bytes.Buffer }

func newTable(columns, title string, settings ...string) *table {
	t := &table{}
	fmt.Fprintf(t, "# %s\n# %s\n", title, invented)
	for i := 0; i+1 < len(settings); i += 2 {
		fmt.Fprintf(t, "# %s: %s\n", settings[i], settings[i+1])
	}
	fmt.Fprintf(t, "# columns: %s\n", columns)
	return t
}

const (
	pressureColumns  = "frequency_Hz level_dB phase_deg"
	impedanceColumns = "frequency_Hz magnitude_ohm phase_deg"
)

// pressure writes a row: v in pascal per volt.
func (t *table) pressure(f float64, v complex128) { t.pressureAt(f, v, drive) }

func (t *table) pressureAt(f float64, v complex128, volts float64) {
	fmt.Fprintf(t, "%.5g\t%.4f\t%.3f\n", f, 20*math.Log10(cmplx.Abs(v)*volts/reference), degrees(v))
}

// line writes a row at a line of the rig's transform.
func (t *table) line(f float64, v complex128, volts float64) {
	fmt.Fprintf(t, "%.4f\t%.4f\t%.3f\n", f, 20*math.Log10(cmplx.Abs(v)*volts/reference), degrees(v))
}

func (t *table) impedance(f float64, z complex128) {
	fmt.Fprintf(t, "%.5g\t%.5g\t%.3f\n", f, cmplx.Abs(z), degrees(z))
}

func degrees(v complex128) float64 { return cmplx.Phase(v) * 180 / math.Pi }

// logarithmic returns frequencies from lo to hi, rounded to five digits as they
// are printed.
func logarithmic(lo, hi float64, perOctave int) []float64 {
	var f []float64
	for k := 0; ; k++ {
		x := lo * math.Exp2(float64(k)/float64(perOctave))
		if x > hi*1.0000001 {
			return f
		}
		unit := math.Pow(10, math.Floor(math.Log10(x))-4)
		f = append(f, math.Round(x/unit)*unit)
	}
}

func impedances(files map[string][]byte) {
	w, t, b, n := woofer(), tweeter(), box(), passive()
	const added = 10.0e-3
	write := func(name, title string, seed uint64, lo float64, z func(f float64) complex128, more ...string) {
		settings := append([]string{"quantity", "impedance", "drive_V", "0.2", "air", "20 degC, 101325 Pa, 50 % relative humidity"}, more...)
		out := newTable(impedanceColumns, title, settings...)
		random := rand.New(rand.NewPCG(seed, 0x0b5e55ed))
		for _, f := range logarithmic(lo, 20e3, 30) {
			out.impedance(f, noisy(random, z(f), 0.003/math.Sqrt2, 0.002))
		}
		files["standmount/impedance/"+name+".txt"] = out.Bytes()
	}
	write("woofer-free-air", "Woofer, free air", 101, 8,
		func(f float64) complex128 { return w.impedance(f, 0, 0) })
	write("woofer-added-mass", "Woofer, free air, with a mass on the cone", 102, 8,
		func(f float64) complex128 { return w.impedance(f, added, 0) }, "added_mass_g", "10.0")
	write("woofer-in-box", "Woofer in the passive cabinet, at the driver's terminals, without crossover", 103, 8,
		func(f float64) complex128 { return b.solve(w, f).impedance })
	write("tweeter-free-air", "Tweeter", 104, 20,
		func(f float64) complex128 { return t.impedance(f, 0, 0) })
	write("passive", "The passive loudspeaker at its input", 105, 8,
		func(f float64) complex128 {
			z, _, _ := n.solve(f, b.solve(w, f).impedance, t.impedance(f, 0, 0))
			return z
		})
}

func nearFields(files map[string][]byte) {
	w, t, b, n := woofer(), tweeter(), box(), passive()
	const gap = 0.5e-3 // m: microphone in front of the cone, as far as a flat piston goes; in the plane of the mouth
	coneArea, ventArea := w.sd, b.tube.area()
	// The other source is heard a little: the vent is in the rear wall, and the
	// cabinet in the way.
	const around, shadow = 0.55, 0.4
	other := func(f float64) complex128 {
		return complex(0, shadow*tau*f*rho/(2*tau*around)) * phasor(tau*f/c0, around)
	}
	cone := func(s state, f float64) complex128 {
		return s.cone*near(f, coneArea, gap)*w.breakup(f) + s.vent*other(f)
	}
	vent := func(s state, f float64) complex128 {
		return (s.vent+s.leak)*near(f, ventArea, 0) + s.cone*other(f)
	}
	read := func(random *rand.Rand, v complex128) complex128 { return noisy(random, v, 0.0003, 5e-5) }
	radius := func(area float64) string { return fmt.Sprintf("%.2f", 1000*math.Sqrt(area/math.Pi)) }
	write := func(name, title string, seed uint64, hi float64, v func(f float64, random *rand.Rand) complex128, settings ...string) {
		head := append([]string{"quantity", "sound pressure", "reference_Pa", "20e-6", "drive_V", "2.83",
			"air", "20 degC, 101325 Pa, 50 % relative humidity"}, settings...)
		out := newTable(pressureColumns, title, head...)
		random := rand.New(rand.NewPCG(seed, 0xfeed))
		for _, f := range logarithmic(10, hi, 24) {
			out.pressure(f, v(f, random))
		}
		files["standmount/near-field/"+name+".txt"] = out.Bytes()
	}
	const atWoofer, atInput = "woofer terminals", "loudspeaker input"
	through := func(f float64) (state, complex128) {
		s := b.solve(w, f)
		_, low, _ := n.solve(f, s.impedance, t.impedance(f, 0, 0))
		return s, low
	}
	write("woofer-cone", "Near field of the woofer's cone, passive cabinet as it is", 201, 2000,
		func(f float64, random *rand.Rand) complex128 { return read(random, cone(b.solve(w, f), f)) },
		"space", "near field", "per", "terminals", "driven_at", atWoofer, "source_radius_mm", radius(coneArea))
	write("woofer-vent", "Near field of the vent's mouth, passive cabinet as it is", 202, 2000,
		func(f float64, random *rand.Rand) complex128 { return read(random, vent(b.solve(w, f), f)) },
		"space", "near field", "per", "terminals", "driven_at", atWoofer, "source_radius_mm", radius(ventArea))
	write("passive-cone", "Near field of the woofer's cone of the passive loudspeaker", 203, 2000,
		func(f float64, random *rand.Rand) complex128 {
			s, low := through(f)
			return read(random, low*cone(s, f))
		},
		"space", "near field", "per", "input", "driven_at", atInput, "source_radius_mm", radius(coneArea))
	write("passive-vent", "Near field of the vent's mouth of the passive loudspeaker", 204, 2000,
		func(f float64, random *rand.Rand) complex128 {
			s, low := through(f)
			return read(random, low*vent(s, f))
		},
		"space", "near field", "per", "input", "driven_at", atInput, "source_radius_mm", radius(ventArea))
	// p = p_cone·a/2r + p_vent·a_v/2r (Keele, J. Audio Eng. Soc. 22, 1974).
	half := func(area float64) complex128 { return complex(math.Sqrt(area/math.Pi)/2, 0) }
	write("passive-low", "Low frequencies of the passive loudspeaker: near fields of cone and vent scaled by their radii and summed", 205, 500,
		func(f float64, random *rand.Rand) complex128 {
			s, low := through(f)
			return read(random, low*cone(s, f))*half(coneArea) + read(random, low*vent(s, f))*half(ventArea)
		},
		"space", "half space", "distance_m", "1", "per", "input", "driven_at", atInput, "usable_from_Hz", "15")
}

// session is a time at the turntable.
type session struct {
	folder, set string
	directions  []direction
	seed        uint64
	ahead       float64 // s by which the gate opens earlier
	each        int     // which lines of the record are written; 0: every one
	check       bool    // both drivers in parallel were measured too
}

// farFields writes both ways and the passive loudspeaker in the directions of the fits, and
// from another session all around, on fewer lines.
func farFields(files map[string][]byte) {
	const zero = ": one time zero for all files, flight and latency of the rig not removed"
	session{folder: "far-field", set: "standmount far field" + zero, directions: directions(), seed: 1000, check: true}.write(files)
	session{folder: "polar", set: "standmount polar sets" + zero, directions: orbits(), seed: 9000, ahead: gateAround, each: 4}.write(files)
}

func (s session) write(files map[string][]byte) {
	n, b, w, t := passive(), box(), woofer(), tweeter()
	low, high := make([]complex128, frame/2+1), make([]complex128, frame/2+1)
	for i := 1; i < frame/2; i++ {
		f := float64(i) * sampleRate / frame
		_, low[i], high[i] = n.solve(f, b.solve(w, f).impedance, t.impedance(f, 0, 0))
	}
	var mu sync.Mutex
	var wg sync.WaitGroup
	queue := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for k := range queue {
				made := s.at(k, low, high)
				mu.Lock()
				maps.Copy(files, made)
				mu.Unlock()
			}
		})
	}
	for k := range s.directions {
		queue <- k
	}
	close(queue)
	wg.Wait()
}

// at returns the files of a direction; low and high are what the crossover gives the ways.
func (s session) at(k int, low, high []complex128) map[string][]byte {
	dir := s.directions[k]
	ways := passiveSpecimen().compute(dir)
	both, all := make([]complex128, len(low)), make([]complex128, len(low))
	for i := range both {
		both[i] = ways.woofer[i] + ways.tweeter[i]
		all[i] = low[i]*ways.woofer[i] + high[i]*ways.tweeter[i]
	}
	type take struct {
		name, title, per, at string
		spectrum             []complex128
	}
	takes := []take{
		{"woofer", "Woofer alone in the finished cabinet", "terminals", "woofer terminals", ways.woofer},
		{"tweeter", "Tweeter alone in the finished cabinet", "terminals", "tweeter terminals", ways.tweeter},
	}
	if s.check {
		takes = append(takes, take{"both", "Woofer and tweeter in parallel, without crossover", "terminals", "both drivers' terminals", both})
	}
	takes = append(takes, take{"passive", "The passive loudspeaker", "input", "loudspeaker input", all})
	made := map[string][]byte{}
	for j, what := range takes {
		lines := measured(what.spectrum, s.seed+uint64(10*k+j), s.ahead)
		made["standmount/"+s.folder+"/"+what.name+"-"+dir.name+".txt"] = farField(what.title, dir, lines,
			rigNote{per: what.per, at: what.at, volts: drive, set: s.set, ahead: s.ahead, each: s.each})
	}
	return made
}

func (n rigNote) gate() string { return fmt.Sprintf("%.1f", (gateEnd+n.ahead)*1e3) }

// rigNote is what a far-field file says of how it was driven and of its time zero.
type rigNote struct {
	per, at string
	volts   float64
	set     string
	ahead   float64 // s
	each    int     // which lines of the record are written; 0: every one
}

func farField(title string, dir direction, lines []complex128, n rigNote) []byte {
	out := newTable(pressureColumns, title,
		"quantity", "sound pressure",
		"reference_Pa", "20e-6",
		"drive_V", fmt.Sprint(n.volts),
		"per", n.per,
		"driven_at", n.at,
		"space", "full space",
		"distance_m", "1",
		"axis", "through the middle of the tweeter, square to the baffle; turned about that point of the baffle",
		"side_deg", fmt.Sprintf("%g", dir.side),
		"up_deg", fmt.Sprintf("%g", dir.up),
		"set", n.set,
		"gate_ms", n.gate(),
		"usable_from_Hz", "250",
		"air", "20 degC, 101325 Pa, 50 % relative humidity",
	)
	for i := 0; i < len(lines); i += max(n.each, 1) {
		f := float64(i) * sampleRate / record
		if f >= 90 && f <= 24e3 {
			out.line(f, lines[i], n.volts)
		}
	}
	return out.Bytes()
}

func driverFile(d driver) []byte {
	var b bytes.Buffer
	fmt.Fprintf(&b, "# %s: values of the maker's sheet. Invented.\n# key = value unit\n", d.name)
	fmt.Fprintf(&b, "Re = %g ohm\nFs = %g Hz\nQms = %g\nQes = %g\nMms = %.6g g\nSd = %.6g cm2\nLe = %.6g mH # at %.6g kHz\n",
		d.re, d.fs, d.qms, d.qes, d.mms*1e3, d.sd*1e4, d.coil.henry*1e3, d.coil.at/1e3)
	fmt.Fprintf(&b, "linear = %.6g mm\n", d.linear*1e3)
	if d.damage > 0 {
		fmt.Fprintf(&b, "damage = %.6g mm\n", d.damage*1e3)
	}
	return b.Bytes()
}
