// Package measure reads what measuring rigs write: text tables of responses and
// impedances, and lists of quantities with units. It puts responses on a common
// grid, keeps the time zero that a set of measurements shares, and joins near
// field and far field.
//
// Beside tables it takes impulse responses ([Impulse]: gates with their
// lowest valid frequency), recorded sweeps ([Deconvolve]: the linear response and
// the distortion products by order), microphone corrections and calibrations, and
// averages with their spread.
//
// # Reading
//
// [ReadResponse] and [ReadImpedance] read any plain table: lines that begin with
// one of * # ; " or // are comments; tab, space, comma and semicolon separate;
// the decimal mark is a point or a comma; lines end with LF, CRLF or CR; a byte
// order mark of UTF-8 is skipped. What the columns hold is never guessed: a
// comment line
//
//	# columns: frequency_Hz level_dB phase_deg
//
// says it, or [Format.Columns] does. Comment lines "# key: value" are kept as
// settings; those that this package knows are listed at [Table.Basis].
//
// The decimal mark is found from the first line that has a comma: the comma
// separates if the line then has as many fields as there are columns, and it is a
// decimal mark if that holds for the other reading. As each comma counts either
// way, only one can be true. The rest of the file must agree. A point that has
// been seen as decimal mark rules out the comma; digit grouping ("1.234,5") is
// refused.
//
// Refused with a [ParseError] that names file, line, column, what was had and
// what was wanted: text that is no number, NaN and infinities, exponents written
// with D, hexadecimal numbers, negative frequencies, missing or additional
// fields, UTF-16, binary files, empty files, levels beyond ±400 dB, magnitudes
// of an impedance that are not positive, lines of more than [MaxLine] bytes,
// files larger than [Format.MaxBytes] or longer than [Format.MaxRows].
//
// Reported as a [Finding] and left as it is: unsorted, doubled and zero
// frequencies, an impedance with a negative real part, a last line without an
// end. A table that has one of the first three gives no response until a method
// says what to do: [Table.Sorted], [Table.Single], [Table.Between].
//
// # Memory
//
// Files are streamed. A table takes 24 bytes a row (16 without phase); while it
// grows, slices are copied and the peak is at most 2.3 times that, plus 8 MB. So
// the default limits (32 MiB and 2^20 rows) hold it below 64 MB whatever is read.
package measure
