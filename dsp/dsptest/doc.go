// Package dsptest makes known I/Q signals for tests: noise of known density,
// tones, broadcast stations, mains-gated noise, pulses, combs, and a receiver's
// faults on top.
//
// Everything is made sample by sample in the time domain, so that a mistake in
// the frequency domain under test cannot hide in the signal as well. Samples
// are complex baseband in full-scale units, frequencies absolute in Hz,
// densities two-sided in full-scale units per hertz, levels in dBFS where a
// name says so. One seed always gives the same signal, however it is read.
//
// Beside them stands how tests of dsp's packages run: what they leave out with
// -short, fresh seeds, real recordings.
package dsptest
