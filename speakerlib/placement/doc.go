// Package placement derives the settings that a user has: for a free place, a wall or a
// corner, for taste, and for the source's level. Each is a small digital cascade that
// exports with the study; what they leave, and what all of them together ask of headroom,
// is stated.
//
// What walls add to a loudspeaker is broad and lies below some hundred hertz: a shelf takes
// it back. What they take away are cancellations: narrow, different at every distance, and
// never filled here. A setting is derived for a range of places, not for one, and its
// residual over that range says what it is worth.
package placement
