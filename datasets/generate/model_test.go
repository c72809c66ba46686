package main

import (
	"go/parser"
	"go/token"
	"math"
	"math/cmplx"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The data would only tell the library its own assumptions if this shared code
// with it. The one exception is told in the file that it makes: the table of what the
// cabinet does to sound.
func TestSharesNoCodeWithTheLibrary(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) < 8 {
		t.Fatalf("%d files (%v)", len(files), err)
	}
	for _, file := range files {
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range f.Imports {
			if path, _ := strconv.Unquote(s.Path.Value); strings.HasPrefix(path, "example.org/loudspeaker") {
				t.Errorf("%s imports %s", file, path)
			}
		}
	}
}

// The richer models keep the small-signal values exactly where they are stated.
func TestStatedValuesHold(t *testing.T) {
	for _, d := range []driver{woofer(), tweeter()} {
		if le := imag(d.coil.impedance(d.coil.at)) / (tau * d.coil.at); math.Abs(le/d.coil.henry-1) > 1e-12 {
			t.Errorf("%s: %g H at %g Hz, want %g", d.name, le, d.coil.at, d.coil.henry)
		}
		z := d.mechanical(d.fs, 0)
		if q := tau * d.fs * d.mms / real(z); math.Abs(q/d.qms-1) > 1e-12 || math.Abs(imag(z)/real(z)) > 1e-12 {
			t.Errorf("%s: at Fs the mechanical impedance is %v, Qms %g, want real and %g", d.name, z, q, d.qms)
		}
		if q := tau * d.fs * d.mms * d.re / (d.bl() * d.bl()); math.Abs(q/d.qes-1) > 1e-12 {
			t.Errorf("%s: Qes %g, want %g", d.name, q, d.qes)
		}
	}
}

// No part gives out more power than it gets.
func TestPassive(t *testing.T) {
	w, tw, b, n := woofer(), tweeter(), box(), passive()
	lowest := math.Inf(1)
	for _, f := range logarithmic(1, 48e3, 48) {
		in := b.solve(w, f).impedance
		zt := tw.impedance(f, 0, 0)
		z, _, _ := n.solve(f, in, zt)
		zp, _ := b.pipe(f)
		for name, v := range map[string]complex128{
			"woofer": w.impedance(f, 0, 0), "woofer in the box": in, "tweeter": zt, "passive": z,
			"woofer's coil": w.coil.impedance(f), "tweeter's coil": tw.coil.impedance(f),
			"mechanics": w.mechanical(f, 0), "pipe": zp, "box": b.field(f, b.driverAt, b.driverAt, false),
		} {
			if real(v) < 0 {
				t.Errorf("%s at %g Hz: %v has a negative real part", name, f, v)
			}
		}
		lowest = min(lowest, cmplx.Abs(z))
	}
	if lowest < 3.5 {
		t.Errorf("the passive loudspeaker goes down to %g Ω, want at least 3.5", lowest)
	}
}

// At low frequencies the box is one volume with one mass in its mouth: the cone
// hardly moves at the tuning, and far below cone, vent and leak together move no
// air, so that the output falls by 24 dB per octave.
func TestVentedBox(t *testing.T) {
	w, b := woofer(), box()
	best, at := math.Inf(1), 0.0
	for f := 30.0; f < 70; f += 0.1 {
		if u := cmplx.Abs(b.solve(w, f).cone) / f; u < best {
			best, at = u, f
		}
	}
	if math.Abs(at-49) > 1.5 {
		t.Errorf("the cone stands still at %.1f Hz, want 49", at)
	}
	output := func(f float64) float64 {
		s := b.solve(w, f)
		return f * cmplx.Abs(s.cone+s.vent+s.leak)
	}
	if slope := 20 * math.Log10(output(6)/output(3)); math.Abs(slope-24) > 0.6 {
		t.Errorf("%.2f dB from 3 to 6 Hz, want 24", slope)
	}
	if r := b.tube.displaced() + b.volume; math.Abs(r-15.2e-3) > 1e-12 || b.tube.length > 0.25 {
		t.Errorf("volume and tube are %g m³, want 0.0152; the tube is %g m long", r, b.tube.length)
	}
}

// From half space in front at high frequencies to full space everywhere at low ones; behind,
// the shadow. The vent is the other way round.
func TestCabinet(t *testing.T) {
	for _, dir := range append(directions(), orbits()...) {
		out, mic := seenFrom(dir.microphone()), dir.microphone()
		re := func(v complex128, f float64) float64 { // the half space
			return cmplx.Abs(v) / (f * rho / out.distance)
		}
		for name, c := range map[string]struct {
			v  complex128
			at point
		}{"woofer": {out.woofer(6, woofer()), wooferAt}, "tweeter": {out.tweeter(6, tweeter()), tweeterAt}, "vent": {out.vent(6), point{0, 0.230, -0.378}}} {
			// On a rigid body a source is heard from farther out, half as far again from the
			// middle on a sphere: that is some percent here.
			if r, want := re(c.v, 6), 0.5*out.distance/c.at.to(mic); math.Abs(r/want-1) > 0.15 {
				t.Errorf("%s, %s: %.3f of the half space at 6 Hz, want about %.3f", name, dir.name, r, want)
			}
		}
		if r := tweeterAt.to(mic); math.Abs(r-micAt) > 1e-12 {
			t.Errorf("%s: the microphone is %g m from the tweeter", dir.name, r)
		}
		off := math.Acos(mic.z) * 180 / math.Pi
		front, vent := re(out.tweeter(6000, tweeter()), 6000)/cmplx.Abs(tweeter().breakup(6000)), re(out.vent(6000), 6000)
		if off < 5 && (math.Abs(front-1) > 0.1 || vent > 0.05) || off > 145 && (front > 0.25 || vent < 0.7) {
			t.Errorf("%s: tweeter %.3f and vent %.3f of the half space at 6 kHz", dir.name, front, vent)
		}
	}
	if d := wooferAt.to(tweeterAt); math.Abs(d-0.145) > 1e-12 {
		t.Errorf("woofer to tweeter %g m, want 0.145", d)
	}
}

// Between the table's directions nothing jumps: 1 mm beside the axis is nearly the axis.
func TestBesideADirection(t *testing.T) {
	mic := directions()[0].microphone()
	on := seenFrom(mic)
	mic.x += 1e-3
	beside := seenFrom(mic)
	for _, f := range []float64{500, 3000, 15000} {
		if r := cmplx.Abs(beside.tweeter(f, tweeter())/on.tweeter(f, tweeter()) - 1); r > 0.01 || r == 0 {
			t.Errorf("1 mm beside the axis the tweeter differs by %g at %g Hz", r, f)
		}
	}
}

// The crossover against its branches' closed forms, with resistors for drivers.
func TestNetwork(t *testing.T) {
	n := passive()
	if z, low, high := n.solve(1e-3, 5.5, 4.9); math.Abs(real(low)-5.5/5.82) > 1e-6 || cmplx.Abs(high) > 1e-6 || math.Abs(real(z)-5.82) > 1e-4 {
		t.Errorf("at direct current %v Ω, %v, %v; want 5.82 Ω, the divider of choke and woofer, nothing", z, low, high)
	}
	z, low, high := n.solve(1e7, 5.5, 4.9)
	end := 4.9 * 47 / (4.9 + 47)
	if math.Abs(cmplx.Abs(high)-end/(end+3.9)) > 1e-3 || cmplx.Abs(low) > 1e-3 || math.Abs(cmplx.Abs(z)-end-3.9) > 0.01 {
		t.Errorf("at high frequencies %v Ω, %v, %v; want the pad alone", z, low, high)
	}
}

// The window keeps the direct sound and nothing of the floor.
func TestGate(t *testing.T) {
	if gate(-1e-3, 0) != 0 || gate(0, 0) != 1 || gate(3e-3, 0) != 1 || gate(5.1e-3, 0) != 0 || math.Abs(gate(4.3e-3, 0)-0.5) > 1e-9 || gate(-0.4e-3, gateAround) != 1 {
		t.Error("the gate has another shape than stated")
	}
	for _, h := range []float64{axisHeight, hallHeight - axisHeight} {
		if late := (math.Hypot(micAt, 2*h) - micAt) / c0; late < gateEnd {
			t.Errorf("a reflection %g m away arrives %.2f ms later, within the gate", h, late*1e3)
		}
	}
}
