// Package release follows a set of coefficients from the prototype to the freeze.
//
// [Compare] says how the prediction and the prototype that was built differ, per way
// and in sum: level, delay and shape apart, and where the shape is beyond what the
// uncertainties explain. [Fit] makes one correction of it, with few broad sections,
// a gain and whole samples, and refuses what a correction should not do. A [Release]
// takes one correction, is signed, frozen, and after that changed no more: what comes
// then is another revision with its own reason. [Differ] says what two releases
// differ in, per way and in sum, and [Moves] which requirements that moves.
//
// One correction, because the second one fits what the first one's measurement had
// in errors; after that it is the model, the sample or the measurement that has to be
// looked at (common practice, no source).
package release
