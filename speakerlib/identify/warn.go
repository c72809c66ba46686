package identify

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.org/loudspeaker/speakerlib/lsq"
)

// Warning is something to know before a result is trusted.
type Warning struct {
	Kind WarningKind
	Text string
}

// WarningKind tells warnings apart.
type WarningKind int

// The warnings.
const (
	Leak             WarningKind = iota + 1 // the closed box leaks
	MassTooSmall                            // the added mass is too small to tell much
	NoiseFloor                              // the noise is large, or larger at one end of the band
	ReferenceOff                            // the rig's resistance is not that at direct current
	NotPassive                              // the real part is negative somewhere
	ResonanceOutside                        // the resonance is not wholly inside the band
	TwoSamples                              // the curves do not belong to one driver
	Systematic                              // the residual is no noise: the model is not the driver's
	Undetermined                            // the data do not tell a parameter
	NotConverged                            // the search did not end at a minimum
	BoxMisfit                               // the box has more losses than its model, or the curves are of two drivers
	ImplausibleScale                        // absolute parameters that no driver is known to have
	OffSheet                                // far from what the maker says
)

// String names the kind.
func (k WarningKind) String() string {
	names := [...]string{"", "leak", "added mass too small", "noise floor", "reference resistor", "not passive", "resonance outside the band", "two samples", "systematic misfit", "undetermined parameter", "not converged", "misfit of the box", "implausible scale", "off the sheet"}
	if k < 1 || int(k) >= len(names) {
		return fmt.Sprintf("WarningKind(%d)", int(k))
	}
	return names[k]
}

// What is worth a warning. All are common practice, no source.
const (
	enoughMass  = 0.25 // of Mms
	tightBox    = 40   // Q of a leak at the resonance of a closed box
	loud        = 0.01 // relative noise
	surely      = 3    // standard errors
	correlated  = 0.3  // from one point to the next
	pulled      = 1.2  // ratio of the misfits of the first curve with and without the others
	hot         = 0.15 // drift of Re: 38 K of copper
	inseparable = 1e6  // condition
)

// of returns the residuals of curve i: real and imaginary, one after another.
func (s *solved) of(i int) []float64 {
	row := 0
	for _, c := range s.curves[:i] {
		row += 2 * len(c.z)
	}
	return s.Residuals[row : row+2*len(s.curves[i].z)]
}

func meanSquare(r []float64) float64 {
	var sum float64
	for _, v := range r {
		sum += v * v
	}
	return sum / float64(len(r))
}

// noise is the rms of what changes from point to point, from second differences
// (Σ(rₖ₋₁ − 2rₖ + rₖ₊₁)²/6): a smooth misfit does not count. r holds two
// interleaved sequences.
func noise(r []float64) float64 {
	var sum float64
	n := 0
	for k := 2; k+2 < len(r); k++ {
		d := r[k-2] - 2*r[k] + r[k+2]
		sum += d * d / 6
		n++
	}
	return math.Sqrt(sum / float64(max(n, 1)))
}

// neighbours is the correlation of the residual from one point to the next.
func neighbours(r []float64) float64 {
	var ab, aa float64
	for k := 0; k+2 < len(r); k++ {
		ab += r[k] * r[k+2]
		aa += r[k] * r[k]
	}
	if aa == 0 {
		return 0
	}
	return ab / aa
}

// boxMisfit returns the curve of a box whose misfit sits within half an octave of its
// peaks: there its mean square is more than twice that of the rest of the curve. Nil if
// there is none, or if a curve with a mass does not fit either.
func (s *solved) boxMisfit() *curve {
	var found *curve
	for i, c := range s.curves {
		if i == 0 {
			continue
		}
		if _, box := boxVolume(c.setup); !box {
			if neighbours(s.of(i)) > correlated {
				return nil
			}
			continue
		}
		want := 1
		if _, vented := c.setup.(VentedBox); vented {
			want = 2
		}
		peaks := c.peaks()
		peaks = peaks[:min(want, len(peaks))]
		var near, far float64
		var nearby, beyond int
		res := s.of(i)
		for k := range c.z {
			e := res[2*k]*res[2*k] + res[2*k+1]*res[2*k+1]
			if slices.ContainsFunc(peaks, func(p peak) bool { return math.Abs(c.lnHz[k]-math.Log(p.hz)) < math.Ln2/2 }) {
				near, nearby = near+e, nearby+1
			} else {
				far, beyond = far+e, beyond+1
			}
		}
		if nearby > 0 && beyond > 0 && near/float64(nearby) > 2*far/float64(beyond) {
			found = c
		}
	}
	return found
}

func (s *solved) warnings(r *Result, alone *solved, scales map[int]Parameter, source int, ms []Measurement, set *Settings) []Warning {
	var list []Warning
	warn := func(k WarningKind, format string, a ...any) {
		list = append(list, Warning{k, fmt.Sprintf(format, a...)})
	}
	if !s.settled() {
		warn(NotConverged, "the fit of %s ended without convergence: %v", CoilName(s.coil), s.Status)
	}
	for i, c := range s.curves {
		// The lowest fifth and the highest fifth against the middle.
		res := s.of(i)
		part := len(res) / 10 * 2
		middle := noise(res[part : len(res)-part])
		switch low, high := noise(res[:part]), noise(res[len(res)-part:]); {
		case middle > loud:
			warn(NoiseFloor, "%q has noise of %.2g %% of the impedance, want below %.2g %%: more drive or longer averaging", c.label, 100*middle, 100*loud)
		case low > 3*middle && low > loud/2:
			warn(NoiseFloor, "%q has noise of %.2g %% below %.3g Hz, %.2g times that of the middle: leave that part out or average longer there", c.label, 100*low, c.grid.At(part/2), low/middle)
		case high > 3*middle && high > loud/2:
			warn(NoiseFloor, "%q has noise of %.2g %% above %.3g Hz, %.2g times that of the middle: leave that part out or average longer there", c.label, 100*high, c.grid.At(len(c.z)-part/2), high/middle)
		}
		if rho := neighbours(res); rho > correlated {
			p, err := r.Residual[i].Max(c.grid.First(), c.grid.Last())
			if err == nil {
				warn(Systematic, "the misfit of %q is no noise (correlation %.2f from point to point, at most %.2g %% at %.4g Hz): the driver or its box has more in it than the model; the errors count its %d points as %.0f, but not what a wrong model does to a value everywhere", c.label, rho, 100*p.Value, p.Hz, len(c.z), math.Ceil(float64(len(c.z))/remembers(res).time()))
			}
		}
		negative, at := 0, 0.0
		for k, z := range c.z {
			if real(z)*c.weight[k] < -surely*max(middle, 1e-6) {
				negative, at = negative+1, c.grid.At(k)
			}
		}
		if negative > 0 {
			warn(NotPassive, "%q has a negative real part at %d points, the last at %.4g Hz: no passive load has that; look at the phase reference of the rig", c.label, negative, at)
		}
		if p := c.peaks(); len(p) > 0 || i == 0 {
			f := math.Exp(s.X[s.fs]) // of the first curve, where a wiggle may be all that peaks in its band
			if i > 0 {
				f = p[0].hz
			}
			if f < 1.5*c.grid.First() || f > c.grid.Last()/1.5 {
				warn(ResonanceOutside, "the resonance of %q at %.4g Hz is at or beyond the edge of the band %.4g to %.4g Hz: both flanks are needed", c.label, f, c.grid.First(), c.grid.Last())
			}
		}
		switch v := c.setup.(type) {
		case AddedMass:
			if q := math.Exp(s.X[c.load]); q < enoughMass {
				warn(MassTooSmall, "the added mass of %.3g g is %.2g %% of Mms, want at least %.2g %%: errors of Mms grow as its inverse", v.Mass*1e3, 100*q, 100*enoughMass)
			}
		case ClosedBox:
			fl := s.X[c.load+1]
			fc := math.Exp(s.X[s.fs]) * math.Sqrt(1+math.Exp(s.X[c.load]))
			errors, err := s.StandardErrors()
			if err == nil && fl > surely*errors[c.load+1] && fc/fl < tightBox {
				warn(Leak, "the box of %q leaks: Q %.3g at %.4g Hz, want above %d; the impedance falls to a minimum below the resonance, and Vas comes out wrong by what the leak takes", c.label, fc/fl, fc, tightBox)
			}
		}
		if d := r.Drift[i]; math.Abs(d.Value) > hot && math.Abs(d.Value) > surely*d.Error {
			warn(TwoSamples, "Re of %q is %+.1f %% of that of the first curve: another sample, or a hot coil", c.label, 100*d.Value)
		}
	}
	if set.Re > 0 {
		errors, err := alone.StandardErrors()
		if err == nil {
			re := math.Exp(alone.X[0])
			sigma := math.Hypot(errors[0]*re, set.ReError)
			if d := re - set.Re; math.Abs(d) > surely*sigma && math.Abs(d) > 0.01*set.Re {
				warn(ReferenceOff, "the curve says Re = %.4g ohm and the meter %.4g ohm, %+.1f %%: the reference resistor of the rig is off by that, or its leads are in the curve", re, set.Re, 100*d/set.Re)
			}
		}
	}
	if s != alone && len(s.curves) > 1 {
		with, without := meanSquare(s.of(0)), meanSquare(alone.of(0))
		if with > pulled*pulled*without {
			grows := fmt.Sprintf("the misfit of %q grows from %.2g %% to %.2g %% with the other curves", s.curves[0].label, 100*math.Sqrt(without), 100*math.Sqrt(with))
			if box := s.boxMisfit(); box != nil {
				warn(BoxMisfit, "%s, and that of %q sits around the peaks of the box: the box has more losses than its model, or the curves are of two samples", grows, box.label)
			} else {
				warn(TwoSamples, "%s: they are of two samples, or the driver changed between them", grows)
			}
		}
	}
	for i := range ms { // in the order of the curves, which the map has not
		p, ok := scales[i]
		if !ok || i == source {
			continue
		}
		q := scales[source]
		if d := p.Value - q.Value; math.Abs(d) > surely*math.Hypot(p.Error, q.Error) {
			warn(TwoSamples, "Mms is %.4g g with %v and %.4g g with %v: mass, volume or area is not what is stated, or the box leaks", 1e3*p.Value, ms[i].Setup, 1e3*q.Value, ms[source].Setup)
		}
	}
	if f, bad := r.scale(set); bad {
		warn(ImplausibleScale, "%s: %s", f.had, f.cause(ms[source].Setup, set.Sd))
	}
	if off := r.offSheet(set); off != "" {
		warn(OffSheet, "the sheet says otherwise by more than %g times: %s; is a mass, a volume or an area in another unit, or is it another driver?", sheetFactor, off)
	}
	if s.Condition > inseparable {
		warn(Undetermined, "the condition is %.2g: some parameters cannot be told apart", s.Condition)
	}
	for j, b := range s.Bounds {
		if b != lsq.Free && s.names[j] != "leak" {
			name, v := s.names[j], s.X[j]
			if short, ok := strings.CutPrefix(name, "ln "); ok {
				name, v = short, math.Exp(v)
			}
			warn(Undetermined, "%s ended on its bound, %.3g in SI units: the data do not tell it, and the model may leave it out", name, v)
		}
	}
	slices.SortStableFunc(list, func(a, b Warning) int { return int(a.Kind - b.Kind) })
	return list
}
