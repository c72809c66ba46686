// Package export writes and reads coefficient documents: what a study hands to
// whoever configures a processor.
//
// A [Document] is neutral. It holds, for each way, polarity, gain, delay and the
// second-order sections in order, together with what each section was designed
// as, the study and the hashes of the files that it rests on. As JSON it follows
// [Schema], this library's own, and is versioned; it reads back to the very same
// bits. As CSV it is a table for people and spreadsheets.
//
// Coefficients are for
//
//	y[n] = b0·x[n] + b1·x[n−1] + b2·x[n−2] − a1·y[n−1] − a2·y[n−2]
//
// with a0 = 1. A processor that wants a1 and a2 with the other sign, or another
// word format, needs a conversion that is not done here: float64 coefficients of
// a section at some tens of hertz do not survive careless rounding.
package export
