// Package interference finds what devices near by add to the noise of a recording: noise
// that swings with the mains, impulses, humps, and notches that devices leave.
//
// In go chunks of a recording as spectrograms, with the columns that no signal takes, and
// at the end the recording's averages. A Detector looks at free channels over the whole
// usable passband and gives Findings, each with P: the probability that noise and stations alone
// give evidence so strong. SeekModulation judges other channels, such as a comb's lines, in the
// same way. Frequencies are in Hz, densities in full-scale units per hertz, strengths
// ratios of powers. Combs are sought in several recordings at once, by package comb; where
// the noise comes from is not known here.
package interference
