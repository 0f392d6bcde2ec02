// Package presence tells when a source was on, from what was detected of it and from which readings
// could have shown it.
//
// Stretches of time are spans, with the instants before and after them at which the source was
// known to be off. A span ends where the source was measured to be off, at the second round in
// which it was not seen though it could have been, at a pause, or where the spacing of a comb shows
// that it was switched. Single impulses come by chance, and are given spans by their rate.
package presence
