// Package directivity holds the responses of a loudspeaker over directions, and
// what is made of them: maps, polar plots, beamwidths, the averages of
// ANSI/CTA-2034-A with their indices, and the sum of several ways per direction.
//
// A [Set] is measured (ReadFolder) or computed (Simulate); both are of one type and
// go the same ways. All its responses are sound pressures on one circle about one
// point, on one grid.
//
// # Directions
//
// Angles are in degrees, as orbits are measured and as standards name them: whole
// degrees compare exactly, radians do not. The axis is 0°, straight behind is 180°.
// A [Horizontal] angle is positive to the right, and a [Vertical] one upward, both as
// seen by someone who looks at the front of the loudspeaker. A turntable that turns the
// front of the loudspeaker to the right (as seen from the microphone) moves the
// microphone to the *left* of the loudspeaker, relative to it: that is what the
// [Sense] of a file name is for.
//
// Both orbits meet at 0° and 180°. Where one of them has no response of its own there,
// that of the other stands in.
//
// # Nothing is filled in silently
//
// A direction that is not there is an error that names it. [Set.Fill] interpolates
// over angle and [Set.Mirror] takes a side for the other, and both mark what they made:
// [Point.Origin] says so, and so do maps, beamwidths and averages.
//
// # Time zero
//
// Ways add, and phases may be interpolated over angle, only where all responses have one
// time zero ([Common]). A set of other [Phases] gives levels, maps and averages, which are
// of power, and refuses the rest.
package directivity
