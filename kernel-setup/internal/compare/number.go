package compare

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// relative is the difference between two numbers that counts as none.
const relative = 1e-6

// closeNumbers compares two printed numbers by the rule of the package. The
// note says by how much they differ if they differ too much.
func closeNumbers(want, have string) (note string, ok bool) {
	if want == have {
		return "", true
	}
	w, errW := strconv.ParseFloat(ascii(want), 64)
	h, errH := strconv.ParseFloat(ascii(have), 64)
	if errW != nil || errH != nil {
		return "", false
	}
	diff := math.Abs(w - h)
	if whole(want) && whole(have) {
		return fmt.Sprintf("differs by %.4g", diff), diff == 0
	}
	unit := min(lastPlace(want), lastPlace(have))
	allowed := max(unit, relative*max(math.Abs(w), math.Abs(h)))
	// A unit of the last place is itself rounded in binary.
	if diff <= allowed*(1+1e-9) {
		return "", true
	}
	return fmt.Sprintf("differs by %.4g, allowed is %.4g", diff, allowed), false
}

func ascii(number string) string { return strings.Replace(number, "−", "-", 1) }

func whole(number string) bool { return !strings.ContainsAny(number, ".eE") }

// lastPlace returns the value of one unit of the last printed place.
func lastPlace(number string) float64 {
	mantissa, exponent := number, 0
	if i := strings.IndexAny(number, "eE"); i >= 0 {
		mantissa = number[:i]
		exponent, _ = strconv.Atoi(strings.TrimPrefix(number[i+1:], "+"))
	}
	if i := strings.IndexByte(mantissa, '.'); i >= 0 {
		exponent -= len(mantissa) - i - 1
	}
	return math.Pow10(exponent)
}

// token is a piece of text: a number, or what stands between numbers.
type token struct {
	text   string
	number bool
	at     int // where it begins
}

// tokens cuts text into numbers and the rest. In prose (loose false) a
// number does not begin within a word or directly after a point, so that
// versions, hashes and names stay text; in path data (loose true) it begins
// anywhere. Runs of blanks in the rest become one blank.
func tokens(text string, loose bool) []token {
	var out []token
	start := 0
	flush := func(end int) {
		if end > start {
			out = append(out, token{blanks(text[start:end]), false, start})
		}
	}
	for i := 0; i < len(text); {
		if text[i] == '#' { // a colour is not a number
			i++
			for i < len(text) && isHex(text[i]) {
				i++
			}
			continue
		}
		n := 0
		if loose || !inWord(text, i) {
			n = numberLength(text[i:], loose)
		}
		if n == 0 {
			// Digits that are no number are passed over whole, or their
			// tail would look like one.
			if !loose && isDigit(text[i]) {
				for i < len(text) && (isDigit(text[i]) || text[i] == '.') {
					i++
				}
				continue
			}
			_, size := utf8.DecodeRuneInString(text[i:])
			i += size
			continue
		}
		flush(i)
		out = append(out, token{text[i : i+n], true, i})
		i += n
		start = i
	}
	flush(len(text))
	return out
}

// inWord reports whether a number at i would be part of a word or of a
// dotted thing before it. A sign after a word's end is a hyphen.
func inWord(text string, i int) bool {
	if i == 0 {
		return false
	}
	r, _ := utf8.DecodeLastRuneInString(text[:i])
	return unicode.IsLetter(r) || unicode.IsDigit(r) || r == '_' || r == '.'
}

// numberLength returns the length of the number at the beginning of s, 0 if
// there is none.
func numberLength(s string, loose bool) int {
	i := 0
	switch {
	case strings.HasPrefix(s, "−"):
		i = len("−")
	case s[0] == '-' || s[0] == '+':
		i = 1
	}
	digits := 0
	for i < len(s) && isDigit(s[i]) {
		i++
		digits++
	}
	if i < len(s) && s[i] == '.' {
		j := i + 1
		for j < len(s) && isDigit(s[j]) {
			j++
		}
		if j > i+1 {
			digits += j - i - 1
			i = j
		}
	}
	if digits == 0 {
		return 0
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j := i + 1
		if j < len(s) && (s[j] == '-' || s[j] == '+') {
			j++
		}
		k := j
		for k < len(s) && isDigit(s[k]) {
			k++
		}
		if k > j {
			i = k
		}
	}
	if !loose && i < len(s) {
		// 0.17.0 and 5ab are no numbers; 2.5 Hz and 3 dB are.
		r, size := utf8.DecodeRuneInString(s[i:])
		if r == '_' || unicode.IsLetter(r) || r == '.' && i+size < len(s) && isDigit(s[i+size]) {
			return 0
		}
	}
	return i
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

func isHex(c byte) bool { return isDigit(c) || 'a' <= c && c <= 'f' || 'A' <= c && c <= 'F' }

// blanks makes one blank of a run of blanks and tabs: a sign more or less
// moves the columns of a table.
func blanks(s string) string {
	if !strings.Contains(s, "  ") && !strings.Contains(s, "\t") {
		return s
	}
	var b strings.Builder
	blank := false
	for _, r := range s {
		if r == ' ' || r == '\t' {
			blank = true
			continue
		}
		if blank {
			b.WriteByte(' ')
			blank = false
		}
		b.WriteRune(r)
	}
	if blank {
		b.WriteByte(' ')
	}
	return b.String()
}
