// Package identify turns impedance curves into driver parameters, says how certain
// each is, and says what may have gone wrong at the rig.
//
// [Fit] takes a curve in free air and, for the absolute parameters, others of the
// same driver with an added mass ([AddedMass]), in a closed box ([ClosedBox]) or in
// a vented one ([VentedBox]). It finds its own start, chooses the models of coil and
// suspension, and returns a [Result]: parameters with standard errors and
// correlation, the misfit over frequency, the candidates that were compared, and
// [Warning]s in plain words. [Result.Propagate] carries the joint uncertainty into any
// figure that is computed from the driver. [VentedAlone] reads tuning and leak of a
// vented box from its impedance only, and [Batch] puts the results of many samples
// together.
//
// Curves come as [freq.Response]; nothing here reads a file. [Plausible] refuses
// what cannot be an impedance of a driver and names the likely mistake.
//
// All of it is the small-signal model of package driver, fitted by
// [lsq.Minimize] with analytic derivatives.
package identify
