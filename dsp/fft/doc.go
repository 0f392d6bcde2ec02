// Package fft turns streams of I/Q samples into windowed transforms.
//
// Samples are complex baseband in full-scale units, or 8-bit codes. A Framer cuts
// them into overlapping frames, weighs them with a window and gives each frame's
// transform on split arrays of single precision, divided by the window's sum, so
// that a tone of amplitude 1 in the middle of a bin stands at |X| = 1. The FFT itself is
// unnormalised. On amd64 it and what comes before and after it run in vector code, which
// agrees with the loops in Go.
//
// The responses and correlations of Hann windows are here too (hann.go, METHODS.md 2 and
// 3). Which bins are used, and what is in them, is left to others.
package fft
