// Package digital designs recursive filters in z: second-order sections, the
// cascades that are made of them, and their exact response, group delay and
// sensitivity to their parameters.
//
// A [Section] is a small value that says what is wanted (a [Peak] at a
// frequency with a gain and a Q) and turns into coefficients when the sample
// rate is known. A [Cascade] is the commitment: a sample rate, sections in
// order, a gain, a polarity and a delay of whole samples. It is immutable, a
// [freq.Transfer], and a stage of the fast path ([freq.Rational]).
//
// Filters in s come to z by a [Mapping]: the bilinear transform, which keeps ripple
// and the sums of crossovers, matched z, which keeps the ringing, or
// [MatchedMagnitude], which keeps the magnitude up to near half the sample rate.
// [Thiran] makes fractional delays and [EqualiseDelay] evens out group delay.
//
// Gains are amplitude ratios; frequencies are in hertz; delays in samples where
// the name says so, else in seconds.
//
// # Evaluation
//
// With Ω = 2πf/fs, u = 1 − cos Ω and s = sin Ω the numerator of a section times
// e^{jΩ} is
//
//	(b0+b1+b2) − (b0+b2)·u + j·(b0−b2)·s
//
// and the denominator the same with 1, a1, a2. The sums of coefficients are
// exact in floating point where they cancel, and u keeps its precision at low
// frequencies, so that a section at 20 Hz and 96 kHz is evaluated to the
// precision of its coefficients, where powers of e^{−jΩ} lose six digits.
// Sections multiply as P(u) + j·s·Q(u) with s² = 2u − u².
package digital
