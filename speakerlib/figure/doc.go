// Package figure draws: curves over frequency, impedance, step responses,
// ceilings with their causes, and trade-offs. It takes curves, responses and
// plain numbers, and knows no room of the physics. It is the only package that
// draws, and computes nothing that a study would quote.
//
// # One style
//
// All figures have the same width and are read from top to bottom: title, legend
// (never over the curves), what marks and bands mean, the plot, and a caption
// that says what the curves are ([freq.Basis]) and how the axes are scaled.
// Curves differ in colour, in dash pattern and by name; the colours stay apart
// for all common kinds of colour blindness. Forbidden regions are crimson.
//
// # Scale of levels
//
// A level in decibels over frequency is drawn with a fixed ratio of dB to a
// decade, so that slopes look alike from figure to figure: 25 dB take as much
// room as a decade; 50 dB where that would be too tall, and 10 dB where all
// curves vary by less than 6 dB (differences). The caption says which.
// IEC 60263 asks for one of 10, 25 and 50 dB per decade (number and ratios from
// memory of the standard, not checked against its text).
//
// # Errors
//
// The functions return a [Figure] in any case; what is wrong with it is told
// by its SVG, PNG and Err methods. Output is the same to the byte from run to
// run on one machine.
package figure
