// Package noise finds the devices behind findings, and says what they look like.
//
// Findings of one epoch become detections; detections of a comb are followed through time as
// tracks, since a supply drifts while it warms, and tracks become sources; what beats
// with the mains is given to the combs that it comes and goes with, or is a source of
// its own. Each source has its hours (what was detected says that it is there), its strength
// through every setup (what was measured by force too, so that no reading is chosen for its
// strength) and a verdict with what speaks for and against it.
//
// Find makes the sources of a readlog.Log; Result shows them; Measured hands on what was
// measured of them while they were on, for patterns by bearing.
package noise
