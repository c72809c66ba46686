// Package signal holds samples over time: clips of one or several channels, the
// WAV and text files that carry them, the exponential sweeps that loudspeakers are
// measured with, and what they are tried with: noise of stated spectrum and crest,
// and tone bursts.
//
// A [Clip] has samples relative to digital full scale (or in whatever unit the one
// who made it says); it knows no volts and no pascals. Files are streamed, and
// refused with a [FormatError] that names the byte and what was had and wanted.
//
// [StatisticsOf], [Histogram] and [SpectrumOf] tell what is in a signal.
//
// # Scale
//
// An integer of n bits becomes x/2^(n−1): full scale is −1 … 1 − 2^(1−n). Floating
// point numbers are taken as they are, beyond ±1 too. Both ways are exact for all
// but [Float32] and integers being written, which are rounded to the nearest.
//
// # Memory
//
// A clip takes 8 bytes a sample. While it is read slices grow with what has
// arrived, never with what a header promises, and the peak is at most 2.3 times
// that, plus 1 MB.
package signal
