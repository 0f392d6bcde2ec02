// Package dsp turns blocks of I/Q samples into noise floors and carrier levels.
//
// Samples are complex baseband in full-scale units: a tone of |x| = 1 stands at
// 0 dBFS. Powers and densities are linear (full-scale units, and those per
// hertz) unless the name ends in a dB unit. What an antenna or a receiver adds
// is unknown here. The package reads no file and no clock, and never waits.
package dsp
