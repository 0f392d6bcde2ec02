// Package dsp turns blocks of I/Q samples into a Measurement: noise floors, carrier
// levels and the interference found in one recording.
//
// Samples are complex baseband in full-scale units: a tone of |x| = 1 stands at
// 0 dBFS. Powers and densities are linear (full-scale units, and those per
// hertz) unless the name ends in a dB unit. What an antenna or a receiver adds
// is unknown here. No package of dsp reads a file or a clock, or waits.
//
// The Meter is the order of work; each step is a package of its own. Samples are cut
// into frames (fft), whose transforms are kept for a chunk of half a second (spectrum).
// Of each chunk in turn:
//
//   - transient judges which frames hold what is foreign and short,
//   - spectrum averages the others,
//   - lines finds the coherent lines and follows them from chunk to chunk,
//   - floor closes the columns that signals take, and measures the rest,
//   - envelope watches in free channels how the noise goes in time,
//   - interference seeks in them what devices near by add,
//   - comb keeps how strong single lines were.
//
// Finish puts the results together. Combs are sought by comb.Seek in the views of several
// recordings. Statistics stand in stat. A package imports only what stands below it:
// comb, interference, envelope, transient, lines, floor, spectrum, fft, stat.
package dsp
