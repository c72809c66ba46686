// Package signalpath has what lies between a source and a driver: input stages, converters, rate
// converters, processors, amplifiers, output filters, cables and protection capacitors, as
// elements with response, delay and noise.
//
// A [Path] is the elements of one way in order, and the [Driver] that loads them. Solved on a grid
// ([Path.On]) it tells, for every element in its place, the response into its load, the noise that
// it adds and what comes through of it. From that come the budgets: noise in dB of sound pressure
// by element and way ([NoiseBudget], [IdleNoise]), headroom and what clips first
// ([Solution.Headroom]), input sensitivity ([Sensitivity]), latency by part ([Solution.Latency]),
// the match of left and right ([Pair]) and the thump of what is switched ([Path.Transient],
// [Exchange]).
//
// # Units
//
// A digital quantity is in full scale, where a sample of 1 is the largest: a sine at full scale
// has the mean square ½. An analogue quantity is in volts. The two are types, [FullScale] and
// [Volt], so that a noise density of the one cannot be given for the other; only converters lead
// from one to the other. All densities are one-sided powers per hertz.
//
// All of it is linear and steady, at one temperature. Noise of different elements and ways is
// taken as uncorrelated, and adds by power. Hum, hiss that depends on the signal, and idle tones
// of modulators are not in it, unless they are given as densities.
package signalpath
