package text

import (
	"bytes"
	"math"
	"strconv"
)

// powers holds 10^k for the powers that float64 represents exactly.
var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// Number returns the value of a decimal number with the given decimal mark.
// If it is none, want says what was wanted.
//
// A mantissa below 2^53 times or over an exact power of ten is one rounding, so
// that the short way gives the nearest float64 (W. D. Clinger, "How to read
// floating point numbers accurately", 1990); the rest goes to strconv.
func Number(b []byte, mark byte) (v float64, want string) {
	i := 0
	negative := false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	var mantissa uint64
	digits, after, significant := 0, 0, 0
	marked := false
	for ; i < len(b); i++ {
		c := b[i]
		if c >= '0' && c <= '9' {
			if significant < 19 {
				mantissa = mantissa*10 + uint64(c-'0')
			}
			if mantissa > 0 {
				significant++
			}
			digits++
			if marked {
				after++
			}
			continue
		}
		if c != mark || marked {
			break
		}
		marked = true
	}
	if digits == 0 {
		return 0, notNumber(b, mark)
	}
	exponent := 0
	if i < len(b) {
		if b[i] != 'e' && b[i] != 'E' {
			return 0, notNumber(b, mark)
		}
		i++
		minus := false
		if i < len(b) && (b[i] == '-' || b[i] == '+') {
			minus = b[i] == '-'
			i++
		}
		first := i
		for ; i < len(b) && b[i] >= '0' && b[i] <= '9'; i++ {
			if exponent < 1e6 {
				exponent = exponent*10 + int(b[i]-'0')
			}
		}
		if i == first || i < len(b) {
			return 0, notNumber(b, mark)
		}
		if minus {
			exponent = -exponent
		}
	}
	power := exponent - after
	if significant <= 15 && power >= -22 && power <= 22 {
		v = float64(mantissa)
		if power < 0 {
			v /= powers[-power]
		} else {
			v *= powers[power]
		}
		if negative {
			v = -v
		}
		return v, ""
	}
	if mark != '.' {
		b = bytes.Replace(b, []byte{mark}, []byte{'.'}, 1)
	}
	v, err := strconv.ParseFloat(string(b), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, "a number that float64 can hold"
	}
	return v, ""
}

// notNumber says what was wanted in place of b.
func notNumber(b []byte, mark byte) string {
	switch text := bytes.ToLower(bytes.TrimLeft(b, "+-")); {
	case bytes.HasPrefix(text, []byte("nan")), bytes.HasPrefix(text, []byte("inf")), bytes.Contains(text, []byte("#in")), bytes.Contains(text, []byte("#qn")):
		return "a finite number"
	case len(text) > 1 && text[0] >= '0' && text[0] <= '9' && bytes.ContainsAny(text, "d") && !bytes.ContainsAny(text, "abcfghijklmnopqrstuvwxyz"):
		return "a number with the exponent written e or E, not D"
	case bytes.HasPrefix(text, []byte("0x")):
		return "a decimal number"
	case mark == ',' && bytes.IndexByte(text, '.') >= 0:
		return "a number with a decimal comma, as the lines before"
	case mark == '.' && bytes.IndexByte(text, ',') >= 0:
		return "a number with a decimal point"
	}
	return "a number"
}
