// Package dsp turns the I/Q samples of one recording into a Measurement: noise floors,
// carriers and the interference that devices near by make.
//
// Samples are complex baseband in full-scale units: a tone of |x| = 1 stands at 0 dBFS.
// Powers and densities are linear (full-scale units, and those per hertz) unless a name
// says dB. What an antenna or a receiver adds is unknown here. No package of dsp reads a
// file or a clock, or waits. Methods, what they achieve and how that was measured stand in
// METHODS.md, which comments cite by section.
//
// The Meter is the order of work; each step has a package of its own. Samples are cut into
// frames (fft), whose transforms are kept for a chunk of half a second (spectrum). Then, for
// each chunk:
//
//   - transient decides which frames hold pulses and short transmissions, which are left out,
//   - spectrum averages the other frames,
//   - lines finds the coherent lines and follows them from chunk to chunk,
//   - floor masks the columns that signals take and measures the noise in the others, by the
//     local level that baseline fits,
//   - envelope follows the power of free channels over time,
//   - interference seeks mains modulation, impulses, humps and notches in them,
//   - comb keeps the power over time of single lines.
//
// Finish puts the results together. Combs are sought afterwards, by comb.Seek, in the views
// of several recordings. Package stat holds the statistics. A package imports only packages
// behind it in this row: comb, interference, envelope, transient, lines, floor, baseline,
// spectrum, fft, stat.
package dsp
