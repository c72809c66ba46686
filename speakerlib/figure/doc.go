// Package figure draws: curves over frequency, impedance, step responses,
// ceilings with their causes, trade-offs, levels over the angle, and fields over
// frequency or over a baffle. It takes curves, responses and
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
// # Angles and fields
//
// Angles are in degrees, positive to the right of someone who looks at the front,
// or upward. On maps positive angles are in the upper half, and so they are in
// polar plots, where the front is towards the right of the page: the one is the
// other, bent around. What was filled in is marked; what is not known is not
// drawn, and never joined over.
//
// Fields have at most seven shades that are named with their limits, not a
// continuous scale that nobody can read back: of one hue for a level, of two hues
// on both sides of grey for a difference.
//
// # Errors
//
// The functions return a [Figure] in any case; what is wrong with it is told
// by its SVG, PNG and Err methods. Output is the same to the byte from run to
// run on one machine.
package figure
