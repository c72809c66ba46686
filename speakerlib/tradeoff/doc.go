// Package tradeoff searches the low end of an active loudspeaker for the recipes
// that nothing else beats: which woofer, which cabinet, which tuning or none, and
// which acoustic high-pass its filter shall make of it.
//
// A [Study] says what is free and what must hold, and Search tries every
// combination on a grid, keeps those that no other one dominates, and looks closer
// around them. Each [Point] has what its recipe gives (how low, how loud) and what
// it costs (excursion, air in the vent, amplifier, group delay, heat, litres, vent
// length), so that one can be chosen with open eyes; [Study.Hertz] tells what the
// last hertz of extension costs.
//
// All of it is for small signals and the steady state: a filter that follows the
// target exactly, a cold coil, a box small against the wavelength. Bounds that are
// kept here still want a run of the large-signal model, and a measurement. Levels
// like those found here can damage hearing.
package tradeoff
