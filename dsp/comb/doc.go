// Package comb finds combs: rows of lines at whole multiples of one frequency, the
// spacing, as switching supplies make them.
//
// A View is what one recording shows: the mean spectrum of its usable passband, the
// noise under it, and the power over time of some single lines, which an Accumulator collects
// while the recording is measured. Seek takes the views of one moment, of one or more
// tunings, and returns the combs whose lines stand at the multiples in all of them. Each
// has P, the probability that noise and stations alone give evidence as strong, all
// spacings and widths tried counted. SeekAgain tries known spacings only. View.Lines
// measures a comb's power whether it is there or not.
//
// The search turns power into scores with a normal distribution (score.go), adds the
// scores at the multiples of each spacing tried (search.go), and refines and measures
// what stands out (spacing.go, lines.go). Three kinds of evidence are not a comb's: the
// receiver's own clocks (view.go), the broadcasters' raster (raster.go), and stations at
// even distances, which carry programme (programme.go). A Modulation tells whether a
// comb's lines swing with the mains (modulation.go).
//
// Frequencies are in Hz, powers in full-scale units. Which device makes a comb, and
// whether two combs are one, is left to others.
package comb
