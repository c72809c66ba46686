// Package radiation computes what drivers and vents radiate before the edges of a
// cabinet have their say: pistons, rings, rectangles and domes in an infinite baffle,
// near and far; a cap on a rigid sphere; sums of several sources with their places,
// delays and responses.
//
// All of it is linear, for e^{+jωt}, with surfaces that move as one piece (a cone that
// breaks up is not told). Directivities are ratios to the same volume velocity as a
// point source at the reference point, in the same space and at the same distance: half
// space for what is in a baffle, full space for the sphere. They are 1 at low
// frequencies, and no level hides in them.
//
// Of sizes that a Validate refuses – none, or so large ([MaxRadius], [MaxSide]) that they are mm
// or cm² – everything is refused: by an error of what returns one, and by NaN, which no curve
// and no response takes, of what returns a number. So are an angle of more than a turn, which is
// degrees, a place behind the baffle, a frequency below 0 and air that is none.
//
// What an element of a radiator is to package diffraction, an [Element] is here: a
// point source with a place, a share of the volume velocity and a delay.
package radiation
