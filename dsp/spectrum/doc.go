// Package spectrum holds the spectra of a recording and what makes them.
//
// A Spectrogram keeps the complex transforms of a stretch of time, frames by columns, over
// the usable passband; a tone in the middle of a column has its power in full-scale units
// there. Averages sum the powers of all frames of a recording, in two halves so that what is
// free of signals can be chosen on one and averaged on the other, with the receiver's droop
// taken out; a Verdict says for each frame whether it counts. A PowerSpectrum is what is
// kept of the averages: densities in full-scale units per hertz, in which a line can be
// measured later, whether it was detected or not.
//
// Frequencies are in Hz and powers linear. What in a spectrum is a signal and what is noise
// is left to others.
package spectrum
