// Package largesignal runs a driver in a box through time, at levels where force
// factor, stiffness and inductance are no constants, the vent whistles, the amplifier
// clips and the coil is hot.
//
// [New] makes a [Model] of an enclosure.Mounted and a driver.LargeSignal. What it can
// be asked: [Model.Harmonics] of a tone, [Model.TwoTone] and [Model.Multitone] for
// intermodulation, [Model.Burst] and [Model.PeakOutput] for the highest clean level,
// [Model.Programme] for music and noise, and a [Run] for any other signal, sample by
// sample.
//
// # Equations
//
// States are the flux λ of Le, the fluxes λₖ of up to two L‖R in series with it (the
// coil's ladder), displacement x and speed v of the cone, the pressure p on the
// compliance of the box, and volume velocity U and its integral y of the vent or
// passive radiator; positive voltage moves the cone outward:
//
//	dλ/dt   = u − R·i − Bl(x)·v − Σ dλₖ/dt        λ = Le(x)·j,  i = i(j)
//	dλₖ/dt  = Rₖ(x)·(i − λₖ/Lₖ(x))
//	Mms·dv/dt = Bl(x)·i + Fₘ − Kms(x)·x − Rms·v + Sd·p′
//	Cab·dp/dt = −Sd·v − U − p′/Ral
//	Map·dU/dt = p′ − Rap·U − K·ρ/(2S²)·|U|·U − y/Cap
//
// where Fₘ, the reluctance force, is what follows from the stored energy at constant
// flux: ½·i²·dLe/dx and the like of the ladder. With the flux as state there is no
// term i·v·dLe/dx to forget, and energy is kept to the solver's order. R is Re, hot
// with [Options].Heat, and the source's resistance. The circuit is that of R. H. Small
// with changing elements (W. Klippel, "Loudspeaker Nonlinearities: Causes,
// Parameters, Symptoms", J. Audio Eng. Soc. 54, 2006; from memory).
//
// Not in it: creep and heating of the suspension, hysteresis of iron and spider, the
// Doppler effect, changing area of the surround, force factor that falls with heat, cooling by
// the cone's own motion, and all waves in box and vent.
//
// # Ranges
//
// Tables become polynomials of order 6 or less ([Fit] states the misfit; exact for
// polynomials). Beyond the measured range Bl goes on falling along its slope at the end,
// to 0 at the least, Kms goes on rising along its own, and what does the other is held,
// as Le is. That is a guess: [Account].Beyond says how long a run was there.
//
// # Solver
//
// A fixed step of one sample, of order four. Where all resistances of the coil over
// its smallest inductance, times the step, are 0.5 or less, it is the classic
// Runge–Kutta method; a coil of 0.42 mH and 5.5 Ω at 48 kHz has 0.44 when Le has fallen
// to 0.62 of itself. Else it is the additive method ARK4, with the coil implicit and
// L-stable, for which there is no such bound: tweeters, ladders, a coil without
// inductance. With a stiff coil its order falls to three. [RK4] beyond its bound of
// stability, 2.785, is refused. The convergence study is a test: from 16 to 32 kHz
// the error falls by 20 and 13. Voltage between samples is interpolated to order six,
// which is right to 1e-7 for signals below a twentieth of the rate.
//
// Where the amplifier begins and ceases to clip there is a kink, and the order falls:
// with a voltage that clips a step of 1/48000 s is right to 1e-6 of the peak, with a
// current that is limited to 1e-4, of first to second order. A current at its limit is held
// there until the voltage asked for no longer drives that much.
package largesignal
