// Package loudness measures how loud a programme is, and makes variants of a
// loudspeaker equally loud for a blind comparison.
//
// Loudness is that of Recommendation ITU-R BS.1770: the mean square behind the K
// weighting, summed over the channels, without the pauses ([Of]). A loudness in LKFS
// (LUFS is another name) is relative to digital full scale, a difference in LU is
// one in dB.
//
// [Match] finds the gains with which variants, active or passive, play one programme
// equally loud at the listening position, by two routes that know nothing of each
// other; [NewPlan] makes of them a comparison in which nobody knows what is playing.
//
// Two variants that differ by some tenths of a dB in level are told apart by level,
// and the louder one is preferred; what is to be compared is everything else. The
// 0.1 dB of [Tolerance] is common practice, no source.
package loudness
