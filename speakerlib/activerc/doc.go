// Package activerc realises analogue filters as cascades of active RC sections: operational
// amplifiers, resistors and capacitors of values that can be bought.
//
// A section in s ([analog.Section]; [Lowpass], [Peak], [Relocate] … write them) becomes a
// [Stage] by [Realise]: a [Topology] by rule or by choice, and values of E series (IEC 60063)
// by a joint search for the least error of the response. A [Chain] is a cascade of stages,
// and has the same figures as a digital chain ([Figures]): error of the response, noise as a
// sound pressure level, latency, and the spread of a production.
//
//	lp, err := analog.Design(analog.Lowpass{Fc: 2200}, analog.LinkwitzRiley(4))
//	chain, err := activerc.RealiseAll(lp.Sections(), amplifier, activerc.Options{})
//
// Below the stages is a [Circuit]: nodal analysis of resistors, capacitors and amplifiers of
// one pole, from which follow response, poles, noise, derivatives and the voltage at every
// output of an amplifier.
//
// # Caution
//
// What an active crossover does wrong goes to the driver without a passive part in between. A
// circuit that oscillates, an amplifier that drifts to a rail or thumps when it is switched on
// burns a tweeter in a moment: mute the power amplifier until supplies stand, and keep a
// capacitor in front of the tweeter.
//
// # What is left out
//
// Amplifiers have one pole and no distortion. Their input capacitances and output resistance are
// in it when the [Amplifier] states them; with the latter a Sallen–Key low-pass leaks far above
// its corner, where its amplifier has no gain left, as it does on the bench. An output drives
// what follows without loss, so that stages multiply exactly. Bias currents, offsets, supplies
// and the capacitance of the board are not in it.
//
// Package network stays apart: its solver and its derivatives rest on reciprocity, which an
// amplifier does not have.
package activerc
