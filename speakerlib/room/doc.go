// Package room says what walls, floor and room do to a loudspeaker: images with
// absorption, the power that a source gives near walls, the modes of a rectangular room
// with their coupling to places, and what a stand reflects.
//
// # Coordinates
//
// X is the distance from the front wall, the one behind the loudspeaker, towards the
// listener; Y from the left wall, as the listener sees it who faces the loudspeaker; Z
// above the floor. In metres. Walls that are far away are left out.
//
// # Models
//
// Images: every reflection is a source behind the wall, with the reflection factor of a
// plane wave at the angle at which the ray meets it. Exact for rigid walls; else good where
// source and listener are not both within a wavelength of a soft wall, and rays not grazing.
//
// Modes: of a rectangular room with walls that absorb little. Below a room's Schroeder
// frequency they are few, and each can be named.
//
// Nothing here fills a cancellation: a dip from a wall moves with every step of the listener,
// and what is pushed into it comes out elsewhere. Dips are shown.
package room
