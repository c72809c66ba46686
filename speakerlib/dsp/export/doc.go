// Package export writes and reads coefficient documents: what a study hands to
// whoever configures a processor, or services a loudspeaker.
//
// A [Document] is neutral. It holds, for each way, the design (polarity, gain, delay,
// second-order sections and filters of finite length in order, together with what each
// was designed as), the sets that a setting chooses from, which of them a unit is
// shipped with, and the program that the design is committed to ([dsp.Program]):
// structures, formats, integers and shifts, section by section in their order. Besides it
// holds for which loudspeaker it is (cabinet side, serial number, board), the study, and the hashes of the files that
// it rests on. As JSON it follows [Schema], this library's own, and is versioned; it
// reads back to the very same bits and to an equal program. As CSV it is a table for
// people and spreadsheets; filters of finite length are WAV or CSV files too.
//
// It knows no registers, memory layouts or formats of any processor.
//
// Coefficients of the design are for
//
//	y[n] = b0·x[n] + b1·x[n−1] + b2·x[n−2] − a1·y[n−1] − a2·y[n−2]
//
// with a0 = 1; those of a program for the sums of its structures ([dsp.Structure]). A
// processor that wants a1 and a2 with the other sign needs a conversion that is not
// done here.
//
// A document has no frequencies beside its sample rate: sections beyond half of that
// cannot be designed in the first place ([digital.NewCascade]).
package export
