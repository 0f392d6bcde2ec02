// Package bearings gives the patterns of antennas that were turned: of the floor, of carriers
// and of noise sources, with null, depth and their 95 % intervals, or why no null is claimed.
//
// In linear power a loop's pattern is a0 + a1 cos 2θ + a2 sin 2θ, whatever arrives from however
// many directions; it is fitted together with a scale for each round.
package bearings
