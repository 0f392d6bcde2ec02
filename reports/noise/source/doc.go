// Package source makes noise sources: what was detected of each and measured of it by force,
// when it was on, how its spacing drifts, which modulation by the mains is its own, and how
// strong it is through each setup.
//
// What was detected says that a source is there; what was measured by force too says how strong
// it is, so that no reading is chosen for its strength. Find makes the sources of a log, each
// complete; what they look like is told by package judge.
package source
