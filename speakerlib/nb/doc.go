// Package nb is the skin between a study and its notebook: it shows figures,
// tables, text and records as the outputs of a cell, opens data sets, and stops
// a cell at an error. It holds no physics, and no default that changes a number.
//
// # One channel, in order
//
// A cell is a program of its own, and its outputs reach the kernel by two ways
// that are not kept in order: the streams, and the pipe of package gonbui, of
// which the last messages can be lost when the program ends. Everything in this
// package goes through the pipe, one message at a time, and every call waits
// until the kernel has taken its message. So a cell needs nothing at its end,
// outputs are in the order of the calls, and what was shown before an error is
// not lost. Do not mix it with fmt.Println in one cell: write with [Text].
//
// Outside a notebook (in a test, in a program) the text form of everything goes
// to the standard output instead.
//
// # Errors
//
// A failing call ends the cell with exit code 1, the message on the standard
// error and the places in the notebook that led to it, without a stack dump.
package nb
