// Package ccode prints a committed chain as C that runs it: one header and one
// source in C11, without any library but stdint.h and stddef.h, without memory
// allocation, for any number of ways.
//
// What the C computes is what [dsp.Runner] computes, bit for bit, in fixed point, float32
// and float64. Of the compiler it asks:
//
//   - fixed point: two's complement of intN_t, which C11 demands of these types, and
//     nothing else. Sums are unsigned, where overflow is defined, and shifts are of
//     numbers that are not negative.
//   - floating point: IEEE 754 arithmetic that is evaluated in its own type and not
//     contracted: -ffp-contract=off, no -ffast-math, no x87, subnormal numbers kept. The source says so by
//     pragma as well, for compilers that heed it, and stops the compilation where it can
//     tell that it is not so. With -mfma add -fno-tree-slp-vectorize: gcc 12.2 was seen
//     to fuse products and sums there in spite of the flag.
//
// The arithmetic of fixed point is written out for speed of reading, not tuned to any
// processor: for one with wide accumulators it is a reference to test against.
package ccode
