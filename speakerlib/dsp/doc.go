// Package dsp is about committing a filter chain to a processor. It holds no
// code of its own yet: package export below it writes and reads coefficient
// documents. Word lengths other than float64, section order, scaling and noise
// belong here when they come.
package dsp
