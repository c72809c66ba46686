// Package diffraction computes what the edges of a cabinet do to the sound of the
// drivers in it.
package diffraction
