package ccode

import (
	"bytes"
	"fmt"
	"strings"

	"example.org/loudspeaker/speakerlib/dsp"
)

// writer gathers the text of a file.
type writer struct{ b bytes.Buffer }

func (w *writer) bytes() []byte { return w.b.Bytes() }

func (w *writer) line(format string, args ...any) {
	fmt.Fprintf(&w.b, format, args...)
	w.b.WriteByte('\n')
}

// harmless keeps a text from ending its comment, and from looking like the start of
// one or like a trigraph. No character that it puts in makes a pair with another, and none that
// it leaves: a slash stands apart from stars on either side, and a question mark from the next.
func harmless(text string) string {
	var b strings.Builder
	var last rune
	for _, r := range text {
		if r == '\\' {
			r = '|'
		}
		if last == '*' && r == '/' || last == '/' && r == '*' || last == '?' && r == '?' {
			b.WriteByte(' ')
		}
		b.WriteRune(r)
		last = r
	}
	return b.String()
}

func (w *writer) comment(text ...string) {
	w.line("/*")
	for _, t := range text {
		w.line("%s", strings.TrimRight(" * "+harmless(t), " "))
	}
	w.line(" */")
}

// Helpers of fixed point. Conversions of unsigned to signed numbers that do not fit, and
// right shifts of negative ones, are left to the implementation by C11: they are
// written so that neither happens. Compilers make single instructions of them.
const narrowHelpers = `
static inline int64_t to_signed(uint64_t u)
{
	return u <= (uint64_t)INT64_MAX ? (int64_t)u : -(int64_t)(UINT64_MAX - u) - 1;
}

/* v / 2^n, towards minus infinity */
static inline int64_t shift_right(int64_t v, unsigned n)
{
	return v < 0 ? -(int64_t)(((uint64_t)(-(v + 1))) >> n) - 1 : (int64_t)((uint64_t)v >> n);
}

/* the low bits of u as a signed number; 2 <= bits <= 64 */
static inline int64_t wrap(uint64_t u, unsigned bits)
{
	const uint64_t sign = (uint64_t)1 << (bits - 1);
	return to_signed(((u & (sign | (sign - 1))) ^ sign) - sign);
}

static inline int64_t saturate(int64_t v, int64_t lo, int64_t hi)
{
	return v < lo ? lo : v > hi ? hi : v;
}
`

// Helpers of accumulators of two words.
const wideHelpers = `
typedef struct { uint64_t hi, lo; } wide; /* two's complement of 128 bits */

static inline wide wide_add(wide a, wide b)
{
	wide r;
	r.lo = a.lo + b.lo;
	r.hi = a.hi + b.hi + (r.lo < a.lo ? 1u : 0u);
	return r;
}

static inline wide wide_sub(wide a, wide b)
{
	wide r;
	r.lo = a.lo - b.lo;
	r.hi = a.hi - b.hi - (a.lo < b.lo ? 1u : 0u);
	return r;
}

static inline wide wide_of(int64_t v)
{
	wide r;
	r.lo = (uint64_t)v;
	r.hi = v < 0 ? UINT64_MAX : 0u;
	return r;
}

/* a + w v */
static inline wide wide_mac(wide a, int64_t w, int64_t v)
{
	const uint64_t x = (uint64_t)w, y = (uint64_t)v, m = 0xffffffffu;
	const uint64_t xl = x & m, xh = x >> 32, yl = y & m, yh = y >> 32;
	const uint64_t p = xl * yl, q = xh * yl + (p >> 32), s = xl * yh + (q & m);
	wide r;
	r.lo = (s << 32) | (p & m);
	r.hi = xh * yh + (q >> 32) + (s >> 32);
	/* as unsigned numbers they are 2^64 too much where they are negative */
	r.hi -= (w < 0 ? y : 0u) + (v < 0 ? x : 0u);
	return wide_add(a, r);
}

/* a / 2^n, towards minus infinity; 0 <= n <= 127 */
static inline wide wide_shift_right(wide a, unsigned n)
{
	const uint64_t sign = (a.hi >> 63) ? UINT64_MAX : 0u;
	wide r = a;
	if (n >= 64) {
		r.lo = r.hi;
		r.hi = sign;
		n -= 64;
	}
	if (n > 0) {
		r.lo = (r.lo >> n) | (r.hi << (64 - n));
		r.hi = (r.hi >> n) | (sign << (64 - n));
	}
	return r;
}

static inline wide wide_shift_left(wide a, unsigned n)
{
	wide r = a;
	if (n >= 64) {
		r.hi = r.lo;
		r.lo = 0;
		n -= 64;
	}
	if (n > 0) {
		r.hi = (r.hi << n) | (r.lo >> (64 - n));
		r.lo = r.lo << n;
	}
	return r;
}

/* the low bits of a as a signed number; 65 <= bits <= 128 */
static inline wide wide_wrap(wide a, unsigned bits)
{
	return wide_shift_right(wide_shift_left(a, 128 - bits), 128 - bits);
}

static inline int64_t wide_saturate(wide a, int64_t lo, int64_t hi)
{
	if (a.hi != ((a.lo >> 63) ? UINT64_MAX : 0u))
		return (a.hi >> 63) ? lo : hi;
	return saturate(to_signed(a.lo), lo, hi);
}
`

// roundings returns the function that drops the bits of a fraction, for narrow and wide
// accumulators, named after the rounding.
func roundingName(r dsp.Rounding) string {
	switch r {
	case dsp.HalfUp:
		return "half_up"
	case dsp.HalfEven:
		return "half_even"
	case dsp.TowardZero:
		return "toward_zero"
	}
	return "floor"
}

// narrowRounding and wideRounding are the bodies, by rounding; n > 0 bits are dropped.
var narrowRounding = map[dsp.Rounding]string{
	dsp.HalfUp: `	return shift_right(a, n) + (int64_t)(((uint64_t)a >> (n - 1)) & 1u);`,
	dsp.HalfEven: `	const int64_t q = shift_right(a, n);
	const uint64_t rest = (uint64_t)a & (((uint64_t)1 << n) - 1), half = (uint64_t)1 << (n - 1);
	return q + (rest > half || (rest == half && ((uint64_t)q & 1u)) ? 1 : 0);`,
	dsp.TowardZero: `	const uint64_t rest = (uint64_t)a & (((uint64_t)1 << n) - 1);
	return shift_right(a, n) + (a < 0 && rest != 0 ? 1 : 0);`,
	dsp.Floor: `	return shift_right(a, n);`,
}

var wideRounding = map[dsp.Rounding]string{
	dsp.HalfUp: `	wide up = {0, 0};
	up.lo = (a.lo >> (n - 1)) & 1u;
	return wide_add(wide_shift_right(a, n), up);`,
	dsp.HalfEven: `	const wide q = wide_shift_right(a, n);
	const uint64_t rest = a.lo & (((uint64_t)1 << n) - 1), half = (uint64_t)1 << (n - 1);
	wide up = {0, 0};
	up.lo = (rest > half || (rest == half && (q.lo & 1u))) ? 1u : 0u;
	return wide_add(q, up);`,
	dsp.TowardZero: `	const uint64_t rest = a.lo & (((uint64_t)1 << n) - 1);
	wide up = {0, 0};
	up.lo = ((a.hi >> 63) && rest != 0) ? 1u : 0u;
	return wide_add(wide_shift_right(a, n), up);`,
	dsp.Floor: `	return wide_shift_right(a, n);`,
}

// helpers writes the functions that the ways use, and what is asked of the compiler.
func (w *writer) helpers(ways []Way) {
	var narrow, wide, float bool
	used := map[string]string{}
	var names []string
	for _, way := range ways {
		a := way.Program.Arithmetic
		if a.Signal.Number != dsp.FixedPoint {
			float = true
			continue
		}
		if len(way.Program.Sections) == 0 && way.Program.Gain == nil && len(way.Program.FIR) == 0 {
			narrow = true
			continue
		}
		narrow = true
		name, body := "round_"+roundingName(a.Rounding), narrowRounding[a.Rounding]
		head := "static inline int64_t %s(int64_t a, unsigned n)\n{\n%s\n}\n"
		if a.Accumulator > 64 {
			wide = true
			name, body = "wide_"+name, wideRounding[a.Rounding]
			head = "static inline wide %s(wide a, unsigned n)\n{\n%s\n}\n"
		}
		if used[name] == "" {
			names = append(names, name)
			used[name] = fmt.Sprintf(head, name, body)
		}
	}
	if float {
		w.b.WriteString(`/*
 * Floating point must be evaluated as it is written: build with -ffp-contract=off, and where
 * the processor has fused multiply-add (-mfma) without vectorising straight code
 * (-fno-tree-slp-vectorize): gcc 12.2 was seen to fuse there all the same. Subnormal numbers
 * must not be flushed to zero.
 */
#if defined(__FAST_MATH__)
#error "not with -ffast-math"
#endif
#if defined(__FLT_EVAL_METHOD__) && __FLT_EVAL_METHOD__ != 0 && __FLT_EVAL_METHOD__ != 16
#error "floating point is not evaluated in its own type"
#endif
#if defined(__clang__) || !defined(__GNUC__) /* which does not know it */
#pragma STDC FP_CONTRACT OFF
#endif
`)
	}
	if narrow {
		w.b.WriteString(narrowHelpers)
	}
	if wide {
		w.b.WriteString(wideHelpers)
	}
	for _, n := range names {
		w.line("")
		w.b.WriteString("/* drops n > 0 bits */\n" + used[n])
	}
}
