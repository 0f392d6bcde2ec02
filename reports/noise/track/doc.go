// Package track follows interference through time.
//
// Findings of one epoch, the piece of time whose readings share their evidence, become a detection;
// detections of one thing, in order of time, are a track. Combs gives the tracks of combs, each one
// supply's: its spacing drifts while the supply warms and jumps where it is switched, and what is
// found at a small ratio of it is the same comb. Modulated, Impulses, Humps and Notches give the
// tracks of other kinds, told apart by what their findings say.
//
// Combs are followed here at leisure, over everything that was stored, and no two supplies may be
// taken for one. The live watch list of a survey (package capture) follows them too, by a wider
// gate to the nearest, since it must not lose a comb; both pair what was found with what was due by
// stat.NearestPairs.
package track
