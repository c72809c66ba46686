package report

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Unit is a unit as it is printed: "mm", "m/s peak", "dB(A)", "L", "%", "°".
// Values are in coherent SI units in the program and are shown in this one.
//
// A unit is a product and quotient of factors joined by "·" and "/", each an SI
// symbol with or without prefix and with or without a power (²  ³), followed by
// the words "peak", "rms" or "p-p" if the value is one; or a level that begins
// with "dB", or "%", or "°", or nothing for a pure number. Units that are not
// SI, such as pieces, are put in brackets and shown without them: "[pieces]".
//
// The shown number is the SI number times an exact power of ten (for ° times
// 180/π), rounded once.
type Unit string

// symbol gives the coherent unit and the power of ten of it that a symbol is.
func symbol(s string) (si string, exp int, ok bool) {
	switch s {
	case "m", "s", "Hz", "V", "A", "Ω", "H", "F", "W", "N", "Pa", "T", "K", "J", "rad", "octave", "decade", "dB", "1":
		return s, 0, true
	case "g":
		return "kg", -3, true
	case "L":
		return "m³", -3, true
	}
	return "", 0, false
}

// prefix gives the power of ten of an SI prefix.
func prefix(s string) (exp int, ok bool) {
	switch s {
	case "p":
		return -12, true
	case "n":
		return -9, true
	case "µ", "μ":
		return -6, true
	case "m":
		return -3, true
	case "c":
		return -2, true
	case "d":
		return -1, true
	case "k":
		return 3, true
	case "M":
		return 6, true
	case "G":
		return 9, true
	}
	return 0, false
}

// parsed is a unit taken apart: one of it is factor·10^exp of the SI unit.
type parsed struct {
	si     string // the coherent unit
	shown  string // the unit as printed
	exp    int
	factor float64
}

func (u Unit) parse() (parsed, error) {
	s := string(u)
	switch {
	case s == "" || s == "dB" || strings.HasPrefix(s, "dB ") || strings.HasPrefix(s, "dB("):
		return parsed{si: s, shown: s, factor: 1}, nil
	case strings.HasPrefix(s, "["):
		if inner, ok := strings.CutSuffix(s[1:], "]"); ok && inner != "" && !strings.ContainsAny(inner, "[]()") {
			return parsed{si: s, shown: inner, factor: 1}, nil
		}
		return parsed{}, fmt.Errorf("report: unit %q, want a name between its brackets", s)
	case s == "%":
		return parsed{si: "1", shown: s, exp: -2, factor: 1}, nil
	case s == "°":
		return parsed{si: "rad", shown: s, factor: math.Pi / 180}, nil
	}
	product, kind, qualified := strings.Cut(s, " ")
	if qualified && kind != "peak" && kind != "rms" && kind != "p-p" {
		return parsed{}, fmt.Errorf("report: unit %q ends in %q, want peak, rms, p-p or nothing", s, kind)
	}
	out := parsed{shown: s, factor: 1}
	sign := 1
	for rest := product; ; {
		end := strings.IndexAny(rest, "/·")
		factor := rest
		if end >= 0 {
			factor = rest[:end]
		}
		si, exp, err := parseFactor(factor)
		if err != nil {
			return parsed{}, fmt.Errorf("report: unit %q: %w", s, err)
		}
		out.si += si
		out.exp += sign * exp
		if end < 0 {
			break
		}
		rest = rest[end:]
		if separator, ok := strings.CutPrefix(rest, "·"); ok {
			out.si, rest, sign = out.si+"·", separator, 1
		} else {
			out.si, rest, sign = out.si+"/", rest[1:], -1
		}
	}
	if qualified {
		out.si += " " + kind
	}
	return out, nil
}

func parseFactor(s string) (si string, exp int, err error) {
	power, name := 1, s
	if base, ok := strings.CutSuffix(s, "²"); ok {
		power, name = 2, base
	} else if base, ok := strings.CutSuffix(s, "³"); ok {
		power, name = 3, base
	}
	si, exp, ok := symbol(name)
	if !ok {
		for i := range name {
			if i == 0 {
				continue
			}
			p, known := prefix(name[:i])
			base, e, is := symbol(name[i:])
			if known && is && !slices.Contains([]string{"1", "octave", "decade", "dB"}, base) {
				si, exp, ok = base, p+e, true
			}
			break
		}
	}
	if !ok {
		return "", 0, fmt.Errorf("%q is no SI unit with or without prefix (units that are not SI go in brackets: %q)", s, "["+s+"]")
	}
	if power > 1 {
		if si == "m³" || si == "kg" && name != "kg" {
			return "", 0, fmt.Errorf("%q: a power of this symbol is not read", s)
		}
		si += s[len(name):]
	}
	return si, exp * power, nil
}

// show converts a value in SI units to the shown unit.
func (p parsed) show(v float64) float64 {
	if p.exp < 0 {
		return v * tenTo(-p.exp) / p.factor
	}
	return v / tenTo(p.exp) / p.factor
}

// hide is the inverse of show.
func (p parsed) hide(v float64) float64 {
	if p.exp < 0 {
		return v * p.factor / tenTo(-p.exp)
	}
	return v * p.factor * tenTo(p.exp)
}

func tenTo(exp int) float64 {
	v, err := strconv.ParseFloat("1e"+strconv.Itoa(exp), 64)
	if err != nil {
		panic("report: power of ten out of range")
	}
	return v
}

// Show converts a value in SI units to this unit.
func (u Unit) Show(v float64) (float64, error) {
	p, err := u.parse()
	if err != nil {
		return 0, err
	}
	return p.show(v), nil
}

// SI returns the coherent SI unit of this unit: "m" for "mm", "m³" for "L".
func (u Unit) SI() (string, error) {
	p, err := u.parse()
	return p.si, err
}
