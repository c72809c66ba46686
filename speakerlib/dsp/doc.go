// Package dsp commits a chain of filters to a processor of stated arithmetic: it
// chooses structures, order and scaling, rounds the coefficients, and tells what
// comes of it.
//
// [Realise] turns a [Chain] (second-order sections, FIR filters, gain, polarity,
// delay) into a [Program]: coefficients as integers with a shift, or as floating
// point numbers of the processor's width, section by section in an order and
// structure that are written down. A Program is plain data. It
//
//   - runs, bit for bit as the processor does ([Program.NewRunner]),
//   - has a response, that of its rounded coefficients ([Program.Transfer]),
//   - makes noise ([Program.Noise]), needs headroom ([Program.Headroom]), may
//     keep sounding without an input ([Program.LimitCycles]),
//   - and is printed as C by package ccode below.
//
// There are no presets of any processor: the arithmetic is an [Arithmetic].
//
// # Scale
//
// Digital full scale is the value 1: a sine of full scale has the amplitude 1 and
// the power ½. A signal format with integer bits, Qm.n with m > 0, holds more than
// full scale, and that is its headroom. Powers are in full scale², their densities
// in full scale²/Hz, one-sided.
//
// # Rows
//
// Every structure is a list of sums of products ([Network]): a [Row] is what an
// accumulator gathers before it is rounded, once, to the signal's format. Fixed
// point sums in two's complement of the stated width, so that a sum may
// overflow on its way and be right at its end. Floating point rounds every product
// and every sum, in the order of the terms; Go may fuse a product and a sum on
// some processors (arm64, amd64 at level v3) unless the product is converted
// explicitly, which is done here throughout, and C must be built with
// contraction off.
//
// Sources: L. B. Jackson, "On the interaction of roundoff noise and dynamic range
// in digital filters", Bell Syst. Tech. J. 49, 1970; A. V. Oppenheim and R. W.
// Schafer, "Discrete-Time Signal Processing", chapter on finite word length;
// J. Dattorro, "The implementation of recursive digital filters for high-fidelity
// audio", JAES 36, 1988 (all cited from memory).
package dsp
