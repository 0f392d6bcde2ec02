// Package spectrum holds spectra and what makes them: which frames of a recording are
// transformed, their transforms over a stretch of time, and averages of their powers.
//
// A Spectrogram keeps complex transforms of the usable passband, frames by columns; a
// tone in the middle of a column has its power in full-scale units there. Averages sum
// the powers of all frames of a recording in two halves, with the receiver's droop taken
// out. A PowerSpectrum is what is kept of them: densities in full-scale units per hertz,
// in which a line can be measured later. A CodeCounter tells how the converter was
// driven. What in a spectrum is a signal and what is noise is left to others.
package spectrum
