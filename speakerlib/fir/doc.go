// Package fir designs filters of finite impulse response: windowed, by least
// squares, of equal ripple, of minimum phase, complementary crossovers, mixed-phase
// correction, fractional delays, and long filters of low frequencies, on a warped
// frequency axis or at a fraction of the sample rate.
//
// A [Filter] is its taps at a sample rate, and says how late it is: half its
// length for one of linear phase, which at low frequencies is much (20 ms of
// latency hold about 1/20 ms = 50 Hz of resolution). It is immutable, and a
// [freq.Transfer].
//
// Frequencies are in hertz, gains amplitude ratios, delays in samples where the
// name says so, else in seconds.
package fir
