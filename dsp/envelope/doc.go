// Package envelope tells how strong the noise is from moment to moment, in channels
// about 10 kHz wide that no signal takes.
//
// In go spectrograms of stretches of a recording and which of their columns are free. A
// Filter makes a signal in time of some columns. A Watch looks at a few channels of one
// band: how far the noise is from Gaussian (Vd, in dB), its level between bursts, its
// pulses, and what its Course in time says of a floor that is a mean over frames:
// factors, and relative standard errors. A Passband gives channels over all of the
// passband, powers over their own mean, for those who seek interference in them. Seconds
// count from the recording's begin, columns and densities are those of package spectrum.
//
// Which columns are free, and what makes the noise swing, is left to others.
package envelope
