// Package speakerlib is the root of a library for loudspeaker design studies.
// It holds no code of its own; each folder below it is a room with one subject.
//
// # Conventions, kept everywhere
//
//   - SI units in float64. Frequencies at every interface are in hertz; ω = 2πf
//     occurs only inside functions. Package si has multiples for typed numbers.
//   - Decibels exist in package level and nowhere else: gains are ratios,
//     pressures are pascal (rms where a level is meant), until a figure, a table
//     or a sentence is made.
//   - Time dependence e^{+jωt}: a delay τ multiplies by e^{−jωτ}. A positive
//     voltage moves the cone outward, away from the cabinet.
//   - A response says what it is, per what, in which space and at which
//     distance ([freq.Basis]). It is per volt at the terminals of the way until
//     a filter chain is applied, and then per volt at the chain's input.
//   - Sound pressure is at 1 m in half space, with time zero at the cone, unless
//     its Basis says otherwise.
//   - Grids of frequencies are immutable and shared; nothing interpolates
//     silently ([measure.Resample] is the only interpolation).
//   - Symbols are those the trade prints: Fs Qms Qes Qts Vas Re Le Bl Mms Cms
//     Rms Sd Vb Fb QL. What follows from fields is a method, so that the two
//     cannot disagree.
//   - Functions named …To write into a caller's slice: nil allocates, another
//     length panics. Data can never cause a panic, only a programmer can.
//   - NaN and infinities are refused at constructors and readers.
//   - Compute returns data. Only package figure draws, only nb talks to the
//     notebook.
//
// The direction of imports is an explicit list, checked by a test in this folder.
//
// [freq.Basis]: https://pkg.go.dev/example.org/loudspeaker/speakerlib/freq#Basis
// [measure.Resample]: https://pkg.go.dev/example.org/loudspeaker/speakerlib/measure#Resample
package speakerlib
