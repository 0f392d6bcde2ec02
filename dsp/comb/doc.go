// Package comb finds combs: rows of lines at whole multiples of one frequency, as switching
// supplies make them.
//
// In go views of one recording, or of several of one moment: a View is a mean spectrum over
// the usable passband, and for a while how strong single lines were from moment to
// moment, which a Watch keeps while the recording is measured. Seek gives the combs whose
// lines stand at multiples in all of the views, strongest evidence first, each with P: the
// probability that noise and stations alone give evidence so strong; SeekAgain those that
// are known. A Beat tells whether a comb's lines swing with the mains. View.Lines measures a
// comb whether it is there or not. Frequencies are in Hz, powers in full-scale units.
//
// What makes a comb, and whether two are one, is left to others.
package comb
